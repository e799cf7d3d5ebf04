/* How often a hole exactly at its position limit is accepted or rejected under the guarded
 * decision, and whether the covariances stated are those of repeated measurements.
 *
 *     position_simulation [RUNS]         20000 measurements a row by default
 *     position_simulation --check RUNS   the same rows; exit 1 when a risk exceeds 5 %, or a
 * standard uncertainty is off by 2 %, by more than chance allows
 *
 * Every run is a whole measurement: all holes, datum holes and datum points read with errors, in a
 * frame of their own, aligned and judged by the program's own stages.
 */
#include <stdio.h>
#include <stdlib.h>

#include "support/check.h"
#include "support/holes_run.h"
#include "support/random.h"

enum { HOLES = 25, POINTS = 3, DIRECTIONS = 4, LIMITS = 4 };
static const double U = 0.01;          /* of one coordinate; stated as 0.02 with k = 2 */
static const double GROWING = 0.00001; /* of one coordinate, per mm from the reference */
static const double LIMIT[LIMITS] = {3, 6, 10, 30}; /* in standard uncertainties of a coordinate */
static const double RISK = 0.05;
static const char *const NAMES[HOLES] = {
    "H0",  "H1",  "H2",  "H3",  "H4",  "H5",  "H6",  "H7",  "H8",  "H9",  "H10", "H11", "H12",
    "H13", "H14", "H15", "H16", "H17", "H18", "H19", "H20", "H21", "H22", "H23", "H24"};

typedef struct trial {
    const char *words;
    pp_align align;
    double base;    /* two holes: H0 at the origin, H1 so far from it; else unused */
    double x, y;    /* the hole judged, H2 */
    double scale_u; /* of the plate, as its temperature's uncertainty */
} trial;

static const trial PLANS[] = {
    {"as measured", PP_ALIGN_AS_MEASURED, 1000, -1000, 300, 0},
    {"as measured, scale 1e-5", PP_ALIGN_AS_MEASURED, 1000, -1000, 300, 1e-5},
    {"two holes 1000 apart, hole beyond", PP_ALIGN_TWO_HOLES, 1000, -1000, 0, 0},
    {"two holes 1000 apart, hole aside", PP_ALIGN_TWO_HOLES, 1000, 200, 1000, 0},
    {"two holes 250 apart, hole at 1000", PP_ALIGN_TWO_HOLES, 250, -700, 700, 0},
    {"three datum points", PP_ALIGN_DATUM_POINTS, 1000, -900, 400, 1e-5},
    {"best fit, hole at the rim", PP_ALIGN_BEST_FIT, 1000, -1000, 0, 0},
    {"best fit, hole in the middle", PP_ALIGN_BEST_FIT, 1000, 30, 40, 1e-5},
};

typedef struct plate {
    holes_run run;
    double x[HOLES], y[HOLES], measured_x[HOLES], measured_y[HOLES], diameter[HOLES];
    uint8_t kind[HOLES], face[HOLES];
    uint32_t round[HOLES];
    long line[HOLES];
    pp_datum_point point[POINTS];
} plate;

/* The base line of two holes at an angle, so that no axis is special. */
static const double TILT_COS = 0.8, TILT_SIN = 0.6;

static void lay_out(plate *p, const trial *plan)
{
    double at[HOLES][2] = {{0, 0}, {plan->base, 0}, {plan->x, plan->y}};
    for (int i = 3; i < HOLES; i++) {
        double angle = 2.399963 * i, r = 1100 * sqrt((i - 2.5) / (HOLES - 3));
        at[i][0] = r * cos(angle), at[i][1] = r * sin(angle);
    }
    for (int i = 0; i < HOLES; i++) {
        p->x[i] = TILT_COS * at[i][0] - TILT_SIN * at[i][1];
        p->y[i] = TILT_SIN * at[i][0] + TILT_COS * at[i][1];
        p->diameter[i] = 25.7, p->round[i] = 1, p->line[i] = i + 2;
    }
    const double points[POINTS][2] = {{-600, -700}, {900, -500}, {300, 1000}};
    for (int i = 0; i < POINTS; i++)
        p->point[i] = (pp_datum_point){NAMES[i], points[i][0], points[i][1], 0, 0};
}

static void make_plate(plate *p, const trial *plan)
{
    pp_error error = {0};
    *p = (plate){0};
    lay_out(p, plan);
    assert_ok(pp_job_blank(&p->run.memory, &p->run.job, &error), &error);
    pp_job *job = &p->run.job;
    job->holes.align = plan->align;
    job->holes.datum_holes[0] = NAMES[0], job->holes.datum_holes[1] = NAMES[1];
    job->holes.uncertainty_position = 2 * U;
    job->holes.uncertainty_per_metre = 2000 * GROWING;
    job->holes.uncertainty_temperature = 2 * plan->scale_u / job->holes.expansion;
    job->holes.uncertainty_diameter = 0.004;
    job->holes.tube_diameter = 25.4, job->holes.tube_diameter_unit = PP_INCH;
    job->holes.pitch = 31.75, job->rules.table = PP_TABLE_INCH;
    job->plate.thickness = 40;
    job->rules.decision = PP_GUARDED;
    pp_hole_files *files = &p->run.files;
    files->nominal = (pp_nominal){
        .count = HOLES, .name = NAMES, .x = p->x, .y = p->y, .kind = p->kind, .file = "nominal"};
    files->measured_given = true;
    files->measured = (pp_readings){.count = HOLES,
                                    .name = NAMES,
                                    .x = p->measured_x,
                                    .y = p->measured_y,
                                    .diameter = p->diameter,
                                    .face = p->face,
                                    .round = p->round,
                                    .file = "measured",
                                    .line = p->line};
    files->datum = p->point;
    files->datum_count = POINTS;
}

/* Where the errors per metre begin, as the contract has it. */
static void reference_of(const plate *p, const trial *plan, double at[2])
{
    at[0] = at[1] = 0;
    if (plan->align == PP_ALIGN_DATUM_POINTS)
        for (int i = 0; i < POINTS; i++) {
            at[0] += p->point[i].nominal_x / POINTS;
            at[1] += p->point[i].nominal_y / POINTS;
        }
}

/* One reading of a true place: in the measuring frame, which for as-measured is the plate's. */
static void read_place(const trial *plan, const double from[2], double scale, double x, double y,
                       test_random *r, double *to_x, double *to_y)
{
    double u = hypot(U, GROWING * hypot(x - from[0], y - from[1]));
    x += scale * (x - from[0]) + u * random_normal(r);
    y += scale * (y - from[1]) + u * random_normal(r);
    bool same = plan->align == PP_ALIGN_AS_MEASURED;
    double c = same ? 1 : cos(0.7), s = same ? 0 : sin(0.7);
    *to_x = c * x - s * y + (same ? 0 : 250);
    *to_y = s * x + c * y - (same ? 0 : 400);
}

/* A whole measurement of the plate, the hole judged (off_x, off_y) from its nominal place. */
static void measure(plate *p, const trial *plan, double off_x, double off_y, test_random *r)
{
    double from[2], scale = plan->scale_u * random_normal(r);
    reference_of(p, plan, from);
    for (int i = 0; i < HOLES; i++)
        read_place(plan, from, scale, p->x[i] + (i == 2 ? off_x : 0),
                   p->y[i] + (i == 2 ? off_y : 0), r, &p->measured_x[i], &p->measured_y[i]);
    for (int i = 0; i < POINTS; i++)
        read_place(plan, from, scale, p->point[i].nominal_x, p->point[i].nominal_y, r,
                   &p->point[i].x, &p->point[i].y);
}

typedef struct tally {
    double runs, accepted, rejected;
    double xx, xy, yy, x, y; /* of the aligned centre */
    double u;                /* as stated */
} tally;

static void judge_once(plate *p, tally *t)
{
    pp_error error = {0};
    pp_mark mark = pp_arena_mark(&p->run.memory.keep);
    assert_ok(holes_run_judge(&p->run, 1, &error), &error);
    const pp_finding *f = &p->run.judgement.findings[p->run.judgement.first[PP_POSITION] + 2];
    const pp_bore *bore = &p->run.measures.bores[2];
    double dx = bore->at.x - p->x[2], dy = bore->at.y - p->y[2];
    t->runs++;
    t->accepted += f->verdict == PP_CONFORMS;
    t->rejected += f->verdict == PP_DOES_NOT_CONFORM;
    t->x += dx, t->y += dy, t->xx += dx * dx, t->xy += dx * dy, t->yy += dy * dy;
    t->u = p->run.measures.bore_errors[2].position.u;
    pp_arena_release(&p->run.memory.keep, mark);
}

static tally simulate(plate *p, const trial *plan, double limit, double direction, int runs,
                      test_random *r)
{
    tally t = {0};
    /* a fit follows the hole that is in it: it is set off so that its aligned place is right */
    bool fitted = plan->align == PP_ALIGN_BEST_FIT;
    double off_x = limit / 2 * cos(direction), off_y = limit / 2 * sin(direction);
    p->run.job.holes.position_limit = limit;
    for (int pass = 0; fitted && pass < 8; pass++) { /* without errors */
        for (int i = 0; i < HOLES; i++) {
            p->measured_x[i] = p->x[i] + (i == 2 ? off_x : 0);
            p->measured_y[i] = p->y[i] + (i == 2 ? off_y : 0);
        }
        tally probe = {0};
        judge_once(p, &probe);
        off_x += limit / 2 * cos(direction) - probe.x;
        off_y += limit / 2 * sin(direction) - probe.y;
    }
    for (int i = 0; i < runs; i++) {
        measure(p, plan, off_x, off_y, r);
        judge_once(p, &t);
    }
    return t;
}

static double largest_u(const tally *t)
{
    double n = t->runs, xx = t->xx / n - t->x * t->x / n / n, yy = t->yy / n - t->y * t->y / n / n;
    double xy = t->xy / n - t->x * t->y / n / n;
    return 2 * sqrt((xx + yy) / 2 + hypot((xx - yy) / 2, xy));
}

/* Returns whether something is off by more than chance. */
static int print_row(const trial *plan, int runs, uint64_t seed)
{
    test_random r = {seed};
    plate *p = malloc(sizeof *p);
    make_plate(p, plan);
    p->run.job.holes.position_limit = 1;
    tally t = simulate(p, plan, 0.001, 0, runs > 200 ? runs : 200, &r);
    double stated = t.u, ratio = largest_u(&t) / stated;
    double chance = 4 * sqrt(RISK * (1 - RISK) / runs);
    /* of a standard deviation 1/sqrt(2 n); of the larger of two that are alike some more */
    int wrong = fabs(ratio - 1) > 0.02 + 4 / sqrt(2 * t.runs);
    printf("%-36s %7.4f %6.3f ", plan->words, stated, ratio);
    for (int k = 0; k < LIMITS; k++) {
        double accepted = 0, rejected = 0;
        for (int d = 0; d < DIRECTIONS; d++) {
            t = simulate(p, plan, LIMIT[k] * stated / 2, 0.3 + d * 0.7853981634, runs, &r);
            accepted = fmax(accepted, t.accepted / t.runs);
            rejected = fmax(rejected, t.rejected / t.runs);
        }
        printf("  %4.1f %4.1f", 100 * accepted, 100 * rejected);
        wrong = wrong || accepted > RISK + 0.002 + chance || rejected > RISK + 0.002 + chance;
    }
    printf("%s\n", wrong ? "  <-" : "");
    pp_memory_free(&p->run.memory);
    free(p);
    return wrong;
}

int main(int argc, char **argv)
{
    bool check = argc > 1 && strcmp(argv[1], "--check") == 0;
    int runs = atoi(argc > 1 + check ? argv[1 + check] : "20000"), wrong = 0;
    if (runs < 1) {
        fprintf(stderr, "position_simulation [--check] [RUNS]\n");
        return 2;
    }
    printf("%d measurements a cell, worst of %d directions\n%-36s %7s %6s", runs, DIRECTIONS,
           "hole at its limit: accepted, rejected %", "u", "true/u");
    for (int k = 0; k < LIMITS; k++) printf("  limit %-4g", LIMIT[k]);
    printf("\n");
    for (size_t i = 0; i < sizeof PLANS / sizeof *PLANS; i++)
        wrong += print_row(&PLANS[i], runs, 77 + i);
    return check && wrong;
}
