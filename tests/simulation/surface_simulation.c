/* How far off the fitted surface is, over what it says of itself.
 *
 *     surface_simulation [RUNS]        40 surveys a row by default
 *     surface_simulation --check RUNS  some rows only; exit 1 when the 90 % band holds less than 85
 * % of the plate on average, by more than chance
 *
 * Each run surveys a plate of a known shape; the error is the fitted surface less the true one, all
 * over the plate.
 */
#include <stdio.h>
#include <stdlib.h>

#include "flatness/surface.h"
#include "simulation/shapes.h"
#include "support/check.h"
#include "support/random.h"
#include "support/surveys.h"

enum { GRID = 41, CELLS = 32, SIZES = 3, RUNS_MOST = 4000 };
static const double RADIUS = 600, SIGMA = 0.01, BAND = 1.645, COVERED = 0.85, OFF_MOST = 1.6;
static const size_t POINTS[SIZES] = {60, 250, 1000};

static const plate_shape SHAPES[] = {
    {"flat", shape_flat, 0},
    {"bow", shape_bow, 0},
    {"wave, length 1 radius", shape_wave, 1},
    {"hill inside, 1/4 radius wide", shape_inside, 0.25},
    {"hill on the rim, 1/5 radius wide", shape_rim, 0.2},
    {"step, 1/10 radius wide", shape_step, 0.1},
    {"crease", shape_crease, 0},
    {"ring, 1/5 radius wide", shape_ring, 0.2},
};

typedef struct outcome {
    double stated, smoother, rms, covered, covered_before;
    bool marked; /* as one whose noise can't be told from its shape */
} outcome;

static void survey_plate(const plate_shape *shape, double height, test_points *p, test_random *r)
{
    for (size_t k = 0; k < p->count; k++) {
        double at = RADIUS * 0.98 * sqrt(random_unit(r)),
               angle = 6.283185307179586 * random_unit(r);
        p->x[k] = at * cos(angle), p->y[k] = at * sin(angle);
        p->z[k] = height * shape->height(p->x[k] / RADIUS, p->y[k] / RADIUS, shape->width) +
                  SIGMA * random_normal(r);
    }
}

static outcome look(const plate_shape *shape, double height, const pp_surface *s)
{
    outcome o = {.stated = s->standard_error,
                 .smoother = s->standard_error_smoother,
                 .marked = s->noise_unreliable};
    double squares = 0, inside = 0, before = 0, count = 0;
    for (int j = 0; j < GRID; j++)
        for (int i = 0; i < GRID; i++) {
            double x = 2.0 * i / (GRID - 1) - 1, y = 2.0 * j / (GRID - 1) - 1;
            if (x * x + y * y > 1) continue;
            double e = pp_surface_height(s, RADIUS * x, RADIUS * y) -
                       height * shape->height(x, y, shape->width);
            squares += e * e;
            inside += fabs(e) <= BAND * o.stated;
            before += fabs(e) <= BAND * o.smoother;
            count++;
        }
    o.rms = sqrt(squares / count);
    o.covered = inside / count;
    o.covered_before = before / count;
    return o;
}

static outcome run_once(const plate_shape *shape, double height, size_t points, bool known,
                        test_random *r)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job;
    pp_mesh mesh;
    pp_surface surface;
    assert_ok(pp_job_blank(&memory, &job, &error), &error);
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 2 * RADIUS;
    assert_ok(pp_mesh_make(pp_job_outline(&job), CELLS, &memory, &mesh, &error), &error);
    test_points p = test_points_take(&memory, points);
    survey_plate(shape, height, &p, r);
    pp_survey survey = test_survey(&p);
    pp_surface_options options = {.uncertainty = known ? 2 * SIGMA : NAN, .threads = 2};
    assert_ok(pp_surface_fit(&survey, &mesh, &options, &memory, &surface, &error), &error);
    outcome o = look(shape, height, &surface);
    pp_memory_free(&memory);
    return o;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Surveys of one shape, of several sizes, with and without the noise stated. */
static double print_row(const plate_shape *shape, int runs, uint64_t seed, double *covered_before,
                        double *off)
{
    static double ratio[RUNS_MOST], before[RUNS_MOST];
    test_random r = {seed};
    double covered = 0, least = 0, unmarked = 0;
    *covered_before = 0;
    for (int i = 0; i < runs; i++) {
        double height = SIGMA * pow(10, random_between(&r, 0.3, 1.7)); /* 2 to 50 sigma */
        outcome o = run_once(shape, height, POINTS[i % SIZES], i / SIZES % 2 == 0, &r);
        ratio[i] = o.rms / o.stated, before[i] = o.rms / o.smoother;
        covered += o.covered / runs, *covered_before += o.covered_before / runs;
        if (!o.marked) unmarked = fmax(unmarked, ratio[i]);
        least += (o.rms <= o.stated) / (double)runs;
    }
    qsort(ratio, (size_t)runs, sizeof *ratio, ascending);
    qsort(before, (size_t)runs, sizeof *before, ascending);
    int half = runs / 2, high = (int)(0.95 * (runs - 1));
    printf("%-34s %5.2f %5.2f %6.2f %8.2f %5.0f %5.0f    %5.2f %6.2f %7.2f %5.0f\n", shape->words,
           ratio[half], ratio[high], ratio[runs - 1], unmarked, 100 * least, 100 * covered,
           before[half], before[high], before[runs - 1], 100 * *covered_before);
    fflush(stdout);
    *off = fmax(*off, ratio[high]);
    return covered;
}

int main(int argc, char **argv)
{
    bool check = argc > 1 && strcmp(argv[1], "--check") == 0;
    int runs = atoi(argc > 1 + check ? argv[1 + check] : "40");
    if (runs < 1 || runs > RUNS_MOST) {
        fprintf(stderr, "surface_simulation [--check] [RUNS]\n");
        return 2;
    }
    size_t count = sizeof SHAPES / sizeof *SHAPES, first = check ? 3 : 0, rows = 0;
    double covered = 0, covered_before = 0, off = 0;
    printf("%d surveys a row of 60, 250, 1000 points, noise stated or not; true rms error over the "
           "plate / standard error stated\n%-34s %5s %5s %6s %8s %5s %5s    smoother alone\n",
           runs, "", "half", "95 %", "most", "unmarked", "held", "band");
    for (size_t i = first; i < count && (!check || i < first + 2); i++, rows++) {
        double before;
        covered += print_row(&SHAPES[i], runs, 99 + i, &before, &off);
        covered_before += before;
    }
    printf("90 %% band holds %.1f %% of the plate on average; the smoother's alone %.1f %%\n",
           100 * covered / (double)rows, 100 * covered_before / (double)rows);
    return check && (covered / (double)rows < COVERED || off > OFF_MOST);
}
