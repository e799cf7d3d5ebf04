#include "rules/holddown_rules.h"

#include <math.h>

#include "rules/decide.h"

static const double STRESS_SHARE = 0.3;      /* of the yield strength: bent further, do not clamp */
static const double GAP_LIMIT_SMALL = 0.05;  /* mm: below it the answer hangs on single contact
                                                points */
static const double SHARING_SHARE = 1.0 / 3; /* of gap_limit: a bracket wider than that matters */
static const double COVERAGE_SLACK = 1.25;   /* of the pitch wanted: no need to split hairs */
static const double STIFFENS_FROM = 0.5;     /* of the thickness, out of flat both ways */
static const double EASIER_SHARE = 0.75;     /* of the clamps' force in all: worth turning over */
static const double BALANCE_SHARE = 0.02;    /* of the width */
static const double TIPPED = 50;             /* mm/m: far beyond the small slopes of bending */
enum { ROCKING_PINS = 4 };

double pp_plan_stress_most(const pp_job *job) { return STRESS_SHARE * job->plate.yield_strength; }

/* Classes ------------------------------------------------------------------------------- */

static pp_hold_class class_of(bool table, double gap_limit, double gap, double under_foot)
{
    if (!table && pp_less_than(fmin(gap, under_foot), -gap_limit)) return PP_SAGS;
    if (pp_at_most(gap, gap_limit)) return PP_SEATED;
    if (pp_at_most(under_foot, gap_limit)) return PP_SEATS_UNDER_FOOT;
    return PP_NEEDS_HOLDDOWN;
}

static bool on_table(const pp_holddown *s) { return s->support == PP_SUPPORT_TABLE; }

/* A hole, the plate there thicker or thinner by half its variation times sign, and the gap under
 * the foot off by what the mesh leaves open. */
static pp_hold_class class_with(const pp_holddown *s, size_t hole, int sign)
{
    const pp_hold *h = &s->holes[hole];
    double off = sign * s->half_variation;
    double mesh = s->mesh_check.gap_u ? s->mesh_check.gap_u[hole] : 0;
    double under_foot = off + (pp_given(mesh) ? sign * mesh : 0);
    return class_of(on_table(s), s->gap_limit, h->gap + off, h->gap_under_foot + under_foot);
}

void pp_hold_count(pp_hold_counts *counts, pp_hold_class which)
{
    switch (which) {
    case PP_SEATED:
        counts->seated++;
        break;
    case PP_SEATS_UNDER_FOOT:
        counts->seats_under_foot++;
        break;
    case PP_NEEDS_HOLDDOWN:
        counts->needs_holddown++;
        break;
    case PP_SAGS:
        counts->sags++;
        break;
    }
}

/* Of the same plate in another state; all 0 where the study does not have it. */
static pp_hold_counts count_gaps(const pp_holddown *s, bool table, const pp_hold_gap *gaps)
{
    pp_hold_counts counts = {0};
    for (size_t i = 0; gaps && i < s->count; i++)
        pp_hold_count(&counts, class_of(table, s->gap_limit, gaps[i].as_laid, gaps[i].under_foot));
    return counts;
}

static size_t failing(const pp_hold_counts *counts)
{
    return counts->needs_holddown + counts->sags;
}

/* Ready --------------------------------------------------------------------------------- */

static size_t count_leaning(const pp_holddown *s)
{
    size_t leaning = 0;
    for (size_t i = 0; i < s->count; i++) leaning += pp_more_than(s->holes[i].tilt, s->tilt_limit);
    return leaning;
}

size_t pp_hold_tipping(const pp_holddown *s)
{
    size_t tipping = 0;
    for (size_t i = 0; i < s->count; i++) tipping += s->holes[i].tilt > TIPPED;
    return tipping;
}

/* Pins that carry at rest: at most four of many, and a foot beside them tips the plate. */
static bool rocks(const pp_holddown *s)
{
    return !on_table(s) && s->touching <= ROCKING_PINS && s->touching * 2 <= s->contact_points;
}

/* Over the line of two contacts, but for what nobody can know of a plate's centre of gravity: a
 * fiftieth of its width (common practice, no source). */
static bool balances(const pp_holddown *s) { return s->tip_distance < BALANCE_SHARE * s->across; }

/* What the search for remedies hangs on, too: all but the single holes. */
static void judge_state(const pp_holddown *s, pp_holddown_judgement *j)
{
    for (size_t i = 0; i < s->count; i++) pp_hold_count(&j->counts, class_with(s, i, 0));
    j->solid = count_gaps(s, on_table(s), s->solid.gaps);
    j->drilled = count_gaps(s, on_table(s), s->drilled.gaps);
    j->leaning = count_leaning(s);
    j->balances = balances(s);
    j->rocks = rocks(s) || j->balances;
    j->ready = failing(&j->counts) + failing(&j->solid) + failing(&j->drilled) == 0 &&
               j->leaning == 0 && (on_table(s) || !j->rocks);
}

pp_hold_remedies pp_hold_remedies_of(const pp_holddown *study)
{
    pp_holddown_judgement j = {0};
    judge_state(study, &j);
    pp_hold_counts turned = count_gaps(study, on_table(study), study->turned_over.gaps);
    bool clamps = j.counts.needs_holddown > 0;
    return (pp_hold_remedies){
        .clamps = clamps, .shims = !j.ready, .turned_clamps = clamps && turned.needs_holddown > 0};
}

/* Remedies, loads and stresses ---------------------------------------------------------- */

static double sum_of_forces(size_t count, const pp_clamp *clamps)
{
    double sum = 0;
    for (size_t k = 0; k < count; k++) sum += clamps[k].force;
    return sum;
}

/* Fewer clamps, or as many with clearly less force */
static bool clamps_easier(const pp_holddown *s)
{
    const pp_plan *over = &s->turned_over.plan;
    if (over->clamp_count != s->clamp_count) return over->clamp_count < s->clamp_count;
    return sum_of_forces(over->clamp_count, over->clamps) <=
           EASIER_SHARE * sum_of_forces(s->clamp_count, s->plan);
}

static void judge_turned(const pp_holddown *s, pp_holddown_judgement *j)
{
    size_t now = failing(&j->counts), then = failing(&j->turned);
    bool no_worse = pp_at_most(s->turned_over.worst_gap, s->largest_gap_under_foot);
    bool fewer_fail = then == 0 || (2 * then <= now && no_worse);
    j->turned_plan_found = s->turned_over.gaps && (then == 0 || s->turned_over.plan.found);
    if (!s->turned_over.gaps || now == 0) return;
    if (then == 0 || s->plan_given || (!s->plan_found && !j->turned_plan_found))
        j->turn_over = fewer_fail;
    else if (s->plan_found && j->turned_plan_found)
        j->turn_over = clamps_easier(s);
    else
        j->turn_over = j->turned_plan_found;
}

static void judge_remedies(const pp_holddown *s, pp_holddown_judgement *j)
{
    j->with_shims = count_gaps(s, true, s->with_shims); /* a shim keeps it from sagging */
    j->turned = count_gaps(s, on_table(s), s->turned_over.gaps);
    j->plan_found = j->ready || s->plan_found;
    judge_turned(s, j);
    j->clamping_advised = j->counts.needs_holddown > 0 && j->plan_found;
    j->plan_holds = s->plan_holds * 20 >= s->plan_redraws * 19;
}

/* What is left with the foot down, as classes: seated, in need of more, or sagging */
static pp_status class_gaps(const pp_holddown *s, const double *after, const pp_hold_gap *gaps,
                            pp_memory *memory, const uint8_t **classes, pp_error *error)
{
    uint8_t *list;
    *classes = NULL;
    if (!after && !gaps) return PP_OK;
    PP_TAKE(list, &memory->keep, s->count);
    for (size_t i = 0; i < s->count; i++) {
        double gap = after ? after[i] : gaps[i].under_foot;
        list[i] = (uint8_t)class_of(on_table(s), s->gap_limit, gap, gap);
    }
    *classes = list;
    return PP_OK;
}

/* In each state of the clamps: no gap above the limit, no hole as far below the pins, no pin
 * overloaded. */
static pp_status judge_setups(const pp_job *job, const pp_holddown *s, pp_memory *memory,
                              pp_holddown_judgement *j, pp_error *error)
{
    pp_verdict *verdicts;
    PP_TAKE(verdicts, &memory->keep, s->setups.count);
    for (size_t k = 0; k < s->setups.count; k++) {
        const pp_drill_setup *one = &s->setups.setups[k];
        double gap = fmax(one->worst_gap, one->deepest_sag);
        bool overloaded = pp_decide_upper(one->largest_support_force, job->support.pin_load_limit,
                                          0) == PP_DOES_NOT_CONFORM;
        verdicts[k] = overloaded ? PP_DOES_NOT_CONFORM : pp_decide_upper(gap, s->gap_limit, 0);
    }
    j->setups = verdicts;
    return PP_OK;
}

/* Clamps that the job gives: held in every set-up, and not bending the plate too far. */
static void judge_given(const pp_job *job, const pp_holddown *s, pp_holddown_judgement *j)
{
    j->plan_found = true;
    for (size_t k = 0; k < s->setups.count; k++)
        if (j->setups[k] != PP_CONFORMS) j->plan_found = false;
    j->given_bends =
        pp_decide_upper(s->plan_stress, pp_plan_stress_most(job), 0) == PP_DOES_NOT_CONFORM;
    for (size_t k = 0; k < s->clamp_count; k++) {
        const pp_clamp *c = &s->plan[k];
        j->given_too_strong +=
            pp_decide_upper(c->force, job->holddown.clamp_force_limit, 0) == PP_DOES_NOT_CONFORM;
        j->given_unsupported += !c->edge_stop && pp_more_than(c->from_pin, job->plate.thickness);
    }
    j->ready = j->clamping_advised = j->plan_found && !j->given_bends && !j->given_too_strong;
}

static pp_verdict judge_pin_load(const pp_job *job, const pp_holddown *s)
{
    if (on_table(s)) return PP_NOT_JUDGED;
    double force = fmax(s->largest_support_force,
                        fmax(s->solid.largest_support_force, s->drilled.largest_support_force));
    return pp_decide_upper(force, job->support.pin_load_limit, 0);
}

static pp_status judge_pins(const pp_job *job, const pp_holddown *s, pp_memory *memory,
                            pp_holddown_judgement *j, pp_error *error)
{
    pp_pin_verdicts *pins;
    PP_TAKE(pins, &memory->keep, s->pin_count);
    j->pin_pressure_most = fmin(job->support.pin_pressure_limit, job->plate.yield_strength);
    for (size_t i = 0; s->fixture && i < s->pin_count; i++) {
        const pp_fixture_pin *p = &s->fixture[i];
        pins[i] = (pp_pin_verdicts){
            .load = pp_decide_upper(fmax(p->load_solid, p->load_drilled),
                                    job->support.pin_load_limit, 0),
            .pressure = pp_decide_upper(p->pressure, j->pin_pressure_most, 0),
            .clearance = pp_decide_lower(p->metal, job->support.pin_clearance, 0)};
        pins[i].worst = pp_worse(pins[i].load, pp_worse(pins[i].pressure, pins[i].clearance));
        j->pins_failing += pins[i].worst == PP_DOES_NOT_CONFORM;
        j->pins_in_the_way += pins[i].clearance == PP_DOES_NOT_CONFORM;
    }
    j->pins = pins;
    if (j->pins_in_the_way) j->ready = j->clamping_advised = false;
    return PP_OK;
}

static bool sharing_matters(const pp_holddown *s)
{
    double most = SHARING_SHARE * s->gap_limit;
    if (s->laid != PP_LAID_ON_SUPPORTS) return false;
    for (size_t i = 0; i < s->count; i++)
        if (pp_more_than(fabs(s->holes[i].held_gap_under_foot - s->holes[i].gap_under_foot), most))
            return true;
    return false;
}

static void judge_trust(const pp_job *job, const pp_holddown *s, pp_holddown_judgement *j)
{
    j->mesh_rough = pp_more_than(s->mesh_check.moves, PP_MESH_MOVES);
    j->mesh_unsettled = pp_more_than(s->mesh_check.unsettled, PP_MESH_MOVES);
    j->gap_limit_small = pp_less_than(s->gap_limit, fmax(s->touch_gap, GAP_LIMIT_SMALL));
    j->survey_sparse = pp_more_than(0.5 * s->shortest_wave, COVERAGE_SLACK * s->pitch_wanted);
    j->sharing_matters = sharing_matters(s);
    j->forces_low = pp_more_than(s->double_height, STIFFENS_FROM * job->plate.thickness);
}

pp_status pp_holddown_judge(const pp_job *job, const pp_holddown *study, pp_memory *memory,
                            pp_holddown_judgement *judgement, pp_error *error)
{
    pp_holddown_judgement j = {0};
    uint8_t *class_;
    bool *uncertain;
    PP_TAKE(class_, &memory->keep, study->count);
    PP_TAKE(uncertain, &memory->keep, study->count);
    judge_state(study, &j);
    for (size_t i = 0; i < study->count; i++) {
        pp_hold_class here = class_with(study, i, 0);
        class_[i] = (uint8_t)here;
        uncertain[i] = class_with(study, i, -1) != here || class_with(study, i, 1) != here;
        j.counts.uncertain += uncertain[i];
    }
    j.class_ = class_;
    j.uncertain = uncertain;
    judge_remedies(study, &j);
    PP_TRY(class_gaps(study, study->gap_after, NULL, memory, &j.class_after, error));
    PP_TRY(class_gaps(study, study->turned_over.gap_after, study->turned_over.gaps, memory,
                      &j.class_turned, error));
    PP_TRY(judge_setups(job, study, memory, &j, error));
    if (study->plan_given) judge_given(job, study, &j);
    PP_TRY(judge_pins(job, study, memory, &j, error));
    j.pin_load = judge_pin_load(job, study);
    j.flattening =
        pp_decide_between(study->flattening_low, study->flattening_high, pp_plan_stress_most(job));
    judge_trust(job, study, &j);
    *judgement = j;
    return PP_OK;
}

pp_pin_judgement pp_pins_judge(const pp_pin_plan *plan, double gap_limit, double pin_load_limit)
{
    if (!plan->sag_valid) return (pp_pin_judgement){PP_NOT_JUDGED, PP_NOT_JUDGED};
    return (pp_pin_judgement){pp_decide_upper(plan->sag, gap_limit, 0),
                              pp_decide_upper(plan->largest_pin_force, pin_load_limit, 0)};
}
