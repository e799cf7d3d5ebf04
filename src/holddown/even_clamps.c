/* Sets of clamps that all press alike, as a shop sets them: one pressure, places that mirror each
 * other where the plate allows it.
 *
 * With nothing changing contact the gap at a hole falls by the sum of the clamps' influences times
 * their common force, so a set needs max over the holes of excess / sum of influences: an estimate
 * quick enough to look at thousands of sets. The best set of each count is grown from the best of
 * the count before and improved by exchanging one place after the other; sets that turn or mirror
 * into themselves are looked at too, and preferred unless another needs a tenth less force. The
 * force of the few best is then found exactly, in steps, contact and all. */
#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "holddown/planner.h"

enum { SWAPS_MAX = 3, TURNS = 3 };
static const double BETTER = 0.9;    /* of the symmetric set's force: worth leaving symmetry */
static const double HOPELESS = 4;    /* times the most a clamp gives, by the estimate */
static const double UNMOVED = 1e12;  /* N for each hole that the set leaves where it is */
static const double RAISE = 1.4;     /* from one force tried to the next */
static const double ON_PLACE = 0.04; /* of the plate: how far a mirror image may be off */

typedef struct search {
    pp_planner *p;
    size_t holes;
    uint32_t *hole; /* watched ones that fail without clamps */
    double *over;   /* [holes] mm */
    double *drop;   /* [candidates * holes] mm/N; 0 where the pad blocks the hole */
    double *sum;    /* [holes] */
    size_t set[2][PP_PLAN_CLAMPS_MAX]; /* any, symmetric */
    double force[2];                   /* by the estimate */
} search;

static double common_force(const search *s, size_t n, const size_t *set)
{
    double worst = 0, unmoved = 0;
    memset(s->sum, 0, s->holes * sizeof *s->sum);
    for (size_t k = 0; k < n; k++)
        for (size_t h = 0; h < s->holes; h++) s->sum[h] += s->drop[set[k] * s->holes + h];
    for (size_t h = 0; h < s->holes; h++) {
        if (s->sum[h] > 0)
            worst = fmax(worst, s->over[h] / s->sum[h]);
        else
            unmoved++;
    }
    return worst + unmoved * UNMOVED;
}

/* ---- any set ---- */

static bool is_in(size_t q, size_t n, const size_t *set)
{
    for (size_t k = 0; k < n; k++)
        if (set[k] == q) return true;
    return false;
}

/* Place k of the set where it serves best; true when that is another. */
static bool place_best(const search *s, size_t n, size_t k, size_t *set, double *force)
{
    size_t was = set[k], best = was;
    for (size_t q = 0; q < s->p->candidates.count; q++) {
        if (is_in(q, n, set)) continue;
        set[k] = q;
        double f = common_force(s, n, set);
        if (f < *force) *force = f, best = q;
    }
    set[k] = best;
    return best != was;
}

static void grow(search *s, size_t n)
{
    size_t *set = s->set[0];
    double force = INFINITY;
    set[n - 1] = 0;
    while (is_in(set[n - 1], n - 1, set)) set[n - 1]++;
    force = common_force(s, n, set);
    bool moved = place_best(s, n, n - 1, set, &force);
    for (int round = 0; round < SWAPS_MAX && (moved || round == 0); round++) {
        moved = false;
        for (size_t k = 0; k < n; k++) moved |= place_best(s, n, k, set, &force);
    }
    s->force[0] = force;
}

/* ---- symmetric sets ---- */

/* The candidate at the place, SIZE_MAX if none is near enough */
static size_t candidate_at(const search *s, double x, double y)
{
    const pp_candidates *c = &s->p->candidates;
    const pp_mesh *mesh = s->p->plate->mesh;
    double best = ON_PLACE * fmin(mesh->width, mesh->height);
    size_t nearest = SIZE_MAX;
    for (size_t q = 0; q < c->count; q++) {
        double d = hypot(c->x[q] - x, c->y[q] - y);
        if (d < best) best = d, nearest = q;
    }
    return nearest;
}

/* The images of candidate q: turned about the centre by a share of a turn each, or mirrored in both
 * axes (four). False when one of them is no candidate. */
static bool images(const search *s, size_t q, size_t n, bool mirrored, size_t *set)
{
    const double turn = PP_TURN;
    const pp_mesh *mesh = s->p->plate->mesh;
    double dx = s->p->candidates.x[q] - mesh->centre_x, dy = s->p->candidates.y[q] - mesh->centre_y;
    for (size_t k = 0; k < n; k++) {
        double c = cos(turn * (double)k / (double)n), d = sin(turn * (double)k / (double)n);
        double x = c * dx - d * dy, y = d * dx + c * dy;
        if (mirrored) x = k & 1 ? -dx : dx, y = k & 2 ? -dy : dy;
        set[k] = k == 0 ? q : candidate_at(s, mesh->centre_x + x, mesh->centre_y + y);
        if (set[k] == SIZE_MAX || is_in(set[k], k, set)) return false;
    }
    return true;
}

static void find_symmetric(search *s, size_t n)
{
    size_t set[PP_PLAN_CLAMPS_MAX];
    s->force[1] = INFINITY;
    if (n < 2 || n > 6) return;
    for (int mirrored = 0; mirrored <= (n == 4); mirrored++)
        for (size_t q = 0; q < s->p->candidates.count; q++) {
            if (!images(s, q, n, mirrored, set)) continue;
            double f = common_force(s, n, set);
            if (!(f < s->force[1])) continue;
            s->force[1] = f;
            memcpy(s->set[1], set, n * sizeof *set);
        }
}

/* ---- exactly ---- */

static pp_status try_force(search *s, size_t at, bool *pass, pp_error *error)
{
    pp_planner *p = s->p;
    for (size_t k = 0; k < p->count; k++)
        p->clamps[k].force = p->clamps[k].full_force = fmin(p->most, pp_clamp_force_at(at));
    return pp_planner_passes(p, p->watched_count, p->watched, pass, error);
}

/* The least place on the scale of forces that the set needs, 0 when `most` does not do. */
static pp_status least_place(search *s, size_t n, const size_t *set, double estimate, size_t most,
                             size_t *place, pp_error *error)
{
    bool pass = false;
    *place = 0;
    s->p->count = n;
    for (size_t k = 0; k < n; k++) {
        s->p->clamps[k].candidate = set[k];
        pp_planner_watch_blocked(s->p, set[k]);
    }
    size_t fails = 0;
    size_t holds = pp_clamp_place_of(fmin(fmax(estimate, 1), pp_clamp_force_at(most)));
    /* on a table too much goes into the table, and the most tells at once whether it can be done;
     * on pins it bends the plate down elsewhere */
    if (s->p->plate->table) {
        PP_TRY(try_force(s, most, &pass, error));
        if (!pass) return PP_OK;
    }
    for (;;) {
        PP_TRY(try_force(s, holds, &pass, error));
        if (pass) break;
        if (holds >= most) return PP_OK;
        fails = holds;
        holds = pp_clamp_place_of(RAISE * pp_clamp_force_at(holds));
        if (holds > most) holds = most;
    }
    while (holds - fails > 1) {
        size_t middle = (holds + fails) / 2;
        PP_TRY(try_force(s, middle, &pass, error));
        *(pass ? &holds : &fails) = middle;
    }
    *place = holds;
    return PP_OK;
}

static pp_status choose(search *s, size_t n, bool *found, pp_error *error)
{
    size_t most = pp_clamp_place_of(fmax(s->p->most, 1)), best = 0, chosen = 0;
    for (int symmetric = 1; symmetric >= 0; symmetric--) {
        if (!(s->force[symmetric] <= HOPELESS * s->p->most)) continue;
        if (best && s->force[0] > BETTER * s->force[1]) break;
        size_t place, limit = most;
        if (best) limit = pp_clamp_place_of(BETTER * pp_clamp_force_at(best));
        if (best && pp_clamp_force_at(limit) > BETTER * pp_clamp_force_at(best)) limit--;
        if (limit == 0) break;
        PP_TRY(least_place(s, n, s->set[symmetric], s->force[symmetric], limit, &place, error));
        if (place) best = place, chosen = (size_t)symmetric;
    }
    *found = best > 0;
    if (!*found) {
        s->p->count = 0;
        return PP_OK;
    }
    s->p->count = n;
    for (size_t k = 0; k < n; k++) s->p->clamps[k].candidate = s->set[chosen][k];
    bool pass;
    return try_force(s, best, &pass, error);
}

/* ---- the whole ---- */

static pp_status take_search(search *s, pp_error *error)
{
    pp_planner *p = s->p;
    pp_arena *arena = &p->memory->scratch;
    PP_TAKE(s->hole, arena, p->watched_count);
    PP_TAKE(s->over, arena, p->watched_count);
    for (size_t k = 0; k < p->watched_count; k++) {
        uint32_t h = p->watched[k];
        double gap = p->request->answers[h].gap_under_foot, over = pp_planner_excess(p, h, gap);
        if (over == 0) continue;
        s->hole[s->holes] = h;
        s->over[s->holes++] = over;
    }
    PP_TAKE(s->sum, arena, s->holes);
    PP_TAKE(s->drop, arena, p->candidates.count * s->holes);
    return PP_OK;
}

static pp_status find_drops(search *s, pp_error *error)
{
    pp_planner *p = s->p;
    const pp_hold_places *holes = p->request->holes;
    pp_clamp_influence f = {0};
    pp_probe probe;
    p->count = 0;
    PP_TRY(pp_planner_settle(p, &p->with.base, error));
    PP_TRY(pp_planner_influence(p, &f, error));
    for (size_t k = 0; k < s->holes; k++) {
        uint32_t h = s->hole[k];
        pp_probe_point(&p->plate->compliance, holes->x[h], holes->y[h], 0, 0, &probe);
        pp_influence_probe(&p->plate->influence, &probe, f.g);
        for (size_t q = 0; q < p->candidates.count; q++)
            s->drop[q * s->holes + k] = f.useful[q] == 0 || pp_planner_blocks(&p->candidates, q, h)
                                            ? 0
                                            : pp_planner_drop(p, &f, &probe, f.g, q);
    }
    return PP_OK;
}

pp_status pp_even_clamps(pp_planner *p, size_t count, bool *found, pp_error *error)
{
    *found = false;
    if (p->candidates.count < count || count > PP_PLAN_CLAMPS_MAX) return PP_OK;
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    search s = {.p = p};
    PP_TRY(take_search(&s, error));
    if (s.holes > 0) {
        PP_TRY(find_drops(&s, error));
        for (size_t n = 1; n <= count; n++) grow(&s, n);
        find_symmetric(&s, count);
        PP_TRY(choose(&s, count, found, error));
    }
    pp_arena_release(&p->memory->scratch, mark);
    return PP_OK;
}
