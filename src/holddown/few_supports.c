#include "holddown/few_supports.h"

#include <math.h>
#include <string.h>

enum { ROUNDS = 24 };                /* then all supports are solved for; 3 to 6 are usual */
static const double SUNK = 1e-6;     /* mm below a support that nobody would find again */
static const double NEIGHBOUR = 1.5; /* cells: all around */
static const double NEAR = 1.05;     /* cells from a place: those of its own cell */

typedef struct few {
    const pp_hold_plate *laid;
    const pp_hold_visit *visit;
    pp_memory *memory;
    double cell;
    size_t count;   /* of supports solved for */
    uint32_t *list; /* [supports] these, in the order in which they joined in */
    bool *listed;   /* [supports] */
    bool *sunk;     /* [supports] in this round */
    double *gap;    /* [supports] */
    double *field;  /* [dofs] */
    double *deflection;
    pp_hold_contact *contact;
} few;

static void join(few *f, size_t i)
{
    if (f->listed[i]) return;
    f->listed[i] = true;
    f->list[f->count++] = (uint32_t)i;
}

static void join_around(few *f, double x, double y, double reach)
{
    const pp_supports *s = &f->laid->supports;
    for (size_t i = 0; i < s->count; i++)
        if (fabs(s->x[i] - x) <= reach && fabs(s->y[i] - y) <= reach) join(f, i);
}

static size_t place_of(const few *f, size_t k) { return f->visit->which ? f->visit->which[k] : k; }

static pp_status begin(few *f, pp_error *error)
{
    const pp_hold_plate *laid = f->laid;
    const pp_hold_places *places = f->visit->places;
    size_t three[3];
    const double load[3] = {laid->weight, 0, 0};
    PP_TRY(pp_hold_rest_on_three(laid, NULL, load, f->gap, three, error));
    for (int k = 0; k < 3; k++) join(f, three[k]);
    for (size_t i = 0; laid->touching && i < laid->supports.count; i++)
        if (laid->touching[i]) join(f, i);
    for (size_t k = 0; k < f->visit->count; k++)
        join_around(f, places->x[place_of(f, k)], places->y[place_of(f, k)], NEAR * f->cell);
    return PP_OK;
}

/* The field of every place's foot on the free plate, [count][dofs] */
static pp_status deflect(few *f, pp_error *error)
{
    const pp_compliance *c = &f->laid->compliance;
    size_t n = f->laid->mesh->dofs, count = f->visit->count;
    double *beside;
    pp_probe *probes;
    PP_TAKE(f->deflection, &f->memory->scratch, n * count);
    pp_mark mark = pp_arena_mark(&f->memory->scratch);
    PP_TAKE(beside, &f->memory->scratch, n * count);
    PP_TAKE(probes, &f->memory->scratch, count);
    for (size_t k = 0; k < count; k++)
        pp_probe_ring(c, f->visit->places->x[place_of(f, k)], f->visit->places->y[place_of(f, k)],
                      f->laid->foot_radius, &probes[k]);
    PP_TRY(pp_compliance_deflect(c, count, probes, beside, f->deflection, error));
    pp_arena_release(&f->memory->scratch, mark);
    return PP_OK;
}

/* The plate on the supports listed. before: of fewer of them; NULL: none */
static pp_status choose_supports(const few *f, const pp_influence *before, pp_arena *arena,
                                 pp_arena *columns, pp_hold_plate *plate, pp_error *error)
{
    const pp_supports *all = &f->laid->supports;
    size_t n = f->count;
    double *x, *y, *height, *lift;
    bool *touching;
    *plate = *f->laid;
    PP_TAKE(x, arena, n);
    PP_TAKE(y, arena, n);
    PP_TAKE(height, arena, n);
    PP_TAKE(lift, arena, n);
    PP_TAKE(touching, arena, n);
    for (size_t k = 0; k < n; k++) {
        size_t i = f->list[k];
        x[k] = all->x[i], y[k] = all->y[i], height[k] = all->height[i];
        touching[k] = f->laid->touching && f->laid->touching[i];
        lift[k] = f->laid->touching ? f->laid->survey_lift[i] : 0;
    }
    plate->supports = (pp_supports){.count = n, .x = x, .y = y, .height = height};
    if (f->laid->touching) plate->touching = touching, plate->survey_lift = lift;
    const size_t more = n + n / 2; /* most often all that will join */
    const pp_influence_room room = {columns, more < all->count ? more : all->count};
    pp_memory memory = {*arena, f->memory->scratch};
    pp_status status = pp_influence_make(&plate->compliance, &plate->supports, before, &room,
                                         plate->threads, &memory, &plate->influence, error);
    *arena = memory.keep, f->memory->scratch = memory.scratch;
    plate->points = (pp_contact_points){
        .count = n, .rigid = 3, .g = plate->influence.g, .r = plate->influence.r};
    return status;
}

/* Mark the supports that f->field has sunk below; how many are new. */
static size_t look_below(few *f)
{
    const pp_hold_plate *laid = f->laid;
    size_t found = 0;
    pp_hold_at_supports(laid->mesh, &laid->supports, f->field, f->gap);
    for (size_t i = 0; i < laid->supports.count; i++) {
        double gap = f->gap[i] - laid->supports.height[i];
        if (laid->touching) gap += laid->survey_lift[i];
        if (f->listed[i] || f->sunk[i] || !(gap < -SUNK)) continue;
        f->sunk[i] = true;
        found++;
    }
    return found;
}

static size_t look_under_foot(few *f, const pp_hold_plate *plate, const pp_hold_state *state)
{
    size_t n = plate->mesh->dofs, found = 0;
    for (size_t k = 0; k < 2 * f->visit->count; k++) {
        const pp_hold_contact *c = &f->contact[k];
        if (!(c->force > 0)) continue;
        const double *foot = f->deflection + k / 2 * n;
        for (size_t i = 0; i < n; i++) f->field[i] = state->free_field[i] - c->force * foot[i];
        pp_influence_field(&plate->influence, n, c->reaction, f->field);
        pp_hold_add_motion(plate, c->motion, f->field);
        found += look_below(f);
    }
    return found;
}

static pp_status press(few *f, const pp_hold_plate *plate, const pp_hold_state *state,
                       pp_hold_answer *answers, pp_error *error)
{
    pp_hold_visit visit = *f->visit;
    double *reaction;
    PP_TAKE(reaction, &f->memory->scratch, 2 * visit.count * f->count);
    for (size_t k = 0; k < 2 * visit.count; k++)
        f->contact[k] = (pp_hold_contact){.reaction = reaction + k * f->count};
    visit.deflection = f->deflection;
    visit.contact = f->contact;
    return pp_hold_press(plate, state, &visit, f->memory, answers, NULL, error);
}

/* Solve for the supports listed. sunk: how many others the plate has sunk below */
static pp_status try_supports(few *f, const pp_hold_plate *plate, pp_hold_answer *answers,
                              size_t *sunk, pp_error *error)
{
    pp_hold_state state;
    PP_TRY(pp_hold_state_take(plate, &f->memory->scratch, &state, error));
    PP_TRY(pp_hold_settle(plate, NULL, 0, NULL, NULL, f->memory, &state, error));
    memcpy(f->field, state.field, plate->mesh->dofs * sizeof *f->field);
    *sunk = look_below(f);
    if (*sunk > 0) return PP_OK;
    PP_TRY(press(f, plate, &state, answers, error));
    *sunk = look_under_foot(f, plate, &state);
    return PP_OK;
}

static void join_sunk(few *f)
{
    const pp_supports *s = &f->laid->supports;
    for (size_t i = 0; i < s->count; i++)
        if (f->sunk[i]) join_around(f, s->x[i], s->y[i], NEIGHBOUR * f->cell);
    memset(f->sunk, 0, s->count * sizeof *f->sunk);
}

static pp_status take_few(few *f, pp_error *error)
{
    pp_arena *arena = &f->memory->scratch;
    size_t m = f->laid->supports.count;
    PP_TAKE(f->list, arena, m);
    PP_TAKE_ZERO(f->listed, arena, m);
    PP_TAKE_ZERO(f->sunk, arena, m);
    PP_TAKE(f->gap, arena, m);
    PP_TAKE(f->field, arena, f->laid->mesh->dofs);
    PP_TAKE(f->contact, arena, 2 * f->visit->count);
    return PP_OK;
}

static pp_status solve_rounds(few *f, pp_arena rooms[2], pp_arena *columns, pp_hold_answer *answers,
                              pp_error *error)
{
    pp_hold_plate plate = {0};
    size_t sunk = 1;
    for (int round = 0; sunk > 0; round++) { /* each needs the one before, and no earlier one */
        pp_arena *room = &rooms[round & 1];
        pp_arena_release(room, (pp_mark){NULL, 0});
        if (round == ROUNDS)
            for (size_t i = 0; i < f->laid->supports.count; i++) join(f, i);
        pp_influence before = plate.influence;
        PP_TRY(choose_supports(f, round ? &before : NULL, room, columns, &plate, error));
        pp_mark mark = pp_arena_mark(&f->memory->scratch);
        PP_TRY(try_supports(f, &plate, answers, &sunk, error));
        pp_arena_release(&f->memory->scratch, mark);
        join_sunk(f);
    }
    return PP_OK;
}

pp_status pp_few_press(const pp_hold_plate *laid, const pp_hold_visit *visit, pp_memory *memory,
                       pp_hold_answer *answers, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_arena rooms[2] = {{0}}, columns = {0};
    few f = {.laid = laid, .visit = visit, .memory = memory};
    f.cell = fmax(laid->mesh->hx, laid->mesh->hy);
    PP_TRY(take_few(&f, error));
    PP_TRY(begin(&f, error));
    PP_TRY(deflect(&f, error));
    pp_status status = solve_rounds(&f, rooms, &columns, answers, error);
    pp_arena_free(&rooms[0]);
    pp_arena_free(&rooms[1]);
    pp_arena_free(&columns);
    pp_arena_release(&memory->scratch, mark);
    return status;
}
