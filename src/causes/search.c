#include "causes/search.h"

#include <math.h>

static const double ANOTHER = 6; /* what each kind of family beyond the first costs besides */
static const double TESTS = 10;
enum { HOLES_MANY = 200, STEPS_BEYOND = 2 };
static const double ALPHA = 0.03, ALPHA_FEW_HOLES = 0.02;

double pp_search_alpha(size_t holes) { return holes < HOLES_MANY ? ALPHA_FEW_HOLES : ALPHA; }

double pp_search_term_cost(size_t holes)
{
    return pp_chi_squared_1_of(pp_search_alpha(holes) / TESTS);
}

static int count_components(const pp_pursuit *p)
{
    int count = 0;
    for (int k = 0; k < p->members; k++) count += p->member[k].fixed < 0;
    return count;
}

pp_status pp_search_model(const pp_search_space *space, const pp_model_parts *parts,
                          pp_image_shelf *shelf, pp_arena *arena, pp_pursuit *model, double *s2,
                          pp_error *error)
{
    bool entered;
    PP_TRY(pp_pursuit_begin(space, arena, model, error));
    for (int k = 0; k < parts->count; k++)
        PP_TRY(
            pp_pursuit_add(model, &(pp_member){-1, parts->components[k]}, shelf, &entered, error));
    for (int i = 0; i < space->fixed; i++)
        if (pp_space_is_term(space, i) && (!parts->fixed || parts->fixed[i]))
            PP_TRY(pp_pursuit_add(model, &(pp_member){.fixed = i}, shelf, &entered, error));
    double df = 2 * (double)space->rows - model->columns;
    *s2 = df > 0 && model->rest > 0 ? model->rest / df : 1;
    return PP_OK;
}

pp_status pp_search_gate(const pp_search_space *space, pp_arena *scratch, bool *passed,
                         pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_image_shelf shelf = {.arena = scratch};
    pp_pursuit all;
    double s2;
    PP_TRY(pp_search_model(space, &(pp_model_parts){0}, &shelf, scratch, &all, &s2, error));
    *passed = false;
    for (int f = 0; f < PP_FAMILIES; f++) {
        pp_component best;
        double gain = pp_pursuit_family_gain(&all, (pp_family)f, &best);
        *passed |= gain / s2 > pp_family_cost((pp_family)f, space->field->count);
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}

/* --- the choice --------------------------------------------------------------------------- */

typedef struct searcher {
    const pp_search_space *space;
    double s2;
    pp_search_ban ban;
    double term_cost, family_cost[PP_FAMILIES];
    pp_image_shelf *shelf;
    pp_pursuit base, at, trial;
} searcher;

/* Kinds of families in a model, but for one member (-1: none), as bits. */
static unsigned kinds_of(const pp_pursuit *p, int but)
{
    unsigned kinds = 0;
    for (int k = 0; k < p->members; k++)
        if (p->member[k].fixed < 0 && k != but) kinds |= 1u << p->member[k].component.family;
    return kinds;
}

/* What a member costs beside families of the kinds given. Steps beyond the first are one family:
 * set-ups. */
static double member_cost(const searcher *s, const pp_member *m, unsigned kinds)
{
    if (m->fixed >= 0) return s->term_cost;
    unsigned own = 1u << m->component.family;
    return s->family_cost[m->component.family] + (kinds & ~own && !(kinds & own) ? ANOTHER : 0);
}

static double cost_of(const searcher *s, const pp_pursuit *p)
{
    double cost = p->rest / s->s2;
    unsigned kinds = 0;
    for (int k = 0; k < p->members; k++) {
        cost += member_cost(s, &p->member[k], kinds);
        if (p->member[k].fixed < 0) kinds |= 1u << p->member[k].component.family;
    }
    return cost;
}

static bool may_enter(const searcher *s, int fixed)
{
    return pp_space_is_term(s->space, fixed) && fixed != s->ban.term;
}

/* What else would pay best; false where nothing does. */
static bool best_addition(const searcher *s, pp_member *best)
{
    const pp_pursuit *p = &s->at;
    int components = count_components(p);
    double most = 0;
    for (int i = 0; i < s->space->fixed; i++) {
        if (!may_enter(s, i)) continue;
        double gain = pp_pursuit_term_gain(p, i) / s->s2 - s->term_cost;
        if (gain > most) most = gain, *best = (pp_member){.fixed = i};
    }
    for (int f = 0; f < PP_FAMILIES && components < PP_COMPONENTS_MAX; f++) {
        if (s->ban.family[f]) continue;
        pp_member m = {.fixed = -1};
        double gain = pp_pursuit_family_gain(p, (pp_family)f, &m.component) / s->s2;
        if (!(gain > 0)) continue;
        gain -= member_cost(s, &m, kinds_of(p, -1));
        if (gain > most) most = gain, *best = m;
    }
    return most > 0;
}

static pp_status go_forwards(searcher *s, pp_error *error)
{
    pp_member next;
    bool entered = true;
    while (entered && s->at.members < PP_PURSUIT_MEMBERS && best_addition(s, &next))
        PP_TRY(pp_pursuit_add(&s->at, &next, s->shelf, &entered, error));
    return PP_OK;
}

/* `trial` becomes the model without one member. */
static pp_status leave_out(searcher *s, int member, pp_error *error)
{
    bool entered;
    pp_pursuit_copy(&s->base, &s->trial);
    for (int k = 0; k < s->at.members; k++)
        if (k != member)
            PP_TRY(pp_pursuit_add(&s->trial, &s->at.member[k], s->shelf, &entered, error));
    return PP_OK;
}

static void take_trial(searcher *s)
{
    pp_pursuit keep = s->at;
    s->at = s->trial;
    s->trial = keep;
}

static pp_status prune(searcher *s, pp_error *error)
{
    for (;;) {
        int worst = -1;
        double least = 0;
        for (int k = 0; k < s->at.members; k++) {
            const pp_member *m = &s->at.member[k];
            double worth =
                pp_pursuit_loss(&s->at, k) / s->s2 - member_cost(s, m, kinds_of(&s->at, k));
            if (worth < least) least = worth, worst = k;
        }
        if (worst < 0) return PP_OK;
        PP_TRY(leave_out(s, worst, error));
        take_trial(s);
    }
}

/* Each component out, the best of its family in its place. */
static pp_status move_all(searcher *s, pp_error *error)
{
    for (int k = 0, todo = s->at.members; todo > 0; todo--) {
        const pp_member m = s->at.member[k];
        if (m.fixed >= 0 || m.component.family == PP_FAMILY_ALTERNATE) {
            k++;
            continue;
        }
        bool entered = false;
        pp_member moved = {.fixed = -1};
        PP_TRY(leave_out(s, k, error));
        if (pp_pursuit_family_gain(&s->trial, m.component.family, &moved.component) > 0)
            PP_TRY(pp_pursuit_add(&s->trial, &moved, s->shelf, &entered, error));
        if (entered && s->trial.rest < s->at.rest)
            take_trial(s); /* the moved one is last now, the next one stands at k */
        else
            k++;
    }
    return PP_OK;
}

/* A family alone: its members one after the other as long as each pays. Steps look two further:
 * set-ups that come back hide each other. */
static pp_status follow_family(searcher *s, pp_family family, pp_error *error)
{
    int beyond = family == PP_FAMILY_STEP ? STEPS_BEYOND : 0, failed = 0, good = 0;
    bool entered = true;
    while (s->at.members < PP_COMPONENTS_MAX && failed <= beyond) {
        pp_member m = {.fixed = -1};
        double gain = pp_pursuit_family_gain(&s->at, family, &m.component) / s->s2;
        if (!(gain > 0)) break;
        bool pays = gain > member_cost(s, &m, kinds_of(&s->at, -1));
        failed = pays ? 0 : failed + 1;
        if (failed > beyond) break;
        PP_TRY(pp_pursuit_add(&s->at, &m, s->shelf, &entered, error));
        if (!entered) break;
        if (pays) good = s->at.members;
    }
    while (s->at.members > good) {
        PP_TRY(leave_out(s, s->at.members - 1, error));
        take_trial(s);
    }
    return PP_OK;
}

static pp_status finish_start(searcher *s, pp_choice *choice, pp_error *error)
{
    PP_TRY(go_forwards(s, error));
    PP_TRY(prune(s, error));
    PP_TRY(move_all(s, error));
    PP_TRY(prune(s, error));
    double cost = cost_of(s, &s->at);
    if (!(cost < choice->cost)) return PP_OK;
    choice->cost = cost, choice->members = s->at.members;
    for (int k = 0; k < s->at.members; k++) choice->member[k] = s->at.member[k];
    return PP_OK;
}

static pp_status choose(searcher *s, pp_choice *choice, pp_error *error)
{
    bool entered;
    *choice = (pp_choice){.cost = INFINITY};
    pp_pursuit_copy(&s->base, &s->at);
    PP_TRY(finish_start(s, choice, error));
    pp_pursuit_copy(&s->base, &s->at);
    for (int i = 0; i < s->space->fixed; i++)
        if (may_enter(s, i))
            PP_TRY(pp_pursuit_add(&s->at, &(pp_member){.fixed = i}, s->shelf, &entered, error));
    PP_TRY(finish_start(s, choice, error));
    for (int f = 0; f < PP_FAMILIES; f++) {
        if (s->ban.family[f]) continue;
        pp_pursuit_copy(&s->base, &s->at);
        PP_TRY(follow_family(s, (pp_family)f, error));
        if (s->at.members == 0) continue; /* as the start from nothing */
        PP_TRY(finish_start(s, choice, error));
    }
    return PP_OK;
}

static void set_costs(searcher *s)
{
    size_t holes = s->space->field->count;
    s->term_cost = pp_search_term_cost(holes);
    for (int f = 0; f < PP_FAMILIES; f++) s->family_cost[f] = pp_family_cost((pp_family)f, holes);
}

pp_status pp_search_choose(const pp_search_space *space, double s2, const pp_search_ban *ban,
                           pp_image_shelf *shelf, pp_arena *scratch, pp_choice *choice,
                           pp_error *error)
{
    searcher s = {.space = space, .s2 = s2, .ban = {.term = -1}, .shelf = shelf};
    if (ban) s.ban = *ban;
    set_costs(&s);
    PP_TRY(pp_pursuit_begin(space, scratch, &s.base, error));
    PP_TRY(pp_pursuit_begin(space, scratch, &s.at, error));
    PP_TRY(pp_pursuit_begin(space, scratch, &s.trial, error));
    return choose(&s, choice, error);
}

double pp_search_cost(const pp_pursuit *model, double s2)
{
    searcher s = {.space = model->space, .s2 = s2};
    set_costs(&s);
    return cost_of(&s, model);
}
