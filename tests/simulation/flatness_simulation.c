/* How often a plate exactly at its flatness limit is accepted or rejected, and how often a better
 * or worse one is.
 *
 *     flatness_simulation [RUNS [FIRST [LAST]]]  20 surveys a row by default; tables FIRST to LAST
 *     flatness_simulation --check RUNS           the first table; exit 1 when either risk exceeds 5
 * % by more than chance, over all of them or in one
 *
 * The true zone is that of the true shape at the points surveyed. A survey of noise u gives an
 * interval; a limit at the true zone is falsely accepted when the interval ends below it, falsely
 * rejected when it begins above. Power: accepted at 1.67 times the true zone (a flat plate: at 6
 * u), rejected at the true zone / 1.4.
 */
#include <stdio.h>
#include <stdlib.h>

#include "flatness/field_zone.h"
#include "flatness/flatness_interval.h"
#include "simulation/shapes.h"
#include "support/check.h"
#include "support/random.h"
#include "support/surveys.h"

enum { CELLS = 32 };
static const double RADIUS = 600, U = 0.01, RISK = 0.05, ROOM = 1 / 0.6, WORSE = 1.4;

/* width < 0: so many times the smallest feature that the survey allows */
static const plate_shape SHAPES[] = {
    {"flat", shape_flat, 0},
    {"three lobes", shape_three_lobes, 0},
    {"crease", shape_crease, 0},
    {"cone", shape_cone, 0},
    {"rim drooping over 2 d", shape_droop, -2},
    {"ring, d wide", shape_ring, -1},
    {"hill and pit inside, 1.5 d", shape_two_hills, -1.5},
    {"dent d wide in a bow", shape_dent_in_bow, -1},
    {"hill inside, d", shape_inside, -1},
    {"pit inside, .8 d", shape_pit, -0.8},
    {"hill on the rim, d", shape_rim, -1},
    {"pit on the rim, 1.5 d", shape_rim_pit, -1.5},
    {"hill on the rim, 3 d", shape_rim, -3},
    {"pit on the rim, .8 d", shape_rim_pit, -0.8},
    {"step, d wide", shape_step, -1},
    {"hill inside, .5 d (below what is stated)", shape_inside, -0.5},
    {"hill on the rim, .5 d (below)", shape_rim, -0.5},
};
enum { ALL_SHAPES = sizeof SHAPES / sizeof *SHAPES };

typedef struct cell {
    size_t points;
    double height; /* true zone, in u */
    double stated; /* uncertainty stated over the true one */
} cell;

typedef struct tally {
    int runs, accepted, rejected, accepted_with_room, rejected_worse, surface;
} tally;

static pp_mesh mesh;
static pp_memory mesh_memory;

static void make_mesh(void)
{
    pp_error error = {0};
    pp_job job;
    assert_ok(pp_job_blank(&mesh_memory, &job, &error), &error);
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 2 * RADIUS;
    assert_ok(pp_mesh_make(pp_job_outline(&job), CELLS, &mesh_memory, &mesh, &error), &error);
}

/* Heights of a shape whose zone over these points is `zone`. */
static void true_heights(const plate_shape *shape, double zone, test_points *p, pp_memory *memory)
{
    pp_error error = {0};
    double feature = fmax(4 * sqrt(mesh.area / (double)p->count), 2 * RADIUS / 20) / RADIUS;
    double width = shape->width < 0 ? -shape->width * feature : shape->width;
    for (size_t k = 0; k < p->count; k++)
        p->z[k] = RADIUS * shape->height(p->x[k] / RADIUS, p->y[k] / RADIUS, width);
    pp_points points = {p->count, p->x, p->y, p->z};
    pp_zone_weights found;
    assert_ok(pp_zone_find(&points, false, 1, memory, &found, &error), &error);
    for (size_t k = 0; k < p->count; k++)
        p->z[k] = found.width > 1e-9 ? p->z[k] * zone / found.width : 0;
    if (found.width <= 1e-9) return;
    points.z = p->z; /* a plate so bent that the zone is not in proportion to the heights */
    assert_ok(pp_zone_find(&points, false, 1, memory, &found, &error), &error);
    for (size_t k = 0; k < p->count; k++) p->z[k] *= zone / found.width;
}

static void run_once(const plate_shape *shape, const cell *c, test_random *r, tally *t)
{
    static const double UP[3] = {0, 0, 1};
    pp_memory memory = {0};
    pp_error error = {0};
    test_points p = test_points_take(&memory, c->points);
    for (size_t k = 0; k < p.count; k++) {
        double at = RADIUS * 0.985 * sqrt(((double)k + 0.5) / (double)p.count);
        double angle = 2.399963229728653 * (double)k + 1e-3 * random_normal(r);
        at = fmin(0.99 * RADIUS, at + 0.2 * sqrt(mesh.area / (double)p.count) * random_normal(r));
        p.x[k] = at * cos(angle), p.y[k] = at * sin(angle);
    }
    double zone = shape->height == shape_flat ? 0 : c->height * U;
    true_heights(shape, zone, &p, &memory);
    for (size_t k = 0; k < p.count; k++) p.z[k] += U * random_normal(r);
    pp_survey survey = test_survey(&p);
    pp_points points = {p.count, p.x, p.y, p.z};
    pp_least_squares fit;
    pp_minimum_zone narrowest;
    pp_surface surface;
    pp_surface_options options = {.uncertainty = 2 * c->stated * U, .threads = 1};
    pp_interval_options asked = {.uncertainty = 2 * c->stated * U,
                                 .uncertainty_form = NAN,
                                 .smallest_feature = NAN,
                                 .threads = 1};
    pp_flatness_interval found;
    assert_ok(pp_plane_least_squares(&points, UP, 1, &memory, &fit, &error), &error);
    assert_ok(pp_plane_minimum_zone(&points, &fit, UP, 1, &memory, &narrowest, &error), &error);
    assert_ok(pp_surface_fit(&survey, &mesh, &options, &memory, &surface, &error), &error);
    assert_ok(pp_flatness_interval_find(&survey, &fit, &narrowest, &surface, &asked, &memory,
                                        &found, &error),
              &error);
    t->runs++;
    t->surface += found.by_surface;
    t->accepted += found.high <= zone + 1e-6;
    t->rejected += found.low > zone + 1e-6;
    t->accepted_with_room += found.high <= (zone > 0 ? zone * ROOM : 6 * U);
    t->rejected_worse += zone > 0 && found.low > zone / WORSE;
    pp_memory_free(&memory);
}

static tally simulate(const plate_shape *shape, const cell *c, int runs, uint64_t seed)
{
    test_random r = {seed};
    tally t = {0};
    for (int i = 0; i < runs; i++) run_once(shape, c, &r, &t);
    return t;
}

static double share(int part, const tally *t) { return 100.0 * part / t->runs; }

static void add(tally *to, const tally *t)
{
    to->runs += t->runs, to->accepted += t->accepted, to->rejected += t->rejected;
}

/* How many of n may err where each does with RISK: all but one in a thousand such cells. */
static bool too_many(int wrong, int runs)
{
    double n = runs, mean = RISK * n;
    return wrong > mean + 3.1 * sqrt(mean * (1 - RISK)) + 1.5;
}

static const cell CELL[] = {{341, 10, 1},   {341, 4, 1},    {1000, 10, 1}, {341, 40, 1},
                            {341, 10, 0.5}, {341, 10, 2},   {30, 10, 1},   {1000, 40, 1},
                            {1000, 10, 2},  {100000, 10, 1}};
enum { CELLS_ALL = sizeof CELL / sizeof *CELL };

static int print_all(size_t first, size_t last, size_t shapes, int runs)
{
    tally all = {0};
    int wrong = 0;
    for (size_t k = first; k <= last && k < CELLS_ALL; k++) {
        const cell *c = &CELL[k];
        printf("\n%zu points, true zone %g u, u stated %g times: %d surveys a row\n%-42s %s\n",
               c->points, c->height, c->stated, runs, "",
               "accepted rejected at the zone | accepted at /.6, rejected at /1.4 | by surface");
        for (size_t s = 0; s < shapes; s++) {
            tally t = simulate(&SHAPES[s], c, runs, 1000 * k + s + 7);
            bool below = SHAPES[s].width > -0.75 && SHAPES[s].width < 0;
            bool bad = too_many(t.accepted, t.runs) || too_many(t.rejected, t.runs);
            printf("%-42s %5.0f %5.0f %12.0f %5.0f %12.0f%s\n", SHAPES[s].words,
                   share(t.accepted, &t), share(t.rejected, &t), share(t.accepted_with_room, &t),
                   share(t.rejected_worse, &t), share(t.surface, &t), bad ? "  <-" : "");
            fflush(stdout);
            if (below) continue; /* narrower than what is promised */
            add(&all, &t);
            wrong += bad;
        }
    }
    printf("\nall rows but those below: %.2f %% accepted, %.2f %% rejected of %d\n",
           share(all.accepted, &all), share(all.rejected, &all), all.runs);
    return wrong || too_many(all.accepted, all.runs) || too_many(all.rejected, all.runs);
}

int main(int argc, char **argv)
{
    bool check = argc > 1 && strcmp(argv[1], "--check") == 0;
    int runs = atoi(argc > 1 + check ? argv[1 + check] : "20");
    if (runs < 1) {
        fprintf(stderr, "flatness_simulation [--check] [RUNS]\n");
        return 2;
    }
    make_mesh();
    size_t first = !check && argc > 2 ? (size_t)atoi(argv[2]) : 0;
    size_t last = check ? 0 : argc > 3 ? (size_t)atoi(argv[3]) : CELLS_ALL;
    int wrong = print_all(first, last, ALL_SHAPES, runs);
    pp_memory_free(&mesh_memory);
    return check && wrong;
}
