#include "rules/stack_rules.h"

#include <math.h>

#include "base/compare.h"

/* The gaps of a hole, each moved by shift[interface] times sign. */
static bool all_within(const pp_stack *s, const double *gap, double sign)
{
    for (size_t k = 0; k < s->layer_count; k++) {
        double limit = k ? s->gap_limit : s->table_gap_limit;
        if (!pp_at_most(gap[k] + sign * s->interfaces[k].half_variation, limit)) return false;
    }
    return true;
}

static pp_hold_class class_of(const pp_stack *s, size_t hole, double sign)
{
    const double *gap = s->gap + hole * s->layer_count;
    const double *foot = s->gap_under_foot + hole * s->layer_count;
    double shift = sign * s->interfaces[0].half_variation;
    if (s->support == PP_SUPPORT_PINS &&
        !pp_at_least(fmin(gap[0], foot[0]) + shift, -s->table_gap_limit))
        return PP_SAGS;
    if (all_within(s, gap, sign)) return PP_SEATED;
    return all_within(s, foot, sign) ? PP_SEATS_UNDER_FOOT : PP_NEEDS_HOLDDOWN;
}

static uint8_t force_band(const pp_stack *s, double force)
{
    if (!pp_given(force)) return 4;
    if (pp_at_most(force, 0)) return 0;
    if (pp_at_most(force, s->foot_force)) return 1;
    return pp_at_most(force, 2 * s->foot_force) ? 2 : 3;
}

static uint8_t gap_band(double gap, double limit)
{
    return pp_more_than(gap, limit)         ? PP_GAP_ABOVE
           : pp_more_than(gap, 0.5 * limit) ? PP_GAP_NEAR
                                            : PP_GAP_BELOW;
}

static pp_status sort_into_bands(const pp_stack *s, pp_memory *memory, pp_stack_bands *bands,
                                 pp_error *error)
{
    uint8_t *force, *gap;
    size_t n = s->layer_count;
    PP_TAKE(force, &memory->keep, s->count);
    PP_TAKE(gap, &memory->keep, s->count * n);
    for (size_t i = 0; i < s->count; i++) {
        force[i] = force_band(s, s->holes[i].force_to_close);
        bands->force_count[force[i]]++;
        for (size_t k = 0; k < n; k++)
            gap[i * n + k] =
                gap_band(s->gap_under_foot[i * n + k], k ? s->gap_limit : s->table_gap_limit);
    }
    bands->force = force;
    bands->gap = gap;
    return PP_OK;
}

static bool all_seen(const pp_stack *stack)
{
    for (size_t k = 0; k < stack->layer_count; k++)
        if (!stack->layers[k].surveyed || stack->layers[k].unseen_share > PP_STACK_UNSEEN_MOST)
            return false;
    return true;
}

/* How well the layers are known, against the gap that is to be judged */
static void judge_surveys(const pp_stack *stack, pp_stack_judgement *j)
{
    for (size_t k = 0; k < stack->layer_count; k++) {
        const pp_stack_layer *layer = &stack->layers[k];
        j->within_error |= pp_more_than(layer->standard_error, stack->gap_limit / 3);
        j->hides_bow |= layer->surveyed && pp_more_than(layer->hidden_bow, stack->gap_limit);
    }
}

pp_status pp_stack_judge(const pp_stack *stack, pp_memory *memory, pp_stack_judgement *judgement,
                         pp_error *error)
{
    pp_stack_judgement j = {0};
    uint8_t *class_;
    bool *uncertain;
    PP_TAKE(class_, &memory->keep, stack->count);
    PP_TAKE(uncertain, &memory->keep, stack->count);
    for (size_t i = 0; i < stack->count; i++) {
        pp_hold_class here = class_of(stack, i, 0);
        class_[i] = (uint8_t)here;
        uncertain[i] = class_of(stack, i, -1) != here || class_of(stack, i, 1) != here;
        pp_hold_count(&j.counts, here);
        j.counts.uncertain += uncertain[i];
    }
    PP_TRY(sort_into_bands(stack, memory, &j.bands, error));
    j.class_ = class_;
    j.uncertain = uncertain;
    judge_surveys(stack, &j);
    j.foot_closes = pp_at_most(stack->largest_force_to_close, stack->foot_force);
    j.ready = j.counts.needs_holddown == 0 && j.counts.sags == 0 && all_seen(stack);
    *judgement = j;
    return PP_OK;
}
