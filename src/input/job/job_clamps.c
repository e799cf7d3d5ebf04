#include "input/job/job_clamps.h"

static const double FORCE_LEAST = 50; /* N: less is a kilonewton without its unit */

static pp_status check_clamp(const pp_job *job, const pp_job_clamp *clamp, pp_error *error)
{
    if (!pp_given(clamp->x) || !pp_given(clamp->y))
        return pp_fail_at(error, PP_EINPUT, job->path, clamp->line, 0,
                          "clamp %s has no place; give %s", clamp->name,
                          pp_given(clamp->x) ? "y" : "x and y");
    if (clamp->kind == PP_EDGE_STOP) return PP_OK;
    if (!pp_given(clamp->force))
        return pp_fail_at(error, PP_EINPUT, job->path, clamp->line, 0,
                          "clamp %s has no force; give force with its unit, such as 12 kN",
                          clamp->name);
    if (clamp->force < FORCE_LEAST)
        return pp_fail_at(error, PP_EINPUT, job->path, clamp->line, 0,
                          "the force of clamp %s, %g N, holds nothing down; write it with its "
                          "unit, such as 12 kN, or kind = edge-stop",
                          clamp->name, clamp->force);
    return PP_OK;
}

pp_status pp_job_settle_clamps(pp_job *job, pp_job_clamp *clamps, pp_error *error)
{
    if (job->clamp_count > PP_JOB_CLAMPS_MAX)
        return pp_fail_at(error, PP_EINPUT, job->path, clamps[PP_JOB_CLAMPS_MAX].line, 0,
                          "more than %d clamps; leave out those that are not set",
                          PP_JOB_CLAMPS_MAX);
    for (size_t k = 0; k < job->clamp_count; k++) {
        PP_TRY(check_clamp(job, &clamps[k], error));
        bool stop = clamps[k].kind == PP_EDGE_STOP;
        if (!pp_given(clamps[k].force)) clamps[k].force = 0;
        if (!pp_given(clamps[k].pad)) clamps[k].pad = stop ? 0 : job->holddown.clamp_pad;
    }
    job->clamps = clamps;
    return PP_OK;
}
