#include <math.h>

#include "base/compare.h"
#include "base/parallel.h"
#include "holddown/clamps.h"
#include "holddown/given_clamps.h"
#include "holddown/setups.h"
#include "holddown/shims.h"
#include "holddown/study_inside.h"

/* A gap moves by the errors of the surface beneath it and where the plate rests. */
static const double SPARE_ERRORS = 10;

/* Clamps that bend the plate too far are none: one answer, with which the advice agrees. */
static void take_plan(const pp_study *s, const pp_plan *plan, pp_holddown *r)
{
    double most = pp_study_known(s->options->plan_stress_most);
    r->plan_bends = pp_given(most) && pp_more_than(plan->stress, most);
    r->plan_beyond_limit = plan->beyond_limit;
    r->plan_overloads = plan->pins_overloaded && !plan->found;
    r->plan_given_up = plan->given_up;
    r->plan_stress = plan->stress;
    r->plan_redraws = plan->redraws;
    r->plan_holds = plan->holds;
    r->plan_redraw_worst = plan->redraw_worst;
    if (r->plan_bends) return;
    r->plan_found = plan->found;
    r->clamp_count = plan->clamp_count;
    r->plan = plan->clamps;
    r->plan_gap = plan->gap;
    r->plan_worst_gap = pp_study_gap(s->plate.table, plan->worst_gap);
}

static pp_plan_request plan_request(const pp_study *s, const pp_hold_answer *answers,
                                    const pp_place_list *candidates)
{
    const pp_job *job = s->job;
    return (pp_plan_request){.question = &s->question,
                             .holes = &s->places,
                             .answers = answers,
                             .candidates = candidates,
                             .force_limit = job->holddown.clamp_force_limit,
                             .pad = job->holddown.clamp_pad,
                             .hole_diameter = pp_study_hole(s),
                             .material = &s->setup.plate,
                             .supports = &s->setup.supports,
                             .redraws = s->noisy ? PP_STUDY_REDRAWS : 0,
                             .redraw = s->redraw,
                             .pin_load_limit = job->support.pin_load_limit,
                             .support_reach = job->plate.thickness,
                             .over_holes = job->holddown.clamp_over_holes == PP_OVER_YES};
}

/* Whether other surveys of the plate would need no clamps either. One that has plenty to spare is
 * not asked. */
static pp_status try_foot_alone(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_plan_request request = plan_request(s, s->answers, NULL);
    double spare = s->question.gap_limit - r->largest_gap_under_foot;
    if (request.redraws == 0 || spare > SPARE_ERRORS * s->flatness->surface.standard_error)
        return PP_OK;
    pp_plan alone = {0};
    PP_TRY(pp_foot_alone_try(&s->plate, &s->state, &request, s->memory, &alone, error));
    r->plan_redraws = alone.redraws;
    r->plan_holds = alone.holds;
    r->plan_redraw_worst = pp_study_gap(s->plate.table, alone.redraw_worst);
    return PP_OK;
}

/* Clamps for the plate as laid, or turned over */
static pp_status search_plan(const pp_study *s, const pp_hold_plate *plate,
                             const pp_hold_state *state, const pp_hold_answer *answers,
                             pp_plan *plan, pp_error *error)
{
    const pp_job *job = s->job;
    pp_place_list candidates;
    pp_over_holes over = job->holddown.clamp_over_holes;
    bool given = job->holddown.clamp_candidates.path != NULL;
    if (given)
        PP_TRY(pp_places_read(job, &job->holddown.clamp_candidates, s->memory, &candidates, error));
    pp_plan_request request = plan_request(s, answers, given ? &candidates : NULL);
    PP_TRY(pp_plan_find(plate, state, &request, s->memory, plan, error));
    if (!plan->found && !plan->given_up && over == PP_OVER_IF_NEEDED && !given) {
        request.over_holes = true;
        PP_TRY(pp_plan_find(plate, state, &request, s->memory, plan, error));
    }
    return PP_OK;
}

static pp_status find_plan(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_plan plan;
    PP_TRY(search_plan(s, &s->plate, &s->state, s->answers, &plan, error));
    take_plan(s, &plan, r);
    return PP_OK;
}

static pp_status find_shims(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_shims shims;
    const pp_shim_request request = {.plate = &s->plate,
                                     .state = &s->state,
                                     .question = &s->question,
                                     .holes = &s->places,
                                     .answers = s->answers,
                                     .stock = &s->job->holddown.shim_stock};
    PP_TRY(pp_shims_find(&request, s->memory, &shims, error));
    r->shim_count = shims.count;
    r->shims = shims.shims;
    r->shims_unfit = shims.unfit;
    r->with_shims = shims.count > 0 ? shims.gaps : NULL;
    r->with_shims_worst_gap = shims.worst_gap;
    return PP_OK;
}

static pp_setup_request setup_request(const pp_study *s)
{
    return (pp_setup_request){.question = &s->question,
                              .holes = &s->places,
                              .pitch = pp_study_pitch(s),
                              .order = s->job->holddown.drilling_order};
}

/* What is left under the foot at each hole, in the set-up that drills it */
static pp_status gather_gaps(const pp_study *s, const pp_setup_list *list, const double **after,
                             pp_error *error)
{
    double *gaps;
    PP_TAKE(gaps, &s->memory->keep, s->places.count);
    for (size_t k = 0; k < list->count; k++)
        for (size_t i = 0; i < list->setups[k].hole_count; i++)
            gaps[list->setups[k].holes[i]] = list->setups[k].gap[i];
    *after = gaps;
    return PP_OK;
}

/* Of the plan that is advised, or of the foot alone where that will do */
static pp_status list_setups(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_setup_request request = setup_request(s);
    request.plate = &s->plate;
    request.rest = &s->state;
    request.answers = s->answers;
    request.rest_support_force = r->largest_support_force;
    request.clamp_count = r->clamp_count;
    request.clamps = r->plan;
    request.gap = r->plan_gap;
    PP_TRY(pp_setups_list(&request, s->memory, &r->setups, error));
    return gather_gaps(s, &r->setups, &r->gap_after, error);
}

/* The other face up has its own plan, found and solved in the same way, to compare with. */
static pp_status plan_turned(const pp_study *s, pp_holddown *r, pp_error *error)
{
    pp_turned_over *t = &r->turned_over;
    double most = pp_study_known(s->options->plan_stress_most);
    t->plan_wanted = true;
    PP_TRY(search_plan(s, &s->turned.plate, &s->turned.state, s->turned.answers, &t->plan, error));
    t->plan_bends = pp_given(most) && pp_more_than(t->plan.stress, most);
    if (t->plan_bends) t->plan.found = false, t->plan.clamp_count = 0;
    if (!t->plan.found) return PP_OK;
    pp_setup_request request = setup_request(s);
    request.plate = &s->turned.plate;
    request.rest = &s->turned.state;
    request.answers = s->turned.answers;
    request.clamp_count = t->plan.clamp_count;
    request.clamps = t->plan.clamps;
    request.gap = t->plan.gap;
    PP_TRY(pp_setups_list(&request, s->memory, &t->setups, error));
    return gather_gaps(s, &t->setups, &t->gap_after, error);
}

/* The clamps that the job gives, as they are: nothing is looked for then. */
static pp_status take_given(const pp_study *s, pp_holddown *r, pp_error *error)
{
    r->plan_given = true;
    r->clamp_count = s->job->clamp_count;
    const pp_given_clamps given = {
        .count = s->job->clamp_count, .clamps = s->job->clamps, .job_file = s->job->path};
    PP_TRY(pp_given_clamps_list(&given, &s->plate, &s->places, pp_study_hole(s), s->memory,
                                &r->plan, error));
    PP_TRY(pp_given_clamps_stress(&s->plate, &s->state, &s->setup.plate, r->clamp_count, r->plan,
                                  s->memory, &r->plan_stress, error));
    PP_TRY(list_setups(s, r, error));
    r->plan_worst_gap = 0;
    for (size_t k = 0; k < r->setups.count; k++)
        r->plan_worst_gap = fmax(r->plan_worst_gap, r->setups.setups[k].worst_gap);
    return PP_OK;
}

/* Hours and tools of the set-ups, and the foot that would do without clamps */
static void find_time(const pp_study *s, pp_holddown *r)
{
    pp_machine_work work = {.holes = r->count,
                            .setups = r->setups.count,
                            .clamps = r->clamp_count,
                            .force_to_close = r->largest_force_to_close};
    for (size_t i = 0; i < r->count; i++)
        if (isnan(r->holes[i].force_to_close)) work.force_to_close = NAN;
    const pp_machine_rates rates = pp_machine_rates_of(s->job);
    r->time = pp_machine_time_of(&rates, &work);
}

/* What helps where the foot does not do, and the set-ups of what is chosen. */
static pp_status help_as_laid(const pp_study *s, const pp_hold_remedies *wanted, pp_holddown *r,
                              pp_error *error)
{
    bool given = s->job->clamp_count > 0;
    if (wanted->clamps && !given) PP_TRY(find_plan(s, r, error));
    if (wanted->shims && s->job->holddown.shim_stock.count > 0) PP_TRY(find_shims(s, r, error));
    if (given) return take_given(s, r, error);
    bool ready = s->options->remedies && !wanted->clamps && !wanted->shims;
    if (ready) PP_TRY(try_foot_alone(s, r, error));
    return ready || r->plan_found ? list_setups(s, r, error) : PP_OK;
}

/* Side by side ---------------------------------------------------------------------------- */

typedef enum side { AS_LAID, TURNED, SIDES } side;

typedef struct planning {
    pp_study study[SIDES]; /* the same with memory and threads of its own */
    pp_memory memory[SIDES];
    pp_hold_remedies wanted;
    pp_holddown *result; /* each side writes members of its own */
} planning;

static pp_status help_side(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    planning *p = context;
    const pp_study *s = &p->study[part];
    if (part == AS_LAID) return help_as_laid(s, &p->wanted, p->result, error);
    return plan_turned(s, p->result, error);
}

static void begin_side(const pp_study *s, bool alone, planning *p, side which)
{
    pp_study *own = &p->study[which];
    int threads = s->options->threads;
    *own = *s;
    own->memory = &p->memory[which];
    own->plate.threads = own->turned.plate.threads = alone ? threads : (threads + 1) / SIDES;
    own->turned.plate.as_surveyed = &own->plate;
}

/* The plate as laid and the plate turned over know nothing of each other's clamps. */
static pp_status find_remedies(pp_study *s, pp_holddown *r, pp_error *error)
{
    planning p = {.result = r};
    if (s->options->remedies) p.wanted = s->options->remedies(r);
    bool turned = p.wanted.turned_clamps && !s->job->clamp_count;
    p.memory[AS_LAID] = *s->memory; /* one goes on in memory that was touched before */
    begin_side(s, !turned, &p, AS_LAID);
    begin_side(s, !turned, &p, TURNED);
    pp_status status = pp_parallel(s->options->threads, turned ? SIDES : 1, help_side, &p, error);
    *s->memory = p.memory[AS_LAID];
    pp_arena_join(&p.memory[TURNED].keep, &s->memory->keep);
    pp_memory_free(&p.memory[TURNED]);
    return status;
}

pp_status pp_study_remedies(pp_study *s, pp_holddown *r, pp_error *error)
{
    PP_TRY(find_remedies(s, r, error));
    find_time(s, r);
    return PP_OK;
}
