#include "stack/study.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "holddown/setup.h"
#include "stack/clamps.h"
#include "stack/search.h"

enum { CELLS = 16 }; /* on the long side */

typedef struct study {
    const pp_job *job;
    const pp_nominal *nominal;
    const pp_stack_options *options;
    pp_memory *memory;
    pp_stack_shapes shapes;
    pp_stack_ground ground;
    pp_stack_question question;
    pp_stack_holes_at places;
    pp_stack_state listed;
    pp_drilling drilling;
} study;

/* Inputs ---------------------------------------------------------------------------------- */

static pp_status check_inputs(const pp_job *job, const pp_nominal *nominal, pp_error *error)
{
    const char *missing = NULL;
    if (job->layer_count == 0)
        missing = "the layers of the stack ([layer NAME], two or more)";
    else if (job->plate.outline == PP_OUTLINE_NONE)
        missing = "the layers' outline ([plate] outline)";
    else if (job->support.kind == PP_SUPPORT_NONE)
        missing = "what the stack lies on ([support] kind)";
    else if (!pp_given(job->foot.force))
        missing = "the foot's force ([foot] force)";
    else if (!pp_given(job->stack.gap_limit))
        missing = "the largest gap to accept between layers ([stack] gap_limit)";
    else if (!pp_given(job->holddown.gap_limit))
        missing = "the largest gap to accept to the support ([holddown] gap_limit)";
    else if (!nominal || nominal->count == 0)
        missing = "the nominal holes ([holes] nominal)";
    if (missing)
        return pp_fail_at(error, PP_ENOTHING, job->path, 0, 0,
                          "nothing to stack: the job does not give %s; add it", missing);
    for (size_t i = 0; i < job->layer_count; i++)
        if (!(job->layers[i].thickness > 0))
            return pp_fail_at(
                error, PP_EINPUT, job->path, job->layers[i].line, 0,
                "the thickness of layer %s is not given, and its stiffness grows with "
                "the cube of it; give thickness there or under [plate]",
                job->layers[i].name);
    return PP_OK;
}

/* The softest layer speaks for all: thicker ones soften no more. */
static double thinnest(const pp_job *job)
{
    double least = INFINITY;
    for (size_t i = 0; i < job->layer_count; i++) least = fmin(least, job->layers[i].thickness);
    return least;
}

/* Parts of the result ---------------------------------------------------------------------- */

static pp_status list_layers(const study *s, const pp_stack_way *way, pp_stack *r, pp_error *error)
{
    pp_stack_layer *layers;
    PP_TAKE_ZERO(layers, &s->memory->keep, r->layer_count);
    for (size_t k = 0; k < r->layer_count; k++) {
        const pp_layer *given = &s->job->layers[way[k].layer];
        const pp_stack_shape *shape = &s->shapes.shape[way[k].layer];
        layers[k] = (pp_stack_layer){.name = given->name,
                                     .way = way[k],
                                     .surveyed = shape->surveyed,
                                     .laid = given->laid,
                                     .thickness = given->thickness,
                                     .weight = shape->weight,
                                     .bow = shape->bow,
                                     .hidden_bow = shape->hidden_bow,
                                     .forces_low = shape->forces_low,
                                     .stiffer = shape->stiffer,
                                     .standard_error = shape->standard_error,
                                     .unseen_share = shape->unseen_share,
                                     .noisier = shape->noisier,
                                     .left_out = shape->left_out};
        r->unsurveyed_count += !shape->surveyed;
    }
    r->layers = layers;
    return PP_OK;
}

static double half_variation(const study *s, const pp_stack_layer *layer)
{
    double total = s->job->layers[layer->way.layer].thickness_variation;
    bool measured = s->shapes.shape[layer->way.layer].both_faces;
    return pp_given(total) && !measured ? 0.5 * total : 0;
}

/* A contact's gap below nought is round-off; between pins a layer may sag below them. */
static double clear(const study *s, size_t k, double gap)
{
    return k > 0 || s->ground.table ? fmax(gap, 0) : gap;
}

static pp_status list_gaps(const study *s, pp_stack *r, pp_error *error)
{
    size_t n = r->layer_count;
    double *gap, *foot;
    pp_stack_interface *interfaces;
    PP_TAKE(gap, &s->memory->keep, r->count * n);
    PP_TAKE(foot, &s->memory->keep, r->count * n);
    PP_TAKE(interfaces, &s->memory->keep, n);
    for (size_t k = 0; k < n; k++) {
        pp_stack_interface f = {.below = k ? r->layers[k - 1].name : NULL,
                                .above = r->layers[k].name,
                                .largest_gap = -INFINITY,
                                .largest_gap_under_foot = -INFINITY,
                                .half_variation = half_variation(s, &r->layers[k])};
        for (size_t i = 0; i < r->count; i++) {
            gap[i * n + k] = clear(s, k, s->listed.at.gap[i * n + k]);
            foot[i * n + k] = clear(s, k, s->listed.at.gap_under_foot[i * n + k]);
            f.largest_gap = fmax(f.largest_gap, gap[i * n + k]);
            f.largest_gap_under_foot = fmax(f.largest_gap_under_foot, foot[i * n + k]);
            f.mean_gap += gap[i * n + k] / (double)r->count;
        }
        interfaces[k] = f;
    }
    r->gap = gap;
    r->gap_under_foot = foot;
    r->interfaces = interfaces;
    r->largest_table_gap = interfaces[0].largest_gap;
    r->largest_table_gap_under_foot = interfaces[0].largest_gap_under_foot;
    return PP_OK;
}

static pp_stack_hole hole_of(const pp_stack *r, const pp_stack_answer *a, size_t i)
{
    size_t n = r->layer_count, at_rest = 1, under = 1;
    const double *gap = r->gap + i * n, *foot = r->gap_under_foot + i * n;
    for (size_t k = 2; k < n; k++) {
        if (gap[k] > gap[at_rest]) at_rest = k;
        if (foot[k] > foot[under]) under = k;
    }
    return (pp_stack_hole){.largest_gap = gap[at_rest],
                           .largest_gap_under_foot = foot[under],
                           .interface = foot[under] > 0 ? under : at_rest,
                           .force_to_close = a->force_to_close,
                           .force_to_close_all = a->force_to_close_all,
                           .tilt = 1000 * a->tilt,
                           .shift = 0.5 * r->layers[n - 1].thickness * a->tilt};
}

static pp_status list_holes(const study *s, pp_stack *r, pp_error *error)
{
    pp_stack_hole *holes;
    PP_TAKE(holes, &s->memory->keep, r->count);
    r->largest_gap = r->largest_gap_under_foot = 0;
    for (size_t i = 0; i < r->count; i++) {
        const pp_stack_hole *h = &holes[i], *worst = &holes[r->worst_hole];
        holes[i] = hole_of(r, &s->listed.at.answers[i], i);
        r->largest_gap = fmax(r->largest_gap, h->largest_gap);
        r->largest_tilt = fmax(r->largest_tilt, h->tilt);
        r->largest_shift = fmax(r->largest_shift, h->shift);
        if (h->largest_gap_under_foot > worst->largest_gap_under_foot ||
            (h->largest_gap_under_foot == worst->largest_gap_under_foot &&
             h->largest_gap > worst->largest_gap))
            r->worst_hole = i;
    }
    r->holes = holes;
    r->largest_gap_under_foot = holes[r->worst_hole].largest_gap_under_foot;
    r->largest_interface = holes[r->worst_hole].interface;
    r->largest_force_to_close = r->listed.largest_force_to_close;
    r->largest_force_to_close_all = r->listed.largest_force_to_close_all;
    return PP_OK;
}

static void listed_ways(const pp_job *job, pp_stack_way *way)
{
    for (size_t k = 0; k < job->layer_count; k++) {
        const pp_layer *layer = &job->layers[job->stack.order[k]];
        way[k] = (pp_stack_way){.layer = job->stack.order[k],
                                .over = layer->face == PP_FACE_OVER,
                                .turn_deg = layer->turns.values[0]};
    }
}

static void progress(const study *s, double share)
{
    if (s->options->progress) s->options->progress(s->options->progress_context, share);
}

/* Everything about the order as listed; of s->listed the answers and the ways stay. */
static pp_status reckon_in(study *s, pp_memory *own, pp_stack *r, pp_error *error)
{
    pp_memory *memory = s->memory;
    pp_stack_way way[PP_LAYERS_MAX];
    pp_stack_answers *at = &s->listed.at;
    size_t count = s->nominal->count, gaps = count * r->layer_count;
    double *gap_under_foot;
    pp_stack_answer *answers;
    listed_ways(s->job, way);
    const pp_stack_visit every_hole = {.question = &s->question,
                                       .places = &s->places,
                                       .count = count,
                                       .threads = s->options->threads};
    PP_TRY(pp_stack_evaluate(&s->ground, way, &every_hole, &own->keep, &own->scratch, &s->listed,
                             error));
    pp_stack_fold(&s->listed, &r->listed);
    PP_TRY(list_layers(s, way, r, error));
    PP_TRY(list_gaps(s, r, error));
    PP_TRY(list_holes(s, r, error));
    r->points = s->listed.pile.count;
    r->touching = s->listed.rest.base.active;
    r->fallbacks = at->fallbacks;
    const pp_stack_cut cut = {.force = s->question.force,
                              .x = s->nominal->x[r->worst_hole],
                              .y = s->nominal->y[r->worst_hole],
                              .interface = r->largest_interface};
    PP_TRY(
        pp_stack_section_cut(&s->listed.pile, &s->listed.rest, &cut, memory, &r->section, error));
    PP_TAKE(answers, &memory->scratch, count);
    PP_TAKE(gap_under_foot, &memory->scratch, gaps);
    memcpy(answers, at->answers, count * sizeof *answers);
    memcpy(gap_under_foot, at->gap_under_foot, gaps * sizeof *gap_under_foot);
    *at = (pp_stack_answers){.answers = answers, .gap_under_foot = gap_under_foot};
    s->listed.rest = (pp_stack_rest){0}; /* it goes with `own` */
    return PP_OK;
}

/* In memory of its own, which has left before clamps and better orders need theirs. */
static pp_status reckon_listed(study *s, pp_stack *r, pp_error *error)
{
    pp_memory own = {0};
    pp_status status = reckon_in(s, &own, r, error);
    pp_memory_free(&own);
    return status;
}

static pp_status search_better(study *s, const pp_place_list *pins, pp_stack *r, pp_error *error)
{
    const pp_job *job = s->job;
    r->searched = job->stack.search_order || job->stack.search_face || job->stack.search_turn;
    if (!r->searched) return PP_OK;
    pp_stack_search search;
    pp_stack_search_request request = {.freedom = {.layer_count = job->layer_count,
                                                   .layers = job->layers,
                                                   .listed = job->stack.order,
                                                   .order = job->stack.search_order,
                                                   .faces = job->stack.search_face,
                                                   .turns = job->stack.search_turn},
                                       .aim = job->stack.aim,
                                       .ground = &s->ground,
                                       .pins = pins,
                                       .question = &s->question,
                                       .places = &s->places,
                                       .listed = &s->listed,
                                       .listed_arranged = &r->listed,
                                       .threads = s->options->threads};
    request.question = &(pp_stack_question){.force = s->question.force,
                                            .gap_limit = s->question.gap_limit,
                                            .table_gap_limit = s->question.table_gap_limit,
                                            .force_cap = s->question.force_cap,
                                            .only_close = true};
    PP_TRY(pp_stack_search_run(&request, s->memory, &search, error));
    r->found = search.found;
    r->found_better = search.better;
    r->evaluated = search.evaluated;
    r->all_tried = search.all_tried;
    return PP_OK;
}

static bool leaves_a_gap(const pp_stack *r)
{
    return pp_more_than(r->largest_gap_under_foot, r->gap_limit) ||
           pp_more_than(r->largest_table_gap_under_foot, r->table_gap_limit);
}

/* Clamps, where the foot leaves a gap and the job says how strongly one presses. */
static pp_status plan_clamps(study *s, const pp_place_list *pins, pp_stack *r, pp_error *error)
{
    const pp_job *job = s->job;
    pp_place_list candidates;
    bool given = job->holddown.clamp_candidates.path != NULL;
    if (!pp_given(job->holddown.clamp_force_limit) || !leaves_a_gap(r)) return PP_OK;
    if (given)
        PP_TRY(pp_places_read(job, &job->holddown.clamp_candidates, s->memory, &candidates, error));
    pp_stack_plan_request request = {.ground = &s->ground,
                                     .pins = pins,
                                     .question = &s->question,
                                     .places = &s->places,
                                     .listed = &s->listed,
                                     .candidates = given ? &candidates : NULL,
                                     .hole_diameter = s->options->hole_diameter,
                                     .force_most = job->holddown.clamp_force_limit,
                                     .pad = job->holddown.clamp_pad,
                                     .over_holes = job->holddown.clamp_over_holes == PP_OVER_YES,
                                     .threads = s->options->threads};
    return pp_stack_plan_find(&request, s->memory, &r->plan, error);
}

pp_status pp_stack_study(const pp_job *job, const pp_nominal *nominal,
                         const pp_stack_options *options, pp_memory *memory, pp_stack *result,
                         pp_stack_shapes *shapes, pp_error *error)
{
    PP_TRY(check_inputs(job, nominal, error));
    study s = {.job = job,
               .nominal = nominal,
               .options = options,
               .memory = memory,
               .places = {nominal->count, nominal->x, nominal->y}};
    s.question = (pp_stack_question){.force = job->foot.force,
                                     .gap_limit = job->stack.gap_limit,
                                     .table_gap_limit = job->holddown.gap_limit,
                                     .force_cap = job->holddown.force_cap};
    pp_stack r = {.support = job->support.kind,
                  .gap_limit = s.question.gap_limit,
                  .table_gap_limit = s.question.table_gap_limit,
                  .foot_force = s.question.force,
                  .layer_count = job->layer_count,
                  .count = nominal->count,
                  .cells = CELLS};
    pp_place_list pins;
    bool on_pins = job->support.kind == PP_SUPPORT_PINS;
    if (on_pins) PP_TRY(pp_places_read(job, &job->support.file, memory, &pins, error));
    PP_TRY(pp_stack_shapes_make(job, options->threads, memory, &s.shapes, error));
    progress(&s, 0.1);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    s.drilling = (pp_drilling){.nominal = nominal,
                               .pitch = options->pitch,
                               .hole_diameter = options->hole_diameter,
                               .thickness = thinnest(job),
                               .job_file = job->path};
    const pp_foot foot = pp_foot_of(job);
    const pp_stack_ground_request ground = {
        .spec = {.outline = pp_job_outline(job),
                 .poisson_ratio = job->plate.poisson_ratio,
                 .foot_radius = pp_foot_radius(&foot),
                 .shapes = &s.shapes,
                 .drilling = job->holddown.ligament_softening ? &s.drilling : NULL,
                 .pins_file = job->support.file.path},
        .pins = on_pins ? &pins : NULL,
        .cells = CELLS,
        .threads = options->threads};
    PP_TRY(pp_stack_ground_make(&ground, memory, &s.ground, error));
    r.softened_share = s.ground.softening.share;
    r.condition = s.ground.compliance.condition;
    PP_TRY(reckon_listed(&s, &r, error));
    progress(&s, 0.4);
    PP_TRY(plan_clamps(&s, on_pins ? &pins : NULL, &r, error));
    PP_TRY(search_better(&s, on_pins ? &pins : NULL, &r, error));
    pp_arena_release(&memory->scratch, mark);
    progress(&s, 1);
    *shapes = s.shapes;
    *result = r;
    return PP_OK;
}
