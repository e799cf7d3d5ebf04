/* Job files: whatever the bytes, the reader answers with a job or with a line and what to do. */
#include "fuzz/memory_file.h"

#include <string.h>

#include "input/job/job.h"
#include "rules/limits.h"

static long count_lines(const uint8_t *data, size_t size)
{
    long lines = 1;
    for (size_t i = 0; i < size; i++) lines += data[i] == '\n';
    return lines;
}

static void check_job(const pp_job *job)
{
    FUZZ_CHECK(job->path && job->name && job->rules.set);
    FUZZ_CHECK(job->survey.straightedge_limit.count == 0 ||
               job->survey.straightedge_limit.count == job->survey.straightedge.count);
    FUZZ_CHECK(!pp_given(job->plate.thickness) || job->plate.thickness > 0);
    FUZZ_CHECK(job->rules.remainder_share >= 0 && job->rules.remainder_share <= 1);
    FUZZ_CHECK(job->plate.outline != PP_OUTLINE_DISC || job->plate.diameter > 0);
    FUZZ_CHECK(!job->holes.measured.instrument ||
               pp_job_instrument(job, job->holes.measured.instrument));
}

static int is_built_in(const char *name)
{
    return !name || (!strchr(name, '/') && !strstr(name, ".ini"));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int handle = memory_file(data, size, path);
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job;
    pp_status status = pp_job_read(path, &memory, &job, &error);
    if (status == PP_OK) {
        check_job(&job);
        pp_limits limits;
        if (is_built_in(job.rules.set) && is_built_in(job.plate.flatness_rule))
            status = pp_limits_resolve(&job, job.holes.pitch, &memory, &limits, &error);
    }
    if (status != PP_OK) {
        FUZZ_CHECK(status == PP_EINPUT && strchr(error.message, ';'));
        FUZZ_CHECK(error.line >= 0 && error.line <= count_lines(data, size));
    }
    pp_memory_free(&memory);
    close(handle);
    return 0;
}
