#include "holddown/study_inside.h"

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

/* Tell the caller how far it is, 0 to 1. */
static void tell_progress(const pp_study *s, double share)
{
    if (s->options->progress) s->options->progress(s->options->progress_context, share);
}

double pp_study_gap(bool table, double gap) { return table ? fmax(gap, 0) : gap; }

double pp_study_known(double value) { return value > 0 ? value : NAN; }

double pp_study_pitch(const pp_study *s)
{
    double found = pp_study_known(s->options->pitch);
    return pp_given(found) ? found : s->job->holes.pitch;
}

double pp_study_hole(const pp_study *s) { return pp_study_known(s->options->hole_diameter); }

/* Holes --------------------------------------------------------------------------------- */

static pp_hold_gap gap_of(bool table, const pp_hold_answer *a)
{
    return (pp_hold_gap){pp_study_gap(table, a->gap), pp_study_gap(table, a->gap_under_foot)};
}

static pp_hold hold_of(const pp_study *s, const pp_hold_answer *a)
{
    bool table = s->plate.table;
    pp_hold h = {.gap = pp_study_gap(table, a->gap),
                 .gap_under_foot = pp_study_gap(table, a->gap_under_foot),
                 .held_gap_under_foot = pp_study_gap(table, a->held_gap),
                 .force_to_close = a->force_to_close,
                 .tilt = 1000 * a->tilt,
                 .spring_back = NAN};
    h.shift = 0.5 * s->job->plate.thickness * a->tilt;
    if (pp_given(a->gap_in_thrust))
        h.spring_back = h.gap_under_foot - pp_study_gap(table, a->gap_in_thrust);
    return h;
}

static void fold(const pp_study *s, const pp_hold *holes, pp_holddown *r)
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
static double half_variation(const pp_study *s, const pp_holddown *r, bool underside)
{
    double total = s->job->plate.thickness_variation;
    if (!pp_given(total)) total = r->thickness.variation;
    if (!pp_given(total) && !underside && s->flatness->thickness.valid)
        total = s->flatness->thickness.variation;
    return pp_given(total) ? 0.5 * total : 0;
}

/* What is left of the plate once all holes are drilled */
static double weight_drilled(const pp_study *s)
{
    double hole = pp_study_hole(s);
    double area = s->plate.mesh->area, gone = (double)s->nominal->count * PP_PI * hole * hole / 4;
    return gone < area ? s->plate.weight * (1 - gone / area) : NAN;
}

static pp_drilling drilling_of(const pp_study *s)
{
    return (pp_drilling){.nominal = s->nominal,
                         .pitch = pp_study_pitch(s),
                         .hole_diameter = pp_study_hole(s),
                         .thickness = s->job->plate.thickness,
                         .job_file = s->job->path};
}

static pp_status soften(const pp_study *s, pp_softening *softening, pp_holddown *r, pp_error *error)
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
static pp_status compare_faces(pp_study *s, pp_error *error)
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

static pp_status make_plate(pp_study *s, pp_holddown *r, pp_error *error)
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
static pp_status find_curvature(pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_curvature c;
    const pp_surface *laid = r->underside_used ? s->flatness->underside : &s->flatness->surface;
    PP_TRY(pp_surface_redraw(laid, PP_STUDY_REDRAWS, s->memory, &s->redraw, error));
    s->noisy = laid->normal && laid->used_noise > 0;
    PP_TRY(pp_curvature_of(&s->setup.plate, s->plate.mesh, s->plate.shape, PP_STUDY_REDRAWS,
                           s->redraw, s->memory, &c, error));
    r->flattening_stress = c.flattening_stress;
    r->flattening_as_fitted = c.as_fitted;
    r->flattening_low = laid->noise_unreliable ? 0 : c.stress_low; /* all of it may be noise */
    r->flattening_high = c.stress_high;
    r->stiffening = c.stiffening;
    r->double_height = c.double_height;
    return PP_OK;
}

/* Solid and drilled --------------------------------------------------------------------- */

static pp_status fold_phase(const pp_study *s, const pp_hold_answer *answers, pp_hold_phase *phase,
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
static pp_status press_other_phase(const pp_study *s, const pp_softening *softening,
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
static pp_status compare_phases(const pp_study *s, pp_holddown *r, pp_error *error)
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
static void look_at_coverage(const pp_study *s, pp_holddown *r)
{
    const pp_mesh *mesh = s->plate.mesh;
    double wanted = fmin(200, pp_outline_across(&mesh->shape) / 10);
    r->shortest_wave = 2 * s->flatness->surface.pitch;
    r->pitch_wanted = wanted;
    r->points_wanted = (size_t)ceil(mesh->area / wanted / wanted);
}

/* How far the mesh may have the figures near a limit off */
static pp_status check_mesh(const pp_study *s, pp_holddown *r, pp_error *error)
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

static pp_status press_holes(pp_study *s, pp_holddown *r, pp_error *error)
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

static pp_status find_areas(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_area_request request = {.mesh = s->plate.mesh,
                               .field = s->state.field,
                               .side = PP_AREA_GAP,
                               .threshold = s->question.gap_limit,
                               .nominal = s->nominal};
    return pp_areas_find(&request, s->memory, &r->area_count, &r->areas, error);
}

/* The same plate the other face up. Forces are asked where nothing else limits a clamp's. */
static pp_status turn_over(pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_hold_question question = s->question;
    question.only_gap = pp_given(s->job->holddown.clamp_force_limit);
    return pp_turn_over(&s->plate, &question, &s->places, s->memory, &s->turned, &r->turned_over,
                        error);
}

/* The pins with their loads, as a fixture */
static pp_status describe_pins(const pp_study *s, pp_holddown *r, pp_error *error)
{
    if (s->plate.table) return PP_OK;
    const pp_fixture_request request = {.supports = &s->plate.supports,
                                        .nominal = s->nominal,
                                        .hole_diameter = pp_study_hole(s),
                                        .pin_diameter = s->job->support.pin_diameter,
                                        .solid = r->solid.valid ? r->solid.pin_force : NULL,
                                        .drilled = r->drilled.valid ? r->drilled.pin_force : NULL};
    return pp_pin_fixture_make(&request, s->memory, &r->fixture, error);
}

/* The whole study ------------------------------------------------------------------------ */

/* What is known before any hole is looked at. */
static pp_status describe_ground(pp_study *s, pp_holddown *r, pp_error *error)
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
static pp_status study_as_laid(pp_study *s, pp_holddown *r, pp_error *error)
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

pp_status pp_holddown_study(const pp_job *job, const pp_flatness *flatness,
                            const pp_nominal *nominal, const pp_holddown_options *options,
                            pp_memory *memory, pp_holddown *result, pp_error *error)
{
    PP_TRY(pp_study_check(job, flatness, nominal, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_study s = {.job = job,
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
    tell_progress(&s, 0.1);
    PP_TRY(study_as_laid(&s, &r, error));
    tell_progress(&s, 0.5);
    PP_TRY(turn_over(&s, &r, error));
    tell_progress(&s, 0.7);
    PP_TRY(pp_study_remedies(&s, &r, error));
    tell_progress(&s, 1);
    pp_arena_release(&memory->scratch, mark);
    *result = r;
    return PP_OK;
}
