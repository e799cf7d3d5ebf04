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
#include "support/holdplates.h"
#include "support/random.h"

enum { HOLES = 40, COARSE = 32, FINE = 44, TRUTH = 64 };

typedef struct tally {
    int holes, covered_gap, covered_force, jobs, rough;
    double worst_share;
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

static void count(const pp_mesh_check *fine, const pp_mesh_check *truth, const pp_hold_answer *a,
                  tally *t)
{
    /* truth->gap_u is the whole way beyond the finest mesh, of which 3/4 were seen */
    const double seen = 0.75;
    t->jobs++;
    t->rough += fine->moves > 0.03;
    t->worst_share = fmax(t->worst_share, truth->moves);
    for (size_t i = 0; i < HOLES; i++) {
        if (isnan(fine->gap_u[i]) || isnan(truth->force_u[i]) || !(a[i].force_to_close > 0))
            continue;
        t->holes++;
        t->covered_gap += seen * truth->gap_u[i] <= fine->gap_u[i] + 1e-4;
        t->covered_force += seen * truth->force_u[i] <= fine->force_u[i] + 1;
    }
}

static void try_job(uint64_t seed, tally *t)
{
    static const double THICK[] = {12, 20, 30, 45}, LIMIT[] = {0.05, 0.1, 0.2, 0.3};
    pp_memory memory = {0};
    pp_error error = {0};
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
    pp_mesh mesh;
    DO(pp_mesh_make(pp_job_outline(&job), COARSE, &memory, &mesh, &error));
    double *shape = test_field(&mesh, cubic, &memory);
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.004, NULL, NULL);
    pp_hold_plate plate;
    pp_hold_state state;
    DO(pp_hold_plate_make(&mesh, shape, &setup, NULL, 1, &memory, &plate, &error));
    DO(pp_hold_state_take(&plate, &memory.keep, &state, &error));
    DO(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &state, &error));
    pp_hold_question question = {.force = job.foot.force,
                                 .thrust = NAN,
                                 .gap_limit = job.holddown.gap_limit,
                                 .force_cap = NAN};
    pp_hold_places places = {HOLES, x, y};
    pp_hold_answer answers[HOLES];
    DO(pp_hold_press(&plate, &state, &(pp_hold_visit){&question, &places, HOLES, NULL}, &memory,
                     answers, NULL, &error));
    pp_mesh_check check[2];
    for (int k = 0; k < 2; k++) {
        pp_mesh_check_request request = {.mesh = &mesh,
                                         .shape = shape,
                                         .setup = &setup,
                                         .question = &question,
                                         .holes = &places,
                                         .answers = answers,
                                         .cells = k ? TRUTH : FINE,
                                         .threads = 1};
        DO(pp_mesh_check_make(&request, &memory, &check[k], &error));
        if (!check[k].cells) break;
        if (k) count(&check[0], &check[1], answers, t);
    }
    pp_memory_free(&memory);
}

/* A heavy flat plate on a table with one support raised by h: a disc at its centre, where the
 * raised support carries 4 pi sqrt(q D h) and the plate lifts off within sqrt(2 P / (pi q)); a
 * strip without cross-contraction along its end, which carries q l / 2 per width and lifts over l =
 * (24 D h / q)^1/4. Both follow from w = w' = w'' = 0 where the plate comes down. Returns the force
 * over the closed one. */
static double lifted(bool disc, size_t cells, double *length_share)
{
    pp_memory memory = {0};
    pp_error error = {0};
    const double size = 3000, h = 1.5, width = 600;
    pp_job job = test_hold_job(disc ? PP_OUTLINE_DISC : PP_OUTLINE_RECTANGLE, size, width, 12);
    if (!disc) job.plate.poisson_ratio = 0;
    pp_mesh mesh;
    DO(pp_mesh_make(pp_job_outline(&job), cells, &memory, &mesh, &error));
    double *flat = pp_arena_take_zero(&memory.keep, mesh.dofs, sizeof *flat);
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.001, NULL, NULL);
    pp_hold_plate plate;
    pp_hold_state state;
    DO(pp_hold_plate_make(&mesh, flat, &setup, NULL, 1, &memory, &plate, &error));
    DO(pp_hold_state_take(&plate, &memory.keep, &state, &error));
    size_t n = plate.supports.count;
    double *shim = pp_arena_take_zero(&memory.keep, n, sizeof *shim);
    for (size_t i = 0; i < n; i++)
        if (disc ? hypot(plate.supports.x[i], plate.supports.y[i]) < 1e-6
                 : plate.supports.x[i] > size / 2 - 1e-6)
            shim[i] = h;
    DO(pp_hold_settle(&plate, shim, 0, NULL, NULL, &memory, &state, &error));
    double force = 0, nearest = INFINITY;
    for (size_t j = 0; j < state.base.active; j++) {
        size_t i = state.base.order[j];
        if (shim[i] > 0) {
            force += state.base.v[j];
            continue;
        }
        double from =
            disc ? hypot(plate.supports.x[i], plate.supports.y[i]) : size / 2 - plate.supports.x[i];
        nearest = fmin(nearest, from);
    }
    double q = plate.weight / mesh.area, d = pp_plate_rigidity(&setup.plate);
    double closed =
        disc ? 4 * PP_PI * sqrt(q * d * h) : 0.5 * q * pow(24 * d * h / q, 0.25) * width;
    double length = disc ? sqrt(2 * closed / (PP_PI * q)) : pow(24 * d * h / q, 0.25);
    *length_share = nearest / length;
    pp_memory_free(&memory);
    return force / closed;
}

static bool lift_off(size_t finest)
{
    static const size_t CELLS[] = {16, 32, 44, 64};
    bool good = true;
    for (int disc = 1; disc >= 0; disc--)
        for (size_t k = 0; k < sizeof CELLS / sizeof *CELLS && CELLS[k] <= finest; k++) {
            double length, share = lifted(disc, CELLS[k], &length);
            printf("%s lifted, %2zu cells: force %.4f of the closed form, lift-off %.3f\n",
                   disc ? "disc centre" : "strip end  ", CELLS[k], share, length);
            if (CELLS[k] >= 32) good = good && fabs(share - 1) < 0.03 && fabs(length - 1) < 0.12;
        }
    return good;
}

int main(int count_of_words, char **words)
{
    bool check = count_of_words > 2 && strcmp(words[1], "--check") == 0;
    int jobs = count_of_words > 1 ? atoi(words[count_of_words - 1]) : 40;
    tally t = {0};
    bool good = lift_off(jobs ? 64 : 32); /* the finer ones take minutes */
    for (int k = 1; k <= jobs; k++) try_job((uint64_t)k, &t);
    printf("%d jobs, %d with holes near a limit: of %d such holes the way from %d to %d cells is "
           "within the "
           "uncertainty in %.1f %% (gap) and %.1f %% (force); %d jobs said rough; largest move "
           "%.1f %%\n",
           jobs, t.jobs, t.holes, COARSE, TRUTH, 100.0 * t.covered_gap / fmax(t.holes, 1),
           100.0 * t.covered_force / fmax(t.holes, 1), t.rough, 100 * t.worst_share);
    bool covered = t.covered_gap >= 0.8 * t.holes && t.covered_force >= 0.8 * t.holes;
    return check && !(good && covered) ? 1 : 0;
}
