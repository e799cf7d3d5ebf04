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

pp_status pp_list_exceptions(pp_judging *j, pp_error *error)
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
