/* A data file opened for reading in pieces, from any thread. */
#ifndef PP_INPUT_CSV_FILE_H
#define PP_INPUT_CSV_FILE_H

#include <stddef.h>

#include "input/job/job.h"

typedef struct pp_file {
    int handle;
    size_t size; /* bytes, when it was opened */
    const char *path;
} pp_file;

/* Open a regular file. errors: PP_EIO: it is missing, can't be read or is a folder, a pipe or a
 * device (never waits for one); says where the job (NULL: none) names it. */
pp_status pp_file_open(const char *named_in, const pp_job_file *named, pp_file *file,
                       pp_error *error);

/* Read up to `length` bytes at `offset`; *got is less only at the end of the file.
 * errors   PP_EIO: the system says so */
pp_status pp_file_read(const pp_file *file, size_t offset, char *bytes, size_t length, size_t *got,
                       pp_error *error);

/* Give the mapping back; what points into it is gone. */
void pp_file_close(pp_file *file);

#endif
