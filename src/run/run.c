#include "run/run.h"

#include <string.h>
#include <unistd.h>

#include "answer/holddown_words.h"
#include "answer/inputs.h"
#include "answer/left_out.h"
#include "causes/promise_kept.h"
#include "input/lists/outline.h"
#include "rules/cause_rules.h"
#include "run/stack_stages.h"

typedef struct run {
    const pp_job *job;
    const pp_run_options *options;
    pp_memory *memory;
    pp_results *results;
    pp_input_list inputs;
    bool wants_flatness, wants_holddown, wants_holes;
    bool wants_stack, wants_drilled, wants_roughing;
    bool lists_supports;                     /* the support lists were read */
    pp_nominal *nominal;                     /* NULL: the job has none */
    const pp_table_reading *outline_reading; /* of the corners of a polygon; NULL: none */
    double pitch;
    const char *section; /* of the job file that the stage at work reads most of */
} run;

/* A result that lives as long as the run. */
#define KEEP(pointer)                                                                              \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero(&r->memory->keep, 1, sizeof *(pointer));                    \
        if (!(pointer)) return pp_fail_memory(error);                                              \
    } while (0)

static void begin(const run *r, const char *stage)
{
    if (r->options->stage) r->options->stage(r->options->stage_context, stage, 0);
}

static pp_status nothing(const pp_job *job, const char *what, const char *keys, pp_error *error)
{
    return pp_fail_at(error, PP_ENOTHING, job->path, 0, 0, "nothing to compute for %s; give %s",
                      what, keys);
}

/* ---- what the job has data for ---- */

static bool has_survey(const pp_job *job) { return job->survey.file.path != NULL; }

static bool has_holes(const pp_job *job)
{
    return job->holes.nominal.path &&
           (job->holes.measured.path || job->holes.ligaments.path || job->holes.checks.path);
}

/* The first key that the hold-down study lacks, NULL when it has all. */
static const char *holddown_lacks(const pp_job *job)
{
    if (!has_survey(job)) return "[survey] file";
    if (job->plate.outline == PP_OUTLINE_NONE) return "[plate] outline";
    if (!pp_given(job->plate.thickness)) return "[plate] thickness";
    if (job->support.kind == PP_SUPPORT_NONE) return "[support] kind";
    if (!pp_given(job->foot.force)) return "[foot] force";
    if (!pp_given(job->holddown.gap_limit)) return "[holddown] gap_limit";
    if (!job->holes.nominal.path) return "[holes] nominal";
    return NULL;
}

static pp_status plan_scope(run *r, pp_error *error)
{
    const pp_job *job = r->job;
    const char *lacks = holddown_lacks(job);
    switch (r->options->scope) {
    case PP_SCOPE_FLATNESS:
        if (!has_survey(job)) return nothing(job, "flatness", "[survey] file", error);
        r->wants_flatness = true;
        return PP_OK;
    case PP_SCOPE_HOLDDOWN:
        if (lacks) return nothing(job, "the hold-down study", lacks, error);
        r->wants_flatness = r->wants_holddown = true;
        return PP_OK;
    case PP_SCOPE_HOLES:
        if (!has_holes(job))
            return nothing(job, "the holes",
                           job->holes.nominal.path ? "[holes] measured" : "[holes] nominal", error);
        r->wants_holes = true;
        return PP_OK;
    case PP_SCOPE_STACK:
        if (job->layer_count == 0)
            return nothing(job, "the stack", "[layer NAME], two or more", error);
        if (!job->holes.nominal.path) return nothing(job, "the stack", "[holes] nominal", error);
        r->wants_stack = pp_has_layer_surveys(job);
        r->wants_drilled = pp_has_layer_holes(job);
        return PP_OK;
    case PP_SCOPE_ROUGHING:
        if (!job->roughing.measured.path)
            return nothing(job, "the roughing pass", "[roughing] measured", error);
        if (!job->holes.nominal.path)
            return nothing(job, "the roughing pass", "[holes] nominal", error);
        r->wants_roughing = true;
        return PP_OK;
    case PP_SCOPE_ALL:
        r->wants_flatness = has_survey(job);
        r->wants_holddown = lacks == NULL;
        r->wants_holes = has_holes(job);
        if (!r->wants_flatness && !r->wants_holes)
            return nothing(job, "this job", "[survey] file, or [holes] nominal and measured",
                           error);
        return PP_OK;
    }
    return PP_EINPUT;
}

/* ---- the stages ---- */

static pp_status read_nominal(run *r, pp_hole_files *files, pp_error *error)
{
    if (r->wants_holes) {
        begin(r, "reading the holes");
        PP_TRY(pp_holelist_read(r->job, r->options->threads, r->memory, files, error));
    } else if (r->job->holes.nominal.path) {
        begin(r, "reading the nominal holes");
        PP_TRY(pp_nominal_read(r->job, r->options->threads, r->memory, &files->nominal, error));
    } else {
        return PP_OK;
    }
    r->results->files = files;
    r->nominal = &files->nominal;
    return pp_pitch_find(r->job->holes.pitch, r->nominal, r->options->threads, r->memory, &r->pitch,
                         error);
}

static pp_status study_flatness(run *r, pp_error *error)
{
    pp_survey *survey, *underside = NULL;
    pp_flatness *flatness;
    KEEP(survey);
    KEEP(flatness);
    r->section = "survey";
    begin(r, "reading the survey");
    PP_TRY(pp_survey_read(r->job, &r->job->survey.file, r->options->threads, r->memory, survey,
                          error));
    if (r->job->survey.underside.path) {
        KEEP(underside);
        PP_TRY(pp_survey_read(r->job, &r->job->survey.underside, r->options->threads, r->memory,
                              underside, error));
    }
    begin(r, "fitting planes and surface");
    PP_TRY(pp_flatness_study(r->job, survey, underside, r->nominal, r->options->threads, r->memory,
                             flatness, error));
    pp_inputs_add(&r->inputs, r->job, "survey", &r->job->survey.file, survey->reading);
    if (underside)
        pp_inputs_add(&r->inputs, r->job, "underside", &r->job->survey.underside,
                      underside->reading);
    r->results->survey = survey;
    r->results->flatness = flatness;
    return PP_OK;
}

static pp_status map_gap(run *r, pp_error *error)
{
    const double *gap;
    r->section = "support";
    PP_TRY(pp_holddown_map_gap(r->job, r->results->flatness, r->memory, &gap, error));
    r->lists_supports = gap != NULL;
    r->results->gap_map = gap;
    return PP_OK;
}

static pp_status study_holddown(run *r, pp_error *error)
{
    pp_holddown *holddown;
    pp_holddown_judgement *judged;
    pp_holddown_words *words;
    KEEP(holddown);
    KEEP(judged);
    KEEP(words);
    r->section = "holddown";
    begin(r, "hold-down, hole by hole");
    pp_holddown_options options = {.threads = r->options->threads,
                                   .remedies = pp_hold_remedies_of,
                                   .plan_stress_most = pp_plan_stress_most(r->job),
                                   .pitch = r->pitch,
                                   .hole_diameter = pp_limits_drilled(r->results->limits, r->job)};
    PP_TRY(pp_holddown_study(r->job, r->results->flatness, r->nominal, &options, r->memory,
                             holddown, error));
    PP_TRY(pp_holddown_judge(r->job, holddown, r->memory, judged, error));
    PP_TRY(pp_holddown_say(r->job, holddown, judged, r->memory, words, error));
    r->results->holddown = holddown;
    r->results->holddown_judgement = judged;
    r->results->holddown_words = words;
    r->lists_supports = true;
    r->results->gap_map = holddown->map_gap;
    return PP_OK;
}

/* A stack, before and after it is drilled, or the roughing pass. */
static pp_status stack_branches(run *r, pp_error *error)
{
    pp_stack_stages stages = {.job = r->job,
                              .options = r->options,
                              .nominal = r->nominal,
                              .limits = r->results->limits,
                              .pitch = r->pitch,
                              .memory = r->memory,
                              .inputs = &r->inputs,
                              .results = r->results};
    if (r->wants_stack) PP_TRY(pp_run_stack(&stages, error));
    if (r->wants_drilled) PP_TRY(pp_run_drilled(&stages, error));
    if (r->wants_roughing) PP_TRY(pp_run_roughing(&stages, error));
    r->lists_supports |= r->wants_stack;
    return PP_OK;
}

/* What the measured layers of a stack come to is the verdict on it. */
static void take_over_verdict(const run *r, pp_judgement *judgement)
{
    const pp_drilled_judgement *drilled = r->results->drilled_judgement;
    if (!drilled) return;
    judgement->verdict = drilled->verdict;
    judgement->basis = drilled->basis;
}

/* What is to be done about the holes. */
static pp_status list_work(run *r, pp_error *error)
{
    if (!r->results->measures) return PP_OK;
    pp_work_list *work;
    KEEP(work);
    PP_TRY(pp_work_list_make(r->results->judgement, r->memory, work, error));
    r->results->work = work;
    return PP_OK;
}

static pp_status take_measures(run *r, pp_error *error)
{
    pp_measures *measures;
    KEEP(measures);
    r->section = "holes";
    begin(r, "measuring holes and ligaments");
    /* measures are many: they lie where the reading was at work */
    pp_arena_hand_over(&r->memory->scratch, &r->memory->keep);
    pp_hole_sizes sizes = pp_judge_sizes(r->results->limits);
    PP_TRY(pp_measures_take(r->job, r->results->files, r->pitch, &sizes, r->options->threads,
                            r->memory, measures, error));
    r->results->measures = measures;
    return PP_OK;
}

/* Of a plate drilled to a corrected list: did it become as good as was promised? */
static pp_status check_promise(run *r, pp_error *error)
{
    pp_promise_kept *kept;
    bool told;
    const char *path = r->job->holes.promise.path;
    if (!path || access(path, R_OK) != 0) return PP_OK;
    KEEP(kept);
    PP_TRY(pp_promise_check(path, r->results->measures, r->results->diagnosis, r->memory, &told,
                            kept, error));
    if (told) r->results->promise = kept;
    return PP_OK;
}

static pp_status explain_holes(run *r, pp_error *error)
{
    pp_diagnosis *diagnosis;
    pp_placement *placement;
    KEEP(diagnosis);
    KEEP(placement);
    begin(r, "looking for causes");
    pp_cause_weight weight =
        pp_cause_weight_of(r->results->limits->position_limit.value, r->results->measures);
    const pp_cause_options options = pp_cause_options_of(r->job);
    PP_TRY(pp_diagnose(&options, r->results->measures, weight, r->options->threads, r->memory,
                       diagnosis, error));
    PP_TRY(pp_place(r->job, r->results->measures, r->results->limits, r->options->threads,
                    r->memory, placement, error));
    r->results->diagnosis = diagnosis;
    r->results->placement = placement;
    return check_promise(r, error);
}

static void list_hole_inputs(run *r)
{
    const pp_job *job = r->job;
    const pp_hole_files *files = r->results->files;
    pp_inputs_add(&r->inputs, job, "nominal", &job->holes.nominal, r->nominal->reading);
    if (!r->wants_holes) return;
    pp_inputs_add(&r->inputs, job, "commanded", &job->holes.commanded,
                  r->nominal->commanded_reading);
    if (r->results->promise) pp_inputs_add(&r->inputs, job, "promise", &job->holes.promise, NULL);
    pp_inputs_add(&r->inputs, job, "measured", &job->holes.measured, files->measured.reading);
    pp_inputs_add(&r->inputs, job, "ligaments", &job->holes.ligaments, files->ligaments_reading);
    pp_inputs_add(&r->inputs, job, "checks", &job->holes.checks, files->checks_reading);
    pp_inputs_add(&r->inputs, job, "sample_list", &job->holes.sample_list, files->sample_reading);
    pp_inputs_add(&r->inputs, job, "datum_points", &job->holes.datum_points, files->datum_reading);
}

static pp_status list_support_inputs(run *r, pp_error *error)
{
    const pp_job *job = r->job;
    const struct {
        const char *role;
        const pp_job_file *file;
    } lists[] = {{"pins", &job->support.file},
                 {"three_points", &job->survey.three_points},
                 {"thickness_points", &job->plate.thickness_points},
                 {"clamp_candidates", &job->holddown.clamp_candidates}};
    pp_mark mark = pp_arena_mark(&r->memory->scratch);
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        if (!lists[i].file->path) continue;
        pp_place_list places;
        PP_TRY(pp_places_read(job, lists[i].file, r->memory, &places, error));
        pp_inputs_add(&r->inputs, job, lists[i].role, lists[i].file, places.reading);
    }
    pp_arena_release(&r->memory->scratch, mark);
    return PP_OK;
}

static pp_status name_inputs(run *r, pp_error *error)
{
    if (r->nominal) list_hole_inputs(r);
    if (r->lists_supports) PP_TRY(list_support_inputs(r, error));
    pp_inputs_add(&r->inputs, r->job, "outline", &r->job->plate.outline_file, r->outline_reading);
    const pp_limits *limits = r->results->limits;
    pp_inputs_add_path(&r->inputs, "rules", limits->rules_path, r->job->rules.set);
    pp_inputs_add_path(&r->inputs, "flatness_rules", limits->flatness_rules_path,
                       r->job->plate.flatness_rule);
    begin(r, "hashing the inputs");
    PP_TRY(pp_inputs_hash(&r->inputs, r->options->threads, error));
    pp_input_file *files;
    PP_TAKE(files, &r->memory->keep, r->inputs.count);
    memcpy(files, r->inputs.items, r->inputs.count * sizeof *files);
    r->results->inputs = files;
    r->results->input_count = r->inputs.count;
    return PP_OK;
}

static const char *command_of(pp_scope scope)
{
    switch (scope) {
    case PP_SCOPE_ALL:
        return "inspect";
    case PP_SCOPE_FLATNESS:
        return "flatness";
    case PP_SCOPE_HOLDDOWN:
        return "holddown";
    case PP_SCOPE_HOLES:
        return "holes";
    case PP_SCOPE_STACK:
        return "stack";
    case PP_SCOPE_ROUGHING:
        return "roughing";
    }
    return "inspect";
}

/* A refusal that knows no line names the job file and the section at least. */
static pp_status place_error(const run *r, pp_status status, pp_error *error)
{
    bool of_job = status == PP_EINPUT || status == PP_ENOTHING || status == PP_ENUMERIC;
    if (!of_job || !error || error->line) return status;
    if (error->file[0] && strcmp(error->file, r->job->path) != 0) return status;
    if (strchr(error->message, '[')) return status; /* says it in its own words */
    return pp_fail_at(error, status, r->job->path, 0, 0, "[%s] %s", r->section, error->message);
}

/* Lists and limits; the scratch has the table of names after it. */
static pp_status begin_stages(run *r, pp_error *error)
{
    const pp_job *job = r->job;
    pp_memory *memory = r->memory;
    pp_hole_files *files;
    pp_limits *limits;
    KEEP(files);
    KEEP(limits);
    pp_inputs_add_path(&r->inputs, "job", job->path, job->path);
    PP_TRY(read_nominal(r, files, error));
    PP_TRY(r->wants_holes || r->wants_drilled || r->wants_roughing
               ? pp_limits_resolve(job, r->pitch, memory, limits, error)
               : pp_limits_resolve_unjudged(job, r->pitch, memory, limits, error));
    r->results->limits = limits;
    return PP_OK;
}

static pp_status compute(run *r, pp_error *error)
{
    if (r->wants_flatness) PP_TRY(study_flatness(r, error));
    if (r->wants_holddown)
        PP_TRY(study_holddown(r, error));
    else if (r->wants_flatness)
        PP_TRY(map_gap(r, error));
    PP_TRY(stack_branches(r, error));
    return r->wants_holes ? take_measures(r, error) : PP_OK;
}

static pp_status judge(run *r, pp_error *error)
{
    const pp_job *job = r->job;
    pp_memory *memory = r->memory;
    pp_results *found = r->results;
    pp_judgement *judgement;
    KEEP(judgement);
    begin(r, "judging");
    pp_arena_hand_over(&memory->scratch,
                       &memory->keep); /* findings are many, their work is little */
    const pp_judge_request request = {.job = job,
                                      .limits = found->limits,
                                      .flatness = found->flatness,
                                      .measures = found->measures,
                                      .files = found->files,
                                      .threads = r->options->threads};
    PP_TRY(pp_judge(&request, memory, judgement, error));
    take_over_verdict(r, judgement);
    found->judgement = judgement;
    PP_TRY(pp_left_out_find(found, holddown_lacks(job), memory, &found->left_out_count,
                            &found->left_out, error));
    return list_work(r, error);
}

static pp_status run_stages(run *r, pp_error *error)
{
    pp_arena *scratch = &r->memory->scratch;
    PP_TRY(plan_scope(r, error));
    pp_mark mark = pp_arena_mark(scratch);
    PP_TRY(begin_stages(r, error));
    PP_TRY(compute(r, error));
    pp_arena_release(scratch, mark);
    if (r->nominal) r->nominal->names = (pp_names){0};
    if (r->wants_holes && r->results->files->measured_given) PP_TRY(explain_holes(r, error));
    PP_TRY(judge(r, error));
    PP_TRY(name_inputs(r, error));
    pp_arena_trim(&r->memory->scratch); /* the reports need what they need beside the results */
    pp_arena_trim(&r->memory->keep);
    return PP_OK;
}

pp_status pp_run(pp_job *job, const pp_run_options *options, pp_memory *memory, pp_results *results,
                 pp_error *error)
{
    const pp_table_reading *outline_reading = NULL;
    PP_TRY(pp_outline_read(job, memory, &outline_reading, error));
    pp_results found = {.job = job, .command = command_of(options->scope)};
    run whole = {.job = job,
                 .options = options,
                 .memory = memory,
                 .results = &found,
                 .outline_reading = outline_reading,
                 .pitch = NAN,
                 .section = "holes"};
    pp_status status = place_error(&whole, run_stages(&whole, error), error);
    if (status == PP_OK) *results = found;
    return status;
}
