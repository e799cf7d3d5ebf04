/* How far the mesh is to be trusted: the uncertainty that a second mesh gives, against a mesh twice
 * as fine, on random plates; and lift-off against closed forms.
 *
 *   mesh_simulation [JOBS]         40 jobs, a minute or so
 *   mesh_simulation --check JOBS   fails where less is covered than the theory page says
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "holddown/mesh_check.h"
#include "support/liftoff.h"
#include "support/random.h"

enum { HOLES = 40, COARSE = 32, FINE = 44, TRUTH = 64, WAYS_MOST = 40 * 400 };

typedef struct tally {
    int holes, covered_gap, covered_force, own_force, jobs, rough, way_count;
    double worst_share;
    double way[WAYS_MOST]; /* of a force from COARSE to TRUTH cells, over that to FINE */
} tally;

static double c[10]; /* the cubic surface of the job at hand */

static void cubic(double x, double y, double w[4])
{
    double u = x / 1000, v = y / 1000;
    w[0] = c[0] * u * u + c[1] * u * v + c[2] * v * v + c[3] * u * u * u + c[4] * v * v * v +
           c[5] * u * v * v;
    w[1] = (2 * c[0] * u + c[1] * v + 3 * c[3] * u * u + c[5] * v * v) / 1000;
    w[2] = (c[1] * u + 2 * c[2] * v + 3 * c[4] * v * v + 2 * c[5] * u * v) / 1000;
    w[3] = (c[1] + 2 * c[5] * v) / 1e6;
}

static void stop(const pp_error *error)
{
    fprintf(stderr, "%s\n", error->message);
    exit(3);
}

#define DO(step)                                                                                   \
    do {                                                                                           \
        if ((step) != PP_OK) stop(&error);                                                         \
    } while (0)

/* By the square of the cell: the share of the whole way that lies between COARSE and `cells` */
static double seen(size_t cells)
{
    double ratio = (double)cells / COARSE;
    return 1 - 1 / (ratio * ratio);
}

static void count(const pp_mesh_check *check, const pp_hold_answer *study,
                  const pp_hold_answer *fine, const pp_hold_answer *truth, tally *t)
{
    t->jobs++;
    t->rough += check->moves > PP_MESH_MOVES;
    for (size_t i = 0; i < HOLES; i++) {
        double before = study[i].force_to_close, after = truth[i].force_to_close;
        if (isnan(check->gap_u[i]) || !(before > 0) || isnan(after)) continue;
        double gap = fabs(truth[i].gap_under_foot - study[i].gap_under_foot);
        double force = fabs(after - before), way = fabs(fine[i].force_to_close - before);
        t->holes++;
        t->covered_gap += gap <= check->gap_u[i] + 1e-4;
        t->covered_force += force <= check->force_u[i] + 1;
        t->own_force += force <= way / seen(FINE) + 1;
        t->worst_share = fmax(t->worst_share, force / fmax(before, after));
        if (force > 0.001 * before && t->way_count < WAYS_MOST) /* else round-off */
            t->way[t->way_count++] = force / way;
    }
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_ways(tally *t)
{
    if (!t->way_count) return;
    qsort(t->way, (size_t)t->way_count, sizeof *t->way, ascending);
    printf("a force's way from %d to %d cells over that to %d, %d holes where it is more than a "
           "thousandth: median %.2f, in nine of ten at most %.2f, in 19 of 20 %.2f; by the square "
           "of the cell %.2f; counted %.2f\n",
           COARSE, TRUTH, FINE, t->way_count, t->way[t->way_count / 2],
           t->way[t->way_count * 9 / 10], t->way[t->way_count * 19 / 20], seen(TRUTH) / seen(FINE),
           1 / seen(FINE));
}

/* The holes on a mesh; and what is said of that mesh */
static void press(const pp_job *job, size_t cells, const double *x, const double *y,
                  pp_memory *memory, pp_hold_answer *answers, pp_mesh_check *check)
{
    static double gap_u[HOLES], force_u[HOLES];
    pp_error error = {0};
    pp_mesh mesh;
    DO(pp_mesh_make(pp_job_outline(job), cells, memory, &mesh, &error));
    double *shape = test_field(&mesh, cubic, memory);
    pp_hold_setup setup = pp_hold_setup_of(job, 0.004, NULL, NULL);
    pp_hold_plate plate;
    pp_hold_state state;
    DO(pp_hold_plate_make(&mesh, shape, &setup, NULL, 1, memory, &plate, &error));
    DO(pp_hold_state_take(&plate, &memory->keep, &state, &error));
    DO(pp_hold_settle(&plate, NULL, 0, NULL, NULL, memory, &state, &error));
    pp_hold_question question = {.force = job->foot.force,
                                 .thrust = NAN,
                                 .gap_limit = job->holddown.gap_limit,
                                 .force_cap = NAN};
    pp_hold_places places = {HOLES, x, y};
    DO(pp_hold_press(&plate, &state, &(pp_hold_visit){&question, &places, HOLES, NULL}, memory,
                     answers, NULL, &error));
    if (!check) return;
    pp_mesh_check_request request = {.mesh = &mesh,
                                     .shape = shape,
                                     .setup = &setup,
                                     .question = &question,
                                     .holes = &places,
                                     .answers = answers,
                                     .cells = FINE, /* one step: its factor is on trial */
                                     .threads = 1};
    DO(pp_mesh_check_make(&request, memory, check, &error));
    memcpy(gap_u, check->gap_u, sizeof gap_u), memcpy(force_u, check->force_u, sizeof force_u);
    check->gap_u = gap_u, check->force_u = force_u; /* they outlive the memory */
}

static void try_job(uint64_t seed, tally *t)
{
    static const double THICK[] = {12, 20, 30, 45}, LIMIT[] = {0.05, 0.1, 0.2, 0.3};
    test_random r = {.state = 0x9e3779b97f4a7c15u * seed};
    bool disc = seed % 2;
    double size = 1200 + 1800 * random_unit(&r), thickness = THICK[seed % 4];
    pp_job job =
        test_hold_job(disc ? PP_OUTLINE_DISC : PP_OUTLINE_RECTANGLE, size, 0.7 * size, thickness);
    job.support.seat = PP_SEAT_REST;
    job.holddown.gap_limit = LIMIT[(seed / 4) % 4];
    job.foot.force = 1000 + 9000 * random_unit(&r);
    job.foot.outer_diameter = 160, job.foot.inner_diameter = 90;
    for (int k = 0; k < 6; k++)
        c[k] = (k < 3 ? 2.0 : 0.6) * (2 * random_unit(&r) - 1) * 1e6 / size / size;
    double x[HOLES], y[HOLES];
    for (int i = 0; i < HOLES; i++) {
        double radius = 0.44 * size * sqrt(random_unit(&r)), angle = PP_TURN * random_unit(&r);
        x[i] = radius * cos(angle), y[i] = (disc ? 1 : 0.7) * radius * sin(angle);
    }
    pp_hold_answer answers[3][HOLES];
    static const size_t CELLS[3] = {COARSE, FINE, TRUTH};
    pp_mesh_check check = {0};
    for (int k = 0; k < 3 && (k == 0 || check.cells); k++) {
        pp_memory memory = {0}; /* of one mesh at a time */
        press(&job, CELLS[k], x, y, &memory, answers[k], k ? NULL : &check);
        pp_memory_free(&memory);
    }
    if (check.cells) count(&check, answers[0], answers[1], answers[2], t);
}

static bool lift_off(size_t finest)
{
    static const size_t CELLS[] = {16, 32, 44};
    bool good = true;
    for (int disc = 1; disc >= 0; disc--)
        for (size_t k = 0; k < sizeof CELLS / sizeof *CELLS && CELLS[k] <= finest; k++) {
            test_liftoff l;
            test_lifted(disc, CELLS[k], &l);
            double force = l.force / l.closed_force, length = l.length / l.closed_length;
            printf("%s lifted, %2zu cells: force %.4f of the closed form, lift-off %.3f\n",
                   disc ? "disc centre" : "strip end  ", CELLS[k], force, length);
            if (CELLS[k] >= 32) good = good && fabs(force - 1) < 0.03 && fabs(length - 1) < 0.12;
        }
    return good;
}

int main(int count_of_words, char **words)
{
    bool check = count_of_words > 2 && strcmp(words[1], "--check") == 0;
    int jobs = count_of_words > 1 ? atoi(words[count_of_words - 1]) : 40;
    static tally t;
    bool good = lift_off(jobs ? 44 : 32); /* finer ones take minutes */
    for (int k = 1; k <= jobs; k++) try_job((uint64_t)k, &t);
    double holes = fmax(t.holes, 1);
    printf("%d jobs, %d with holes near a limit: of %d such holes the way from %d to %d cells is "
           "within the uncertainty in %.1f %% (gap) and %.1f %% (force; by the hole's own change "
           "alone %.1f %%); %d jobs said rough; largest move %.1f %%\n",
           jobs, t.jobs, t.holes, COARSE, TRUTH, 100 * t.covered_gap / holes,
           100 * t.covered_force / holes, 100 * t.own_force / holes, t.rough, 100 * t.worst_share);
    print_ways(&t);
    bool covered = t.covered_gap >= 0.8 * t.holes && t.covered_force >= 0.8 * t.holes;
    return check && !(good && covered) ? 1 : 0;
}
