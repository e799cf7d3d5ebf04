/* A job from text: written to a file in the build folder and read from there. */
#ifndef PP_TESTS_JOB_TEXT_H
#define PP_TESTS_JOB_TEXT_H

#include <stdlib.h>
#include <unistd.h>

#include "input/job/job.h"
#include "support/check.h"

/* Write text[length] to a new file and put its name into path. */
static inline void write_new_file(const char *text, size_t length, char path[256])
{
    snprintf(path, 256, "%s/job-XXXXXX", PP_BINARY_DIR);
    int handle = mkstemp(path);
    assert_true(handle >= 0);
    assert_int_equal(write(handle, text, length), (ssize_t)length);
    close(handle);
}

static inline pp_status read_job_bytes(const char *text, size_t length, pp_memory *memory,
                                       pp_job *job, pp_error *error)
{
    char path[256];
    write_new_file(text, length, path);
    pp_status status = pp_job_read(path, memory, job, error);
    unlink(path);
    return status;
}

static inline pp_status read_job_text(const char *text, pp_memory *memory, pp_job *job,
                                      pp_error *error)
{
    return read_job_bytes(text, strlen(text), memory, job, error);
}

#endif
