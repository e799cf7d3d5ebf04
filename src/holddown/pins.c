#include "holddown/pins.h"

#include <math.h>

#include "base/compare.h"
#include "base/constants.h"
#include "base/grid.h"
#include "holddown/pin_metal.h"
#include "holddown/softening.h"
#include "holddown/under_foot.h"
#include "holddown/webs.h"

enum { CELLS = 32, FREE_ACROSS = 80, NARROWER_MAX = 24 };
static const double FIRST_SPACING = 0.6; /* of the short side */
static const double NARROWER = 0.82;     /* each next spacing */
static const double SNAP = 0.5;       /* of the spacing: how far a pin may stand from its target */
static const double APART = 0.4;      /* of the spacing: nearer than that two pins are one */
static const double RIM_INSET = 0.02; /* of the short side: rim pins stand that far in */

typedef struct chooser {
    const pp_pin_request *request;
    pp_memory *memory;
    pp_mesh mesh;
    double least;      /* radius a pin needs, clearance included */
    size_t spot_count; /* where a pin may stand: wide webs, then undrilled places */
    double *spot_x, *spot_y;
    pp_grid spots;
    double *pin_x, *pin_y; /* [spot_count] */
    double *force[2];      /* [spot_count] on each pin, solid and drilled */
    size_t pin_count;
    bool softened;
    pp_softening softening; /* of the drilled plate */
} chooser;

/* Where pins may stand ------------------------------------------------------------------ */

/* Undrilled places on a square raster: farther from any hole than a web */
static pp_status list_spots(chooser *c, const pp_web_request *metal, size_t web_count,
                            const pp_web *webs, pp_error *error)
{
    const pp_pin_request *r = c->request;
    pp_arena *arena = &c->memory->scratch;
    double reach = c->least + r->pitch, step = fmax(c->mesh.width, c->mesh.height) / FREE_ACROSS;
    size_t across = (size_t)(c->mesh.width / step) + 1, along = (size_t)(c->mesh.height / step) + 1;
    pp_grid holes;
    PP_TRY(pp_grid_build(r->nominal->count, r->nominal->x, r->nominal->y, reach, arena, &holes,
                         error));
    PP_TAKE(c->spot_x, arena, web_count + (across + 1) * (along + 1));
    PP_TAKE(c->spot_y, arena, web_count + (across + 1) * (along + 1));
    for (size_t k = 0; k < web_count; k++) {
        if (!pp_mesh_within(&c->mesh, webs[k].x, webs[k].y, c->least)) continue;
        c->spot_x[c->spot_count] = webs[k].x;
        c->spot_y[c->spot_count++] = webs[k].y;
    }
    for (size_t j = 0; j <= along; j++)
        for (size_t i = 0; i <= across; i++) {
            double x = c->mesh.centre_x + step * ((double)i - 0.5 * (double)across);
            double y = c->mesh.centre_y + step * ((double)j - 0.5 * (double)along);
            if (!pp_mesh_within(&c->mesh, x, y, c->least)) continue;
            if (pp_grid_distance(&holes, x, y, 0.75 * r->pitch) <= 0.75 * r->pitch) continue;
            if (pp_webs_metal(metal, &holes, x, y, reach) < c->least) continue;
            c->spot_x[c->spot_count] = x;
            c->spot_y[c->spot_count++] = y;
        }
    PP_TAKE(c->pin_x, &c->memory->keep, c->spot_count);
    PP_TAKE(c->pin_y, &c->memory->keep, c->spot_count);
    for (int k = 0; k < 2; k++) PP_TAKE_ZERO(c->force[k], &c->memory->keep, c->spot_count);
    return pp_grid_build(c->spot_count, c->spot_x, c->spot_y, 2 * r->pitch, arena, &c->spots,
                         error);
}

/* Choosing by a raster ------------------------------------------------------------------- */

/* The spot nearest to a target, SIZE_MAX if none is near enough */
static size_t nearest_spot(const chooser *c, double x, double y, double most)
{
    enum { ROOM = 512 };
    uint32_t near[ROOM];
    size_t best = SIZE_MAX;
    for (double reach = c->request->pitch; best == SIZE_MAX; reach *= 2) {
        double distance = fmin(reach, most);
        size_t n = pp_grid_near(&c->spots, x, y, distance, ROOM, near);
        double least = INFINITY;
        for (size_t k = 0; k < n && k < ROOM; k++) {
            double d = hypot(c->spot_x[near[k]] - x, c->spot_y[near[k]] - y);
            if (d < least || (d == least && near[k] < best)) least = d, best = near[k];
        }
        if (distance == most) break;
    }
    return best;
}

static void aim(chooser *c, double x, double y, double spacing)
{
    size_t spot = nearest_spot(c, x, y, SNAP * spacing);
    if (spot == SIZE_MAX) return;
    for (size_t k = 0; k < c->pin_count; k++)
        if (hypot(c->pin_x[k] - c->spot_x[spot], c->pin_y[k] - c->spot_y[spot]) < APART * spacing)
            return;
    c->pin_x[c->pin_count] = c->spot_x[spot];
    c->pin_y[c->pin_count++] = c->spot_y[spot];
}

static void aim_along_edges(chooser *c, double inset, double spacing)
{
    const pp_mesh *m = &c->mesh;
    for (size_t k = 0; k < pp_outline_edge_count(&m->shape); k++) {
        pp_edge edge = pp_outline_edge(&m->shape, k);
        size_t n = (size_t)fmax(1, ceil(pp_edge_length(&edge) / spacing));
        for (size_t i = 0; i <= n; i++) {
            pp_edge_place at = pp_edge_at(&edge, (double)i / (double)n);
            double x = at.x + inset * at.inward_x, y = at.y + inset * at.inward_y;
            if (pp_mesh_within(m, x, y, c->least)) aim(c, x, y, spacing);
        }
    }
}

static void aim_along_rim(chooser *c, double spacing)
{
    const pp_mesh *m = &c->mesh;
    double inset = fmax(c->least, RIM_INSET * fmin(m->width, m->height));
    if (pp_outline_is_cut_out(&m->shape)) {
        aim_along_edges(c, inset, spacing);
        return;
    }
    double a = m->width / 2 - inset, b = m->height / 2 - inset;
    if (m->outline == PP_OUTLINE_DISC) {
        size_t n = (size_t)fmax(3, ceil(2 * PP_PI * a / spacing));
        for (size_t k = 0; k < n; k++)
            aim(c, m->centre_x + a * cos(2 * PP_PI * (double)k / (double)n),
                m->centre_y + a * sin(2 * PP_PI * (double)k / (double)n), spacing);
        return;
    }
    size_t nx = (size_t)fmax(1, ceil(2 * a / spacing)), ny = (size_t)fmax(1, ceil(2 * b / spacing));
    for (size_t j = 0; j <= ny; j++)
        for (size_t i = 0; i <= nx; i++)
            if (i == 0 || j == 0 || i == nx || j == ny)
                aim(c, m->centre_x - a + 2 * a * (double)i / (double)nx,
                    m->centre_y - b + 2 * b * (double)j / (double)ny, spacing);
}

static void aim_inside(chooser *c, double spacing)
{
    const pp_mesh *m = &c->mesh;
    double row = spacing * sqrt(3) / 2;
    long rows = (long)(m->height / 2 / row), columns = (long)(m->width / 2 / spacing) + 1;
    for (long j = -rows; j <= rows; j++)
        for (long i = -columns; i <= columns; i++) {
            double x = m->centre_x + spacing * ((double)i + (j % 2 ? 0.5 : 0));
            double y = m->centre_y + row * (double)j;
            if (pp_mesh_within(m, x, y, c->least)) aim(c, x, y, spacing);
        }
}

static void swap(double *a, double *b)
{
    double kept = *a;
    *a = *b;
    *b = kept;
}

/* By y, then x, so that pins can be numbered; few: by insertion. */
static void sort_pins(chooser *c)
{
    double *x = c->pin_x, *y = c->pin_y;
    for (size_t i = 1; i < c->pin_count; i++)
        for (size_t j = i; j > 0 && (y[j] < y[j - 1] || (y[j] == y[j - 1] && x[j] < x[j - 1])); j--)
            swap(&x[j], &x[j - 1]), swap(&y[j], &y[j - 1]);
}

static void choose(chooser *c, double spacing)
{
    c->pin_count = 0;
    aim_along_rim(c, spacing);
    aim_inside(c, spacing);
    sort_pins(c);
}

/* Sag of a flat plate on them ------------------------------------------------------------- */

static bool sag_asked(const pp_pin_request *r)
{
    return pp_given(r->plate.thickness) && pp_given(r->foot.force) && pp_given(r->gap_limit);
}

typedef struct sagging {
    chooser *c;
    const pp_softening *softening;
    pp_pin_state *out;
    double *force;
} sagging;

/* Bring the foot with its thrust down at every hole of the plate at rest. */
static pp_status press_flat(const sagging *s, const pp_hold_plate *plate,
                            const pp_hold_state *state, pp_error *error)
{
    const pp_pin_request *r = s->c->request;
    pp_hold_answer *answers;
    pp_hold_places places = {r->nominal->count, r->nominal->x, r->nominal->y};
    pp_hold_question question = {.force = r->foot.force,
                                 .thrust = NAN,
                                 .gap_limit = INFINITY,
                                 .force_cap = NAN,
                                 .only_gap = true};
    if (pp_given(r->foot.thrust)) question.force += r->foot.thrust;
    PP_TAKE(answers, &s->c->memory->scratch, places.count);
    PP_TRY(pp_hold_press(
        plate, state,
        &(pp_hold_visit){.question = &question, .places = &places, .count = places.count},
        s->c->memory, answers, s->force, error));
    for (size_t h = 0; h < places.count; h++) {
        double sag = -fmin(answers[h].gap, answers[h].gap_under_foot);
        if (sag <= s->out->sag) continue;
        s->out->sag = sag, s->out->sag_x = places.x[h], s->out->sag_y = places.y[h];
    }
    for (size_t i = 0; i < s->c->pin_count; i++)
        s->out->largest_force = fmax(s->out->largest_force, s->force[i]);
    return PP_OK;
}

static pp_status lay_flat(const sagging *s, pp_error *error)
{
    chooser *c = s->c;
    double *flat;
    PP_TAKE_ZERO(flat, &c->memory->scratch, c->mesh.dofs);
    const pp_pin_request *r = c->request;
    pp_place_list pins = {.count = c->pin_count, .x = c->pin_x, .y = c->pin_y};
    pp_hold_setup setup = {
        .plate = r->plate,
        .foot = r->foot,
        .supports = {
            .pins = &pins, .pins_file = r->pins_file, .seat = PP_SEAT_LEVEL, .laid = PP_LAID_FREE}};
    pp_hold_plate plate;
    pp_hold_state state;
    pp_error ignored;
    PP_TRY(pp_hold_plate_make(&c->mesh, flat, &setup, s->softening, r->threads, c->memory, &plate,
                              error));
    PP_TRY(pp_hold_state_take(&plate, &c->memory->scratch, &state, error));
    pp_status status = pp_hold_settle(&plate, NULL, 0, NULL, NULL, c->memory, &state, &ignored);
    if (status == PP_EINPUT) return PP_OK; /* too few as yet to carry the plate's centre */
    if (status != PP_OK) return pp_fail(error, status, "%s", ignored.message);
    s->out->valid = true;
    return press_flat(s, &plate, &state, error);
}

/* A flat plate on the pins chosen; `valid` stays false when they cannot carry it. */
static pp_status find_sag(chooser *c, const pp_softening *softening, double *force,
                          pp_pin_state *state, pp_error *error)
{
    sagging s = {.c = c, .softening = softening, .out = state, .force = force};
    *state = (pp_pin_state){.force = force};
    pp_mark mark = pp_arena_mark(&c->memory->scratch), keep = pp_arena_mark(&c->memory->keep);
    pp_status status = lay_flat(&s, error);
    pp_arena_release(&c->memory->scratch, mark);
    pp_arena_release(&c->memory->keep, keep);
    return status;
}

/* Solid, and drilled where that is known: the worst of both counts. */
static pp_status find_sags(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    PP_TRY(find_sag(c, NULL, c->force[0], &plan->solid, error));
    plan->drilled = (pp_pin_state){.force = c->force[1]};
    if (c->softened) PP_TRY(find_sag(c, &c->softening, c->force[1], &plan->drilled, error));
    plan->sag_valid = plan->solid.valid && (plan->drilled.valid || !c->softened);
    plan->sag = fmax(plan->solid.sag, plan->drilled.sag);
    plan->largest_pin_force = fmax(plan->solid.largest_force, plan->drilled.largest_force);
    return PP_OK;
}

static pp_status choose_by_sag(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    double spacing = FIRST_SPACING * fmin(c->mesh.width, c->mesh.height);
    for (int k = 0; k < NARROWER_MAX; k++, spacing *= NARROWER) {
        choose(c, spacing);
        plan->spacing = spacing;
        plan->chosen_valid = true;
        if (c->pin_count < 3) continue;
        PP_TRY(find_sags(c, plan, error));
        bool enough = plan->sag_valid && pp_at_most(plan->sag, c->request->gap_limit);
        if (enough || spacing * NARROWER < 1.5 * c->request->pitch) return PP_OK;
    }
    return PP_OK;
}

/* What drilling will make of the plate; where the tables do not reach, nothing unless asked for */
static pp_status soften(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    const pp_pin_request *r = c->request;
    pp_error ignored;
    plan->efficiency = (r->pitch - r->hole_diameter) / r->pitch;
    pp_drilling drilling = {.nominal = r->nominal,
                            .pitch = r->pitch,
                            .hole_diameter = r->hole_diameter,
                            .thickness = r->plate.thickness,
                            .job_file = r->job_file};
    pp_status status = pp_softening_find(&c->mesh, &drilling, c->memory, &c->softening, &ignored);
    c->softened = status == PP_OK;
    if (status == PP_OK || (status == PP_EINPUT && !r->softening_asked)) return PP_OK;
    if (error) *error = ignored;
    return status;
}

static pp_status choose_pins(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    const pp_pin_request *r = c->request;
    bool sag = sag_asked(r);
    if (sag) PP_TRY(soften(c, plan, error));
    if (!pp_given(r->spacing)) return sag ? choose_by_sag(c, plan, error) : PP_OK;
    choose(c, r->spacing);
    plan->spacing = r->spacing;
    plan->chosen_valid = true;
    return sag && c->pin_count >= 3 ? find_sags(c, plan, error) : PP_OK;
}

/* All of it -------------------------------------------------------------------------------- */

/* No drill meets a pin: measured, whatever the webs were made of. */
static pp_status check_metal(const chooser *c, double clearance, pp_pin_plan *plan, pp_error *error)
{
    const pp_pin_request *r = c->request;
    double *metal;
    PP_TAKE(metal, &c->memory->keep, c->pin_count);
    const pp_pin_clearance least = {r->nominal, r->hole_diameter, r->pin_diameter, clearance};
    PP_TRY(pp_pins_check_metal(&least, c->pin_count, c->pin_x, c->pin_y, metal, error));
    plan->pin_count = c->pin_count;
    plan->pin_x = c->pin_x;
    plan->pin_y = c->pin_y;
    plan->metal = metal;
    return PP_OK;
}

/* Keep the webs that are wide enough, in place */
static void keep_wide(double least, size_t count, pp_web *webs, pp_pin_plan *plan)
{
    plan->widest_radius = NAN;
    for (size_t k = 0; k < count; k++) {
        plan->widest_radius = fmax(plan->widest_radius, webs[k].radius); /* skips NaN */
        if (pp_less_than(webs[k].radius, least))
            plan->narrow_count++;
        else
            webs[plan->web_count++] = webs[k];
    }
    plan->webs = webs;
}

static pp_status check_request(const pp_pin_request *r, pp_error *error)
{
    const char *missing = NULL;
    if (!r->nominal || r->nominal->count == 0)
        missing = "nominal";
    else if (!(r->pitch > 0))
        missing = "pitch";
    else if (!(r->hole_diameter > 0))
        missing = "tube_diameter (or hole_nominal under [rules])";
    if (!missing) return PP_OK;
    return pp_fail_at(error, PP_ENOTHING, r->job_file, 0, 0,
                      "no pins to place: the job does not give %s; add it under [holes]", missing);
}

pp_status pp_pins_find(const pp_pin_request *request, pp_memory *memory, pp_pin_plan *plan,
                       pp_error *error)
{
    const pp_pin_request *r = request;
    PP_TRY(check_request(r, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_pin_plan made = {.sag = NAN, .spacing = NAN, .largest_pin_force = NAN, .efficiency = NAN};
    size_t count;
    pp_web *webs;
    chooser c = {.request = r, .memory = memory};
    pp_web_request metal = {
        .nominal = r->nominal, .pitch = r->pitch, .hole_diameter = r->hole_diameter};
    double clearance = pp_given(r->clearance) ? r->clearance : 0;
    c.least = pp_given(r->pin_diameter) ? r->pin_diameter / 2 + clearance : clearance;
    PP_TRY(pp_webs_find_wide(&metal, &memory->scratch, error));
    PP_TRY(pp_webs_find(&metal, &memory->keep, &count, &webs, error));
    keep_wide(c.least, count, webs, &made);
    if (made.web_count == 0 && count > 0)
        return pp_fail_at(error, PP_EINPUT, r->job_file, 0, 0,
                          "no web takes the pin: the widest leaves a radius of %.3f mm and pin and "
                          "clearance need %.3f mm; choose a smaller pin_diameter",
                          made.widest_radius, c.least);
    if (pp_given(r->pin_diameter) && r->outline.kind != PP_OUTLINE_NONE) {
        PP_TRY(pp_mesh_make(r->outline, CELLS, memory, &c.mesh, error));
        PP_TRY(list_spots(&c, &metal, made.web_count, webs, error));
        PP_TRY(choose_pins(&c, &made, error));
        PP_TRY(check_metal(&c, clearance, &made, error));
    }
    pp_arena_release(&memory->scratch, mark);
    *plan = made;
    return PP_OK;
}
