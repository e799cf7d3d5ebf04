/* Plates with a known generator, and their smallest zones, for comparison with other programs.
 *
 *     bench_placement small SEED           a dozen small plates and their zones, as JSON lines
 *     bench_placement large COUNT FILE     one plate of COUNT holes: its coordinates to FILE
 * (native doubles: mx, my, nx, ny), zone and timings to stdout
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "support/random.h"

#include "zone/smallest.h"

enum { SMALL_PLATES = 12, TIMED_RUNS = 7, THREADS = 2 };

typedef struct arrays {
    size_t count;
    double *v[5]; /* mx, my, nx, ny, allowance */
} arrays;

static int take(arrays *a, size_t count)
{
    a->count = count;
    for (int k = 0; k < 5; k++)
        if (!(a->v[k] = calloc(count, sizeof(double)))) return 0;
    return 1;
}

static void give_back(arrays *a)
{
    for (int k = 0; k < 5; k++) free(a->v[k]);
}

static pp_status solve(const arrays *a, int threads, pp_smallest_zone *zone)
{
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_zone_problem problem = {a->count, a->v[0], a->v[1], a->v[2], a->v[3], a->v[4]};
    pp_status status = pp_smallest_zone_solve(&problem, threads, &scratch, zone, &error);
    if (status != PP_OK) fprintf(stderr, "%s\n", error.message);
    pp_arena_free(&scratch);
    return status;
}

static void print_array(const char *name, const double *v, size_t count)
{
    printf("\"%s\": [", name);
    for (size_t i = 0; i < count; i++) printf("%s%.17g", i ? ", " : "", v[i]);
    printf("], ");
}

/* Case 0..5 plain, 6..8 with allowances, 9..11 paired at random: errors as large as the plate. */
static void fill_small(arrays *a, int which, test_random *r)
{
    double angle = random_between(r, -3.1, 3.1), c = cos(angle), s = sin(angle);
    for (size_t i = 0; i < a->count; i++) {
        double nx = random_between(r, -800, 800), ny = random_between(r, -800, 800);
        double noise = which >= 9 ? 400 : 0.06;
        double x = nx + noise * random_normal(r), y = ny + noise * random_normal(r);
        a->v[0][i] = c * x - s * y + 31.7, a->v[1][i] = s * x + c * y - 412.9;
        a->v[2][i] = nx, a->v[3][i] = ny;
        a->v[4][i] = which >= 6 && which < 9 ? random_between(r, 0, 0.1) : 0;
    }
}

static int small(uint64_t seed)
{
    static const size_t sizes[] = {3, 4, 6, 9, 12, 15, 4, 8, 20, 4, 7, 10};
    static const char *const names[] = {"mx", "my", "nx", "ny", "allowance"};
    test_random r = {seed};
    for (int which = 0; which < SMALL_PLATES; which++) {
        arrays a;
        pp_smallest_zone zone;
        if (!take(&a, sizes[which])) return 3;
        fill_small(&a, which, &r);
        if (solve(&a, 1, &zone) != PP_OK) return 2;
        printf("{");
        for (int k = 0; k < 5; k++) print_array(names[k], a.v[k], a.count);
        printf("\"radius\": %.17g, \"lower_bound\": %.17g, \"angle\": %.17g, \"dx\": %.17g, "
               "\"dy\": %.17g}\n",
               zone.radius, zone.lower_bound, zone.angle, zone.dx, zone.dy);
        give_back(&a);
    }
    return 0;
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int write_file(const arrays *a, const char *path)
{
    FILE *out = fopen(path, "wb");
    if (!out) return 0;
    size_t done = 0;
    for (int k = 0; k < 4; k++) done += fwrite(a->v[k], sizeof(double), a->count, out);
    return fclose(out) == 0 && done == 4 * a->count;
}

/* A triangular field; scatter .03 mm, a scale of 2e-5, and a turned measurement frame. */
static int large(size_t count, const char *path)
{
    arrays a;
    if (!take(&a, count)) return 3;
    test_random r = {20260731};
    size_t across = (size_t)sqrt((double)count);
    double c = cos(0.0031), s = sin(0.0031), pitch = 3.175; /* 3.2 m across for a million */
    for (size_t i = 0; i < count; i++) {
        double nx = pitch * ((double)(i % across) + 0.5 * (double)(i / across % 2));
        double ny = pitch * 0.8660254037844386 * (double)(i / across);
        double x = nx * (1 + 2e-5) + 0.03 * random_normal(&r);
        double y = ny * (1 + 2e-5) + 0.03 * random_normal(&r);
        a.v[0][i] = c * x - s * y + 210.3, a.v[1][i] = s * x + c * y - 87.7;
        a.v[2][i] = nx, a.v[3][i] = ny;
    }
    pp_smallest_zone zone = {0};
    double best = INFINITY;
    for (int run = 0; run < TIMED_RUNS; run++) {
        double begin = seconds();
        if (solve(&a, THREADS, &zone) != PP_OK) return 2;
        double taken = seconds() - begin;
        best = taken < best ? taken : best;
    }
    if (!write_file(&a, path)) return 3;
    printf("{\"count\": %zu, \"seconds\": %.6f, \"threads\": %d, \"radius\": %.17g, "
           "\"lower_bound\": %.17g, \"least_squares_worst\": %.17g, \"passes\": %d, "
           "\"evaluations\": %d, \"working_set\": %zu}\n",
           count, best, THREADS, zone.radius, zone.lower_bound, zone.least_squares_worst,
           zone.passes, zone.evaluations, zone.working_set);
    give_back(&a);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "small") == 0) return small(strtoull(argv[2], NULL, 10));
    if (argc == 4 && strcmp(argv[1], "large") == 0)
        return large(strtoull(argv[2], NULL, 10), argv[3]);
    fprintf(stderr, "bench_placement small SEED | large COUNT FILE\n");
    return 2;
}
