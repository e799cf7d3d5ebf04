/* Clamps and shims: whatever the plan claims is computed again here, from the plate alone. */
#include "support/check.h"

#include "holddown/clamp_forces.h"
#include "holddown/clamp_scale.h"
#include "holddown/clamps.h"
#include "holddown/setups.h"
#include "holddown/shims.h"
#include "linalg/linalg.h"
#include "support/holdplates.h"

enum { ACROSS = 15, HOLES_MAX = ACROSS * ACROSS };

typedef struct setup {
    pp_memory memory;
    pp_job job;
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_state at_rest;
    double x[HOLES_MAX], y[HOLES_MAX];
    pp_hold_places holes;
    pp_hold_question question;
    pp_hold_answer answers[HOLES_MAX];
    pp_plan_request request;
    pp_plate_spec material;
} setup;

static void dome(double x, double y, double w[4])
{
    double a = x / 900, b = y / 900;
    w[0] = 0.95 * (1 - a * a) + 0.8 * (1 - b * b) - 0.3 * a * b;
    w[1] = (-1.9 * a - 0.3 * b) / 900;
    w[2] = (-1.6 * b - 0.3 * a) / 900;
    w[3] = -0.3 / 900 / 900;
}

/* A square plate with a field of holes, lanes left free along the middle */
static setup *make_setup(const pp_place_list *pins, double limit)
{
    static setup made;
    setup *s = &made;
    pp_error error = {0};
    *s = (setup){.job = test_hold_job(PP_OUTLINE_RECTANGLE, 1800, 1800, 24)};
    s->job.support.seat = PP_SEAT_REST;
    s->job.foot.force = 3000;
    assert_ok(pp_mesh_make(pp_job_outline(&s->job), 12, &s->memory, &s->mesh, &error), &error);
    pp_hold_setup given = pp_hold_setup_of(&s->job, 0.005, pins, NULL);
    assert_ok(pp_hold_plate_make(&s->mesh, test_field(&s->mesh, dome, &s->memory), &given, NULL, 2,
                                 &s->memory, &s->plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&s->plate, &s->memory.keep, &s->at_rest, &error), &error);
    assert_ok(pp_hold_settle(&s->plate, NULL, 0, NULL, NULL, &s->memory, &s->at_rest, &error),
              &error);
    for (int i = 0; i < ACROSS; i++)
        for (int j = 0; j < ACROSS; j++) {
            if (abs(i - ACROSS / 2) < 1) continue;
            s->x[s->holes.count] = -770 + 110.0 * i;
            s->y[s->holes.count++] = -765 + 109.0 * j;
        }
    s->holes.x = s->x;
    s->holes.y = s->y;
    s->question = (pp_hold_question){
        .force = 3000, .thrust = NAN, .gap_limit = 0.3, .force_cap = NAN, .only_gap = false};
    assert_ok(pp_hold_press(&s->plate, &s->at_rest,
                            &(pp_hold_visit){.question = &s->question,
                                             .places = &s->holes,
                                             .count = s->holes.count},
                            &s->memory, s->answers, NULL, &error),
              &error);
    s->material = pp_plate_spec_of(&s->job);
    s->request = (pp_plan_request){.question = &s->question,
                                   .holes = &s->holes,
                                   .answers = s->answers,
                                   .force_limit = limit,
                                   .pad = 70,
                                   .hole_diameter = 25,
                                   .material = &s->material};
    return s;
}

/* The worst gap under the foot with these clamps, but one, over all holes or those it blocks */
static double worst_gap(setup *s, const pp_plan *plan, const double *force, size_t leave_out,
                        bool blocked_only)
{
    pp_error error = {0};
    pp_hold_force forces[32];
    size_t n = 0;
    for (size_t k = 0; k < plan->clamp_count; k++) {
        if (k == leave_out) continue;
        pp_probe probe;
        double *field = pp_arena_take(&s->memory.keep, s->mesh.dofs, sizeof *field);
        pp_probe_point(&s->plate.compliance, plan->clamps[k].x, plan->clamps[k].y, 0, 0, &probe);
        assert_ok(pp_hold_deflect(&s->plate, &probe, field, &error), &error);
        forces[n] = (pp_hold_force){.force = force[k], .deflection = field};
        memcpy(forces[n++].rigid, probe.rigid, sizeof probe.rigid);
    }
    pp_hold_state state;
    pp_hold_answer answers[HOLES_MAX];
    assert_ok(pp_hold_state_take(&s->plate, &s->memory.keep, &state, &error), &error);
    assert_ok(pp_hold_settle(&s->plate, NULL, n, forces, NULL, &s->memory, &state, &error), &error);
    assert_ok(pp_hold_press(&s->plate, &state,
                            &(pp_hold_visit){.question = &s->question,
                                             .places = &s->holes,
                                             .count = s->holes.count},
                            &s->memory, answers, NULL, &error),
              &error);
    double worst = 0;
    for (size_t h = 0; h < s->holes.count; h++) {
        bool blocked_by_other = false, blocked = false;
        for (size_t k = 0; k < plan->clamp_count; k++)
            for (size_t b = 0; b < plan->clamps[k].block_count; b++) {
                if (plan->clamps[k].blocks[b] != h) continue;
                if (k == leave_out)
                    blocked = true;
                else
                    blocked_by_other = true;
            }
        if (blocked_only ? blocked : !blocked_by_other)
            worst = fmax(worst, answers[h].gap_under_foot);
    }
    return worst;
}

static void check_plan(setup *s, const pp_plan *plan)
{
    double force[32];
    assert_true(plan->found);
    assert_true(plan->clamp_count >= 1);
    for (size_t k = 0; k < plan->clamp_count; k++) {
        force[k] = plan->clamps[k].force;
        assert_true(force[k] > 0 && force[k] <= s->request.force_limit);
        for (size_t h = 0, b = 0; h < s->holes.count; h++) { /* the pad covers what it blocks */
            double apart = hypot(s->x[h] - plan->clamps[k].x, s->y[h] - plan->clamps[k].y);
            bool covered = apart <= (70 + 25) / 2.0;
            bool listed = b < plan->clamps[k].block_count && plan->clamps[k].blocks[b] == h;
            assert_int_equal(covered, listed);
            b += listed;
        }
    }
    double worst = worst_gap(s, plan, force, SIZE_MAX, false);
    assert_true(worst <= 0.3 + 2e-6);
    for (size_t k = 0; k < plan->clamp_count; k++) {
        double moved = plan->clamps[k].block_count ? worst_gap(s, plan, force, k, true) : 0;
        assert_true(moved <= 0.3 + 2e-6);
        worst = fmax(worst, moved);
        /* no clamp too many */
        if (plan->clamp_count > 1) assert_true(worst_gap(s, plan, force, k, false) > 0.3);
        assert_near(force[k], force[0], 0); /* one pressure */
    }
    assert_near(plan->worst_gap, worst, 1e-5);
    /* and none a step too strong */
    if (plan->redraws > 0) return;
    for (size_t k = 0; k < plan->clamp_count; k++)
        force[k] = pp_clamp_force_at(pp_clamp_place_of(force[k]) - 1);
    double less = worst_gap(s, plan, force, SIZE_MAX, false);
    for (size_t l = 0; l < plan->clamp_count; l++)
        if (plan->clamps[l].block_count) less = fmax(less, worst_gap(s, plan, force, l, true));
    assert_true(less > 0.3);
}

/* The gaps that the search knows are those of the set-ups solved anew. */
static void set_ups_agree_with_the_plan(setup *s, const pp_plan *plan)
{
    pp_error error = {0};
    pp_setup_list known, anew;
    pp_setup_request request = {.plate = &s->plate,
                                .rest = &s->at_rest,
                                .question = &s->question,
                                .holes = &s->holes,
                                .answers = s->answers,
                                .clamp_count = plan->clamp_count,
                                .clamps = plan->clamps,
                                .pitch = 109};
    assert_ok(pp_setups_list(&request, &s->memory, &anew, &error), &error);
    assert_non_null(plan->gap);
    request.gap = plan->gap;
    assert_ok(pp_setups_list(&request, &s->memory, &known, &error), &error);
    assert_int_equal(known.count, anew.count);
    for (size_t k = 0; k < anew.count; k++) {
        assert_int_equal(known.setups[k].worst_hole, anew.setups[k].worst_hole);
        assert_near(known.setups[k].worst_gap, anew.setups[k].worst_gap, 1e-9);
        for (size_t i = 0; i < anew.setups[k].hole_count; i++)
            assert_near(known.setups[k].gap[i], anew.setups[k].gap[i], 1e-9);
    }
}

static void clamps_found_do_what_they_say(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan plan;
    setup *s = make_setup(NULL, 7000);
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    check_plan(s, &plan);
    pp_memory_free(&s->memory);
}

/* What a clamp could give more does not change what is needed. */
static void a_tighter_limit_does_not_change_the_plan(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan wide, tight;
    setup *s = make_setup(NULL, 12000);
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &wide, &error), &error);
    check_plan(s, &wide);
    s->request.force_limit = wide.clamps[0].force;
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &tight, &error),
              &error);
    check_plan(s, &tight);
    assert_int_equal(tight.clamp_count, wide.clamp_count);
    assert_near(tight.clamps[0].force, wide.clamps[0].force, 0);
    pp_memory_free(&s->memory);
}

/* On pins clamps stand over support, and the pins' loads are looked at with the clamps on. */
static void clamps_stand_over_pins_and_do_not_overload_them(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan plan, none;
    enum { ROW = 13, PINS = ROW * ROW };
    double x[PINS], y[PINS], z[PINS] = {0};
    pp_place_list pins = {.count = PINS, .x = x, .y = y, .z = z};
    for (int k = 0; k < PINS; k++) x[k] = -840 + 140 * (k % ROW), y[k] = -840 + 140 * (k / ROW);
    setup *s = make_setup(&pins, 30000);
    s->request.support_reach = 24;
    s->request.over_holes = true;
    s->request.pin_load_limit = NAN;
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_true(plan.found && plan.clamp_count > 0);
    for (size_t k = 0; k < plan.clamp_count; k++) {
        double nearest = INFINITY;
        for (int i = 0; i < PINS; i++)
            nearest = fmin(nearest, hypot(x[i] - plan.clamps[k].x, y[i] - plan.clamps[k].y));
        assert_true(nearest <= 24 + 1e-9);
    }
    s->request.pin_load_limit = 100; /* N: less than the plate's own weight puts on one */
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &none, &error), &error);
    assert_false(none.found);
    assert_true(none.pins_overloaded);
    pp_memory_free(&s->memory);
}

/* Another survey of the same plate: noise too small to matter leaves the plan holding in all, a
 * dome higher by half the plate's own in none that a clamp of this force could hold. */
static void the_plan_is_tried_on_other_surveys(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan plan;
    setup *s = make_setup(NULL, 7000);
    pp_hold_setup given = pp_hold_setup_of(&s->job, 0.005, NULL, NULL);
    double *redraw = pp_arena_take_zero(&s->memory.keep, 4 * s->mesh.dofs, sizeof *redraw);
    s->request.supports = &given.supports;
    s->request.redraws = 4;
    s->request.redraw = redraw;
    const double *shape = test_field(&s->mesh, dome, &s->memory);
    for (size_t i = 0; i < s->mesh.dofs; i++) redraw[3 * s->mesh.dofs + i] = 1e-4 * shape[i];
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_int_equal(plan.redraws, 4);
    assert_int_equal(plan.holds, 4);
    assert_near(plan.redraw_worst, plan.worst_gap, 0.02);
    set_ups_agree_with_the_plan(s, &plan);
    size_t clamps = plan.clamp_count;
    for (size_t i = 0; i < s->mesh.dofs; i++) redraw[3 * s->mesh.dofs + i] = 3 * shape[i];
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_int_equal(plan.holds, 3);
    assert_true(plan.redraw_worst > 0.3);
    /* no clamp more helps on that one: the plan stays what it was */
    assert_int_equal(plan.clamp_count, clamps);
    check_plan(s, &plan);
    pp_memory_free(&s->memory);
}

/* In whole steps, none above 5 % of the force from 1 kN on; a force of the scale is its own place
 * however its last digits came about, and any other goes to the next above. */
static void clamps_are_set_in_steps_of_a_twentieth(void **state)
{
    (void)state;
    assert_near(pp_clamp_force_at(0), 0, 0);
    for (size_t place = 1; place < 400; place++) {
        double force = pp_clamp_force_at(place), below = pp_clamp_force_at(place - 1);
        double step = force - below;
        assert_true(step >= 50 && step <= 500);
        if (below >= 1000) assert_true(step <= 0.05 * below + 1e-9);
        assert_int_equal(pp_clamp_place_of(force), place);
        assert_int_equal(pp_clamp_place_of(force * (1 + 1e-12)), place);
        assert_int_equal(pp_clamp_place_of(below + 0.01 * step), place);
    }
    assert_near(pp_clamp_force_at(60), 4000, 0);
    assert_near(pp_clamp_force_at(90), 10000, 0);
    assert_near(pp_clamp_force_at(190), 60000, 0);
}

/* In how many of the redraws these forces hold, each solved afresh on the plate it makes */
static size_t count_holding(setup *s, const pp_plan *plan, const double *force, size_t redraws,
                            const double *redraw)
{
    pp_error error = {0};
    pp_hold_setup given = pp_hold_setup_of(&s->job, 0.005, NULL, NULL);
    pp_hold_plate as_laid = s->plate;
    size_t holding = 0;
    for (size_t k = 0; k < redraws; k++) {
        pp_hold_plate other;
        assert_ok(pp_hold_plate_reshape(&as_laid, &given.supports, redraw + k * s->mesh.dofs,
                                        &s->memory, &other, &error),
                  &error);
        s->plate = other;
        double worst = worst_gap(s, plan, force, SIZE_MAX, false);
        for (size_t l = 0; l < plan->clamp_count; l++)
            if (plan->clamps[l].block_count)
                worst = fmax(worst, worst_gap(s, plan, force, l, true));
        holding += worst <= 0.3 + 2e-6;
        s->plate = as_laid;
    }
    return holding;
}

/* Twenty surveys, each with a dome a little higher or lower: forces are raised until the plan holds
 * on 19 of them, and no farther than that takes. */
static void check_raised(double spread, double limit, size_t more_clamps, size_t places_at_least)
{
    enum { REDRAWS = 20 };
    pp_error error = {0};
    pp_plan plain, plan;
    setup *s = make_setup(NULL, limit);
    pp_hold_setup given = pp_hold_setup_of(&s->job, 0.005, NULL, NULL);
    double *redraw = pp_arena_take(&s->memory.keep, REDRAWS * s->mesh.dofs, sizeof *redraw);
    const double *shape = test_field(&s->mesh, dome, &s->memory);
    for (size_t k = 0; k < REDRAWS; k++)
        for (size_t i = 0; i < s->mesh.dofs; i++)
            redraw[k * s->mesh.dofs + i] = spread * ((double)k - 10) * shape[i];
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plain, &error),
              &error);
    s->request.supports = &given.supports;
    s->request.redraws = REDRAWS;
    s->request.redraw = redraw;
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_int_equal(plan.clamp_count, plain.clamp_count + more_clamps);
    double force[32], less[32];
    for (size_t k = 0; k < plan.clamp_count; k++) {
        force[k] = plan.clamps[k].force;
        less[k] = pp_clamp_force_at(pp_clamp_place_of(force[k]) - 1);
    }
    assert_true(more_clamps > 0 || pp_clamp_place_of(force[0]) >=
                                       places_at_least + pp_clamp_place_of(plain.clamps[0].force));
    assert_true(plan.holds >= 19);
    assert_int_equal(count_holding(s, &plan, force, REDRAWS, redraw), plan.holds);
    assert_true(count_holding(s, &plan, less, REDRAWS, redraw) < 19);
    pp_memory_free(&s->memory);
}

static void forces_are_raised_as_far_as_other_surveys_ask(void **state)
{
    (void)state;
    check_raised(0.004, 7000, 0, 2);
    check_raised(0.001, 7000, 0, 1);
    check_raised(0.004, 4800, 1, 0); /* one may not press so hard: one more does */
}

static void holes_under_a_clamp_are_solved_with_it_moved_away(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan plan;
    setup *s = make_setup(NULL, 7000);
    double cx[] = {-330, 330, -440, 440, 0}, cy[] = {0, 0, 330, -330, 610};
    pp_place_list candidates = {5, cx, cy, cy, NULL, NULL};
    s->request.candidates = &candidates;
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_int_equal(plan.candidates, 5);
    size_t blocked = 0;
    for (size_t k = 0; k < plan.clamp_count; k++) blocked += plan.clamps[k].block_count;
    assert_true(blocked > 0);
    check_plan(s, &plan);
    set_ups_agree_with_the_plan(s, &plan);
    pp_memory_free(&s->memory);
}

/* Three clamps, two of them sharing a hole: each hole stands in one set-up, whose gaps are those of
 * the plate solved anew with just these clamps on. */
static void set_ups_run_from_first_to_last(void **state)
{
    (void)state;
    pp_error error = {0};
    setup *s = make_setup(NULL, 7000);
    static const uint32_t first[] = {32, 33, 47}, second[] = {47, 48};
    const pp_clamp clamps[] = {
        {.x = 880, .force = 5000, .block_count = 3, .blocks = first},
        {.x = -40, .y = 10, .force = 4000},
        {.x = 90, .y = 300, .force = 3000, .block_count = 2, .blocks = second}};
    const double force[] = {5000, 4000, 3000};
    const pp_plan plan = {.clamp_count = 3, .clamps = clamps};
    pp_setup_list list;
    pp_setup_request request = {.plate = &s->plate,
                                .rest = &s->at_rest,
                                .question = &s->question,
                                .holes = &s->holes,
                                .answers = s->answers,
                                .clamp_count = 3,
                                .clamps = clamps,
                                .pitch = 109};
    assert_ok(pp_setups_list(&request, &s->memory, &list, &error), &error);
    assert_int_equal(list.count, 4);
    assert_int_equal(list.setups[0].lifted_count, 0);
    assert_int_equal(list.setups[0].hole_count, s->holes.count - 4);
    assert_int_equal(list.setups[1].lifted[0], 0);
    assert_int_equal(list.setups[1].hole_count, 2);
    assert_int_equal(list.setups[2].lifted[0], 2);
    assert_int_equal(list.setups[2].holes[0], 48);
    assert_int_equal(list.setups[3].lifted_count, 2); /* under both */
    assert_int_equal(list.setups[3].holes[0], 47);
    assert_near(list.setups[0].worst_gap, worst_gap(s, &plan, force, SIZE_MAX, false), 1e-6);
    assert_true(isnan(list.setups[0].largest_support_force)); /* a table */
    pp_hold_answer one;
    pp_hold_state moved;
    const pp_clamp left[] = {clamps[1]};
    pp_hold_force forces[1];
    assert_ok(pp_hold_state_take(&s->plate, &s->memory.keep, &moved, &error), &error);
    assert_ok(pp_clamp_forces(&s->plate, 1, left, &s->memory, forces, &error), &error);
    assert_ok(pp_hold_settle(&s->plate, NULL, 1, forces, NULL, &s->memory, &moved, &error), &error);
    assert_ok(pp_hold_press(&s->plate, &moved,
                            &(pp_hold_visit){.question = &s->question,
                                             .places = &s->holes,
                                             .count = 1,
                                             .which = list.setups[3].holes},
                            &s->memory, &one, NULL, &error),
              &error);
    assert_near(list.setups[3].worst_gap, fmax(one.gap_under_foot, 0), 1e-6);
    assert_int_equal(list.tighten[0], 1); /* the middle one first */
    assert_int_equal(list.tighten[2], 0);
    assert_int_equal(list.step_count, 3 + 1 + 3 + 3 + 5 + 3);
    assert_int_equal(list.steps[0].clamp, 1);
    assert_int_equal(list.steps[list.step_count - 1].action, PP_STEP_RELEASE);
    assert_int_equal(list.steps[list.step_count - 1].clamp, 1);
    pp_memory_free(&s->memory);
}

/* No clamps: one set-up, with what the study found as laid. */
static void without_clamps_there_is_one_set_up(void **state)
{
    (void)state;
    pp_error error = {0};
    setup *s = make_setup(NULL, 7000);
    pp_setup_list list;
    pp_setup_request request = {.plate = &s->plate,
                                .rest = &s->at_rest,
                                .question = &s->question,
                                .holes = &s->holes,
                                .answers = s->answers,
                                .pitch = 109};
    assert_ok(pp_setups_list(&request, &s->memory, &list, &error), &error);
    double worst = 0;
    for (size_t h = 0; h < s->holes.count; h++) worst = fmax(worst, s->answers[h].gap_under_foot);
    assert_int_equal(list.count, 1);
    assert_int_equal(list.step_count, 1);
    assert_near(list.setups[0].worst_gap, worst, 0);
    assert_near(s->answers[list.setups[0].worst_hole].gap_under_foot, worst, 0);
    pp_memory_free(&s->memory);
}

static void clamps_too_weak_are_not_called_a_plan(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_plan plan;
    setup *s = make_setup(NULL, 150);
    assert_ok(pp_plan_find(&s->plate, &s->at_rest, &s->request, &s->memory, &plan, &error), &error);
    assert_false(plan.found);
    assert_true(plan.beyond_limit);
    assert_true(plan.worst_gap > 0.3);
    pp_memory_free(&s->memory);
}

/* Exhaustive search over up to four pieces */
static double best_stack(const double *stock, int count, double gap)
{
    double best = 0;
    for (int a = -1; a < count; a++)
        for (int b = -1; b < count; b++)
            for (int c = -1; c < count; c++)
                for (int d = -1; d < count; d++) {
                    double sum = (a < 0 ? 0 : stock[a]) + (b < 0 ? 0 : stock[b]) +
                                 (c < 0 ? 0 : stock[c]) + (d < 0 ? 0 : stock[d]);
                    if (sum <= gap + 1e-6 && sum > best) best = sum;
                }
    return best;
}

static void shims_are_stacked_from_stock(void **state)
{
    (void)state;
    static const double common[] = {0.1, 0.2, 0.5, 1}, odd[] = {0.127, 0.254, 0.381};
    const struct {
        pp_job_list stock;
        double gap, sum;
        size_t pieces;
    } cases[] = {{{4, common}, 0.83, 0.8, 3}, /* 0.5 + 0.2 + 0.1 */
                 {{4, common}, 1.7, 1.7, 3},  /* 1 + 0.5 + 0.2 */
                 {{4, common}, 0.099, 0, 0},  /* nothing so thin */
                 {{4, common}, 0.4, 0.4, 2},  /* 0.2 twice, not 0.1 four times */
                 {{3, odd}, 0.5, 0.381, 1},   /* 0.381, or 0.254 + 0.127: the single piece */
                 {{3, odd}, 0.64, 0.635, 2},  /* 0.381 + 0.254 */
                 {{4, common}, 9.7, 4.0, 4}}; /* four pieces are the most: 4 times 1 */
    pp_memory memory = {0};
    pp_error error = {0};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        double pieces[PP_SHIM_PIECES], sum = 0;
        size_t count;
        assert_ok(
            pp_shim_stack(&cases[k].stock, cases[k].gap, &memory.scratch, pieces, &count, &error),
            &error);
        for (size_t i = 0; i < count; i++) {
            sum += pieces[i];
            if (i) assert_true(pieces[i] <= pieces[i - 1]);
        }
        assert_near(sum, cases[k].sum, 1e-12);
        assert_int_equal(count, cases[k].pieces);
    }
    for (double gap = 0.05; gap < 0.9; gap += 0.0371) {
        double pieces[PP_SHIM_PIECES], sum = 0;
        size_t count;
        pp_job_list stock = {3, odd};
        assert_ok(pp_shim_stack(&stock, gap, &memory.scratch, pieces, &count, &error), &error);
        for (size_t i = 0; i < count; i++) sum += pieces[i];
        assert_near(sum, best_stack(odd, 3, gap), 1e-12);
    }
    pp_memory_free(&memory);
}

/* Shims carry the foot: with them in, no hole may still be pushed down by more than the limit. */
static void shims_hold_the_plate_where_it_is(void **state)
{
    (void)state;
    static const double stock[] = {0.1, 0.2, 0.5, 1};
    pp_job_list list = {4, stock};
    pp_error error = {0};
    setup *s = make_setup(NULL, NAN);
    pp_shims shims;
    assert_ok(pp_shims_find(&(pp_shim_request){&s->plate, &s->at_rest, &s->question, &s->holes,
                                               s->answers, &list},
                            &s->memory, &shims, &error),
              &error);
    assert_true(shims.count > 0);
    for (size_t h = 0; h < s->holes.count; h++)
        assert_true(fmin(shims.gaps[h].as_laid, shims.gaps[h].under_foot) <= 0.3 + 1e-6);
    assert_true(shims.worst_gap <= 0.3 + 1e-6);
    for (size_t k = 0; k < shims.count; k++) {
        assert_true(shims.shims[k].thickness <= shims.shims[k].gap + 1e-6);
        assert_true(shims.shims[k].thickness > shims.shims[k].gap - 0.1);
        assert_int_equal(shims.shims[k].pin, -1);
    }
    /* the stacks lie on the table where they say: study it again from them alone */
    double *raised = pp_arena_take_zero(&s->memory.keep, s->plate.supports.count, sizeof *raised);
    for (size_t k = 0; k < shims.count; k++)
        for (size_t i = 0; i < s->plate.supports.count; i++)
            if (s->plate.supports.x[i] == shims.shims[k].x &&
                s->plate.supports.y[i] == shims.shims[k].y)
                raised[i] = shims.shims[k].thickness;
    pp_hold_state state_with;
    assert_ok(pp_hold_state_take(&s->plate, &s->memory.keep, &state_with, &error), &error);
    assert_ok(pp_hold_settle(&s->plate, raised, 0, NULL, NULL, &s->memory, &state_with, &error),
              &error);
    pp_hold_answer with[HOLES_MAX];
    assert_ok(pp_hold_press(&s->plate, &state_with,
                            &(pp_hold_visit){.question = &s->question,
                                             .places = &s->holes,
                                             .count = s->holes.count},
                            &s->memory, with, NULL, &error),
              &error);
    double worst = 0;
    for (size_t h = 0; h < s->holes.count; h++) {
        assert_near(with[h].gap, s->answers[h].gap, 1e-6); /* nothing is lifted */
        worst = fmax(worst,
                     fmin(fmax(with[h].gap_under_foot, 0), with[h].gap - with[h].gap_under_foot));
    }
    assert_near(worst, shims.worst_gap, 1e-6);
    pp_memory_free(&s->memory);
}

static void a_pin_the_plate_is_clear_of_gets_a_shim(void **state)
{
    (void)state;
    static const double stock[] = {0.05, 0.3};
    pp_job_list list = {2, stock};
    pp_error error = {0};
    double px[] = {-800, 800, 800, -800, 0, 390}, py[] = {-800, -800, 800, 800, 10, -20};
    double pz[] = {0, 0.1, 0, 0.05, 0, 0};
    pp_place_list pins = {6, px, py, pz, NULL, NULL};
    setup *s = make_setup(&pins, NAN);
    pp_shims shims;
    assert_ok(pp_shims_find(&(pp_shim_request){&s->plate, &s->at_rest, &s->question, &s->holes,
                                               s->answers, &list},
                            &s->memory, &shims, &error),
              &error);
    assert_true(shims.count >= 2); /* the two in the middle at least, under the dome */
    bool middle[2] = {false, false};
    for (size_t k = 0; k < shims.count; k++) {
        assert_true(shims.shims[k].pin >= 0);
        assert_near(shims.shims[k].x, px[shims.shims[k].pin], 0);
        if (shims.shims[k].pin >= 4) middle[shims.shims[k].pin - 4] = true;
    }
    assert_true(middle[0] && middle[1]);
    pp_memory_free(&s->memory);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clamps_found_do_what_they_say),
        cmocka_unit_test(a_tighter_limit_does_not_change_the_plan),
        cmocka_unit_test(clamps_stand_over_pins_and_do_not_overload_them),
        cmocka_unit_test(the_plan_is_tried_on_other_surveys),
        cmocka_unit_test(clamps_are_set_in_steps_of_a_twentieth),
        cmocka_unit_test(forces_are_raised_as_far_as_other_surveys_ask),
        cmocka_unit_test(holes_under_a_clamp_are_solved_with_it_moved_away),
        cmocka_unit_test(set_ups_run_from_first_to_last),
        cmocka_unit_test(without_clamps_there_is_one_set_up),
        cmocka_unit_test(clamps_too_weak_are_not_called_a_plan),
        cmocka_unit_test(shims_are_stacked_from_stock),
        cmocka_unit_test(shims_hold_the_plate_where_it_is),
        cmocka_unit_test(a_pin_the_plate_is_clear_of_gets_a_shim),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
