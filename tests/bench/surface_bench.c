/* Time and memory of the surface fit: surface_bench [points] [threads] [outliers]. */

#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

#include "flatness/surface.h"
#include "linalg/linalg.h"
#include "support/random.h"

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char **argv)
{
    size_t count = argc > 1 ? strtoull(argv[1], NULL, 10) : 10000000;
    int threads = argc > 2 ? atoi(argv[2]) : 2;
    size_t outliers = argc > 3 ? strtoull(argv[3], NULL, 10) : 0;
    pp_blas_single_thread();
    pp_memory memory = {0};
    pp_error error = {0};
    pp_outline_spec disc = {.kind = PP_OUTLINE_DISC, .diameter = 3200};
    double *x = pp_arena_take(&memory.keep, count, sizeof *x);
    double *y = pp_arena_take(&memory.keep, count, sizeof *y);
    double *z = pp_arena_take(&memory.keep, count, sizeof *z);
    test_random state = {20261};
    for (size_t k = 0; k < count; k++) {
        double r = 1600 * sqrt(((double)k + 0.5) / (double)count),
               angle = 2.39996322972865 * (double)k;
        double noise = 0;
        for (int i = 0; i < 12; i++) noise += random_unit(&state);
        x[k] = r * cos(angle), y[k] = r * sin(angle);
        z[k] = 1.7e-6 * r * r + 0.4 * sin(x[k] / 310) * cos(y[k] / 450) + 0.02 * (noise - 6);
        if (outliers && k % (count / outliers) == 7) z[k] += 3;
    }
    pp_survey survey = {.count = count, .x = x, .y = y, .z = z, .frame = {.cosine = 1}};
    pp_mesh mesh;
    pp_surface surface;
    pp_surface_options options = {.uncertainty = NAN, .threads = threads};
    struct rusage before, after;
    getrusage(RUSAGE_SELF, &before);
    double start = now();
    if (pp_mesh_make(disc, 32, &memory, &mesh, &error) ||
        pp_surface_fit(&survey, &mesh, &options, &memory, &surface, &error)) {
        fprintf(stderr, "%s\n", error.message);
        return 1;
    }
    double seconds = now() - start;
    getrusage(RUSAGE_SELF, &after);
    printf(
        "%zu points, %d threads: %.3f s, %.0f MB above the points; noise %.5f, rms %.5f, df %.1f, "
        "standard error %.6f, condition %.2g, outliers %zu, log10 mu/N %.2f\n",
        count, threads, seconds, (double)(after.ru_maxrss - before.ru_maxrss) / 1024, surface.noise,
        surface.rms, surface.degrees_of_freedom, surface.standard_error, surface.condition,
        surface.outlier_count,
        log10(surface.smoothing / (double)count / (pow(3200, 4) / mesh.area)));
    pp_memory_free(&memory);
    return 0;
}
