/* The list of plates: every job below the folder, with what its report says. */
#ifndef PP_SERVE_PLATES_H
#define PP_SERVE_PLATES_H

#include <jansson.h>
#include <pthread.h>

#include "base/memory.h"
#include "input/job/job.h"

/* What was read of each job is kept until the job file or its results.json is another one (inode,
 * size, time): 2,000 plates are listed without opening a file. Nothing is kept beyond the run. */
typedef struct pp_plates {
    pthread_mutex_t lock;
    json_t *known; /* {job: its key, a new line, and the rest as text} */
} pp_plates;

/* Nothing is known yet. */
void pp_plates_begin(pp_plates *plates);
/* Gives back what is known. */
void pp_plates_end(pp_plates *plates);

/* Now: {"rows": [{"job", "name", "title", "plate", "role", "order", "drawing", "stage",
 * "inspected", "machine", "problem", "bundle" (it is one's set), "report", "ran" (seconds since
 * 1970), "changed": [names], and what pp_standing_facts gives}], or {"job", "reading": true} for
 * what is left for the next list: a first look at thousands of plates is answered in a fraction of
 * a second; "more": jobs beyond the first PP_SCAN_MAX}.
 *
 * given   top    absolute path of the folder, root the folder opened
 * errors  PP_EIO when the folder can no longer be read; PP_ENOMEM */
pp_status pp_plates_list(pp_plates *plates, const char *top, int root, json_t **list,
                         pp_error *error);

/* Read the job file at `path` below the root, whoever swaps links; its data files are not looked
 * at. errors: as pp_job_read */
pp_status pp_plates_job(const char *top, int root, const char *path, pp_memory *memory, pp_job *job,
                        pp_error *error);

/* Whether the file at `path` below the root is the set of a bundle, not a job. */
bool pp_plates_is_set(int root, const char *path);

/* The bytes of the job file, with a zero behind them, in memory->keep. errors: PP_EINPUT: too
 * large; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_plates_text(int root, const char *path, pp_memory *memory, const char **text,
                         size_t *length, pp_error *error);

#endif
