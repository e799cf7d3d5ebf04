/* The report folder of a plate of so many rings: seconds of each page, of each table and of the
 * whole folder, as one JSON object. Usage: report_bench RINGS FOLDER [ROUNDS] */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

#include "report/folder/write.h"
#include "report/tables/csvout.h"
#include "support/sample_results.h"

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum { ROUNDS_MAX = 99 };

static double median(double *seconds, int rounds)
{
    qsort(seconds, (size_t)rounds, sizeof *seconds, ascending);
    return seconds[rounds / 2];
}

static pp_status count_bytes(void *context, const char *bytes, size_t length, pp_error *error)
{
    (void)bytes, (void)error;
    *(size_t *)context += length;
    return PP_OK;
}

static void time_page(const pp_sample *sample, pp_report_page page, const char *folder, int rounds)
{
    double seconds[ROUNDS_MAX];
    size_t length = 0;
    for (int i = 0; i < rounds; i++) {
        pp_text text = {0};
        pp_error error;
        double began = now();
        if (pp_report_page_make(&sample->results, page, folder, &(pp_report_options){.threads = 2},
                                &text, &error) != PP_OK)
            exit(3);
        seconds[i] = now() - began;
        length = text.length;
        pp_text_free(&text);
    }
    printf(", \"%s\": {\"seconds\": %.6f, \"bytes\": %zu}", pp_report_page_name(page),
           median(seconds, rounds), length);
}

static void time_table(const pp_sample *sample, pp_csv table, int threads, int rounds)
{
    double seconds[ROUNDS_MAX];
    size_t length = 0;
    for (int i = 0; i < rounds; i++) {
        length = 0;
        pp_sink sink = {count_bytes, &length};
        pp_error error;
        double began = now();
        if (pp_csv_write(&sample->results, table, threads, &sink, &error) != PP_OK) exit(3);
        seconds[i] = now() - began;
    }
    printf(", \"%s\": {\"seconds\": %.6f, \"bytes\": %zu, \"rows\": %zu}", pp_csv_file_name(table),
           median(seconds, rounds), length, pp_csv_rows(&sample->results, table));
}

/* results.qif with every hole, and what the folder takes with it compressed. */
static void time_whole_exchange(pp_sample *sample, const char *folder, int rounds)
{
    double seconds[ROUNDS_MAX], packed[ROUNDS_MAX];
    size_t length = 0;
    for (int i = 0; i < rounds; i++) {
        length = 0;
        pp_sink sink = {count_bytes, &length};
        pp_report_options options = {.threads = 2, .qif_gz = true};
        pp_error error;
        double began = now();
        if (pp_report_qif_make(&sample->results, true, folder, &options, &sink, &error) != PP_OK)
            exit(3);
        seconds[i] = now() - began;
        began = now();
        if (pp_report_write(&sample->results, folder, &options, &sample->memory, &error) != PP_OK)
            exit(3);
        packed[i] = now() - began;
    }
    printf(", \"qif_whole\": {\"seconds\": %.6f, \"bytes\": %zu, \"folder_gz_seconds\": %.6f}",
           median(seconds, rounds), length, median(packed, rounds));
}

int main(int argc, char **argv)
{
    if (argc < 3) return 2;
    int rounds = argc > 3 ? atoi(argv[3]) : 5;
    if (rounds < 1 || rounds > ROUNDS_MAX) return 2;
    static pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.rings = (unsigned)atoi(argv[1])});
    printf("{\"holes\": %zu", sample.files.nominal.count);
    for (pp_report_page page = 0; page < PP_PAGE_COUNT; page++)
        time_page(&sample, page, argv[2], rounds);
    for (pp_csv table = 0; table < PP_CSV_COUNT; table++) time_table(&sample, table, 2, rounds);
    double seconds[ROUNDS_MAX];
    for (int i = 0; i < rounds; i++) {
        pp_error error;
        double began = now();
        if (pp_report_write(&sample.results, argv[2], &(pp_report_options){.threads = 2},
                            &sample.memory, &error) != PP_OK)
            return 3;
        seconds[i] = now() - began;
    }
    double folder_seconds = median(seconds, rounds);
    time_whole_exchange(&sample, argv[2], rounds);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf(", \"folder\": {\"seconds\": %.6f}, \"peak_kb\": %ld}\n", folder_seconds,
           usage.ru_maxrss);
    pp_sample_free(&sample);
    return 0;
}
