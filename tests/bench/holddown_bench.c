/* Hold-down studies of a made-up plate, timed.
 *
 *     bench_holddown study HOLES THREADS   a whole study: times and peak memory, as one JSON line
 *     bench_holddown small HOLES FILE      contact problems of a coarse plate to FILE for
 * comparison with other programs (native doubles: see write_small), own answers and time to stdout
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "base/constants.h"
#include "holddown/under_foot.h"
#include "linalg/linalg.h"
#include "support/holdplates.h"

enum { TIMED_RUNS = 5 };

/* A dome of 2.4 mm with a wave in it and a twist */
static void shape(double x, double y, double w[4])
{
    double a = x / 1600, b = y / 1600, s = sin(5 * a), c = cos(5 * a);
    w[0] = 2.4 - 2.6 * a * a - 2.2 * b * b + 0.3 * a * b + 0.08 * s * b;
    w[1] = (-5.2 * a + 0.3 * b + 0.4 * c * b) / 1600;
    w[2] = (-4.4 * b + 0.3 * a + 0.08 * s) / 1600;
    w[3] = (0.3 + 0.4 * c) / 1600 / 1600;
}

static pp_job bench_job(void)
{
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 3200, 0, 38);
    job.plate.thickness_variation = 0.5;
    job.support.seat = PP_SEAT_REST;
    job.foot.force = 6000;
    job.foot.outer_diameter = 160;
    job.foot.inner_diameter = 90;
    job.foot.thrust = 2500;
    job.holddown.gap_limit = 0.3;
    job.holddown.force_cap = 200000;
    job.holddown.clamp_force_limit = 40000;
    job.holddown.clamp_pad = 80;
    job.holes.tube_diameter = 20;
    return job;
}

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Holes on a square raster over the plate, a lane left free across it */
static size_t raster(size_t wanted, double *x, double *y)
{
    double radius = 1540, pitch = radius * sqrt(PP_PI / (double)wanted) * 0.985;
    size_t n = 0;
    for (double v = -radius; v <= radius && n < wanted; v += pitch)
        for (double u = -radius + pitch / 2; u <= radius && n < wanted; u += pitch)
            if (hypot(u, v) < radius && fabs(u) > 45) x[n] = u, y[n++] = v;
    return n;
}

typedef struct timeline {
    double start, plate, holes, turned, plans;
} timeline;

static void note(void *context, double share)
{
    timeline *t = context;
    double at = now() - t->start;
    if (share < 0.2)
        t->plate = at;
    else if (share < 0.6)
        t->holes = at;
    else if (share < 0.85)
        t->turned = at;
    else
        t->plans = at;
}

static int fail(const pp_error *error)
{
    fprintf(stderr, "%s\n", error->message);
    return 1;
}

static int study(size_t wanted, int threads)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = bench_job();
    pp_mesh mesh;
    pp_holddown result;
    timeline t = {0};
    double *x = calloc(wanted, sizeof *x), *y = calloc(wanted, sizeof *y);
    pp_nominal nominal = {.count = raster(wanted, x, y), .x = x, .y = y};
    if (pp_mesh_make(pp_job_outline(&job), 32, &memory, &mesh, &error) != PP_OK)
        return fail(&error);
    pp_flatness flatness = test_flatness(&mesh, test_field(&mesh, shape, &memory));
    pp_holddown_options options = {.threads = threads,
                                   .remedies = pp_hold_remedies_of,
                                   .progress = note,
                                   .progress_context = &t};
    pp_holddown_judgement judged;
    t.start = now();
    if (pp_holddown_study(&job, &flatness, &nominal, &options, &memory, &result, &error) != PP_OK)
        return fail(&error);
    if (pp_holddown_judge(&job, &result, &memory, &judged, &error) != PP_OK) return fail(&error);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf(
        "{\"holes\": %zu, \"threads\": %d, \"plate\": %.4f, \"per_hole\": %.4f, \"turned\": %.4f, "
        "\"plans\": %.4f, \"total\": %.4f, \"cpu\": %.4f, \"megabytes\": %.0f, \"needs\": %zu, "
        "\"clamps\": %zu}\n",
        nominal.count, threads, t.plate, t.holes - t.plate, t.turned - t.holes, t.plans - t.turned,
        t.plans, (double)usage.ru_utime.tv_sec + 1e-6 * (double)usage.ru_utime.tv_usec,
        (double)usage.ru_maxrss / 1024, judged.counts.needs_holddown, result.clamp_count);
    pp_memory_free(&memory);
    free(x), free(y);
    return 0;
}

static void put(FILE *file, const double *v, size_t count) { fwrite(v, sizeof *v, count, file); }

/* m, holes, force; G[m m], R[m 3], gap[m], load[3]; per hole: column[m], rigid[3], own compliance,
 * height without reactions, answer. y = gap + G r - F column + R a and R' r = load + F rigid. */
static int write_small(size_t wanted, const char *path)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = bench_job();
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_state state;
    job.foot.outer_diameter = job.foot.inner_diameter = NAN; /* a point load: one column a hole */
    double *x = calloc(wanted, sizeof *x), *y = calloc(wanted, sizeof *y);
    size_t count = raster(wanted, x, y);
    pp_hold_answer *answers = calloc(count, sizeof *answers);
    if (pp_mesh_make(pp_job_outline(&job), 16, &memory, &mesh, &error) != PP_OK)
        return fail(&error);
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.004, NULL, NULL);
    if (pp_hold_plate_make(&mesh, test_field(&mesh, shape, &memory), &setup, NULL, 1, &memory,
                           &plate, &error) != PP_OK ||
        pp_hold_state_take(&plate, &memory.keep, &state, &error) != PP_OK ||
        pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &state, &error) != PP_OK)
        return fail(&error);
    pp_hold_question question = {.force = 6000, .thrust = NAN, .gap_limit = 0.3, .only_gap = true};
    pp_hold_places places = {count, x, y};
    double best = INFINITY;
    for (int run = 0; run < TIMED_RUNS; run++) {
        double start = now();
        if (pp_hold_press(
                &plate, &state,
                &(pp_hold_visit){.question = &question, .places = &places, .count = count}, &memory,
                answers, NULL, &error) != PP_OK)
            return fail(&error);
        best = fmin(best, now() - start);
    }

    size_t m = plate.points.count, n = mesh.dofs;
    FILE *file = fopen(path, "wb");
    if (!file) return 1;
    double head[3] = {(double)m, (double)count, question.force};
    double *free_field = calloc(n, sizeof *free_field), *gap = calloc(m, sizeof *gap);
    double load[3] = {plate.weight, 0, 0};
    memcpy(free_field, plate.survey_load, n * sizeof *free_field);
    if (pp_compliance_solve(&plate.compliance, 1, free_field, &error) != PP_OK) return fail(&error);
    for (size_t i = 0; i < n; i++) free_field[i] = plate.shape[i] - free_field[i];
    pp_probe probe;
    for (size_t i = 0; i < m; i++) {
        pp_probe_point(&plate.compliance, plate.supports.x[i], plate.supports.y[i], 0, 0, &probe);
        gap[i] = pp_probe_field(&probe, free_field) + plate.survey_lift[i];
    }
    put(file, head, 3);
    put(file, plate.points.g, m * m);
    put(file, plate.points.r, m * 3);
    put(file, gap, m);
    put(file, load, 3);
    for (size_t h = 0; h < count; h++) {
        pp_probe_point(&plate.compliance, x[h], y[h], 0, 0, &probe);
        pp_influence_probe(&plate.influence, &probe, gap);
        double rest[3] = {pp_probe_between(&plate.compliance, &probe, &probe),
                          pp_probe_field(&probe, free_field), answers[h].gap_under_foot};
        put(file, gap, m);
        put(file, probe.rigid, 3);
        put(file, rest, 3);
    }
    fclose(file);
    printf("{\"supports\": %zu, \"holes\": %zu, \"seconds\": %.6f}\n", m, count, best);
    pp_memory_free(&memory);
    free(x), free(y), free(answers), free(free_field), free(gap);
    return 0;
}

int main(int argc, char **argv)
{
    pp_blas_single_thread();
    if (argc == 4 && strcmp(argv[1], "study") == 0)
        return study(strtoul(argv[2], NULL, 10), atoi(argv[3]));
    if (argc == 4 && strcmp(argv[1], "small") == 0)
        return write_small(strtoul(argv[2], NULL, 10), argv[3]);
    fprintf(stderr, "bench_holddown study HOLES THREADS | small HOLES FILE\n");
    return 2;
}
