/* From a survey file to its exact zone, timed step by step; and surveys to time.
 *
 *     bench_file_to_zone make COUNT FILE   write a survey of a drilled disc, 4 decimals
 *     bench_file_to_zone FILE [THREADS]    one line of JSON
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "linalg/linalg.h"
#include "planes/plane.h"

#include "input/lists/survey.h"
#include "support/random.h"

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int make(const char *path, size_t count)
{
    FILE *file = fopen(path, "w");
    if (!file) return 1;
    test_random state = {20261120};
    fputs("x,y,z\n", file);
    for (size_t k = 0; k < count; k++) {
        double r = 1598 * sqrt(((double)k + 0.5) / (double)count);
        double angle = 2.399963229728653 * (double)k, x = r * cos(angle), y = r * sin(angle);
        double noise = 0;
        for (int i = 0; i < 4; i++) noise += random_unit(&state) - 0.5;
        double z = 1.7e-6 * r * r + 0.4 * sin(x / 310) * cos(y / 450) + 0.017 * noise;
        fprintf(file, "%.4f,%.4f,%.4f\n", x, y, z);
    }
    return fclose(file) != 0;
}

static int measure(const char *path, int threads)
{
    static const double up[3] = {0, 0, 1};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = {.path = path, .survey = {.file = {.path = path, .written = path}}};
    pp_survey survey;
    pp_least_squares ls;
    pp_minimum_zone mz;
    double t[4] = {now()};
    if (pp_survey_read(&job, &job.survey.file, threads, &memory, &survey, &error) != PP_OK)
        goto failed;
    t[1] = now();
    pp_points points = {survey.count, survey.x, survey.y, survey.z};
    if (pp_plane_least_squares(&points, up, threads, &memory, &ls, &error) != PP_OK) goto failed;
    t[2] = now();
    if (pp_plane_minimum_zone(&points, &ls, up, threads, &memory, &mz, &error) != PP_OK)
        goto failed;
    t[3] = now();
    printf("{\"points\": %zu, \"read\": %.6f, \"least_squares\": %.6f, \"zone\": %.6f, "
           "\"flatness\": %.17g, \"exact\": %d}\n",
           survey.count, t[1] - t[0], t[2] - t[1], t[3] - t[2], mz.flatness, mz.exact);
    pp_memory_free(&memory);
    return 0;
failed:
    fprintf(stderr, "%s\n", error.message);
    return 1;
}

int main(int argc, char **argv)
{
    pp_blas_single_thread();
    if (argc == 4 && strcmp(argv[1], "make") == 0)
        return make(argv[3], strtoumax(argv[2], NULL, 10));
    if (argc < 2) return 2;
    return measure(argv[1], argc > 2 ? atoi(argv[2]) : 2);
}
