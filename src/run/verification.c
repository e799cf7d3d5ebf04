#include "run/verification.h"

#include <string.h>

#include "report/folder/folder.h"
#include "report/folder/report_files.h"
#include "run/bundle_run.h"
#include "run/run.h"
#include "verify/manifest.h"

static pp_scope scope_of(const char *command)
{
    if (strcmp(command, "flatness") == 0) return PP_SCOPE_FLATNESS;
    if (strcmp(command, "holddown") == 0) return PP_SCOPE_HOLDDOWN;
    if (strcmp(command, "holes") == 0) return PP_SCOPE_HOLES;
    if (strcmp(command, "stack") == 0) return PP_SCOPE_STACK;
    if (strcmp(command, "roughing") == 0) return PP_SCOPE_ROUGHING;
    return PP_SCOPE_ALL;
}

static size_t count_of(const pp_differences *comparison, pp_difference_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < comparison->count && i < PP_DIFFERENCES_KEPT; i++)
        count += comparison->items[i].kind == kind;
    return count;
}

static bool is_of_pages(const pp_difference *d)
{
    return d->kind == PP_PAGE_CHANGED || d->kind == PP_PAGE_OTHER_ENGINE ||
           d->kind == PP_REPORT_SURPLUS || d->kind == PP_REPORT_MISSING;
}

static pp_status recompute(const pp_verification_options *options, pp_memory *memory,
                           pp_verification *v, pp_error *error)
{
    pp_job job;
    pp_results now = {0};
    const pp_run_options run = {.scope = scope_of(v->recorded.command),
                                .threads = options->threads};
    PP_TRY(pp_job_read(v->recorded.job_path, memory, &job, error));
    PP_TRY(pp_recorded_place_inputs(&v->recorded, &job, &memory->keep, error));
    PP_TRY(pp_run(&job, &run, memory, &now, error));
    now.date = job.date ? job.date : options->date;
    return pp_compare_report(&v->recorded, &now, options->threads, memory, v->comparison, error);
}

/* A bundle's inputs lie where they were found: about its set file, or packed in the folder. */
static pp_status recompute_bundle(const pp_verification_options *options, pp_memory *memory,
                                  pp_verification *v, pp_error *error)
{
    pp_set set;
    pp_bundle_results now;
    const pp_bundle_options study = {.threads = options->threads};
    pp_set_places places = {.find = pp_recorded_place, .context = &v->recorded};
    PP_TRY(pp_recorded_name(&v->recorded, &memory->keep, &places.name, error));
    PP_TRY(pp_set_read(v->recorded.job_path, &places, memory, &set, error));
    PP_TRY(pp_bundle_run(&set, &study, memory, &now, error));
    now.date = set.job->date ? set.job->date : options->date;
    return pp_compare_bundle(&v->recorded, &now, memory, v->comparison, error);
}

static pp_status recompute_if_there(const pp_verification_options *options, pp_memory *memory,
                                    pp_verification *v, pp_error *error)
{
    PP_TRY(pp_compare_inputs(&v->recorded, options->threads, memory, v->comparison, error));
    v->inputs_there = v->recorded.job_path && count_of(v->comparison, PP_INPUT_MISSING) == 0 &&
                      count_of(v->comparison, PP_INPUT_NOT_OPENED) == 0;
    v->inputs_same = v->inputs_there && count_of(v->comparison, PP_INPUT_CHANGED) == 0;
    if (!v->inputs_there) return PP_OK;
    bool bundle = strcmp(v->recorded.command, "bundle") == 0;
    pp_status status = bundle ? recompute_bundle(options, memory, v, &v->why_not)
                              : recompute(options, memory, v, &v->why_not);
    v->recomputed = status == PP_OK;
    if (v->recomputed) return PP_OK;
    if (v->inputs_same) {
        *error = v->why_not;
        return status;
    }
    v->why_not.message[0] = '\0'; /* it may quote a file that is not ours */
    return status == PP_ENOMEM ? pp_fail_memory(error)
                               : PP_OK; /* what changed may well not compute */
}

static pp_answer answer_of_signature(const pp_verification *v,
                                     const pp_verification_options *options)
{
    const pp_signature *s = &v->signature;
    if (!s->present)
        return options->trusted || options->signature_only ? PP_ANSWER_FAILS : PP_ANSWER_NONE;
    if (!s->sound || s->fault_count) return PP_ANSWER_FAILS;
    bool trusted = !options->trusted;
    for (size_t i = 0; i < s->signer_count; i++) {
        if (s->signers[i].revoked) return PP_ANSWER_FAILS;
        trusted = trusted || s->signers[i].trusted;
    }
    return trusted ? PP_ANSWER_HOLDS : PP_ANSWER_FAILS;
}

static void answer(pp_verification *v, const pp_verification_options *options)
{
    const pp_differences *c = v->comparison;
    size_t of_pages = 0, other_engine = count_of(c, PP_PAGE_OTHER_ENGINE);
    for (size_t i = 0; i < c->count && i < PP_DIFFERENCES_KEPT; i++)
        of_pages += is_of_pages(&c->items[i]);
    v->signed_answer = answer_of_signature(v, options);
    if (!v->inputs_there) return;
    v->recomputation = v->recomputed && c->count == of_pages ? PP_ANSWER_HOLDS : PP_ANSWER_FAILS;
    if (v->recomputed) v->pages = of_pages > other_engine ? PP_ANSWER_FAILS : PP_ANSWER_HOLDS;
}

/* Names that no report has. A signature covers them; without one they are only told. */
static pp_status list_extra(const char *folder, pp_arena *arena, pp_verification *v,
                            pp_error *error)
{
    pp_manifest here;
    const char **names;
    PP_TRY(pp_manifest_list(folder, arena, &here, error));
    PP_TAKE(names, arena, here.count);
    for (size_t i = 0; i < here.count; i++) {
        const char *name = here.files[i].name;
        bool packed = v->recorded.sealed && strncmp(name, PP_FOLDER_INPUTS "/", 7) == 0;
        if (!pp_report_file_is_known(name) && !packed) names[v->extra_count++] = name;
    }
    v->extra = names;
    return PP_OK;
}

pp_status pp_verify(const char *folder, const pp_verification_options *options, pp_memory *memory,
                    pp_verification *verification, pp_error *error)
{
    pp_verification v = {0};
    PP_TAKE_ZERO(v.comparison, &memory->keep, 1);
    PP_TRY(pp_recorded_read(folder, &options->inputs, memory, &v.recorded, error));
    pp_status status = pp_signature_check(folder, options->trusted, options->revoked,
                                          options->threads, memory, &v.signature, error);
    if (status == PP_OK) status = list_extra(folder, &memory->keep, &v, error);
    if (status == PP_OK && !options->signature_only)
        status = recompute_if_there(options, memory, &v, error);
    if (status != PP_OK) {
        pp_recorded_free(&v.recorded);
        return status;
    }
    answer(&v, options);
    *verification = v;
    return PP_OK;
}

void pp_verification_free(pp_verification *verification)
{
    pp_recorded_free(&verification->recorded);
}

bool pp_verification_holds(const pp_verification *v, const pp_verification_options *options)
{
    if (v->signed_answer == PP_ANSWER_FAILS) return false;
    if (options->signature_only) return true;
    return v->recomputation == PP_ANSWER_HOLDS && v->pages == PP_ANSWER_HOLDS;
}
