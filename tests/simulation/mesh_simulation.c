/* How far the mesh is to be trusted: the uncertainty that the study gives for it, against a mesh
 * twice as fine as the study's, on random plates; and lift-off against closed forms.
 *
 *   mesh_simulation [JOBS [FIRST]]  40 jobs from the first on, some six seconds each
 *   mesh_simulation --discs [JOBS [FIRST]]  discs of 2,984 x 30 mm surveyed on three points, limit
 * 0.05 mm mesh_simulation --check JOBS    fails where less is covered than the theory page says
 *
 * A job is a disc or a rectangle on a table or on pins, surveyed lying there, on three points or
 * free, bent by a cubic and by a wave or two. Its gap limit is near the gap that the foot leaves
 * at one of its holes, so that every job has holes near their limit.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "holddown/mesh_check.h"
#include "support/liftoff.h"
#include "support/random.h"

enum { HOLES = 40, COARSE = 32, TRUTH = 64, WAVES = 2, PINS = 6 };

typedef struct tally {
    int holes, covered_gap, covered_force, jobs, far_jobs, poor_jobs, rough, changed, silent;
    double worst_share, worst_gap;
} tally;

typedef struct trial {
    pp_job job;
    double x[HOLES], y[HOLES];
    double three_x[3], three_y[3], pin_x[PINS * PINS], pin_y[PINS * PINS], zeros[PINS * PINS];
    pp_place_list three, pins;
    bool on_pins;
} trial;

static double c[6];                                             /* the cubic of the job at hand */
static double wave_height[WAVES], wave_x[WAVES], wave_y[WAVES]; /* mm; 1/mm */

static void surface(double x, double y, double w[4])
{
    double u = x / 1000, v = y / 1000;
    w[0] = c[0] * u * u + c[1] * u * v + c[2] * v * v + c[3] * u * u * u + c[4] * v * v * v +
           c[5] * u * v * v;
    w[1] = (2 * c[0] * u + c[1] * v + 3 * c[3] * u * u + c[5] * v * v) / 1000;
    w[2] = (c[1] * u + 2 * c[2] * v + 3 * c[4] * v * v + 2 * c[5] * u * v) / 1000;
    w[3] = (c[1] + 2 * c[5] * v) / 1e6;
    for (int k = 0; k < WAVES; k++) {
        double a = wave_height[k], p = wave_x[k], q = wave_y[k], phase = p * x + q * y + k;
        w[0] += a * sin(phase);
        w[1] += a * p * cos(phase);
        w[2] += a * q * cos(phase);
        w[3] -= a * p * q * sin(phase);
    }
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

static bool passes(double gap, double limit) { return gap <= limit; }

static void count(const trial *j, const pp_mesh_check *check, const pp_hold_answer *study,
                  const pp_hold_answer *truth, tally *t)
{
    double limit = j->job.holddown.gap_limit;
    int here = 0, covered = 0;
    t->jobs++;
    t->rough += check->moves > PP_MESH_MOVES;
    for (size_t i = 0; i < HOLES; i++) {
        double before = study[i].gap_under_foot, after = truth[i].gap_under_foot;
        bool changed = passes(before, limit) != passes(after, limit);
        bool said = fabs(before - limit) <= check->gap_u[i];
        t->changed += changed;
        t->silent += changed && !said;
        if (changed && !said)
            printf("unsaid: hole %zu, limit %.4f mm, gap %.4f, finer %.4f, uncertainty %.4f\n", i,
                   limit, before, after, check->gap_u[i]);
        if (isnan(check->gap_u[i])) continue;
        double f = study[i].force_to_close, g = truth[i].force_to_close;
        bool gap_in = fabs(after - before) <= check->gap_u[i] + 1e-4;
        bool force_in = !(f > 0 && g > 0) || fabs(g - f) <= check->force_u[i] + 1;
        t->holes++, here++;
        t->covered_gap += gap_in, t->covered_force += force_in;
        covered += gap_in && force_in;
        t->worst_gap = fmax(t->worst_gap, fabs(after - before));
        if (f > 0 && g > 0) t->worst_share = fmax(t->worst_share, fabs(g - f) / fmax(f, g));
    }
    t->poor_jobs += here && covered < 0.9 * here;
}

/* The holes on a mesh; and, if asked, what the study says of that mesh. False: the plate does not
 * stand so. */
static bool press(const trial *j, size_t cells, pp_memory *memory, pp_hold_answer *answers,
                  pp_mesh_check *check)
{
    static double gap_u[HOLES], force_u[HOLES];
    pp_error error = {0};
    pp_mesh mesh;
    DO(pp_mesh_make(pp_job_outline(&j->job), cells, memory, &mesh, &error));
    double *shape = test_field(&mesh, surface, memory);
    pp_hold_setup setup = pp_hold_setup_of(&j->job, 0.004, j->on_pins ? &j->pins : NULL, &j->three);
    pp_hold_plate plate;
    pp_hold_state state;
    pp_status made = pp_hold_plate_make(&mesh, shape, &setup, NULL, 1, memory, &plate, &error);
    if (made == PP_EINPUT) return false;
    DO(made);
    DO(pp_hold_state_take(&plate, &memory->keep, &state, &error));
    DO(pp_hold_settle(&plate, NULL, 0, NULL, NULL, memory, &state, &error));
    pp_hold_question question = {.force = j->job.foot.force,
                                 .thrust = NAN,
                                 .gap_limit = j->job.holddown.gap_limit,
                                 .force_cap = NAN};
    pp_hold_places places = {HOLES, j->x, j->y};
    DO(pp_hold_press(&plate, &state,
                     &(pp_hold_visit){.question = &question, .places = &places, .count = HOLES},
                     memory, answers, NULL, &error));
    if (!check) return true;
    pp_mesh_check_request request = {.mesh = &mesh,
                                     .shape = shape,
                                     .setup = &setup,
                                     .question = &question,
                                     .holes = &places,
                                     .answers = answers,
                                     .threads = 1};
    DO(pp_mesh_check_make(&request, memory, check, &error));
    memcpy(gap_u, check->gap_u, sizeof gap_u), memcpy(force_u, check->force_u, sizeof force_u);
    check->gap_u = gap_u, check->force_u = force_u; /* they outlive the memory */
    return true;
}

static bool press_once(const trial *j, size_t cells, pp_hold_answer *answers, pp_mesh_check *check)
{
    pp_memory memory = {0}; /* of one mesh at a time */
    bool stands = press(j, cells, &memory, answers, check);
    pp_memory_free(&memory);
    return stands;
}

static void bend(test_random *r, double size)
{
    for (int k = 0; k < 6; k++)
        c[k] = (k < 3 ? 2.0 : 0.6) * (2 * random_unit(r) - 1) * 1e6 / size / size;
    for (int k = 0; k < WAVES; k++) { /* two to six half waves over the plate */
        double angle = PP_TURN * random_unit(r), number = PP_PI * random_between(r, 2, 6) / size;
        wave_height[k] = random_unit(r) < 0.5 ? 0 : random_between(r, 0.02, 0.3);
        wave_x[k] = number * cos(angle), wave_y[k] = number * sin(angle);
    }
}

static void place(test_random *r, bool disc, double size, trial *j)
{
    double half[2] = {0.5 * size, 0.35 * size};
    for (int i = 0; i < HOLES; i++) {
        double radius = 0.44 * size * sqrt(random_unit(r)), angle = PP_TURN * random_unit(r);
        j->x[i] = radius * cos(angle), j->y[i] = (disc ? 1 : 0.7) * radius * sin(angle);
    }
    double turn = random_unit(r);
    for (int i = 0; i < 3; i++) {
        double radius = random_between(r, 0.25, 0.45) * size, angle = PP_TURN * (i + turn) / 3;
        j->three_x[i] = radius * cos(angle), j->three_y[i] = 0.7 * radius * sin(angle);
    }
    for (int i = 0; i < PINS * PINS; i++) {
        double u = 2 * (i % PINS + 0.5) / PINS - 1, v = 2 * (double)(i / PINS + 0.5) / PINS - 1;
        if (disc && hypot(u, v) > 0.95) continue;
        j->pin_x[j->pins.count] = u * half[0];
        j->pin_y[j->pins.count++] = v * half[disc ? 0 : 1];
    }
}

/* false: such a plate does not stand */
static bool make_trial(uint64_t seed, bool discs, trial *j)
{
    static const double THICK[] = {12, 20, 30, 45};
    static const pp_laid LAID[] = {PP_LAID_ON_SUPPORTS, PP_LAID_ON_THREE_POINTS, PP_LAID_FREE};
    test_random r = {.state = 0x9e3779b97f4a7c15u * seed};
    bool disc = random_unit(&r) < 0.5 || discs;
    double size = discs ? 2984 : random_between(&r, 1200, 3000);
    *j = (trial){.job = test_hold_job(disc ? PP_OUTLINE_DISC : PP_OUTLINE_RECTANGLE, size,
                                      0.7 * size, THICK[random_below(&r, 4)])};
    j->job.support.seat = PP_SEAT_REST;
    j->job.survey.laid = LAID[random_below(&r, 3)];
    j->on_pins = random_unit(&r) < 0.25;
    j->job.support.kind = j->on_pins ? PP_SUPPORT_PINS : PP_SUPPORT_TABLE;
    j->job.foot.force = random_between(&r, 1000, 10000);
    j->job.foot.outer_diameter = 160, j->job.foot.inner_diameter = 90;
    bend(&r, size);
    place(&r, disc, size, j);
    j->three = (pp_place_list){3, j->three_x, j->three_y, j->zeros, NULL, NULL};
    j->pins = (pp_place_list){j->pins.count, j->pin_x, j->pin_y, j->zeros, NULL, NULL};
    if (discs) {
        j->job.plate.thickness = 30;
        j->job.survey.laid = PP_LAID_ON_THREE_POINTS;
        j->on_pins = false;
        j->job.support.kind = PP_SUPPORT_TABLE;
        j->job.holddown.gap_limit = 0.05;
        return true;
    }
    /* a limit near some hole's gap */
    pp_hold_answer answers[HOLES];
    j->job.holddown.gap_limit = 9;
    if (!press_once(j, COARSE, answers, NULL)) return false;
    double near = answers[random_below(&r, HOLES)].gap_under_foot;
    j->job.holddown.gap_limit = fmax(0.03, near * random_between(&r, 0.8, 1.2));
    return true;
}

static void try_job(uint64_t seed, bool discs, tally *t)
{
    static trial j;
    pp_hold_answer study[HOLES], truth[HOLES];
    pp_mesh_check check = {0};
    if (!make_trial(seed, discs, &j) || !press_once(&j, COARSE, study, &check)) return;
    if (!press_once(&j, TRUTH, truth, NULL)) return;
    tally before = *t;
    count(&j, &check, study, truth, t);
    if (!check.cells) {
        t->jobs--, t->far_jobs++;
        return;
    }
    printf("job %d: limit %.3f, %s, laid %d: of %d holes gaps of %d and forces of %d within; %zu "
           "cells, worst "
           "force %.0f to %.0f N\n",
           (int)seed, j.job.holddown.gap_limit, j.on_pins ? "pins" : "table",
           (int)j.job.survey.laid, t->holes - before.holes, t->covered_gap - before.covered_gap,
           t->covered_force - before.covered_force, check.cells, check.force, check.finer_force);
    fflush(stdout);
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
    bool discs = count_of_words > 1 && strcmp(words[1], "--discs") == 0;
    int at = 1 + (check || discs);
    int jobs = count_of_words > at ? atoi(words[at]) : 40;
    int first = count_of_words > at + 1 ? atoi(words[at + 1]) : 1;
    static tally t;
    bool good = lift_off(jobs ? 44 : 32); /* finer ones take minutes */
    for (int k = first; k < first + jobs; k++) try_job((uint64_t)k, discs, &t);
    double holes = fmax(t.holes, 1);
    printf(
        "jobs %d to %d, %d with holes near a limit: of %d such holes the way from %d to %d cells "
        "is within the uncertainty in %.1f %% (gap) and %.1f %% (force), %d jobs under 90 %%; "
        "largest move %.3f mm, %.1f %% of a force, %d jobs said rough\n",
        first, first + jobs - 1, t.jobs, t.holes, COARSE, TRUTH, 100 * t.covered_gap / holes,
        100 * t.covered_force / holes, t.poor_jobs, t.worst_gap, 100 * t.worst_share, t.rough);
    printf(
        "of all holes of these jobs and of %d without a hole near a limit %d pass on one of both "
        "meshes only, %d of them unsaid\n",
        t.far_jobs, t.changed, t.silent);
    bool covered = t.covered_gap >= 0.8 * t.holes && t.covered_force >= 0.8 * t.holes;
    return check && !(good && covered) ? 1 : 0;
}
