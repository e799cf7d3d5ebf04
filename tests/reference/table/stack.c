/* Stacks of layers, and the factors of tolerance intervals. */
#include "base/tolerance.h"
#include "stack/study.h"
#include "support/bending.h"
#include "table.h"

static const char *const DISC = "Timoshenko & Woinowsky-Krieger, disc on its rim";

typedef struct stackcase {
    pp_memory memory;
    pp_job job;
    pp_nominal nominal;
    pp_stack_shapes shapes;
    pp_stack stack;
} stackcase;

static void solve(const char *name, stackcase *s)
{
    char path[1000];
    pp_error error = {0};
    *s = (stackcase){0};
    snprintf(path, sizeof path, PP_SOURCE_DIR "/data/reference/stack/%s/job.ini", name);
    assert_ok(pp_job_read(path, &s->memory, &s->job, &error), &error);
    assert_ok(pp_nominal_read(&s->job, 1, &s->memory, &s->nominal, &error), &error);
    pp_stack_options options = {.threads = 2, .pitch = NAN, .hole_diameter = NAN};
    assert_ok(
        pp_stack_study(&s->job, &s->nominal, &options, &s->memory, &s->stack, &s->shapes, &error),
        &error);
}

/* Domes of 4 and 10 mm on their rims, the foot a point in the middle: it closes
 * F/k, k = 16 pi D (1 + nu)/((3 + nu) R^2), and each sags by q R^4 (5 + nu)/(64 (1 + nu) D). */
static void two_domes(ref_table *t)
{
    stackcase s;
    solve("two_domes", &s);
    const double radius = 1000, h = 25.4, nu = 0.3, lower = 4, upper = 10, limit = 0.1;
    double d = 206000 * h * h * h / (12 * (1 - nu * nu)), q = 7850e-9 * 9.80665 * h;
    double k = 16 * BENDING_PI * d * (1 + nu) / ((3 + nu) * radius * radius);
    double sag = q * pow(radius, 4) * (5 + nu) / (64 * (1 + nu) * d);
    const pp_stack_hole *middle = &s.stack.holes[0];
    double between = k * (upper - lower - limit);
    double all = k * (lower + upper - 2 * sag - 2 * limit);
    ref_row(t, DISC, upper - lower, s.stack.gap[1], 0.005, "two domes, gap between them, mm");
    ref_row(t, DISC, lower - sag, s.stack.gap[0], 0.005, "two domes, gap to the table, mm");
    ref_row(t, DISC, upper - lower - s.job.foot.force / k, s.stack.gap_under_foot[1], 0.02,
            "two domes, gap under the foot, mm");
    ref_row(t, DISC, between, middle->force_to_close, 4e-3 * between,
            "two domes, force to close between them, N");
    ref_row(t, DISC, all, middle->force_to_close_all, 4e-3 * all,
            "two domes, force to close to the table too, N");
    ref_row(t, "area times density", BENDING_PI * radius * radius * q, s.stack.layers[0].weight,
            1e-3, "two domes, weight of a layer, N");
    pp_memory_free(&s.memory);
}

static void nested_bows(ref_table *t)
{
    stackcase s;
    solve("nested_bows", &s);
    const char *source = "equal layers nest: 0";
    ref_row(t, source, 0, s.stack.largest_gap, 3e-3, "equal bows, largest gap, mm");
    ref_row(t, source, 0, s.stack.largest_gap_under_foot, 3e-3,
            "equal bows, largest gap under the foot, mm");
    ref_row(t, source, 0, s.stack.largest_force_to_close, 1, "equal bows, force to close, N");
    pp_memory_free(&s.memory);
}

/* Exact factors of two-sided tolerance intervals, confidence 95 %, content 90, 95, 99 %. */
static void tolerance_factors(ref_table *t)
{
    static const struct {
        size_t n;
        double factor[3];
    } rows[] = {{4, {5.37, 6.34, 8.22}},
                {10, {2.86, 3.39, 4.44}},
                {20, {2.32, 2.76, 3.62}},
                {30, {2.15, 2.55, 3.35}},
                {60, {1.96, 2.34, 3.07}}};
    static const double content[] = {0.90, 0.95, 0.99};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (int c = 0; c < 3; c++)
            ref_row(t, "printed table of a statistics book, an excerpt", rows[i].factor[c],
                    pp_tolerance_factor(rows[i].n, content[c], 0.95), 0.0101,
                    "tolerance factor, n = %zu, content %g %%", rows[i].n, 100 * content[c]);
    /* Howe's approximation is 0.25 % low there */
    ref_row(t, "NIST e-Handbook 7.2.6.3, Howe's approximation", 2.2173,
            pp_tolerance_factor(43, 0.90, 0.99), 0.006,
            "tolerance factor, n = 43, content 90 %%, confidence 99 %%");
}

void ref_stack(ref_table *t)
{
    two_domes(t);
    nested_bows(t);
    tolerance_factors(t);
}
