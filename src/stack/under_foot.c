#include "stack/under_foot.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "base/parallel.h"
#include "holddown/closing.h"
#include "holddown/visit_order.h"
#include "stack/bench.h"

enum {
    PROBES = 4,
    PART_PLACES = 128, /* of a warm-started chain, at least, within these numbers of chains */
    PARTS_LEAST = 8,
    PARTS_MOST = 64,
    WORK_BYTES = 192 << 20 /* of all workers together */
};

typedef struct pressing {
    const pp_stack_pile *pile;
    const pp_stack_question *question; /* of the visit */
    const pp_stack_visit *visit;
    size_t parts;
    const uint32_t *order;
    pp_bench *benches;
    pp_stack_answers *out;
} pressing;

/* Force to close ------------------------------------------------------------------------ */

typedef struct closing {
    const pressing *p;
    pp_bench *b;
    bool all;           /* the gap to the support too */
    double cap, steady; /* of pp_closing */
} closing;

static double limit_of(const pressing *p, size_t k)
{
    return k ? p->question->gap_limit : p->question->table_gap_limit;
}

/* The gap farthest above its limit at this force, by how much and of which interface. */
static pp_status over_at(const closing *c, pp_bench_start start, double force, double *over,
                         size_t *which, pp_error *error)
{
    PP_TRY(pp_bench_solve(c->b, force, start, error));
    *over = -INFINITY;
    for (size_t k = c->all ? 0 : 1; k < c->p->pile->layers; k++) {
        double more = pp_bench_gap(c->b, k, force) - limit_of(c->p, k);
        if (more > *over) *over = more, *which = k;
    }
    return PP_OK;
}

typedef struct bracket {
    double low, high; /* forces: open, closed; high INFINITY: not known */
    double from;      /* begun there */
} bracket;

/* A root of the gap less its limit. NaN: the cap leaves it open, or it is given up. */
static pp_status find_root(const closing *c, pp_bench_start start, bracket between, double *root,
                           pp_error *error)
{
    pp_closing search = {.low = between.low,
                         .high = between.high,
                         .cap = c->cap,
                         .step = PP_CLOSING_STEP,
                         .steady = c->steady,
                         .risen = NAN,
                         .force = fmin(fmax(between.from, between.low), c->cap)};
    for (;;) {
        double over;
        pp_contact_straight line;
        size_t which = 0;
        PP_TRY(over_at(c, start, search.force, &over, &which, error));
        if (!pp_closing_open(&search, over)) break;
        PP_TRY(pp_bench_line(c->b, which, &line, error));
        line.at_zero -= limit_of(c->p, which);
        if (!pp_closing_next(&search, over, &line)) break;
    }
    *root = search.force;
    return PP_OK;
}

/* The last force at which the gaps come within their limits. Gaps of single interfaces need not
 * fall with the force everywhere, so a few larger forces are tried after the root. */
static pp_status find_close(const closing *c, double over_rest, double over_foot, double *found,
                            pp_error *error)
{
    static const double BEYOND[] = {1.25, 2, 4};
    double foot = c->p->question->force, low = 0, high = INFINITY;
    double *before = &c->b->close_force[c->all];
    pp_bench_start start = c->all ? PP_BENCH_CLOSE_ALL : PP_BENCH_CLOSE;
    *found = 0;
    if (pp_at_most(over_rest, 0) && pp_at_most(over_foot, 0)) return PP_OK;
    if (pp_more_than(over_foot, 0))
        low = foot;
    else
        high = foot;
    double from = *before;
    if (!(from > low && from < high)) from = isinf(high) ? 2 * low : 0.5 * (low + high);
    PP_TRY(find_root(c, start, (bracket){low, high, from}, found, error));
    if (!pp_given(*found)) return PP_OK;
    *before = *found;
    pp_bench_start_like(c->b, PP_BENCH_BEYOND, start);
    for (size_t i = 0; i < sizeof BEYOND / sizeof *BEYOND; i++) {
        double farther = *found * BEYOND[i], over;
        size_t which;
        if (farther > c->cap) break;
        PP_TRY(over_at(c, PP_BENCH_BEYOND, farther, &over, &which, error));
        if (pp_at_most(over, 0)) continue;
        PP_TRY(
            find_root(c, PP_BENCH_BEYOND, (bracket){farther, INFINITY, 2 * farther}, found, error));
        if (!pp_given(*found)) break;
    }
    return PP_OK;
}

/* One hole ------------------------------------------------------------------------------ */

static double over_limits(const pressing *p, const double *gap, bool all)
{
    double worst = -INFINITY;
    for (size_t k = all ? 0 : 1; k < p->pile->layers; k++)
        worst = fmax(worst, gap[k] - limit_of(p, k));
    return worst;
}

static pp_status answer_hole(const pressing *p, pp_bench *b, size_t item, pp_error *error)
{
    const pp_stack_question *q = p->question;
    size_t layers = p->pile->layers;
    double *gap = p->out->gap + item * layers, *foot = p->out->gap_under_foot + item * layers;
    pp_stack_answer a = {.force_to_close_all = NAN};
    double slope[PP_BENCH_SLOPES];
    PP_TRY(pp_bench_solve(b, 0, PP_BENCH_REST, error));
    for (size_t k = 0; k < layers; k++) gap[k] = pp_bench_gap(b, k, 0);
    for (int s = 0; s < PP_BENCH_SLOPES; s++) slope[s] = pp_bench_slope(b, s, 0);
    PP_TRY(pp_bench_solve(b, q->force, PP_BENCH_FOOT, error));
    for (size_t k = 0; k < layers; k++) foot[k] = pp_bench_gap(b, k, q->force);
    if (q->only_gaps) {
        a.force_to_close = NAN;
        p->out->answers[item] = a;
        return PP_OK;
    }
    if (!q->only_close)
        a.tilt = hypot(pp_bench_slope(b, 0, q->force) - slope[0],
                       pp_bench_slope(b, 1, q->force) - slope[1]);
    double cap = pp_given(q->force_cap) ? q->force_cap : PP_CLOSING_BOUND;
    double steady = PP_CLOSING_WEIGHTS * p->pile->total_weight;
    closing between = {p, b, false, cap, steady};
    PP_TRY(find_close(&between, over_limits(p, gap, false), over_limits(p, foot, false),
                      &a.force_to_close, error));
    bool asked = pp_given(q->table_gap_limit);
    double rest = asked ? over_limits(p, gap, true) : 0,
           down = asked ? over_limits(p, foot, true) : 0;
    bool same =
        asked && pp_at_most(gap[0], q->table_gap_limit) && pp_at_most(foot[0], q->table_gap_limit);
    if (same)
        a.force_to_close_all = a.force_to_close;
    else if (asked && pp_given(a.force_to_close))
        PP_TRY(find_close(&(closing){p, b, true, cap, steady}, rest, down, &a.force_to_close_all,
                          error));
    p->out->answers[item] = a;
    return PP_OK;
}

/* All holes ------------------------------------------------------------------------------ */

static pp_status press_part(void *context, size_t part, int worker, pp_error *error)
{
    const pressing *p = context;
    pp_bench *b = &p->benches[worker];
    pp_probe probes[PROBES * PP_BENCH_BLOCK];
    double x[PP_BENCH_BLOCK], y[PP_BENCH_BLOCK];
    const pp_stack_visit *v = p->visit;
    size_t first = pp_part_begin(v->count, p->parts, part);
    size_t end = pp_part_begin(v->count, p->parts, part + 1);
    pp_bench_begin(b, p->question->force);
    for (size_t at = first; at < end; at += PP_BENCH_BLOCK) {
        size_t count = end - at < PP_BENCH_BLOCK ? end - at : PP_BENCH_BLOCK;
        for (size_t k = 0; k < count; k++) {
            size_t place = v->which ? v->which[p->order[at + k]] : p->order[at + k];
            x[k] = v->places->x[place];
            y[k] = v->places->y[place];
        }
        pp_bench_look(b, count, x, y, probes);
        for (size_t k = 0; k < count; k++) {
            pp_bench_enter(b, k, x[k], y[k], probes);
            PP_TRY(answer_hole(p, b, p->order[at + k], error));
        }
    }
    return PP_OK;
}

static pp_status order_holes(const pressing *p, pp_arena *scratch, const uint32_t **order,
                             pp_error *error)
{
    const pp_stack_visit *v = p->visit;
    uint32_t *list;
    PP_TAKE(list, scratch, v->count);
    *order = list;
    return pp_visit_order(p->pile->ground->mesh, v->places->x, v->places->y, v->count, v->which,
                          scratch, list, error);
}

/* Few long chains: each begins from the pile at rest. Not a matter of threads. */
static size_t parts_of(size_t count)
{
    size_t parts = count / PART_PLACES, blocks = (count + PP_BENCH_BLOCK - 1) / PP_BENCH_BLOCK;
    if (parts < PARTS_LEAST) parts = PARTS_LEAST;
    if (parts > PARTS_MOST) parts = PARTS_MOST;
    return parts < blocks ? parts : blocks;
}

static int workers(int threads, size_t parts, const pp_stack_pile *pile)
{
    size_t most = WORK_BYTES / (pp_bench_bytes(pile) + 1);
    if (most > parts) most = parts;
    if (most < 1 || threads < 1) return 1;
    return (size_t)threads < most ? threads : (int)most;
}

pp_status pp_stack_press(const pp_stack_pile *pile, const pp_stack_rest *rest,
                         const pp_stack_visit *visit, pp_arena *scratch, pp_stack_answers *answers,
                         pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pressing p = {.pile = pile,
                  .question = visit->question,
                  .visit = visit,
                  .parts = parts_of(visit->count),
                  .out = answers};
    int threads = workers(visit->threads, p.parts, pile);
    PP_TRY(order_holes(&p, scratch, &p.order, error));
    PP_TAKE(p.benches, scratch, (size_t)threads);
    for (int t = 0; t < threads; t++)
        PP_TRY(pp_bench_take(pile, rest, scratch, &p.benches[t], error));
    PP_TRY(pp_parallel(threads, p.parts, press_part, &p, error));
    answers->fallbacks = 0;
    for (int t = 0; t < threads; t++) answers->fallbacks += p.benches[t].fallbacks;
    pp_arena_release(scratch, mark);
    return PP_OK;
}
