/* Judges one job after the other in one process, so that many small ones can be compared:
 * the program starts anew for every job file and spends most of its time on that.
 * For tests/reference/holes_peer.py.
 *
 * Each line of standard input is a digit, the threads, a blank, and the path of a job file. For
 * each comes one line: 0 JSON HOLES LIGAMENTS   bytes of results.json, holes.csv and ligaments.csv,
 * which follow 1 BYTES 0 0              of the message, which follows
 */
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/json/json.h"
#include "report/tables/csvout.h"
#include "run/run.h"

static pp_status write_table(const pp_results *results, pp_csv which, pp_text *text,
                             pp_error *error)
{
    pp_sink sink = pp_sink_text(text);
    return pp_csv_rows(results, which) ? pp_csv_write(results, which, 1, &sink, error) : PP_OK;
}

static pp_status judge(const char *path, int threads, bool tables, pp_memory *memory,
                       pp_text text[3], pp_error *error)
{
    pp_job job;
    pp_results results;
    pp_run_options options = {.scope = PP_SCOPE_ALL, .threads = threads};
    PP_TRY(pp_job_read(path, memory, &job, error));
    PP_TRY(pp_run(&job, &options, memory, &results, error));
    PP_TRY(pp_json_write(&results, NULL, &text[0], error));
    if (!tables) return PP_OK;
    PP_TRY(write_table(&results, PP_CSV_HOLES, &text[1], error));
    return write_table(&results, PP_CSV_LIGAMENTS, &text[2], error);
}

static void answer(const char *path, int threads, bool tables)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_text text[3] = {0};
    if (judge(path, threads, tables, &memory, text, &error) == PP_OK) {
        printf("0 %zu %zu %zu\n", text[0].length, text[1].length, text[2].length);
        for (int i = 0; i < 3; i++)
            fwrite(text[i].length ? text[i].data : "", 1, text[i].length, stdout);
    } else {
        printf("1 %zu 0 0\n%s", strlen(error.message), error.message);
    }
    fflush(stdout);
    for (int i = 0; i < 3; i++) pp_text_free(&text[i]);
    pp_memory_free(&memory);
}

int main(void)
{
    enum { LONGEST = 4096 };
    char line[LONGEST];
    mallopt(M_MMAP_THRESHOLD, 1 << 28); /* a job takes and gives back the same blocks as the last */
    mallopt(M_TRIM_THRESHOLD, 1 << 28);
    while (fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\n")] = '\0';
        if (line[0] < '1' || line[0] > '9' || !line[1] || !strchr(" +", line[1]))
            return EXIT_FAILURE;
        answer(line + 2, line[0] - '0', line[1] == '+');
    }
    return EXIT_SUCCESS;
}
