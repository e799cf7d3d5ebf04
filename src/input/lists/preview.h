/* How one file of a job would be read, without running the job: for showing it to the person who
 * chose the file, from the reader that the job itself goes through. */
#ifndef PP_INPUT_LISTS_PREVIEW_H
#define PP_INPUT_LISTS_PREVIEW_H

#include "base/reading.h"
#include "input/job/job.h"

/* Read the file that the job names for `role` and note how.
 *
 * given   job     names the file, its unit, its columns (pp_job_blank and a path will do)
 *         role    as in results.json: survey, underside, nominal, measured, ligaments, checks,
 *                 datum_points, pins, three_points, clamp_candidates
 * out     note    the reading as far as it came, remarks, and up to PP_PROBLEMS_MAX problems; a
 *                 file that a job would refuse is no error here: its problems say why
 * errors  PP_EINPUT: no such role; PP_ENOTHING: the job names no such file; PP_ENOMEM
 *
 * The measured list is held against the nominal one where the job names one that can be read.
 * Texts live in memory->keep; memory->scratch is as before. */
pp_status pp_list_preview(const pp_job *job, const char *role, int threads, pp_memory *memory,
                          pp_table_note *note, pp_error *error);

/* The roles that pp_list_preview knows, one after the other; NULL behind the last. */
const char *pp_list_preview_role(size_t index);

/* The file that the job names for a role; its path is NULL where the job names none. NULL: no such
 * role. */
const pp_job_file *pp_list_preview_file(const pp_job *job, const char *role);

#endif
