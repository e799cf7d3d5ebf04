#include "diagnosis_tally.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "causes/separable_terms.h"

static const double FIELD_RADIUS = SIMULATED_RADIUS;

static double true_value(const plan *p, const pp_term *t, double radius)
{
    while (p && t->kind != p->effect) p = p->beside;
    if (!p) return 0;
    double l = FIELD_RADIUS;
    switch (t->kind) {
    case PP_TERM_SCALE:
    case PP_TERM_SCALE_XY:
        return p->size / l;
    case PP_TERM_SQUARENESS:
        return 2 * p->size / l;
    case PP_TERM_BOW_X:
    case PP_TERM_BOW_Y:
        return p->size * radius * radius / (l * l);
    case PP_TERM_GROWTH:
        return 2 * p->size / l;
    default:
        return p->size;
    }
}

typedef struct outcome {
    bool other_named, unclear;
    bool right[PLANTED_MOST]; /* by plan: named, told apart */
} outcome;

static bool is_effect(const plan *p, const pp_term *t)
{
    if (t->kind == p->effect) return true;
    return t->kind == PP_TERM_TOOL_CHANGE && p->effect == PP_TERM_WEAR && p->tool_life;
}

/* A term or a pattern found: `which` of the plans has it, or none, PLANTED_MOST. Is it wrong? */
static bool count_one(int which, pp_term_state state, bool unclear, outcome *o)
{
    if (state != PP_TERM_FOUND) return false;
    o->unclear |= unclear;
    bool wrong = which == PLANTED_MOST && !unclear;
    if (which < PLANTED_MOST) o->right[which] |= !unclear;
    o->other_named |= wrong;
    return wrong;
}

static int plan_of_term(const plan *p, const pp_term *t)
{
    int k = 0;
    for (; p; p = p->beside, k++)
        if (is_effect(p, t)) return k;
    return PLANTED_MOST;
}

/* A plan whose term was not tested because the term found looks the same. */
static int plan_of_alias(const plan *p, const pp_term *t)
{
    int k = 0;
    for (; p; p = p->beside, k++)
        if (p->effect < PP_TERM_KINDS && t->partner && strstr(t->partner, pp_term_name(p->effect)))
            return k;
    return PLANTED_MOST;
}

/* With another one beside it that looks the same a term is not told apart, where either is what was
 * planted. */
static bool count_term(const plan *p, const pp_term *t, outcome *o)
{
    bool alike = t->kind < PP_TERM_LEAN && t->partner != NULL;
    int which = plan_of_term(p, t);
    if (alike && which == PLANTED_MOST) which = plan_of_alias(p, t);
    bool unclear = t->unclear != NULL || (alike && which < PLANTED_MOST);
    return count_one(which, t->state, unclear, o);
}

static bool is_steps(pp_error_pattern_kind kind)
{
    return kind == PP_PATTERN_STEP || kind == PP_PATTERN_BLOCKS;
}

static int plan_of_pattern(const plan *p, const pp_error_pattern *t)
{
    int k = 0;
    for (; p; p = p->beside, k++)
        if (t->kind == p->pattern || (p->by_family && is_steps(t->kind) && is_steps(p->pattern)))
            return k;
    return PLANTED_MOST;
}

static bool all_right(const plan *p, const outcome *o)
{
    int k = 0;
    for (; p; p = p->beside, k++)
        if (!o->right[k]) return false;
    return true;
}

static void count_plate(const plan *p, const pp_diagnosis *d, double radius, tally *all)
{
    outcome o = {false};
    for (size_t i = 0; i < d->term_count; i++) {
        const pp_term *t = &d->terms[i];
        if (t->state == PP_TERM_NOT_TESTED) continue;
        all->found[t->kind] += t->state == PP_TERM_FOUND;
        all->wrong[t->kind] += count_term(p, t, &o);
        if (t->kind == PP_TERM_TOOL_CHANGE) continue;
        double z = (t->value - true_value(p, t, radius)) / t->standard_error;
        all->tested[t->kind]++, all->z[t->kind] += z, all->z2[t->kind] += z * z;
    }
    for (size_t i = 0; i < d->pattern_count; i++) {
        const pp_error_pattern *t = &d->patterns[i];
        all->patterns[t->kind] += t->state == PP_TERM_FOUND;
        all->wrong_patterns[t->kind] +=
            count_one(plan_of_pattern(p, t), t->state, t->unclear != NULL, &o);
    }
    bool left = d->left_order.left || d->left_place.left || d->left_cells.left;
    bool right = all_right(p, &o);
    all->plates++, all->changes += (int)d->tool_change_count;
    all->structure += left, all->named += o.other_named;
    all->right += right, all->unclear += o.unclear && !right;
    all->said += left || o.other_named || o.unclear;
}

tally tally_plates(const plan *p, int runs, uint64_t seed)
{
    tally all = {0};
    for (int run = 0; run < runs; run++) {
        test_plate plate;
        pp_diagnosis d;
        pp_error error = {0};
        simulated_plate(p, seed + 7919u * (uint64_t)run, &plate);
        if (test_diagnose(&plate, 1, &d, &error) != PP_OK) {
            fprintf(stderr, "%s\n", error.message);
            exit(2);
        }
        double radius = 0;
        for (size_t i = 0; i < p->holes; i++)
            radius = fmax(radius, hypot(plate.nx[i], plate.ny[i]));
        count_plate(p, &d, radius, &all);
        test_plate_end(&plate);
    }
    return all;
}

plan tally_sound_plate(size_t holes, sequence order)
{
    return (plan){.holes = holes,
                  .sequence = order,
                  .scatter = {1, 1},
                  .effect = PP_TERM_KINDS,
                  .pattern = PP_PATTERN_KINDS};
}

const char *tally_term_name(int kind)
{
    static const char *const TERM[PP_TERM_KINDS] = {
        "scale",   "x-y",     "square", "bow x", "bow y", "lost x", "lost y",
        "drift x", "drift y", "growth", "lean",  "wear",  "tools"};
    return TERM[kind];
}

void tally_print(const int terms[PP_TERM_KINDS], const int patterns[PP_PATTERN_KINDS])
{
    static const char *const PATTERN[PP_PATTERN_KINDS] = {
        "step", "blocks", "half", "swing", "alternate", "setup", "session", "spindle"};
    for (int k = 0; k < PP_TERM_KINDS; k++)
        if (terms[k]) printf(" %s %d,", tally_term_name(k), terms[k]);
    for (int k = 0; k < PP_PATTERN_KINDS; k++)
        if (patterns[k]) printf(" %s %d,", PATTERN[k], patterns[k]);
    printf("\n");
    fflush(stdout);
}
