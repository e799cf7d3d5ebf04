/* A file of given bytes for a reader to read, removed again. */
#ifndef PP_TESTS_SCRATCH_FILE_H
#define PP_TESTS_SCRATCH_FILE_H

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "input/job/job.h"
#include "support/check.h"
#include "support/place.h"

typedef struct scratch_file {
    test_place place;
    char path[512];
    pp_job_file named; /* as if line 7 of the job named it */
} scratch_file;

static inline void scratch_file_write(scratch_file *file, const void *bytes, size_t length)
{
    file->place = test_place_make();
    strcpy(file->path, test_path(&file->place, "points.csv"));
    FILE *stream = fopen(file->path, "wb");
    assert_non_null(stream);
    assert_int_equal(fwrite(bytes, 1, length, stream), length);
    assert_int_equal(fclose(stream), 0);
    file->named = (pp_job_file){.path = file->path, .written = "points.csv", .line = 7};
}

static inline void scratch_file_remove(scratch_file *file) { test_place_remove(&file->place); }

#endif
