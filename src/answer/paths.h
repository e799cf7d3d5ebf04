/* Paths of a report: where it goes, and how its files name each other. */
#ifndef PP_ANSWER_PATHS_H
#define PP_ANSWER_PATHS_H

#include "base/memory.h"
#include "input/job/job.h"

/* "JOBNAME-report" beside the job file. NULL when memory ran out. */
char *pp_path_default_report(const pp_job *job, pp_arena *arena);

/* `path` as seen from `folder`, with symbolic links resolved as far as the two exist: "../job.ini".
 * An absolute path where there is no relative one. NULL when memory ran out. */
char *pp_path_relative(const char *path, const char *folder, pp_arena *arena);

/* `path` joined to `folder` unless it is absolute. NULL when memory ran out. */
char *pp_path_join(const char *folder, const char *path, pp_arena *arena);

/* A new folder for passing things, under TMPDIR or where the system keeps such; the caller removes
 * it. NULL when it cannot be made or memory ran out. */
char *pp_path_make_temporary(pp_arena *arena);

/* The part after the last slash. */
const char *pp_path_file_name(const char *path);

#endif
