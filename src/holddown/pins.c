#include "holddown/pins.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/compare.h"
#include "base/constants.h"
#include "holddown/hole_grid.h"
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
    pp_hole_grid spots;
    double *pin_x, *pin_y; /* [spot_count] */
    size_t pin_count;
} chooser;

/* Where pins may stand ------------------------------------------------------------------ */

/* Undrilled places on a square raster: farther from any hole than a web */
static pp_status list_spots(chooser *c, size_t web_count, const pp_web *webs, pp_error *error)
{
    const pp_pin_request *r = c->request;
    const pp_web_request metal = {r->nominal, r->pitch, r->hole_diameter};
    pp_arena *arena = &c->memory->scratch;
    double reach = c->least + r->pitch, step = fmax(c->mesh.width, c->mesh.height) / FREE_ACROSS;
    size_t across = (size_t)(c->mesh.width / step) + 1, along = (size_t)(c->mesh.height / step) + 1;
    pp_hole_grid holes;
    PP_TRY(pp_hole_grid_make(r->nominal->count, r->nominal->x, r->nominal->y, reach, arena, &holes,
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
            if (pp_hole_grid_nearest(&holes, x, y, 0.75 * r->pitch) <= 0.75 * r->pitch) continue;
            if (pp_webs_metal(&metal, &holes, x, y, reach) < c->least) continue;
            c->spot_x[c->spot_count] = x;
            c->spot_y[c->spot_count++] = y;
        }
    PP_TAKE(c->pin_x, &c->memory->keep, c->spot_count);
    PP_TAKE(c->pin_y, &c->memory->keep, c->spot_count);
    return pp_hole_grid_make(c->spot_count, c->spot_x, c->spot_y, 2 * r->pitch, arena, &c->spots,
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
        size_t n = pp_hole_grid_near(&c->spots, x, y, distance, ROOM, near);
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

static void aim_along_rim(chooser *c, double spacing)
{
    const pp_mesh *m = &c->mesh;
    double inset = fmax(c->least, RIM_INSET * fmin(m->width, m->height));
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

static void choose(chooser *c, double spacing)
{
    c->pin_count = 0;
    aim_along_rim(c, spacing);
    aim_inside(c, spacing);
}

/* Sag of a flat plate on them ------------------------------------------------------------- */

static bool sag_asked(const pp_pin_request *r)
{
    return pp_given(r->plate.thickness) && pp_given(r->foot.force) && pp_given(r->gap_limit);
}

/* Lay a flat plate on the pins and bring down the foot with its thrust at every hole. `valid` false
 * when these pins cannot carry it. */
static pp_status find_sag(chooser *c, pp_pin_plan *plan, bool *valid, pp_error *error)
{
    const pp_pin_request *r = c->request;
    pp_mark mark = pp_arena_mark(&c->memory->scratch), keep = pp_arena_mark(&c->memory->keep);
    size_t n = r->nominal->count;
    double *flat, *force;
    pp_hold_answer *answers;
    PP_TAKE_ZERO(flat, &c->memory->scratch, c->mesh.dofs);
    PP_TAKE(answers, &c->memory->scratch, n);
    PP_TAKE(force, &c->memory->scratch, c->pin_count);
    pp_place_list pins = {.count = c->pin_count, .x = c->pin_x, .y = c->pin_y};
    pp_hold_places places = {n, r->nominal->x, r->nominal->y};
    pp_hold_question question = {
        .force = r->foot.force, .thrust = NAN, .gap_limit = INFINITY, .force_cap = NAN};
    if (pp_given(r->foot.thrust)) question.force += r->foot.thrust;
    pp_hold_setup setup = {
        .plate = r->plate,
        .foot = r->foot,
        .supports = {
            .pins = &pins, .pins_file = r->pins_file, .seat = PP_SEAT_LEVEL, .laid = PP_LAID_FREE}};
    pp_hold_plate plate;
    pp_hold_state state;
    pp_error ignored;
    *valid = false;
    pp_status status =
        pp_hold_plate_make(&c->mesh, flat, &setup, NULL, r->threads, c->memory, &plate, error);
    if (status == PP_OK) status = pp_hold_state_take(&plate, &c->memory->scratch, &state, error);
    if (status == PP_OK) {
        /* pins that do not surround the centre do not carry the plate: too few as yet */
        status = pp_hold_settle(&plate, NULL, 0, NULL, NULL, c->memory, &state, &ignored);
        if (status == PP_EINPUT)
            status = PP_OK;
        else if (status == PP_OK)
            *valid = true;
        else if (error)
            *error = ignored;
    }
    if (status == PP_OK && *valid)
        status = pp_hold_press(&plate, &state, &question, &places, n, NULL, c->memory, answers,
                               force, error);
    plan->sag = plan->largest_pin_force = 0;
    for (size_t h = 0; status == PP_OK && *valid && h < n; h++) {
        double sag = -fmin(answers[h].gap, answers[h].gap_under_foot);
        plan->largest_pin_force = fmax(plan->largest_pin_force, answers[h].largest_support);
        if (sag <= plan->sag) continue;
        plan->sag = sag, plan->sag_x = places.x[h], plan->sag_y = places.y[h];
    }
    pp_arena_release(&c->memory->scratch, mark);
    pp_arena_release(&c->memory->keep, keep);
    return status;
}

static pp_status choose_by_sag(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    double spacing = FIRST_SPACING * fmin(c->mesh.width, c->mesh.height);
    for (int k = 0; k < NARROWER_MAX; k++, spacing *= NARROWER) {
        bool valid;
        choose(c, spacing);
        plan->spacing = spacing;
        plan->chosen_valid = true;
        if (c->pin_count < 3) continue;
        PP_TRY(find_sag(c, plan, &valid, error));
        plan->sag_valid = valid;
        plan->sag_within = valid && pp_at_most(plan->sag, c->request->gap_limit);
        if (plan->sag_within || spacing * NARROWER < 1.5 * c->request->pitch) return PP_OK;
    }
    return PP_OK;
}

static pp_status choose_pins(chooser *c, pp_pin_plan *plan, pp_error *error)
{
    const pp_pin_request *r = c->request;
    bool sag = sag_asked(r);
    if (!pp_given(r->spacing)) return sag ? choose_by_sag(c, plan, error) : PP_OK;
    choose(c, r->spacing);
    plan->spacing = r->spacing;
    plan->chosen_valid = true;
    if (!sag || c->pin_count < 3) return PP_OK;
    PP_TRY(find_sag(c, plan, &plan->sag_valid, error));
    plan->sag_within = plan->sag_valid && pp_at_most(plan->sag, r->gap_limit);
    return PP_OK;
}

/* All of it -------------------------------------------------------------------------------- */

typedef struct place {
    double x, y;
} place;

static int by_place(const void *a, const void *b)
{
    const place *p = a, *q = b;
    if (p->y != q->y) return p->y < q->y ? -1 : 1;
    return p->x < q->x ? -1 : p->x > q->x;
}

static pp_status keep_pins(const chooser *c, pp_pin_plan *plan, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&c->memory->scratch);
    place *sorted;
    PP_TAKE(sorted, &c->memory->scratch, c->pin_count);
    for (size_t k = 0; k < c->pin_count; k++) sorted[k] = (place){c->pin_x[k], c->pin_y[k]};
    qsort(sorted, c->pin_count, sizeof *sorted, by_place);
    for (size_t k = 0; k < c->pin_count; k++) c->pin_x[k] = sorted[k].x, c->pin_y[k] = sorted[k].y;
    plan->pin_count = c->pin_count;
    plan->pin_x = c->pin_x;
    plan->pin_y = c->pin_y;
    pp_arena_release(&c->memory->scratch, mark);
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
    pp_pin_plan made = {.sag = NAN, .spacing = NAN, .largest_pin_force = NAN};
    size_t count;
    pp_web *webs;
    chooser c = {.request = r, .memory = memory};
    double clearance = pp_given(r->clearance) ? r->clearance : 0;
    c.least = pp_given(r->pin_diameter) ? r->pin_diameter / 2 + clearance : clearance;
    PP_TRY(pp_webs_find(&(pp_web_request){r->nominal, r->pitch, r->hole_diameter}, &memory->keep,
                        &count, &webs, error));
    keep_wide(c.least, count, webs, &made);
    if (made.web_count == 0 && count > 0)
        return pp_fail_at(error, PP_EINPUT, r->job_file, 0, 0,
                          "no web takes the pin: the widest leaves a radius of %.3f mm and pin and "
                          "clearance need %.3f mm; choose a smaller pin_diameter",
                          made.widest_radius, c.least);
    if (pp_given(r->pin_diameter) && r->outline.kind != PP_OUTLINE_NONE) {
        PP_TRY(pp_mesh_make(r->outline, CELLS, memory, &c.mesh, error));
        PP_TRY(list_spots(&c, made.web_count, webs, error));
        PP_TRY(choose_pins(&c, &made, error));
        PP_TRY(keep_pins(&c, &made, error));
    }
    pp_arena_release(&memory->scratch, mark);
    *plan = made;
    return PP_OK;
}
