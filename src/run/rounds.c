#include "run/rounds.h"

#include "run/run.h"
#include "verify/compare.h"

static pp_status check_inputs(const pp_recorded *recorded, int threads, pp_memory *memory,
                              pp_error *error)
{
    pp_differences *now;
    PP_TAKE_ZERO(now, &memory->keep, 1);
    PP_TRY(pp_compare_inputs(recorded, threads, memory, now, error));
    const pp_difference *first = &now->items[0];
    if (now->count == 0 && recorded->job_path) return PP_OK;
    if (now->count && first->kind == PP_INPUT_CHANGED)
        return pp_fail_at(error, PP_EINPUT, recorded->folder, 0, 0,
                          "was made from another '%.200s' than there is now: earlier rounds cannot "
                          "be told from it; name where the old one is with --inputs DIR, or "
                          "inspect again",
                          first->file);
    return pp_fail_at(error, PP_EIO, recorded->folder, 0, 0,
                      "its input '%.200s' is not there, and earlier rounds are worked out from the "
                      "inputs; name where they are with --inputs DIR",
                      now->count ? first->file : "job file");
}

static pp_status check_round(const pp_results *results, unsigned round, pp_error *error)
{
    const pp_readings *r = &results->files->measured;
    uint32_t last = 0;
    for (size_t i = 0; i < r->count; i++) {
        if (r->round[i] == round) return PP_OK;
        if (r->round[i] > last) last = r->round[i];
    }
    return pp_fail_at(error, PP_EINPUT, r->file, 0, 0,
                      "no hole was measured in round %u (the last one up to then is %u)", round,
                      last);
}

static pp_status run_round(const pp_recorded *recorded, unsigned round, int threads,
                           pp_memory *memory, pp_results *results, pp_error *error)
{
    pp_job *job; /* the results look at it as long as they live */
    const pp_run_options options = {.scope = PP_SCOPE_HOLES, .threads = threads};
    PP_TAKE_ZERO(job, &memory->keep, 1);
    PP_TRY(pp_job_read(recorded->job_path, memory, job, error));
    PP_TRY(pp_recorded_place_inputs(recorded, job, &memory->keep, error));
    if (!job->holes.nominal.path || !job->holes.measured.path)
        return pp_fail_at(error, PP_EINPUT, recorded->folder, 0, 0,
                          "is no report of measured holes; only these come in rounds");
    job->holes.last_round = round;
    *results = (pp_results){0};
    PP_TRY(pp_run(job, &options, memory, results, error));
    return check_round(results, round, error);
}

pp_status pp_rounds_run(const char *folder, const char *inputs, const unsigned round[2],
                        int threads, pp_memory *memory, pp_results results[2], pp_error *error)
{
    pp_recorded recorded;
    const pp_recorded_options where = {.inputs_folder = inputs};
    PP_TRY(pp_recorded_read(folder, &where, memory, &recorded, error));
    pp_status status = check_inputs(&recorded, threads, memory, error);
    for (int k = 0; k < 2 && status == PP_OK; k++)
        status = run_round(&recorded, round[k], threads, memory, &results[k], error);
    pp_recorded_free(&recorded);
    return status;
}
