#include <stdlib.h>

#include "rules/judging.h"
#include "rules/judging_items.h"

/* --- exceptions ------------------------------------------------------------------------------- */

typedef struct ranked {
    double excess; /* how far outside, mm */
    uint32_t finding;
    uint8_t group; /* lower first */
} ranked;

static int worst_first(const void *a, const void *b)
{
    const ranked *p = a, *q = b;
    if (p->group != q->group) return p->group < q->group ? -1 : 1;
    if (p->excess != q->excess) return p->excess > q->excess ? -1 : 1;
    return p->finding < q->finding ? -1 : p->finding > q->finding;
}

/* How far in the remainder it lies. */
static double remainder_excess(const pp_judging *j, const pp_finding *f)
{
    double beyond = f->value - pp_finding_standard(j->out, f);
    return pp_characteristic_of(f->characteristic)->upper ? beyond : -beyond;
}

static bool share_fails(const pp_judging *j, uint8_t characteristic)
{
    const pp_count_rule *rule = pp_count_rule_of(j->out, characteristic);
    return rule && (rule->share == PP_NOT_PROVEN || rule->share == PP_DOES_NOT_CONFORM);
}

/* What is wrong as a whole first, then what does not conform, what is not proven, and what makes a
 * share fail. */
static bool rank(const pp_judging *j, uint32_t finding, ranked *out)
{
    enum { WHOLE, FAILS, OPEN, SHARE };
    const pp_finding *f = &j->findings[finding];
    if (f->verdict == PP_NOT_JUDGED) return false;
    if (f->verdict == PP_CONFORMS) {
        if (f->proven_standard == 1 || !share_fails(j, f->characteristic)) return false;
        *out = (ranked){remainder_excess(j, f), finding, SHARE};
        return true;
    }
    uint8_t group = f->verdict == PP_DOES_NOT_CONFORM ? FAILS : OPEN;
    if (pp_characteristic_of(f->characteristic)->mistake) group = WHOLE;
    *out = (ranked){pp_finding_excess(j->out, f), finding, group};
    return true;
}

/* Rank what might be an exception; into list[] unless it is NULL. */
static size_t rank_all(const pp_judging *j, ranked *list)
{
    size_t count = 0;
    ranked one;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        if (j->unsure[which] == 0) continue;
        for (size_t i = j->out->first[which]; i < j->out->first[which + 1]; i++)
            count += rank(j, (uint32_t)i, list ? &list[count] : &one);
    }
    return count;
}

static pp_status list_exceptions(pp_judging *j, pp_error *error)
{
    size_t count = rank_all(j, NULL);
    ranked *list;
    uint32_t *exceptions;
    PP_TAKE(exceptions, &j->memory->keep, count);
    pp_mark mark = pp_arena_mark(&j->memory->scratch);
    PP_TAKE(list, &j->memory->scratch, count + 1); /* one beyond: rank tries its place first */
    rank_all(j, list);
    if (count) qsort(list, count, sizeof *list, worst_first);
    for (size_t i = 0; i < count; i++) exceptions[i] = list[i].finding;
    pp_arena_release(&j->memory->scratch, mark);
    j->out->exception_count = count;
    j->out->exceptions = exceptions;
    return PP_OK;
}

/* --- holes to plug ---------------------------------------------------------------------------- */

/* "Few": a plate that needs more is not mended by plugging. */
enum { REPAIR_MOST = 500 };

typedef struct pair {
    uint32_t a, b;
} pair;

typedef struct plugging {
    pp_judging *j;
    bool *chosen; /* plugged already or to be plugged */
    size_t count; /* to be plugged */
    uint32_t *gain;
} plugging;

static void choose(plugging *p, uint32_t hole)
{
    if (p->chosen[hole]) return;
    p->chosen[hole] = true;
    p->count++;
}

/* Holes that no share excuses: out of position, out of size, thin edge, drifted. */
static void choose_outcasts(plugging *p)
{
    const pp_judgement *out = p->j->out;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        if (!pp_characteristic_of(which)->plugging_mends || which == PP_LIGAMENT) continue;
        for (size_t i = out->first[which]; i < out->first[which + 1]; i++) {
            const pp_finding *f = &p->j->findings[i];
            bool tube = p->j->measures->nominal->kind[f->subject] == PP_TUBE_HOLE;
            if (tube && f->verdict == PP_DOES_NOT_CONFORM) choose(p, f->subject);
        }
    }
    /* metal between two plugged holes does not count: a thin ligament takes both */
    for (size_t i = out->first[PP_LIGAMENT]; i < out->first[PP_LIGAMENT + 1]; i++)
        if (p->j->findings[i].verdict == PP_DOES_NOT_CONFORM) {
            choose(p, p->j->findings[i].subject);
            choose(p, p->j->findings[i].other);
        }
}

static bool in_remainder(const pp_finding *f)
{
    return f->verdict != PP_NOT_JUDGED && f->verdict != PP_DOES_NOT_CONFORM &&
           f->proven_standard != 1;
}

static size_t holes_that_count(const plugging *p)
{
    const pp_measures *m = p->j->measures;
    bool all = p->j->job->holes.coverage == PP_EVERY_HOLE;
    size_t count = all ? m->unmeasured_count : 0;
    for (size_t b = 0; b < m->extra_first; b++)
        count += pp_last_of_hole(m, b) && pp_counts(m, &m->bores[b]);
    return count - p->count;
}

typedef struct candidate {
    double diameter;
    uint32_t hole;
} candidate;

static int largest_first(const void *a, const void *b)
{
    const candidate *p = a, *q = b;
    if (p->diameter != q->diameter) return p->diameter > q->diameter ? -1 : 1;
    return p->hole < q->hole ? -1 : p->hole > q->hole;
}

/* Plug the largest of the remainder until the share holds. */
static pp_status mend_diameters(plugging *p, pp_error *error)
{
    const pp_measures *m = p->j->measures;
    const pp_judgement *out = p->j->out;
    size_t first = out->first[PP_DIAMETER], left = 0;
    if (out->first[PP_DIAMETER + 1] == first) return PP_OK;
    candidate *list;
    PP_TAKE(list, &p->j->memory->scratch, m->extra_first);
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_finding *f = &p->j->findings[first + b];
        if (!in_remainder(f) || !pp_counts(m, &m->bores[b]) || p->chosen[f->subject]) continue;
        if (left > 0 && list[left - 1].hole == f->subject) {
            list[left - 1].diameter = fmax(list[left - 1].diameter, f->value);
            continue;
        }
        list[left++] = (candidate){f->value, f->subject};
    }
    if (left) qsort(list, left, sizeof *list, largest_first);
    size_t counted = holes_that_count(p);
    for (size_t k = 0; left > pp_remainder_allowed(p->j->limits, counted); k++) {
        choose(p, list[k].hole);
        left--;
        counted--;
    }
    return PP_OK;
}

/* Pairs that count once the chosen holes are plugged. */
static size_t pairs_that_count(const plugging *p)
{
    const pp_measures *m = p->j->measures;
    size_t count = p->j->job->holes.coverage == PP_EVERY_HOLE ? m->pairs_unmeasured : 0;
    for (size_t i = 0; i < m->ligament_count; i++) {
        bool first = i == 0 || !pp_same_pair(m, i, i - 1);
        count += first && !(p->chosen[m->ligaments[i].a] && p->chosen[m->ligaments[i].b]);
    }
    return count;
}

/* The pairs in the remainder, each once. */
static pp_status list_pairs(const plugging *p, pair **list, size_t *count, pp_error *error)
{
    const pp_measures *m = p->j->measures;
    size_t first = p->j->out->first[PP_LIGAMENT], room = 0, n = 0;
    for (size_t i = 0; i < m->ligament_count; i++) room += in_remainder(&p->j->findings[first + i]);
    PP_TAKE(*list, &p->j->memory->scratch, room);
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_finding *f = &p->j->findings[first + i];
        bool again = n > 0 && (*list)[n - 1].a == f->subject && (*list)[n - 1].b == f->other;
        if (in_remainder(f) && !again) (*list)[n++] = (pair){f->subject, f->other};
    }
    *count = n;
    return PP_OK;
}

/* Number of remainder pairs left; the hole that takes most of them away when plugged (PP_NONE: no
 * single hole takes any), and the first pair left. */
static size_t weigh_pairs(plugging *p, const pair *list, size_t count, uint32_t *best,
                          const pair **first)
{
    size_t bad = 0;
    *best = PP_NONE;
    *first = NULL;
    for (size_t i = 0; i < count; i++) p->gain[list[i].a] = p->gain[list[i].b] = 0;
    for (size_t i = 0; i < count; i++) {
        bool a = p->chosen[list[i].a], b = p->chosen[list[i].b];
        if (a && b) continue;
        bad++;
        if (!*first) *first = &list[i];
        if (!a && !b) continue;
        uint32_t hole = a ? list[i].b : list[i].a;
        p->gain[hole]++;
        if (*best == PP_NONE || p->gain[hole] > p->gain[*best] ||
            (p->gain[hole] == p->gain[*best] && hole < *best))
            *best = hole;
    }
    return bad;
}

/* Plug whatever takes most pairs of the remainder away, one hole at a time; where no single hole
 * takes any, both of a pair. */
static pp_status mend_ligaments(plugging *p, pp_error *error)
{
    const pp_judgement *out = p->j->out;
    if (out->first[PP_LIGAMENT + 1] == out->first[PP_LIGAMENT]) return PP_OK;
    pair *list;
    size_t count = 0, counted = pairs_that_count(p);
    PP_TAKE(p->gain, &p->j->memory->scratch, p->j->measures->nominal->count);
    PP_TRY(list_pairs(p, &list, &count, error));
    while (p->count <= REPAIR_MOST) {
        uint32_t hole;
        const pair *both;
        size_t bad = weigh_pairs(p, list, count, &hole, &both);
        if (bad <= pp_remainder_allowed(p->j->limits, counted)) {
            counted = pairs_that_count(p); /* fewer by now */
            if (bad <= pp_remainder_allowed(p->j->limits, counted)) return PP_OK;
        }
        if (hole != PP_NONE) {
            choose(p, hole);
        } else {
            choose(p, both->a);
            choose(p, both->b);
        }
    }
    return PP_OK;
}

/* Plugging mends tube holes' sizes, places and ligaments; nothing else, so only where those fail.
 */
static bool worth_trying(const pp_judging *j)
{
    size_t failed = 0;
    bool fails = false;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        if (!pp_characteristic_of(which)->plugging_mends) continue;
        fails = fails || j->out->section[which].verdict == PP_DOES_NOT_CONFORM;
        failed += j->out->section[which].failed;
    }
    return fails && failed <= 2 * REPAIR_MOST;
}

static pp_status list_repair(pp_judging *j, pp_error *error)
{
    if (!j->measures || !worth_trying(j)) return PP_OK;
    size_t holes = j->measures->nominal->count;
    pp_mark mark = pp_arena_mark(&j->memory->scratch);
    plugging p = {.j = j};
    PP_TAKE(p.chosen, &j->memory->scratch, holes);
    for (size_t h = 0; h < holes; h++) p.chosen[h] = j->measures->plugged[h];
    choose_outcasts(&p);
    if (p.count <= REPAIR_MOST) PP_TRY(mend_diameters(&p, error));
    if (p.count <= REPAIR_MOST) PP_TRY(mend_ligaments(&p, error));
    if (p.count <= REPAIR_MOST) {
        uint32_t *list;
        PP_TAKE(list, &j->memory->keep, p.count);
        for (size_t h = 0; h < holes; h++)
            if (p.chosen[h] && !j->measures->plugged[h]) list[j->out->repair_count++] = (uint32_t)h;
        j->out->repair = list;
    }
    pp_arena_release(&j->memory->scratch, mark);
    return PP_OK;
}

pp_status pp_list_rework(pp_judging *j, pp_error *error)
{
    PP_TRY(list_exceptions(j, error));
    return list_repair(j, error);
}
