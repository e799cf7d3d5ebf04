/* Limits of a job made in memory. */
#ifndef PP_TESTS_LIMITS_H
#define PP_TESTS_LIMITS_H

#include "rules/limits.h"
#include "support/check.h"

static inline pp_job blank_job(pp_memory *memory)
{
    pp_job job;
    pp_error error = {0};
    assert_ok(pp_job_blank(memory, &job, &error), &error);
    job.plate.thickness = 40;
    return job;
}

static inline pp_limits limits_of(const pp_job *job, double pitch, pp_memory *memory)
{
    pp_limits limits;
    pp_error error = {0};
    assert_ok(pp_limits_resolve(job, pitch, memory, &limits, &error), &error);
    return limits;
}

#endif
