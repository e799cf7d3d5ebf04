/* The diagnosis of a large plate, timed.
 *
 *     bench_diagnosis [COUNT]    100,000 holes by default: with independent errors, with errors
 *                                correlated from hole to hole, and all with one tool (the hardest
 *                                case of the search for changes)
 */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "support/measures.h"
#include "support/random.h"

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* A triangular field drilled in four interleaved sweeps, a scale error, and tools of 700 holes. */
static void make_plate(size_t count, double correlation, size_t tool_life, test_plate *plate)
{
    size_t across = (size_t)sqrt((double)count), place = 0;
    size_t rows = (count + across - 1) / across;
    double *x = malloc(count * sizeof *x), *y = malloc(count * sizeof *y);
    double *order = malloc(count * sizeof *order);
    size_t *drilled = malloc(count * sizeof *drilled);
    if (!x || !y || !order || !drilled) exit(3);
    for (size_t i = 0; i < count; i++) {
        x[i] = 32 * ((double)(i % across) + 0.5 * (double)(i / across % 2));
        y[i] = 27.7 * (double)(i / across);
    }
    for (size_t sweep = 0; sweep < 4; sweep++)
        for (size_t row = sweep; row < rows; row += 4)
            for (size_t k = 0; k < across; k++) {
                size_t i = row * across + (row / 4 % 2 ? across - 1 - k : k);
                if (i < count) order[i] = (double)place, drilled[place++] = i;
            }
    test_plate_begin(plate, count, x, y, count);
    for (size_t i = 0; i < count; i++)
        test_plate_measure(plate, (uint32_t)i, PP_ENTRY, x[i], y[i], 25.6, order[i] + 1);
    test_random r = {5};
    double ex = 0, ey = 0, root = sqrt(1 - correlation * correlation);
    for (size_t k = 0; k < count; k++) {
        ex = correlation * ex + root * random_normal(&r);
        ey = correlation * ey + root * random_normal(&r);
        pp_bore *bore = &plate->bores[drilled[k]];
        bore->at.x += 3e-6 * bore->at.x + 0.03 * ex, bore->at.y += 3e-6 * bore->at.y + 0.03 * ey;
        bore->diameter_mean +=
            0.005 * random_normal(&r) - 2e-5 * (double)(k % tool_life) * 700 / (double)tool_life;
    }
    free(x), free(y), free(order), free(drilled);
}

static int run(size_t count, double correlation, size_t tool_life)
{
    test_plate plate;
    pp_diagnosis d;
    pp_error error = {0};
    make_plate(count, correlation, tool_life, &plate);
    double begin = seconds();
    if (test_diagnose(&plate, 2, &d, &error) != PP_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 2;
    }
    double taken = seconds() - begin;
    printf("%zu holes, errors correlated %.1f: %.2f s (2 threads); scale %.3g +- %.1g, "
           "%zu of %zu tool changes\n",
           count, correlation, taken, d.terms[0].value, d.terms[0].standard_error,
           d.tool_change_count, (count - 1) / tool_life);
    test_plate_end(&plate);
    return 0;
}

int main(int argc, char **argv)
{
    size_t count = argc > 1 ? strtoull(argv[1], NULL, 10) : 100000;
    int failed = run(count, 0, 700);
    failed |= run(count, 0.5, 700);
    return failed | run(count, 0, count);
}
