#include "bundle/bundle.h"

#include <stdlib.h>
#include <string.h>

#include "base/compare.h"
#include "base/parallel.h"
#include "bundle/uncertainty.h"

enum {
    PARTS = 64,
    DISCS_LEAST = 4,        /* two plates: with one a margin says nothing */
    FORCES_KEPT = 2000,     /* tubes whose forces are listed, the worst margins first */
    GOING_IN_WORK = 400000, /* edges solved for the stages of going in, about */
    GOING_IN_LEAST = 100    /* tubes whose stages are solved in any case */
};
static const double WITHIN = 1e-7; /* mm of radius: far below what a comparison allows */

typedef struct study {
    pp_bundle *b;
    const pp_bundle_options *options;
    pp_memory *memory;
    double u_placed[PP_PLATES_MAX];
    pp_tube_beam beam;
    uint32_t *order; /* tubes that bend, the worst margin first */
    pp_edge_force *force;
    size_t went_in;
} study;

static void begin_stage(const study *s, const char *name)
{
    if (s->options->stage) s->options->stage(s->options->stage_context, name, 0);
}

double pp_bundle_push_of(const pp_bundle *bundle, double forces)
{
    return bundle->set->friction * forces;
}

size_t pp_bundle_discs(const pp_bundle *bundle, size_t tube, pp_disc out[PP_EDGES_MAX])
{
    pp_plate_moved stand[PP_PLATES_MAX];
    pp_plate_moved_of(bundle->play, bundle->move, bundle->set->plate_count, stand);
    return pp_discs_of(&bundle->mates.discs, tube, stand, out);
}

double pp_bundle_moved(const pp_bundle *bundle, size_t plate)
{
    const pp_move *move = &bundle->move[plate];
    return fmax(hypot(move->dx, move->dy), fabs(move->angle) * bundle->play[plate].rim);
}

double pp_bundle_plate_share(const pp_bundle *bundle, size_t plate)
{
    double sum = 0;
    for (size_t i = 0; i < bundle->placed.decisive_count; i++)
        if (bundle->mates.discs.plate[bundle->placed.decisive[i].disc] == plate)
            sum += bundle->placed.decisive[i].share;
    return sum;
}

/* ---- straight passage of every tube ---- */

static pp_status set_out_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    pp_bundle *b = ((study *)context)->b;
    const pp_discs *discs = &b->mates.discs;
    size_t end = pp_part_begin(discs->tubes, PARTS, part + 1);
    for (size_t k = pp_part_begin(discs->tubes, PARTS, part); k < end; k++) {
        pp_bundle_tube *t = &b->tube[k];
        pp_passage line;
        size_t first = discs->first[k], count = discs->first[k + 1] - first;
        *t = (pp_bundle_tube){.plates = count / 2,
                              .enough = count >= DISCS_LEAST,
                              .margin_set_out = NAN,
                              .bound_set_out = NAN,
                              .margin = NAN,
                              .bound = NAN,
                              .u = NAN,
                              .smallest = NAN,
                              .force_first = SIZE_MAX};
        if (!t->enough) continue;
        pp_passage_find(discs->disc + first, count, &line, NULL);
        t->margin_set_out = 2 * line.radius - b->largest_diameter;
        t->bound_set_out = 2 * line.bound - b->largest_diameter;
    }
    return PP_OK;
}

static double uncertainty_of(const study *s, size_t tube, const pp_disc *discs,
                             const pp_share *share)
{
    const pp_mates *m = &s->b->mates;
    size_t first = m->discs.first[tube];
    pp_disc_doubts doubts = {.count = m->discs.first[tube + 1] - first,
                             .disc = discs,
                             .plate = m->discs.plate + first,
                             .u_centre = m->u_centre + first,
                             .u_radius = m->u_radius + first,
                             .shared = m->shared + first,
                             .u_placed = s->u_placed};
    return pp_margin_uncertainty(&doubts, &s->b->tube[tube].line, share);
}

/* The largest shares, the largest first. */
static void keep_shares(pp_bundle *b, size_t tube, const pp_share *share, size_t count)
{
    const double least = 1e-4;
    pp_decisive *list = b->decisive + PP_TUBE_DECISIVE_MAX * tube;
    size_t n = 0, first = b->mates.discs.first[tube];
    for (size_t i = 0; i < count; i++) {
        if (share[i].l < least) continue;
        if (n == PP_TUBE_DECISIVE_MAX && share[i].l <= list[n - 1].share) continue;
        size_t at = n < PP_TUBE_DECISIVE_MAX ? n++ : n - 1;
        for (; at > 0 && list[at - 1].share < share[i].l; at--) list[at] = list[at - 1];
        list[at] = (pp_decisive){(uint32_t)tube, first + i, share[i].l};
    }
    b->tube[tube].decisive = list;
    b->tube[tube].decisive_count = n;
}

static pp_status judged_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const study *s = context;
    pp_bundle *b = s->b;
    const pp_discs *all = &b->mates.discs;
    size_t end = pp_part_begin(all->tubes, PARTS, part + 1);
    for (size_t k = pp_part_begin(all->tubes, PARTS, part); k < end; k++) {
        pp_bundle_tube *t = &b->tube[k];
        pp_disc discs[PP_EDGES_MAX];
        pp_share share[PP_EDGES_MAX];
        if (!t->enough) continue;
        size_t count = pp_bundle_discs(b, k, discs);
        double smallest = INFINITY;
        pp_passage_find(discs, count, &t->line, share);
        for (size_t i = 0; i < count; i++) smallest = fmin(smallest, discs[i].r);
        t->margin = 2 * t->line.radius - b->largest_diameter;
        t->bound = 2 * t->line.bound - b->largest_diameter;
        keep_shares(b, k, share, count);
        t->smallest = 2 * smallest;
        t->u = uncertainty_of(s, k, discs, share);
    }
    return PP_OK;
}

static uint32_t worst_tube(const pp_bundle *b, bool set_out)
{
    uint32_t worst = PP_NONE;
    double least = INFINITY;
    for (size_t k = 0; k < b->mates.tubes.count; k++) {
        double margin = set_out ? b->tube[k].margin_set_out : b->tube[k].margin;
        if (!(margin < least)) continue; /* NaN too */
        least = margin;
        worst = (uint32_t)k;
    }
    return worst;
}

/* What decides the worst tube as set out. */
static pp_status share_of_worst(study *s, pp_error *error)
{
    pp_bundle *b = s->b;
    const pp_discs *all = &b->mates.discs;
    pp_share share[PP_EDGES_MAX];
    pp_passage line;
    pp_decisive *list;
    b->worst_set_out = worst_tube(b, true);
    if (b->worst_set_out == PP_NONE) return PP_OK;
    size_t first = all->first[b->worst_set_out], count = all->first[b->worst_set_out + 1] - first;
    pp_passage_find(all->disc + first, count, &line, share);
    PP_TAKE(list, &s->memory->keep, count);
    for (size_t i = 0; i < count; i++)
        if (share[i].l >= 1e-6)
            list[b->share_count++] = (pp_decisive){b->worst_set_out, first + i, share[i].l};
    b->share_set_out = list;
    return PP_OK;
}

/* ---- placement ---- */

static void find_play(study *s)
{
    pp_bundle *b = s->b;
    const double degree = 0.017453292519943295;
    for (size_t p = 0; p < b->set->plate_count; p++) {
        const pp_set_plate *plate = &b->set->plates[p];
        b->play[p] = (pp_play){.x = plate->shift_x,
                               .y = plate->shift_y,
                               .radius = plate->play,
                               .angle = plate->play_angle_deg * degree,
                               .rim = b->mates.plate[p].rim};
        bool moves = plate->play > 0 || plate->play_angle_deg > 0;
        double u = b->set->uncertainty_placement / 2;
        s->u_placed[p] = moves && pp_given(u) ? u : 0;
    }
    b->any_play = pp_play_any(b->play, b->set->plate_count);
}

static pp_status count_failing(study *s, const pp_move *move, double wanted, size_t *count,
                               size_t *straight, pp_error *error)
{
    pp_bundle *b = s->b;
    memcpy(b->move, move, b->set->plate_count * sizeof *move);
    PP_TRY(pp_parallel(s->options->threads, PARTS, judged_part, s, error));
    *count = *straight = 0;
    for (size_t k = 0; k < b->mates.tubes.count; k++) {
        if (!b->tube[k].enough) continue;
        bool fails = b->tube[k].line.radius < wanted - WITHIN;
        *count += fails;
        *straight += !fails && !b->mates.incomplete[k];
    }
    return PP_OK;
}

/* The least moves are judged, or the placement where the fewest fail, where these fail less. */
static pp_status choose_placement(study *s, double wanted, pp_error *error)
{
    pp_bundle *b = s->b;
    size_t fail_best, fail_fewest, other;
    b->judged = PP_JUDGED_BEST;
    if (!b->placed.some_fail || b->placed.fewest == b->placed.least)
        return count_failing(s, b->placed.least, wanted, &fail_best, &b->placed_straight, error);
    PP_TRY(count_failing(s, b->placed.least, wanted, &fail_best, &b->placed_straight, error));
    PP_TRY(count_failing(s, b->placed.fewest, wanted, &fail_fewest, &other, error));
    if (fail_fewest <= fail_best) {
        b->judged = PP_JUDGED_FEWEST;
        return PP_OK;
    }
    return count_failing(s, b->placed.least, wanted, &fail_best, &other, error);
}

static pp_status place(study *s, pp_error *error)
{
    pp_bundle *b = s->b;
    bool *take;
    double *radius;
    size_t tubes = b->mates.tubes.count, taken = 0;
    double wanted = (b->largest_diameter + b->set->clearance_minimum) / 2 - WITHIN;
    PP_TAKE(take, &s->memory->scratch, tubes);
    PP_TAKE(radius, &s->memory->scratch, tubes);
    for (size_t k = 0; k < tubes; k++) {
        take[k] = b->tube[k].enough;
        taken += take[k];
        radius[k] = (b->tube[k].margin_set_out + b->largest_diameter) / 2;
    }
    b->placed_given = taken && b->any_play && b->set->placement == PP_PLACE_BEST;
    if (b->placed_given) {
        begin_stage(s, "placing the plates");
        const pp_placing_request request = {.discs = &b->mates.discs,
                                            .play = b->play,
                                            .plates = b->set->plate_count,
                                            .take = take,
                                            .radius = radius,
                                            .wanted = wanted,
                                            .threads = s->options->threads};
        PP_TRY(pp_placing_find(&request, s->memory, &b->placed, error));
        b->placed_given = !b->placed.none_left; /* no tube can be helped: judged as set out */
        if (b->placed_given) return choose_placement(s, wanted, error);
    }
    b->judged = PP_JUDGED_AS_SET_OUT;
    return pp_parallel(s->options->threads, PARTS, judged_part, s, error);
}

/* ---- bending ---- */

static pp_status bend_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const study *s = context;
    pp_bundle *b = s->b;
    size_t end = pp_part_begin(b->bent, PARTS, part + 1);
    for (size_t i = pp_part_begin(b->bent, PARTS, part); i < end; i++) {
        pp_bundle_tube *t = &b->tube[s->order[i]];
        pp_disc discs[PP_EDGES_MAX];
        size_t count = pp_bundle_discs(b, s->order[i], discs);
        pp_edge_force *force = t->force_first != SIZE_MAX ? s->force + t->force_first : NULL;
        pp_bending_find(discs, count, &s->beam, &t->bent, force);
        t->went_in = i < s->went_in;
        if (t->went_in) pp_bending_going_in(discs, count, &s->beam, &t->going_in);
    }
    return PP_OK;
}

typedef struct by_margin {
    double margin;
    uint32_t tube;
} by_margin;

static int compare_margin(const void *a, const void *b)
{
    const by_margin *p = a, *q = b;
    if (p->margin != q->margin) return p->margin < q->margin ? -1 : 1;
    return p->tube < q->tube ? -1 : p->tube > q->tube;
}

/* Tubes that do not pass straight, though every hole lets them in. */
static pp_status line_up_bent(study *s, pp_error *error)
{
    pp_bundle *b = s->b;
    by_margin *list;
    size_t tubes = b->mates.tubes.count;
    PP_TAKE(list, &s->memory->scratch, tubes);
    for (size_t k = 0; k < tubes; k++) {
        const pp_bundle_tube *t = &b->tube[k];
        if (!t->enough || !(t->margin < 0) || pp_less_than(t->smallest, b->largest_diameter))
            continue;
        b->tube[k].bends = true;
        list[b->bent++] = (by_margin){t->margin, (uint32_t)k};
    }
    if (b->bent) qsort(list, b->bent, sizeof *list, compare_margin);
    PP_TAKE(s->order, &s->memory->scratch, b->bent);
    for (size_t i = 0; i < b->bent; i++) s->order[i] = list[i].tube;
    return PP_OK;
}

static pp_status bend(study *s, pp_error *error)
{
    pp_bundle *b = s->b;
    size_t edges = 2 * b->set->plate_count, each = edges * edges / 2;
    b->bending = pp_set_bends(b->set);
    if (!b->bending) return PP_OK;
    begin_stage(s, "bending the tubes that do not pass straight");
    s->beam = pp_tube_beam_of(b->set->tube.diameter, b->set->tube.wall,
                              b->set->tube.elastic_modulus, b->largest_diameter);
    PP_TRY(line_up_bent(s, error));
    s->went_in = GOING_IN_WORK / each > GOING_IN_LEAST ? GOING_IN_WORK / each : GOING_IN_LEAST;
    if (s->went_in > b->bent) s->went_in = b->bent;
    b->went_in = s->went_in;
    for (size_t i = 0; i < b->bent && i < FORCES_KEPT; i++) {
        b->tube[s->order[i]].force_first = b->force_count;
        b->force_count += 2 * b->tube[s->order[i]].plates;
    }
    PP_TAKE(s->force, &s->memory->keep, b->force_count);
    b->force = s->force;
    return pp_parallel(s->options->threads, PARTS, bend_part, s, error);
}

/* ---- all of it ---- */

static void measure_movement(pp_bundle *b)
{
    double sum = 0;
    for (size_t p = 0; p < b->set->plate_count; p++) {
        double turn = b->move[p].angle * b->play[p].rim;
        sum += b->move[p].dx * b->move[p].dx + b->move[p].dy * b->move[p].dy + turn * turn;
    }
    b->movement = sqrt(sum);
}

static pp_status run(study *s, pp_error *error)
{
    pp_bundle *b = s->b;
    begin_stage(s, "reading the plates");
    PP_TRY(pp_mates_find(b->set, s->options->threads, s->memory, &b->mates, error));
    find_play(s);
    PP_TAKE(b->tube, &s->memory->keep, b->mates.tubes.count);
    PP_TAKE(b->decisive, &s->memory->keep, PP_TUBE_DECISIVE_MAX * b->mates.tubes.count);
    begin_stage(s, "straight passage of every tube");
    PP_TRY(pp_parallel(s->options->threads, PARTS, set_out_part, s, error));
    PP_TRY(share_of_worst(s, error));
    PP_TRY(place(s, error));
    b->worst = worst_tube(b, false);
    measure_movement(b);
    return bend(s, error);
}

pp_status pp_bundle_study(const pp_set *set, const pp_bundle_options *options, pp_memory *memory,
                          pp_bundle *bundle, pp_error *error)
{
    pp_bundle out = {.set = set,
                     .largest_diameter = set->tube.diameter + set->tube.diameter_over,
                     .worst_set_out = PP_NONE,
                     .worst = PP_NONE};
    study s = {.b = &out, .options = options, .memory = memory};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = run(&s, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *bundle = out;
    return status;
}
