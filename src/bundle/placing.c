#include "bundle/placing.h"

#include <math.h>
#include <string.h>

#include "base/parallel.h"
#include "bundle/pose_program.h"
#include "bundle/pricing.h"

enum {
    FIRST = 16,      /* tubes of the first programme */
    ROUNDS_MAX = 80, /* of programme and pass */
    PATIENCE = 20,   /* rounds after which less will do */
    DROPS_MAX = 60,  /* tubes dropped one at a time */
    PARTS = 64
};
static const double CLOSED = 5e-8;       /* mm: programme and pass agree */
static const double CLOSE_ENOUGH = 4e-7; /* mm: then the bound says how near it came */
static const double GIVEN_AWAY =
    5e-4;                         /* mm of radius that the least moves may cost: 1 um of margin */
static const double SPARE = 2e-5; /* mm of radius with which a search may begin */
static const double SHARE_SEEN = 1e-6; /* smaller shares are rounding */
static const double TOLERANCE = 1e-7;  /* mm: a radius below the floor */

typedef struct placing {
    const pp_discs *discs;
    const pp_play *play;
    size_t plates;
    double wanted;
    const double *radius; /* [tubes] as set out */
    pp_memory *memory;
    pp_pricing pricing;
    bool *take;     /* [tubes] still to be placed for */
    uint32_t *tube; /* [tubes] those in the programme, `count` of them */
    size_t count;
} placing;

/* The best placement of the tubes still taken. */
typedef struct best_pose {
    pp_move move[PP_PLATES_MAX];
    double radius, bound;
    size_t decisive_count;
    pp_decisive *decisive;
} best_pose;

static size_t discs_of_programme(const placing *g)
{
    size_t count = 0;
    for (size_t k = 0; k < g->count; k++)
        count += g->discs->first[g->tube[k] + 1] - g->discs->first[g->tube[k]];
    return count;
}

static bool in_programme(const placing *g, uint32_t tube)
{
    for (size_t k = 0; k < g->count; k++)
        if (g->tube[k] == tube) return true;
    return false;
}

static size_t add_to_programme(placing *g, const pp_priced *found)
{
    size_t before = g->count;
    for (size_t i = 0; i < found->count; i++)
        if (!in_programme(g, found->tube[i])) g->tube[g->count++] = found->tube[i];
    return g->count - before;
}

/* The tubes that are worst as set out; none when none is left. */
static void first_programme(placing *g)
{
    g->count = 0;
    while (g->count < FIRST) {
        size_t worst = g->discs->tubes;
        for (size_t k = 0; k < g->discs->tubes; k++)
            if (g->take[k] && !in_programme(g, (uint32_t)k) &&
                (worst == g->discs->tubes || g->radius[k] < g->radius[worst]))
                worst = k;
        if (worst == g->discs->tubes) return;
        g->tube[g->count++] = (uint32_t)worst;
    }
}

static pp_pose_problem programme(const placing *g, const pp_move *at, const pp_move *start,
                                 bool roughly)
{
    return (pp_pose_problem){.discs = g->discs,
                             .play = g->play,
                             .plates = g->plates,
                             .tube = g->tube,
                             .count = g->count,
                             .at = at,
                             .start = start,
                             .roughly = roughly};
}

/* Which discs decide, from the shares of the programme. */
static pp_status keep_decisive(const placing *g, const double *share, best_pose *best,
                               pp_error *error)
{
    size_t count = 0, next = 0;
    for (size_t i = 0; i < discs_of_programme(g); i++) count += share[i] >= SHARE_SEEN;
    PP_TAKE(best->decisive, &g->memory->keep, count);
    best->decisive_count = 0;
    for (size_t k = 0; k < g->count; k++) {
        size_t end = g->discs->first[g->tube[k] + 1];
        for (size_t d = g->discs->first[g->tube[k]]; d < end; d++, next++)
            if (share[next] >= SHARE_SEEN)
                best->decisive[best->decisive_count++] = (pp_decisive){g->tube[k], d, share[next]};
    }
    return PP_OK;
}

/* ---- the best worst margin ---- */

/* A climb to the best worst margin. */
typedef struct climb {
    pp_move at[PP_PLATES_MAX];      /* where turns are linearised */
    double value;                   /* radius that all pass there; -INFINITY: not known */
    double reckoned[PP_PLATES_MAX]; /* bends, of the last programme */
    double share, least_share;      /* of the largest bends that are possible, and the next ones */
    bool flat;                      /* the last step hardly led on */
} climb;

static const double LESS = 0.1, FORGOTTEN = 0.5;

/* How the value bends with each plate's turn: as the last programme reckons it, but at least
 * `share` of the most that it can. Where the last step hardly led on nothing is taken off: its
 * bound is the sharpest, and may prove that there is no more to be had. */
static void choose_bends(const placing *g, const climb *c, double *bend)
{
    for (size_t p = 0; p < g->plates; p++)
        bend[p] =
            c->flat ? 0 : fmin(g->play[p].rim, fmax(c->reckoned[p], c->share * g->play[p].rim));
}

/* Where a step did not reach what the bends reckoned promised it is taken again with larger ones,
 * and the next few are shorter too. */
static void step_on(climb *c, const pp_pose_answer *answer, const pp_priced *found, bool added)
{
    bool too_far = found->count && !added;
    if (c->flat && too_far) { /* it was worth a try: on as before */
        c->flat = false;
        return;
    }
    double value = found->complete ? found->least : -INFINITY;
    c->least_share =
        too_far ? fmin(1, fmax(c->share, c->least_share) / LESS) : c->least_share * FORGOTTEN;
    c->share = fmax(c->least_share, c->share * LESS);
    c->flat = !found->count && value - c->value < CLOSED;
    memcpy(c->reckoned, answer->bend, sizeof c->reckoned);
    if (too_far) return;
    memcpy(c->at, answer->move, sizeof c->at);
    c->value = value;
}

/* Proven: no more can be had than is reached where the programme is linearised, or by its answer.
 */
static pp_status keep_best(const placing *g, const climb *c, const pp_pose_answer *answer,
                           double reached, best_pose *best, pp_error *error)
{
    bool stay = c->value >= reached;
    best->radius = stay ? c->value : reached;
    best->bound = fmax(answer->bound, best->radius);
    memcpy(best->move, stay ? c->at : answer->move, sizeof best->move);
    return keep_decisive(g, answer->share, best, error);
}

/* Programme, pass, and again, with every turn linearised anew where the last programme put the
 * plates. `from`: where to begin, inside the play. */
static pp_status improve(placing *g, const pp_move *from, best_pose *best, pp_error *error)
{
    climb c = {.value = -INFINITY, .share = 1};
    bool roughly = true; /* while tubes are missing */
    memcpy(c.at, from, g->plates * sizeof *from);
    for (int round = 0; round < ROUNDS_MAX; round++) {
        double bend[PP_PLATES_MAX];
        pp_pose_answer answer;
        pp_priced found;
        pp_pose_problem problem = programme(g, c.at, c.at, roughly);
        PP_TAKE(answer.share, &g->memory->scratch, discs_of_programme(g));
        choose_bends(g, &c, bend);
        PP_TRY(pp_pose_best(&problem, bend, &g->memory->scratch, &answer, error));
        double close = round < PATIENCE ? CLOSED : CLOSE_ENOUGH;
        if (answer.bound - c.value <= close)
            return keep_best(g, &c, &answer, -INFINITY, best, error);
        PP_TRY(pp_pricing_pass(&g->pricing, answer.move, answer.reached, CLOSED, &found, error));
        if (!roughly && !found.count && answer.turning <= close)
            return keep_best(g, &c, &answer, found.least, best, error);
        bool added = add_to_programme(g, &found) > 0;
        step_on(&c, &answer, &found, added);
        roughly = added;
    }
    return pp_fail(error, PP_ENUMERIC,
                   "the placement of the plates did not settle in %d rounds; check the lists for "
                   "holes far out of place, or write placement = as-set-out",
                   ROUNDS_MAX);
}

static pp_status find_best(placing *g, const pp_move *from, best_pose *best, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&g->memory->scratch);
    pp_status status = improve(g, from, best, error);
    pp_arena_release(&g->memory->scratch, mark);
    return status;
}

static uint32_t heaviest(const best_pose *best)
{
    uint32_t worst = best->decisive[0].tube;
    double most = -1;
    for (size_t i = 0; i < best->decisive_count; i++) {
        double share = 0;
        for (size_t k = 0; k < best->decisive_count; k++)
            if (best->decisive[k].tube == best->decisive[i].tube) share += best->decisive[k].share;
        if (share > most || (share == most && best->decisive[i].tube < worst)) {
            most = share;
            worst = best->decisive[i].tube;
        }
    }
    return worst;
}

/* ---- the least movement ---- */

static double distance(const placing *g, const pp_move *a, const pp_move *b)
{
    double most = 0;
    for (size_t p = 0; p < g->plates; p++) {
        most = fmax(most, hypot(a[p].dx - b[p].dx, a[p].dy - b[p].dy));
        most = fmax(most, fabs(a[p].angle - b[p].angle) * g->play[p].rim);
    }
    return most;
}

static void blend(const placing *g, const pp_move *a, const pp_move *b, double share, pp_move *out)
{
    for (size_t p = 0; p < g->plates; p++)
        out[p] =
            (pp_move){a[p].dx + share * (b[p].dx - a[p].dx), a[p].dy + share * (b[p].dy - a[p].dy),
                      a[p].angle + share * (b[p].angle - a[p].angle)};
}

/* Do the tubes of the programme pass `floor` with something to spare? */
static bool passes(const placing *g, const pp_move *moves, double floor)
{
    pp_plate_moved stand[PP_PLATES_MAX];
    pp_plate_moved_of(g->play, moves, g->plates, stand);
    for (size_t k = 0; k < g->count; k++) {
        pp_disc discs[PP_EDGES_MAX];
        pp_passage line;
        size_t count = pp_discs_of(g->discs, g->tube[k], stand, discs);
        pp_passage_find(discs, count, &line, NULL);
        if (line.radius < floor + SPARE) return false;
    }
    return true;
}

/* From an answer a little of the way back to the best, far enough to begin from. */
static void step_back(const placing *g, const pp_move *answer, const pp_move *best, double floor,
                      pp_move *start)
{
    for (double share = 0.1; share < 1; share *= 2) {
        blend(g, answer, best, share, start);
        if (passes(g, start, floor)) return;
    }
    memcpy(start, best, g->plates * sizeof *start);
}

/* Strictly convex, so that the answer is definite where many placements are as good. The best
 * placement passes the radius with something to spare: the search begins there, and once every tube
 * in the way is in the programme, its turns are linearised where the last answer put them. */
static pp_status find_least(placing *g, const best_pose *best, pp_move *least, pp_error *error)
{
    const double settled = 1e-5;
    double floor = best->radius - GIVEN_AWAY;
    /* where all pass at best they shall pass then too */
    if (best->radius >= g->wanted) floor = fmax(floor, g->wanted);
    pp_move at[PP_PLATES_MAX], start[PP_PLATES_MAX];
    memcpy(at, best->move, sizeof at);
    memcpy(start, best->move, sizeof start);
    memcpy(least, best->move, g->plates * sizeof *least);
    if (best->radius - floor < 2 * SPARE) return PP_OK;
    bool roughly = true; /* while tubes are missing */
    for (int round = 0; round < ROUNDS_MAX; round++) {
        pp_pose_answer answer;
        pp_priced found;
        pp_pose_problem problem = programme(g, at, start, roughly);
        PP_TRY(pp_pose_least(&problem, floor, &g->memory->scratch, &answer, error));
        PP_TRY(pp_pricing_pass(&g->pricing, answer.move, floor, TOLERANCE, &found, error));
        if (!found.count) memcpy(least, answer.move, g->plates * sizeof *least);
        bool rough = roughly;
        roughly = add_to_programme(g, &found) > 0;
        if (roughly) {
            memcpy(at, best->move, sizeof at);
            memcpy(start, best->move, sizeof start);
            continue;
        }
        if ((!rough && distance(g, answer.move, at) < settled) || round >= ROUNDS_MAX / 2)
            return PP_OK;
        memcpy(at, answer.move, sizeof at);
        step_back(g, at, best->move, floor, start);
    }
    return PP_OK;
}

/* ---- tubes that no placement repairs ---- */

typedef struct hopeless {
    const placing *g;
    bool *beyond;
} hopeless;

/* Every disc enlarged by what its plate can do, the cylinder no larger than the smallest hole: a
 * bound below the radius wanted proves it. */
static bool is_beyond(const placing *g, size_t tube)
{
    pp_disc discs[PP_EDGES_MAX];
    pp_passage line;
    double smallest = INFINITY;
    size_t first = g->discs->first[tube];
    size_t count = pp_discs_of(g->discs, tube, NULL, discs);
    for (size_t i = 0; i < count; i++) {
        const pp_play *play = &g->play[g->discs->plate[first + i]];
        double lever = hypot(discs[i].x - play->x, discs[i].y - play->y);
        smallest = fmin(smallest, discs[i].r);
        discs[i].r += play->radius + play->angle * lever;
    }
    if (smallest < g->wanted) return true;
    if (pp_passage_at_least(discs, count) >= g->wanted) return false;
    pp_passage_find(discs, count, &line, NULL);
    return line.bound < g->wanted;
}

static pp_status beyond_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const hopeless *h = context;
    size_t tubes = h->g->discs->tubes, end = pp_part_begin(tubes, PARTS, part + 1);
    for (size_t k = pp_part_begin(tubes, PARTS, part); k < end; k++)
        h->beyond[k] = h->g->take[k] && h->g->radius[k] < h->g->wanted && is_beyond(h->g, k);
    return PP_OK;
}

static pp_status set_beyond_aside(placing *g, int threads, pp_placed *out, pp_error *error)
{
    uint32_t *list;
    hopeless h = {.g = g};
    PP_TAKE(h.beyond, &g->memory->scratch, g->discs->tubes);
    PP_TRY(pp_parallel(threads, PARTS, beyond_part, &h, error));
    for (size_t k = 0; k < g->discs->tubes; k++) out->beyond_count += h.beyond[k];
    PP_TAKE(list, &g->memory->keep, out->beyond_count);
    for (size_t k = 0, n = 0; k < g->discs->tubes; k++) {
        if (!h.beyond[k]) continue;
        g->take[k] = false;
        list[n++] = (uint32_t)k;
    }
    out->beyond = list;
    return PP_OK;
}

/* ---- the fewest that fail ---- */

typedef struct cores { /* sets of tubes that cannot all pass, each once */
    size_t count;
    struct {
        size_t count;
        uint32_t *tube;
    } core[2 * DROPS_MAX + 2];
} cores;

static pp_status keep_core(const placing *g, const best_pose *best, cores *list, pp_error *error)
{
    uint32_t *tube;
    size_t n = 0;
    PP_TAKE(tube, &g->memory->scratch, best->decisive_count);
    for (size_t i = 0; i < best->decisive_count; i++)
        if (!n || tube[n - 1] != best->decisive[i].tube) tube[n++] = best->decisive[i].tube;
    list->core[list->count].count = n;
    list->core[list->count++].tube = tube;
    return PP_OK;
}

/* Cores that share no tube need a failing tube each. The smallest first. */
static size_t disjoint(const cores *list, bool *used, size_t tubes)
{
    size_t count = 0;
    bool done[2 * DROPS_MAX + 2] = {false};
    memset(used, 0, tubes * sizeof *used);
    for (size_t round = 0; round < list->count; round++) {
        size_t least = list->count;
        for (size_t c = 0; c < list->count; c++)
            if (!done[c] && (least == list->count || list->core[c].count < list->core[least].count))
                least = c;
        done[least] = true;
        bool apart = true;
        for (size_t i = 0; i < list->core[least].count; i++)
            apart = apart && !used[list->core[least].tube[i]];
        if (!apart) continue;
        for (size_t i = 0; i < list->core[least].count; i++) used[list->core[least].tube[i]] = true;
        count++;
    }
    return count;
}

static void leave_out(placing *g, uint32_t tube)
{
    g->take[tube] = false;
    for (size_t k = 0; k < g->count; k++)
        if (g->tube[k] == tube) {
            memmove(g->tube + k, g->tube + k + 1, (g->count - k - 1) * sizeof *g->tube);
            g->count--;
            return;
        }
}

/* Drop the tube with the largest share until the rest passes. */
static pp_status drop(placing *g, best_pose *best, cores *list, uint32_t *fail, size_t *count,
                      pp_error *error)
{
    while (best->radius < g->wanted && *count < DROPS_MAX) {
        PP_TRY(keep_core(g, best, list, error));
        uint32_t victim = heaviest(best);
        fail[(*count)++] = victim;
        leave_out(g, victim);
        if (!g->count) first_programme(g);
        if (!g->count) return PP_OK; /* every one of them fails */
        PP_TRY(find_best(g, best->move, best, error));
    }
    return PP_OK;
}

/* Tubes that pass after all are taken back. */
static pp_status readmit(placing *g, best_pose *best, cores *list, uint32_t *fail, size_t *count,
                         pp_error *error)
{
    size_t left = 0, tried = *count;
    for (size_t i = 0; i < tried; i++) {
        uint32_t tube = fail[i];
        best_pose with;
        g->take[tube] = true;
        g->tube[g->count++] = tube;
        PP_TRY(find_best(g, best->move, &with, error));
        if (with.radius >= g->wanted) {
            *best = with;
            continue;
        }
        PP_TRY(keep_core(g, &with, list, error));
        leave_out(g, tube);
        fail[left++] = tube;
    }
    *count = left;
    return PP_OK;
}

/* More than can be dropped one by one: whatever does not pass where the plates now stand. */
static pp_status give_up_the_rest(placing *g, const best_pose *best, uint32_t *fail, size_t *count,
                                  pp_error *error)
{
    for (;;) {
        pp_priced found;
        PP_TRY(pp_pricing_pass(&g->pricing, best->move, g->wanted, 0, &found, error));
        if (!found.count) return PP_OK;
        for (size_t i = 0; i < found.count; i++) {
            fail[(*count)++] = found.tube[i];
            leave_out(g, found.tube[i]);
        }
    }
}

static void sort_tubes(uint32_t *tube, size_t count)
{
    for (size_t i = 1; i < count; i++)
        for (size_t k = i; k > 0 && tube[k - 1] > tube[k]; k--) {
            uint32_t swap = tube[k];
            tube[k] = tube[k - 1];
            tube[k - 1] = swap;
        }
}

static pp_status find_fewest(placing *g, best_pose *best, pp_placed *out, pp_error *error)
{
    uint32_t *fail;
    pp_move *move;
    bool *used;
    cores list = {0};
    size_t count = 0;
    PP_TAKE(fail, &g->memory->keep, g->discs->tubes);
    PP_TAKE(move, &g->memory->keep, g->plates);
    PP_TAKE(used, &g->memory->scratch, g->discs->tubes);
    PP_TRY(drop(g, best, &list, fail, &count, error));
    if (!g->count) { /* all fail: then where the worst of them has most room */
        memcpy(move, out->least, g->plates * sizeof *move);
    } else if (best->radius < g->wanted) {
        PP_TRY(give_up_the_rest(g, best, fail, &count, error));
        memcpy(move, best->move, g->plates * sizeof *move);
    } else {
        PP_TRY(readmit(g, best, &list, fail, &count, error));
        PP_TRY(find_least(g, best, move, error));
    }
    out->at_least = out->beyond_count + disjoint(&list, used, g->discs->tubes);
    for (size_t i = 0; i < out->beyond_count; i++) fail[count++] = out->beyond[i];
    sort_tubes(fail, count);
    out->fail = fail;
    out->fail_count = count;
    out->fewest = move;
    return PP_OK;
}

/* ---- all steps ---- */

static pp_status begin(placing *g, const bool *take, int threads, pp_error *error)
{
    size_t tubes = g->discs->tubes;
    pp_arena *scratch = &g->memory->scratch;
    PP_TAKE(g->take, scratch, tubes);
    PP_TAKE(g->tube, scratch, tubes);
    memcpy(g->take, take, tubes * sizeof *take);
    g->pricing = (pp_pricing){.discs = g->discs,
                              .play = g->play,
                              .plates = g->plates,
                              .take = g->take,
                              .threads = threads};
    PP_TAKE(g->pricing.low, scratch, tubes);
    for (size_t k = 0; k < tubes; k++) g->pricing.low[k] = -INFINITY;
    PP_TAKE(g->pricing.exact, scratch, tubes);
    PP_TAKE(g->pricing.queue, scratch, tubes);
    return PP_OK;
}

static pp_status place(placing *g, int threads, pp_placed *out, pp_error *error)
{
    static const pp_move as_set_out[PP_PLATES_MAX];
    best_pose best;
    pp_move *least;
    PP_TAKE(least, &g->memory->keep, g->plates);
    PP_TRY(set_beyond_aside(g, threads, out, error));
    first_programme(g);
    out->none_left = !g->count;
    if (out->none_left) return PP_OK;
    PP_TRY(find_best(g, as_set_out, &best, error));
    out->radius = best.radius;
    out->bound = best.bound;
    out->worst = heaviest(&best);
    out->decisive = best.decisive;
    out->decisive_count = best.decisive_count;
    PP_TRY(find_least(g, &best, least, error));
    out->least = least;
    out->some_fail = out->beyond_count || best.radius < g->wanted;
    if (best.radius < g->wanted) return find_fewest(g, &best, out, error);
    out->fail = out->beyond;
    out->fail_count = out->at_least = out->beyond_count;
    out->fewest = least;
    return PP_OK;
}

pp_status pp_placing_find(const pp_placing_request *request, pp_memory *memory, pp_placed *placed,
                          pp_error *error)
{
    placing g = {.discs = request->discs,
                 .play = request->play,
                 .plates = request->plates,
                 .wanted = request->wanted,
                 .radius = request->radius,
                 .memory = memory};
    pp_placed out = {0};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = begin(&g, request->take, request->threads, error);
    if (status == PP_OK) status = place(&g, request->threads, &out, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *placed = out;
    return status;
}
