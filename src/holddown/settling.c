/* How a plate settles on its supports: at_rest.h. */
#include <math.h>
#include <string.h>

#include "holddown/at_rest.h"
#include "holddown/seat.h"

enum { LIFT_MOST = 32 }; /* changes that a state keeps beside its base: more slow the foot down */
static const double PULL_BACK = 1e-4; /* of a support's weight share, per mm of lift */
static const double IDLE_FORCE = 1e-9, IDLE_GAP = 1e-9; /* share of the weight; mm */

pp_status pp_hold_state_take(const pp_hold_plate *plate, pp_arena *arena, pp_hold_state *state,
                             pp_error *error)
{
    pp_hold_state s = {0};
    PP_TRY(pp_contact_base_take(plate->points.count, 3, arena, &s.base, error));
    PP_TAKE(s.field, arena, plate->mesh->dofs);
    PP_TAKE(s.free_field, arena, plate->mesh->dofs);
    PP_TAKE(s.gap, arena, plate->points.count);
    PP_TAKE_ZERO(s.changed, arena, plate->points.count);
    *state = s;
    return PP_OK;
}

pp_status pp_hold_deflect(const pp_hold_plate *plate, const pp_probe *probe, double *deflection,
                          pp_error *error)
{
    memset(deflection, 0, plate->mesh->dofs * sizeof *deflection);
    for (size_t k = 0; k < probe->count; k++) deflection[probe->dof[k]] = probe->value[k];
    return pp_compliance_solve(&plate->compliance, 1, deflection, error);
}

typedef struct settling {
    double *gap;   /* [m] without reactions */
    double *field; /* [dofs] the same for the whole plate */
    double load[3];
    bool *touching;
    pp_contact_work work;
    double *base_work;
    int *pivots;
} settling;

static pp_status take_settling(const pp_hold_plate *plate, pp_memory *memory, settling *s,
                               pp_error *error)
{
    size_t m = plate->points.count;
    PP_TAKE(s->gap, &memory->scratch, m);
    PP_TAKE(s->field, &memory->scratch, plate->mesh->dofs);
    PP_TAKE_ZERO(s->touching, &memory->scratch, m);
    PP_TAKE(s->base_work, &memory->scratch, pp_contact_base_work(m, m, 3));
    PP_TAKE(s->pivots, &memory->scratch, m + 3);
    return pp_contact_work_take(m, &memory->scratch, &s->work, error);
}

/* The plate without any reactions: its shape, less what the survey's load and the forces that stay
 * do to it; and what the reactions must balance. */
static void without_reactions(const pp_hold_plate *plate, const double *shim, size_t count,
                              const pp_hold_force *forces, settling *s)
{
    size_t n = plate->mesh->dofs, m = plate->points.count;
    memcpy(s->field, plate->unloaded, n * sizeof *s->field);
    s->load[0] = plate->weight;
    s->load[1] = s->load[2] = 0;
    for (size_t c = 0; c < count; c++) {
        for (size_t i = 0; i < n; i++) s->field[i] -= forces[c].force * forces[c].deflection[i];
        for (int k = 0; k < 3; k++) s->load[k] += forces[c].force * forces[c].rigid[k];
    }
    pp_hold_at_supports(plate->mesh, &plate->supports, s->field, s->gap);
    for (size_t i = 0; i < m; i++) {
        s->gap[i] -= plate->supports.height[i] + (shim ? shim[i] : 0);
        /* as surveyed: what touched is at 0, what did not is clear of it */
        if (plate->touching) s->gap[i] += plate->survey_lift[i];
    }
}

/* made: a base that may serve; NULL: none */
static pp_status make_base(const pp_hold_plate *plate, settling *s, const pp_contact_base *made,
                           pp_hold_state *state, pp_error *error)
{
    size_t active = 0;
    for (size_t i = 0; i < plate->points.count; i++) active += s->touching[i];
    double eps = PULL_BACK * plate->weight / (double)(active ? active : 1);
    const pp_contact_start start = {s->touching, s->gap, s->load, eps};
    if (made && pp_contact_base_serves(made, &plate->points, &start))
        pp_contact_base_move(made, &start, s->base_work, &state->base);
    else
        PP_TRY(pp_contact_base_make(&plate->points, &start, s->base_work, s->pivots, &state->base,
                                    error));
    state->base.tiny_force = IDLE_FORCE * plate->weight;
    state->base.tiny_gap = IDLE_GAP;
    return PP_OK;
}

pp_status pp_hold_rest_on_three(const pp_hold_plate *plate, const double *shim,
                                const double load[3], double *z, size_t three[3], pp_error *error)
{
    pp_rest_plane plane;
    pp_hold_at_supports(plate->mesh, &plate->supports, plate->shape, z);
    for (size_t i = 0; i < plate->supports.count; i++)
        z[i] -= plate->supports.height[i] + (shim ? shim[i] : 0);
    double reach = plate->compliance.length / load[0];
    pp_stand stand =
        pp_stand_on(plate->mesh, plate->supports.count, plate->supports.x, plate->supports.y);
    stand.centre_x += load[1] * reach;
    stand.centre_y += load[2] * reach;
    PP_TRY(pp_seat_rest_plane(&stand, z, &plane, error));
    for (int k = 0; k < 3; k++) three[k] = plane.touching[k];
    return PP_OK;
}

static void flip(const pp_contact_base *base, const pp_contact_work *work, bool *touching)
{
    for (size_t c = 0; c < work->changed_count; c++) {
        size_t i = base->order[work->list[c]];
        touching[i] = !touching[i];
    }
}

/* The state of the plate without reactions, and of what is on the base */
static void note_state(const pp_hold_plate *plate, const settling *s, pp_hold_state *state)
{
    size_t m = plate->points.count;
    memcpy(state->free_field, s->field, plate->mesh->dofs * sizeof *state->free_field);
    memcpy(state->gap, s->gap, m * sizeof *state->gap);
    memcpy(state->load, s->load, sizeof state->load);
    state->changed_count = s->work.changed_count;
    memcpy(state->changed, s->work.changed, m * sizeof *state->changed);
}

/* From s->touching to a base at rest, the field left out. made: one that may serve at first; NULL:
 * none */
static pp_status come_to_rest(const pp_hold_plate *plate, settling *s, const pp_contact_base *made,
                              pp_hold_state *state, pp_error *error)
{
    enum { ROUNDS = 40 };
    for (int round = 0;; round++) {
        PP_TRY(make_base(plate, s, round == 0 ? made : NULL, state, error));
        if (pp_contact_base_rests(&state->base, round < ROUNDS ? 1 : 1e3)) break;
        if (round > ROUNDS)
            return pp_fail(error, PP_ENUMERIC,
                           "the plate did not come to rest on its supports; move supports that "
                           "lie in one line with the centre of the plate");
        PP_TRY(pp_contact_settle(&state->base, &s->work, error));
        flip(&state->base, &s->work, s->touching);
        double *gap = s->work.raise;
        pp_contact_state(&state->base, &s->work, 0, (double[3]){0}, NULL, gap, NULL);
        pp_hold_fix_plane(plate, gap, s->touching);
    }
    pp_contact_work_begin(&s->work); /* nothing has changed about its own base */
    s->work.changed_count = 0;
    note_state(plate, s, state);
    state->field_left_out = true;
    return PP_OK;
}

/* Of a state at rest in its base; it reads all that the plate answers to its supports. */
static void find_field(const pp_hold_plate *plate, settling *s, pp_hold_state *state)
{
    const pp_contact_base *base = &state->base;
    size_t n = plate->mesh->dofs;
    double *reaction = s->work.raise;
    for (size_t j = 0; j < base->count; j++)
        reaction[base->order[j]] = j < base->active ? base->v[j] : 0;
    memcpy(state->field, s->field, n * sizeof *state->field);
    pp_influence_field(&plate->influence, n, reaction, state->field);
    pp_hold_add_motion(plate, base->motion, state->field);
    state->field_left_out = false;
}

pp_status pp_hold_settle(const pp_hold_plate *plate, const double *shim, size_t count,
                         const pp_hold_force *forces, const pp_contact_base *start,
                         pp_memory *memory, pp_hold_state *state, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    settling s;
    PP_TRY(take_settling(plate, memory, &s, error));
    without_reactions(plate, shim, count, forces, &s);
    if (start) {
        for (size_t j = 0; j < start->active; j++) s.touching[start->order[j]] = true;
    } else if (plate->touching) {
        memcpy(s.touching, plate->touching, plate->points.count * sizeof *s.touching);
    } else {
        size_t three[3];
        PP_TRY(pp_hold_rest_on_three(plate, shim, s.load, s.work.raise, three, error));
        for (int k = 0; k < 3; k++) s.touching[three[k]] = true;
    }
    PP_TRY(come_to_rest(plate, &s, start, state, error));
    find_field(plate, &s, state);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* The contact about the base there is, from the changes it had */
static pp_status find_changes(const pp_hold_state *state, settling *s, pp_error *error)
{
    bool found;
    double *none = s->work.raise;
    memset(none, 0, state->base.count * sizeof *none);
    memcpy(s->work.changed, state->changed, state->base.count * sizeof *state->changed);
    PP_TRY(pp_contact_try(&state->base, none, 0, &s->work, &found, error));
    return found ? PP_OK : pp_contact_settle(&state->base, &s->work, error);
}

pp_status pp_hold_resettle(const pp_hold_plate *plate, size_t count, const pp_hold_force *forces,
                           pp_memory *memory, pp_hold_state *state, pp_error *error)
{
    pp_contact_base *base = &state->base;
    if (!base->g || base->g != plate->points.g)
        return pp_hold_settle(plate, NULL, count, forces, NULL, memory, state, error);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    settling s;
    PP_TRY(take_settling(plate, memory, &s, error));
    without_reactions(plate, NULL, count, forces, &s);
    const pp_contact_start start = {.gap = s.gap, .load = s.load};
    pp_contact_base_move(base, &start, s.base_work, base);
    PP_TRY(find_changes(state, &s, error));
    if (s.work.changed_count <= LIFT_MOST) {
        note_state(plate, &s, state);
        /* also where nothing changes contact: the forces are others */
        state->field_left_out = true;
    } else {
        for (size_t j = 0; j < base->active; j++) s.touching[base->order[j]] = true;
        flip(base, &s.work, s.touching);
        double *gap = s.work.raise;
        pp_contact_state(base, &s.work, 0, (double[3]){0}, NULL, gap, NULL);
        pp_hold_fix_plane(plate, gap, s.touching);
        PP_TRY(come_to_rest(plate, &s, NULL, state, error));
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
