#include "run/stack_stages.h"

#include <stdint.h>

#include "answer/roughing_words.h"
#include "answer/stack_words.h"
#include "input/lists/sizes.h"

/* A result that lives as long as the run. */
#define KEEP(pointer)                                                                              \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero(&s->memory->keep, 1, sizeof *(pointer));                    \
        if (!(pointer)) return pp_fail_memory(error);                                              \
    } while (0)

static const char STACK[] = "the stack, hole by hole";

static void begin(const pp_stack_stages *s, const char *stage)
{
    if (s->options->stage) s->options->stage(s->options->stage_context, stage, 0);
}

static void pass_share(void *context, double share)
{
    const pp_run_options *options = context;
    if (options->stage) options->stage(options->stage_context, STACK, share);
}

bool pp_has_layer_surveys(const pp_job *job)
{
    for (size_t i = 0; i < job->layer_count; i++)
        if (job->layers[i].survey.path) return true;
    return false;
}

bool pp_has_layer_holes(const pp_job *job)
{
    for (size_t i = 0; i < job->layer_count; i++)
        if (job->layers[i].measured.path) return true;
    return false;
}

pp_status pp_run_stack(const pp_stack_stages *s, pp_error *error)
{
    pp_stack *stack;
    pp_stack_judgement *judged;
    pp_stack_words *words;
    pp_stack_shapes shapes;
    KEEP(stack);
    KEEP(judged);
    KEEP(words);
    begin(s, STACK);
    pp_stack_options options = {.threads = s->options->threads,
                                .pitch = s->pitch > 0 ? s->pitch : NAN,
                                .hole_diameter = pp_limits_drilled(s->limits, s->job),
                                .progress = pass_share,
                                .progress_context = (void *)(uintptr_t)s->options};
    PP_TRY(pp_stack_study(s->job, s->nominal, &options, s->memory, stack, &shapes, error));
    PP_TRY(pp_stack_judge(stack, s->memory, judged, error));
    PP_TRY(pp_stack_say(s->job, s->nominal, stack, judged, s->memory, words, error));
    for (size_t i = 0; i < s->job->layer_count; i++) {
        const pp_layer *layer = &s->job->layers[i];
        const pp_stack_shape *shape = &shapes.shape[i];
        pp_inputs_add(s->inputs, s->job, "layer_survey", &layer->survey, shape->reading);
        pp_inputs_add(s->inputs, s->job, "layer_underside", &layer->underside,
                      shape->underside_reading);
        if (layer->survey.path && layer->three_points.path != s->job->survey.three_points.path)
            pp_inputs_add(s->inputs, s->job, "layer_three_points", &layer->three_points, NULL);
    }
    s->results->stack = stack;
    s->results->stack_judgement = judged;
    s->results->stack_words = words;
    return PP_OK;
}

/* Holes --------------------------------------------------------------------------------- */

/* The holes of one list, with nothing else measured. */
static pp_status measure(const pp_stack_stages *s, const pp_job_file *list,
                         const pp_hole_files **files, const pp_measures **measures, pp_error *error)
{
    pp_hole_files *read;
    pp_measures *taken;
    KEEP(read);
    KEEP(taken);
    PP_TRY(pp_holelist_read_of(s->job, list, s->options->threads, s->memory, read, error));
    PP_TRY(pp_need_sizes(&read->measured, "this study", error));
    pp_hole_sizes sizes = pp_judge_sizes(s->limits);
    PP_TRY(pp_measures_take(s->job, read, s->pitch, &sizes, s->options->threads, s->memory, taken,
                            error));
    read->nominal.names = (pp_names){0};
    *files = read;
    *measures = taken;
    return PP_OK;
}

static pp_status measure_layers(const pp_stack_stages *s, const pp_measures **measures,
                                const pp_judgement **own, pp_error *error)
{
    for (size_t k = 0; k < s->job->layer_count; k++) {
        const pp_layer *layer = &s->job->layers[s->job->stack.order[k]];
        const pp_hole_files *files;
        pp_judgement *judged;
        measures[k] = NULL;
        own[k] = NULL;
        if (!layer->measured.path) continue;
        KEEP(judged);
        PP_TRY(measure(s, &layer->measured, &files, &measures[k], error));
        const pp_judge_request request = {.job = s->job,
                                          .limits = s->limits,
                                          .measures = measures[k],
                                          .files = files,
                                          .threads = s->options->threads};
        PP_TRY(pp_judge(&request, s->memory, judged, error));
        own[k] = judged;
        pp_inputs_add(s->inputs, s->job, "layer_measured", &layer->measured,
                      files->measured.reading);
    }
    return PP_OK;
}

pp_status pp_run_drilled(const pp_stack_stages *s, pp_error *error)
{
    const pp_measures *measures[PP_LAYERS_MAX];
    const pp_judgement *own[PP_LAYERS_MAX];
    pp_drilled *drilled;
    pp_drilled_judgement *judged;
    KEEP(drilled);
    KEEP(judged);
    begin(s, "the drilled layers");
    PP_TRY(measure_layers(s, measures, own, error));
    const pp_drilled_spec spec = pp_drilled_spec_of(s->job);
    PP_TRY(pp_drilled_reckon(&spec, s->nominal, measures, s->memory, drilled, error));
    PP_TRY(pp_drilled_judge(s->job, s->limits, drilled, own, s->memory, judged, error));
    s->results->drilled = drilled;
    s->results->drilled_judgement = judged;
    return PP_OK;
}

pp_status pp_run_roughing(const pp_stack_stages *s, pp_error *error)
{
    const pp_hole_files *files;
    const pp_measures *measures;
    pp_roughing *roughing;
    KEEP(roughing);
    begin(s, "the roughing pass");
    PP_TRY(measure(s, &s->job->roughing.measured, &files, &measures, error));
    PP_TRY(pp_roughing_judge(s->job, s->limits, measures, s->memory, roughing, error));
    PP_TRY(pp_roughing_say(s->job, roughing, s->memory, &s->results->roughing_words, error));
    pp_inputs_add(s->inputs, s->job, "roughed", &s->job->roughing.measured,
                  files->measured.reading);
    s->results->roughing = roughing;
    return PP_OK;
}
