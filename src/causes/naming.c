#include "causes/naming.h"

#include <math.h>
#include <string.h>

static const double RIVAL_P = 0.05, SLACK = 2; /* of a term's rival */
/* In place of PP_NAMING_CLOSE below 200 holes, of a model with set-ups, which few holes tell from
 * little else. */
static const double CLOSE_FEW_HOLES = 12;
static const double DRIFT_TRIES = 10;
enum { HOLES_MANY = 200 };

double pp_naming_evidence(pp_family family, double statistic, size_t holes)
{
    double p = pp_chi_squared_upper(statistic, 2 * pp_family_parts(family));
    if (!(p > 0)) return statistic;
    return -2 * log(fmin(1, pp_family_tries(family, holes) * p));
}

static bool is_drift(const pp_search_space *s, int fixed)
{
    int term = (int)s->kind[fixed] - PP_FIELD_FIRST_TERM;
    return term == PP_TERM_DRIFT_X || term == PP_TERM_DRIFT_Y;
}

/* One component in the term's place */
static pp_status find_component(const pp_naming *n, int fixed, pp_arena *scratch, bool *rival,
                                pp_component *component, pp_error *error)
{
    const pp_search_space *s = n->space;
    size_t holes = s->field->count;
    pp_mark mark = pp_arena_mark(scratch);
    bool with[PP_ROBUST_TERMS_MAX];
    memcpy(with, n->tested, (size_t)s->fixed * sizeof *with);
    with[fixed] = false;
    pp_pursuit without;
    double s2;
    pp_image_shelf shelf = {.arena = scratch};
    PP_TRY(pp_search_model(s, &(pp_model_parts){with, n->components, n->component_count}, &shelf,
                           scratch, &without, &s2, error));
    double term = pp_pursuit_term_gain(&without, fixed) / n->s2, most = -INFINITY;
    *rival = false;
    for (int f = 0; f < PP_FAMILIES; f++) {
        pp_component best;
        double gain = pp_pursuit_family_gain(&without, (pp_family)f, &best) / n->s2;
        double tries = pp_family_tries((pp_family)f, holes);
        if (!(gain > 0) || exp(-0.5 * pp_naming_evidence((pp_family)f, gain, holes)) > RIVAL_P)
            continue;
        bool light = holes < HOLES_MANY && f == PP_FAMILY_STEP && is_drift(s, fixed);
        double worth = gain - (light ? 2 * log(tries) : pp_family_cost((pp_family)f, holes));
        double own = term - (light ? 2 * log(DRIFT_TRIES) : pp_search_term_cost(holes));
        if (worth > own - SLACK && worth > most) most = worth, *component = best, *rival = true;
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}

static pp_status cost_of_choice(const pp_naming *n, pp_arena *scratch, double *cost,
                                pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_image_shelf shelf = {.arena = scratch};
    pp_pursuit model;
    bool entered;
    PP_TRY(pp_pursuit_begin(n->space, scratch, &model, error));
    for (int k = 0; k < n->choice->members; k++)
        PP_TRY(pp_pursuit_add(&model, &n->choice->member[k], &shelf, &entered, error));
    *cost = pp_search_cost(&model, n->s2);
    pp_arena_release(scratch, mark);
    return PP_OK;
}

static int count_steps(const pp_choice *c)
{
    int steps = 0;
    for (int k = 0; k < c->members; k++)
        steps += c->member[k].fixed < 0 && c->member[k].component.family == PP_FAMILY_STEP;
    return steps;
}

/* The search once more without something. Is it nearly as good? */
static pp_status search_without(const pp_naming *n, const pp_search_ban *ban, pp_arena *scratch,
                                bool *rival, pp_choice *instead, pp_error *error)
{
    double cost;
    PP_TRY(cost_of_choice(n, scratch, &cost, error));
    pp_mark mark = pp_arena_mark(scratch);
    pp_image_shelf shelf = {.arena = scratch};
    PP_TRY(pp_search_choose(n->space, n->s2, ban, &shelf, scratch, instead, error));
    pp_arena_release(scratch, mark);
    bool few = n->space->field->count < HOLES_MANY && count_steps(instead) > 0;
    *rival = instead->cost <= cost + (few ? CLOSE_FEW_HOLES : PP_NAMING_CLOSE);
    return PP_OK;
}

static bool chosen(const pp_choice *c, int fixed)
{
    for (int k = 0; k < c->members; k++)
        if (c->member[k].fixed == fixed) return true;
    return false;
}

pp_status pp_naming_of_term(const pp_naming *n, int fixed, pp_arena *scratch, bool *rival,
                            pp_choice *instead, pp_error *error)
{
    *instead = (pp_choice){.members = 1, .member = {{.fixed = -1}}};
    PP_TRY(find_component(n, fixed, scratch, rival, &instead->member[0].component, error));
    bool few = n->space->field->count < HOLES_MANY;
    if (*rival || !chosen(n->choice, fixed) || (!few && count_steps(n->choice) < 2)) return PP_OK;
    const pp_search_ban ban = {.term = fixed};
    PP_TRY(search_without(n, &ban, scratch, rival, instead, error));
    *rival &= count_steps(instead) > 0; /* set-ups in its place, not chance */
    return PP_OK;
}

static bool same_member(const pp_member *a, const pp_member *b)
{
    if (a->fixed >= 0 || b->fixed >= 0) return a->fixed == b->fixed;
    return a->component.family == b->component.family;
}

pp_status pp_naming_of_family(const pp_naming *n, pp_family family, pp_arena *scratch, bool *rival,
                              pp_choice *instead, pp_error *error)
{
    pp_search_ban ban = {.term = -1};
    ban.family[family] = true;
    PP_TRY(search_without(n, &ban, scratch, rival, instead, error));
    int kept = 0;
    for (int k = 0; k < instead->members; k++) {
        bool known = false;
        for (int j = 0; j < n->choice->members; j++)
            known |= same_member(&instead->member[k], &n->choice->member[j]);
        if (!known) instead->member[kept++] = instead->member[k];
    }
    instead->members = kept;
    return PP_OK;
}
