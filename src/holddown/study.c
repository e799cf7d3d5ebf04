#include "holddown/study.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "base/constants.h"
#include "flatness/areas.h"
#include "flatness/redraw.h"
#include "holddown/clamps.h"
#include "holddown/curvature.h"
#include "holddown/given_clamps.h"
#include "holddown/laid_shape.h"
#include "holddown/mesh_check.h"
#include "holddown/setups.h"
#include "holddown/shims.h"
#include "holddown/stability.h"
#include "holddown/study_checks.h"
#include "holddown/under_foot.h"

enum { REDRAWS = 20 };

typedef struct study {
    const pp_job *job;
    const pp_flatness *flatness;
    const pp_nominal *nominal;
    const pp_holddown_options *options;
    pp_memory *memory;
    pp_hold_plate plate;
    pp_hold_state state;
    pp_hold_question question;
    pp_hold_places places;
    pp_hold_answer *answers;
    const double *shape; /* that lies on the supports, as surveyed */
    pp_hold_setup setup;
    pp_place_list pins, three;
    bool on_three, softened;
    pp_thickness_readings thickness;
    double variation; /* half of the thickness variation, mm */
    double *redraw;   /* [REDRAWS * dofs] what fresh noise adds to the surface */
    bool noisy;       /* it adds something */
    pp_turned_plate turned;
} study;

static void progress(const study *s, double share)
{
    if (s->options->progress) s->options->progress(s->options->progress_context, share);
}

/* Holes --------------------------------------------------------------------------------- */

static double on_support(bool table, double gap) { return table ? fmax(gap, 0) : gap; }

static pp_hold_gap gap_of(bool table, const pp_hold_answer *a)
{
    return (pp_hold_gap){on_support(table, a->gap), on_support(table, a->gap_under_foot)};
}

static pp_hold hold_of(const study *s, const pp_hold_answer *a)
{
    bool table = s->plate.table;
    pp_hold h = {.gap = on_support(table, a->gap),
                 .gap_under_foot = on_support(table, a->gap_under_foot),
                 .held_gap_under_foot = on_support(table, a->held_gap),
                 .force_to_close = a->force_to_close,
                 .tilt = 1000 * a->tilt,
                 .spring_back = NAN};
    h.shift = 0.5 * s->job->plate.thickness * a->tilt;
    if (pp_given(a->gap_in_thrust))
        h.spring_back = h.gap_under_foot - on_support(table, a->gap_in_thrust);
    return h;
}

static void fold(const study *s, const pp_hold *holes, pp_holddown *r)
{
    r->largest_gap = r->largest_gap_under_foot = -INFINITY;
    r->largest_spring_back = NAN;
    bool beyond_cap = false, numbered = false;
    for (size_t i = 0; i < r->count; i++) {
        const pp_hold *h = &holes[i];
        r->largest_gap = fmax(r->largest_gap, h->gap);
        r->largest_gap_under_foot = fmax(r->largest_gap_under_foot, h->gap_under_foot);
        r->largest_tilt = fmax(r->largest_tilt, h->tilt);
        r->largest_shift = fmax(r->largest_shift, h->shift);
        r->largest_spring_back = fmax(r->largest_spring_back, h->spring_back); /* skips NaN */
        r->largest_support_force = fmax(r->largest_support_force, s->answers[i].largest_support);
        if (isnan(h->force_to_close)) {
            beyond_cap = true;
        } else {
            numbered |= h->force_to_close > 0;
            r->largest_force_to_close = fmax(r->largest_force_to_close, h->force_to_close);
        }
    }
    if (beyond_cap && !numbered) r->largest_force_to_close = NAN;
}

/* Inputs ---------------------------------------------------------------------------------- */

/* Half of what the thickness may be off at a place. An underside that was surveyed leaves only what
 * the job says all the same. */
static double half_variation(const study *s, const pp_holddown *r, bool underside)
{
    double total = s->job->plate.thickness_variation;
    if (!pp_given(total)) total = r->thickness.variation;
    if (!pp_given(total) && !underside && s->flatness->thickness.valid)
        total = s->flatness->thickness.variation;
    return pp_given(total) ? 0.5 * total : 0;
}

static double known(double value) { return value > 0 ? value : NAN; }

static double pitch_of(const study *s)
{
    double found = known(s->options->pitch);
    return pp_given(found) ? found : s->job->holes.pitch;
}

static double hole_of(const study *s) { return known(s->options->hole_diameter); }

/* What is left of the plate once all holes are drilled */
static double weight_drilled(const study *s)
{
    double hole = hole_of(s);
    double area = s->plate.mesh->area, gone = (double)s->nominal->count * PP_PI * hole * hole / 4;
    return gone < area ? s->plate.weight * (1 - gone / area) : NAN;
}

static pp_drilling drilling_of(const study *s)
{
    return (pp_drilling){.nominal = s->nominal,
                         .pitch = pitch_of(s),
                         .hole_diameter = hole_of(s),
                         .thickness = s->job->plate.thickness,
                         .job_file = s->job->path};
}

static pp_status soften(const study *s, pp_softening *softening, pp_holddown *r, pp_error *error)
{
    r->elastic_modulus = s->job->plate.elastic_modulus;
    r->poisson_ratio = s->job->plate.poisson_ratio;
    if (!s->job->holddown.ligament_softening) return PP_OK;
    pp_drilling drilling = drilling_of(s);
    PP_TRY(pp_softening_find(s->flatness->surface.mesh, &drilling, s->memory, softening, error));
    r->elastic_modulus *= softening->modulus_ratio;
    r->poisson_ratio = softening->poisson_ratio;
    r->softened_share = softening->share;
    return PP_OK;
}

/* How the face that lies on the supports differs from the upper one */
static pp_status compare_faces(study *s, pp_error *error)
{
    double *faces;
    const double *top = s->flatness->surface.field;
    size_t n = s->plate.mesh->dofs;
    if (s->shape == top) return PP_OK;
    PP_TAKE(faces, &s->memory->keep, n);
    for (size_t i = 0; i < n; i++) faces[i] = s->shape[i] - top[i];
    s->plate.faces = faces;
    return PP_OK;
}

static pp_status make_plate(study *s, pp_holddown *r, pp_error *error)
{
    const pp_job *job = s->job;
    bool on_pins = job->support.kind == PP_SUPPORT_PINS;
    s->on_three = job->survey.laid == PP_LAID_ON_THREE_POINTS;
    if (on_pins) PP_TRY(pp_places_read(job, &job->support.file, s->memory, &s->pins, error));
    if (s->on_three)
        PP_TRY(pp_places_read(job, &job->survey.three_points, s->memory, &s->three, error));
    pp_softening softening;
    PP_TRY(soften(s, &softening, r, error));
    s->softened = r->softened_share > 0;
    PP_TRY(pp_thickness_read(job, s->flatness->surface.mesh, s->memory, &r->thickness, error));
    PP_TRY(
        pp_laid_shape(s->flatness, &r->thickness, s->memory, &s->shape, &r->underside_used, error));
    s->variation = half_variation(s, r, r->underside_used);
    s->setup = pp_hold_setup_of(job, s->flatness->surface.standard_error, on_pins ? &s->pins : NULL,
                                s->on_three ? &s->three : NULL);
    s->thickness = r->thickness;
    if (s->thickness.terms) s->setup.plate.measured = &s->thickness;
    PP_TRY(pp_hold_plate_make(s->flatness->surface.mesh, s->shape, &s->setup,
                              s->softened ? &softening : NULL, s->options->threads, s->memory,
                              &s->plate, error));
    PP_TRY(compare_faces(s, error));
    PP_TRY(pp_hold_state_take(&s->plate, &s->memory->keep, &s->state, error));
    return pp_hold_settle(&s->plate, NULL, 0, NULL, NULL, s->memory, &s->state, error);
}

/* What flattening it would take, the survey's noise taken off. */
static pp_status find_curvature(study *s, pp_holddown *r, pp_error *error)
{
    pp_curvature c;
    const pp_surface *laid = r->underside_used ? s->flatness->underside : &s->flatness->surface;
    PP_TRY(pp_surface_redraw(laid, REDRAWS, s->memory, &s->redraw, error));
    s->noisy = laid->normal && laid->used_noise > 0;
    PP_TRY(pp_curvature_of(&s->setup.plate, s->plate.mesh, s->plate.shape, REDRAWS, s->redraw,
                           s->memory, &c, error));
    r->flattening_stress = c.flattening_stress;
    r->flattening_as_fitted = c.as_fitted;
    r->flattening_low = laid->noise_unreliable ? 0 : c.stress_low; /* all of it may be noise */
    r->flattening_high = c.stress_high;
    r->stiffening = c.stiffening;
    r->double_height = c.double_height;
    return PP_OK;
}

/* Solid and drilled --------------------------------------------------------------------- */

static pp_status fold_phase(const study *s, const pp_hold_answer *answers, pp_hold_phase *phase,
                            pp_error *error)
{
    pp_hold_gap *gaps;
    PP_TAKE(gaps, &s->memory->keep, s->places.count);
    phase->valid = true;
    for (size_t i = 0; i < s->places.count; i++) {
        const pp_hold_answer *a = &answers[i];
        gaps[i] = gap_of(s->plate.table, a);
        phase->sag = fmax(phase->sag, -fmin(a->gap, a->gap_under_foot));
        phase->largest_support_force = fmax(phase->largest_support_force, a->largest_support);
    }
    phase->gaps = gaps;
    return PP_OK;
}

/* The set-up again with the plate in the other state: drilled, if the study is of the solid one. */
static pp_status press_other_phase(const study *s, const pp_softening *softening,
                                   pp_hold_phase *phase, pp_error *error)
{
    pp_hold_plate plate;
    pp_hold_state state;
    pp_hold_answer *answers;
    double *force;
    pp_hold_question question = s->question;
    question.only_gap = true;
    PP_TAKE(force, &s->memory->keep, s->plate.supports.count);
    PP_TAKE(answers, &s->memory->scratch, s->places.count);
    PP_TRY(pp_hold_plate_make(s->plate.mesh, s->shape, &s->setup, softening, s->options->threads,
                              s->memory, &plate, error));
    PP_TRY(pp_hold_state_take(&plate, &s->memory->scratch, &state, error));
    PP_TRY(pp_hold_settle(&plate, NULL, 0, NULL, NULL, s->memory, &state, error));
    PP_TRY(pp_hold_press(
        &plate, &state,
        &(pp_hold_visit){.question = &question, .places = &s->places, .count = s->places.count},
        s->memory, answers, force, error));
    phase->pin_force = force;
    return fold_phase(s, answers, phase, error);
}

/* On pins both states count: the solid plate is what is laid, the drilled one what is left. */
static pp_status compare_phases(const study *s, pp_holddown *r, pp_error *error)
{
    if (s->plate.table) return PP_OK;
    pp_hold_phase *own = s->softened ? &r->drilled : &r->solid;
    PP_TRY(fold_phase(s, s->answers, own, error));
    own->pin_force = r->pin_force;
    if (s->softened) return press_other_phase(s, NULL, &r->solid, error);
    pp_softening softening;
    pp_error ignored;
    pp_drilling drilling = drilling_of(s);
    pp_status found = pp_softening_find(s->plate.mesh, &drilling, s->memory, &softening, &ignored);
    if (found == PP_EINPUT) return PP_OK; /* outside the tables: the report says so */
    if (found != PP_OK) return pp_fail(error, found, "%s", ignored.message);
    return press_other_phase(s, &softening, &r->drilled, error);
}

/* What the survey could show. 200 mm between points, and 10 points across: common practice, no
 * source. */
static void look_at_coverage(const study *s, pp_holddown *r)
{
    const pp_mesh *mesh = s->plate.mesh;
    double wanted = fmin(200, pp_outline_across(&mesh->shape) / 10);
    r->shortest_wave = 2 * s->flatness->surface.pitch;
    r->pitch_wanted = wanted;
    r->points_wanted = (size_t)ceil(mesh->area / wanted / wanted);
}

/* How far the mesh may have the figures near a limit off */
static pp_status check_mesh(const study *s, pp_holddown *r, pp_error *error)
{
    pp_drilling drilling = drilling_of(s);
    const pp_mesh_check_request request = {.mesh = s->plate.mesh,
                                           .shape = s->shape,
                                           .setup = &s->setup,
                                           .drilling = s->softened ? &drilling : NULL,
                                           .question = &s->question,
                                           .holes = &s->places,
                                           .answers = s->answers,
                                           .threads = s->options->threads};
    return pp_mesh_check_make(&request, s->memory, &r->mesh_check, error);
}

/* Parts of the result ---------------------------------------------------------------------- */

static pp_status press_holes(study *s, pp_holddown *r, pp_error *error)
{
    size_t m = s->plate.supports.count, count = s->nominal->count;
    pp_hold *holes;
    double *force = NULL;
    PP_TAKE(s->answers, &s->memory->keep, count);
    PP_TAKE(holes, &s->memory->keep, count);
    if (!s->plate.table) PP_TAKE(force, &s->memory->keep, m);
    PP_TRY(pp_hold_press(
        &s->plate, &s->state,
        &(pp_hold_visit){.question = &s->question, .places = &s->places, .count = count}, s->memory,
        s->answers, force, error));
    for (size_t i = 0; i < count; i++) holes[i] = hold_of(s, &s->answers[i]);
    r->count = count;
    r->holes = holes;
    fold(s, holes, r);
    if (!s->plate.table) {
        r->pin_count = m;
        r->pin_x = s->plate.supports.x;
        r->pin_y = s->plate.supports.y;
        r->pin_force = force;
    }
    return PP_OK;
}

static pp_status find_areas(const study *s, pp_holddown *r, pp_error *error)
{
    pp_area_request request = {.mesh = s->plate.mesh,
                               .field = s->state.field,
                               .side = PP_AREA_GAP,
                               .threshold = s->question.gap_limit,
                               .nominal = s->nominal};
    return pp_areas_find(&request, s->memory, &r->area_count, &r->areas, error);
}

/* Clamps that bend the plate too far are none: one answer, with which the advice agrees. */
static void take_plan(const study *s, const pp_plan *plan, pp_holddown *r)
{
    double most = known(s->options->plan_stress_most);
    r->plan_bends = pp_given(most) && pp_more_than(plan->stress, most);
    r->plan_beyond_limit = plan->beyond_limit;
    r->plan_overloads = plan->pins_overloaded && !plan->found;
    r->plan_given_up = plan->given_up;
    r->plan_stress = plan->stress;
    r->plan_redraws = plan->redraws;
    r->plan_holds = plan->holds;
    r->plan_redraw_worst = plan->redraw_worst;
    if (r->plan_bends) return;
    r->plan_found = plan->found;
    r->clamp_count = plan->clamp_count;
    r->plan = plan->clamps;
    r->plan_worst_gap = on_support(s->plate.table, plan->worst_gap);
}

/* Clamps for the plate as laid, or turned over */
static pp_status search_plan(const study *s, const pp_hold_plate *plate, const pp_hold_state *state,
                             const pp_hold_answer *answers, pp_plan *plan, pp_error *error)
{
    const pp_job *job = s->job;
    pp_place_list candidates;
    pp_over_holes over = job->holddown.clamp_over_holes;
    bool given = job->holddown.clamp_candidates.path != NULL;
    if (given)
        PP_TRY(pp_places_read(job, &job->holddown.clamp_candidates, s->memory, &candidates, error));
    pp_plan_request request = {.question = &s->question,
                               .holes = &s->places,
                               .answers = answers,
                               .candidates = given ? &candidates : NULL,
                               .force_limit = job->holddown.clamp_force_limit,
                               .pad = job->holddown.clamp_pad,
                               .hole_diameter = hole_of(s),
                               .material = &s->setup.plate,
                               .supports = &s->setup.supports,
                               .redraws = s->noisy ? REDRAWS : 0,
                               .redraw = s->redraw,
                               .pin_load_limit = job->support.pin_load_limit,
                               .support_reach = job->plate.thickness,
                               .over_holes = over == PP_OVER_YES};
    PP_TRY(pp_plan_find(plate, state, &request, s->memory, plan, error));
    if (!plan->found && !plan->given_up && over == PP_OVER_IF_NEEDED && !given) {
        request.over_holes = true;
        PP_TRY(pp_plan_find(plate, state, &request, s->memory, plan, error));
    }
    return PP_OK;
}

static pp_status find_plan(const study *s, pp_holddown *r, pp_error *error)
{
    pp_plan plan;
    PP_TRY(search_plan(s, &s->plate, &s->state, s->answers, &plan, error));
    take_plan(s, &plan, r);
    return PP_OK;
}

static pp_status find_shims(const study *s, pp_holddown *r, pp_error *error)
{
    pp_shims shims;
    const pp_shim_request request = {.plate = &s->plate,
                                     .state = &s->state,
                                     .question = &s->question,
                                     .holes = &s->places,
                                     .answers = s->answers,
                                     .stock = &s->job->holddown.shim_stock};
    PP_TRY(pp_shims_find(&request, s->memory, &shims, error));
    r->shim_count = shims.count;
    r->shims = shims.shims;
    r->shims_unfit = shims.unfit;
    r->with_shims = shims.count > 0 ? shims.gaps : NULL;
    r->with_shims_worst_gap = shims.worst_gap;
    return PP_OK;
}

/* The same plate the other face up. Forces are asked where nothing else limits a clamp's. */
static pp_status turn_over(study *s, pp_holddown *r, pp_error *error)
{
    pp_hold_question question = s->question;
    question.only_gap = pp_given(s->job->holddown.clamp_force_limit);
    return pp_turn_over(&s->plate, &question, &s->places, s->memory, &s->turned, &r->turned_over,
                        error);
}

static pp_setup_request setup_request(const study *s)
{
    return (pp_setup_request){.question = &s->question,
                              .holes = &s->places,
                              .pitch = pitch_of(s),
                              .order = s->job->holddown.drilling_order};
}

/* What is left under the foot at each hole, in the set-up that drills it */
static pp_status gather_gaps(const study *s, const pp_setup_list *list, const double **after,
                             pp_error *error)
{
    double *gaps;
    PP_TAKE(gaps, &s->memory->keep, s->places.count);
    for (size_t k = 0; k < list->count; k++)
        for (size_t i = 0; i < list->setups[k].hole_count; i++)
            gaps[list->setups[k].holes[i]] = list->setups[k].gap[i];
    *after = gaps;
    return PP_OK;
}

/* Of the plan that is advised, or of the foot alone where that will do */
static pp_status list_setups(const study *s, pp_holddown *r, pp_error *error)
{
    pp_setup_request request = setup_request(s);
    request.plate = &s->plate;
    request.rest = &s->state;
    request.answers = s->answers;
    request.rest_support_force = r->largest_support_force;
    request.clamp_count = r->clamp_count;
    request.clamps = r->plan;
    PP_TRY(pp_setups_list(&request, s->memory, &r->setups, error));
    return gather_gaps(s, &r->setups, &r->gap_after, error);
}

/* The other face up has its own plan, found and solved in the same way, to compare with. */
static pp_status plan_turned(const study *s, pp_holddown *r, pp_error *error)
{
    pp_turned_over *t = &r->turned_over;
    double most = known(s->options->plan_stress_most);
    t->plan_wanted = true;
    PP_TRY(search_plan(s, &s->turned.plate, &s->turned.state, s->turned.answers, &t->plan, error));
    t->plan_bends = pp_given(most) && pp_more_than(t->plan.stress, most);
    if (t->plan_bends) t->plan.found = false, t->plan.clamp_count = 0;
    if (!t->plan.found) return PP_OK;
    pp_setup_request request = setup_request(s);
    request.plate = &s->turned.plate;
    request.rest = &s->turned.state;
    request.answers = s->turned.answers;
    request.clamp_count = t->plan.clamp_count;
    request.clamps = t->plan.clamps;
    PP_TRY(pp_setups_list(&request, s->memory, &t->setups, error));
    return gather_gaps(s, &t->setups, &t->gap_after, error);
}

/* The pins with their loads, as a fixture */
static pp_status describe_pins(const study *s, pp_holddown *r, pp_error *error)
{
    if (s->plate.table) return PP_OK;
    const pp_fixture_request request = {.supports = &s->plate.supports,
                                        .nominal = s->nominal,
                                        .hole_diameter = hole_of(s),
                                        .pin_diameter = s->job->support.pin_diameter,
                                        .solid = r->solid.valid ? r->solid.pin_force : NULL,
                                        .drilled = r->drilled.valid ? r->drilled.pin_force : NULL};
    return pp_pin_fixture_make(&request, s->memory, &r->fixture, error);
}

/* The clamps that the job gives, as they are: nothing is looked for then. */
static pp_status take_given(const study *s, pp_holddown *r, pp_error *error)
{
    r->plan_given = true;
    r->clamp_count = s->job->clamp_count;
    const pp_given_clamps given = {
        .count = s->job->clamp_count, .clamps = s->job->clamps, .job_file = s->job->path};
    PP_TRY(pp_given_clamps_list(&given, &s->plate, &s->places, hole_of(s), s->memory, &r->plan,
                                error));
    PP_TRY(pp_given_clamps_stress(&s->plate, &s->state, &s->setup.plate, r->clamp_count, r->plan,
                                  s->memory, &r->plan_stress, error));
    PP_TRY(list_setups(s, r, error));
    r->plan_worst_gap = 0;
    for (size_t k = 0; k < r->setups.count; k++)
        r->plan_worst_gap = fmax(r->plan_worst_gap, r->setups.setups[k].worst_gap);
    return PP_OK;
}

/* Hours and tools of the set-ups, and the foot that would do without clamps */
static void find_time(const study *s, pp_holddown *r)
{
    pp_machine_work work = {.holes = r->count,
                            .setups = r->setups.count,
                            .clamps = r->clamp_count,
                            .force_to_close = r->largest_force_to_close};
    for (size_t i = 0; i < r->count; i++)
        if (isnan(r->holes[i].force_to_close)) work.force_to_close = NAN;
    const pp_machine_rates rates = pp_machine_rates_of(s->job);
    r->time = pp_machine_time_of(&rates, &work);
}

/* The whole study ------------------------------------------------------------------------ */

/* What is known before any hole is looked at. */
static pp_status describe_ground(study *s, pp_holddown *r, pp_error *error)
{
    PP_TRY(make_plate(s, r, error));
    r->plate_weight = s->plate.weight;
    r->weight_drilled = weight_drilled(s);
    r->touch_gap = s->plate.touch_gap;
    r->touch_gap_grown = s->plate.touch_gap_grown;
    r->gap_limit = s->question.gap_limit;
    r->half_variation = s->variation;
    r->foot_force = s->question.force;
    r->contact_points = s->plate.supports.count;
    r->touching = s->state.base.active;
    r->tip_distance = pp_tip_distance(&s->plate, &s->state);
    r->across = pp_outline_across(&s->plate.mesh->shape);
    r->condition = s->plate.compliance.condition;
    r->tilt_limit = s->job->holddown.tilt_limit;
    PP_TRY(find_curvature(s, r, error));
    look_at_coverage(s, r);
    return PP_OK;
}

/* The plate as it lies, with the foot on every hole. */
static pp_status study_as_laid(study *s, pp_holddown *r, pp_error *error)
{
    PP_TRY(press_holes(s, r, error));
    PP_TRY(check_mesh(s, r, error));
    PP_TRY(compare_phases(s, r, error));
    PP_TRY(describe_pins(s, r, error));
    PP_TRY(find_areas(s, r, error));
    r->plan_worst_gap = r->largest_gap_under_foot;
    return pp_gap_sample(s->flatness, s->state.field, s->plate.table, s->memory, &r->map_gap,
                         error);
}

/* What helps where the foot does not do, and the set-ups of what is chosen. */
static pp_status find_remedies(study *s, pp_holddown *r, pp_error *error)
{
    const pp_job *job = s->job;
    pp_hold_remedies wanted = {0};
    if (s->options->remedies) wanted = s->options->remedies(r);
    if (wanted.clamps && !job->clamp_count) PP_TRY(find_plan(s, r, error));
    progress(s, 0.8);
    if (wanted.shims && job->holddown.shim_stock.count > 0) PP_TRY(find_shims(s, r, error));
    progress(s, 0.9);
    if (wanted.turned_clamps && !job->clamp_count) PP_TRY(plan_turned(s, r, error));
    bool ready = s->options->remedies && !wanted.clamps && !wanted.shims;
    if (job->clamp_count) return take_given(s, r, error);
    return ready || r->plan_found ? list_setups(s, r, error) : PP_OK;
}

pp_status pp_holddown_study(const pp_job *job, const pp_flatness *flatness,
                            const pp_nominal *nominal, const pp_holddown_options *options,
                            pp_memory *memory, pp_holddown *result, pp_error *error)
{
    PP_TRY(pp_study_check(job, flatness, nominal, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    study s = {.job = job,
               .flatness = flatness,
               .nominal = nominal,
               .options = options,
               .memory = memory,
               .places = {nominal->count, nominal->x, nominal->y}};
    s.question = (pp_hold_question){.force = job->foot.force,
                                    .thrust = job->foot.thrust,
                                    .gap_limit = job->holddown.gap_limit,
                                    .force_cap = job->holddown.force_cap};
    pp_holddown r = {.support = job->support.kind, .laid = job->survey.laid};
    PP_TRY(describe_ground(&s, &r, error));
    progress(&s, 0.1);
    PP_TRY(study_as_laid(&s, &r, error));
    progress(&s, 0.5);
    PP_TRY(turn_over(&s, &r, error));
    PP_TRY(find_remedies(&s, &r, error));
    find_time(&s, &r);
    progress(&s, 1);
    pp_arena_release(&memory->scratch, mark);
    *result = r;
    return PP_OK;
}
