/* A report folder as it was recorded, read with distrust: it may come from anybody.
 *
 * Only regular files are opened, none larger than it may be; a FIFO, a device or a folder in a
 * file's place is a file that is not there. Inputs that results.json names are looked for in this
 * order:
 *
 *     inputs/index.json of the folder            (a sealed folder)
 *     DIR, by their own name                     (--inputs DIR)
 *     where results.json says, if that is in the folder beside which the report lies or below it
 *     (the job), and in the job's folder or below it (everything else); elsewhere only on request
 */
#ifndef PP_VERIFY_RECORDED_H
#define PP_VERIFY_RECORDED_H

#include <jansson.h>

#include "answer/results.h"

typedef struct pp_recorded_options {
    const char *inputs_folder; /* NULL: none */
    bool outside;              /* open inputs outside the job's folder too */
} pp_recorded_options;

typedef enum pp_input_standing {
    PP_INPUT_THERE,
    PP_INPUT_ABSENT,
    PP_INPUT_OUTSIDE, /* not opened: outside the job's folder */
    PP_INPUT_UNFIT    /* no regular file, or larger than PP_RECORDED_INPUT_MAX */
} pp_input_standing;

#define PP_RECORDED_INPUT_MAX ((long long)8 << 30)   /* bytes of one input, or one file signed */
#define PP_RECORDED_RESULTS_MAX ((long long)1 << 30) /* of results.json */

typedef struct pp_recorded_input {
    pp_input_file file; /* role, written, sha256 as recorded; path: where it is now */
    pp_input_standing standing;
} pp_recorded_input;

typedef struct pp_recorded {
    const char *folder;
    json_t *root;            /* results.json; freed by pp_recorded_free */
    char results_sha256[65]; /* of results.json */
    const char *command;     /* "inspect", ...; "" when none is named */
    const char *version;     /* of the program that wrote it */
    const char *job_file;    /* as recorded, relative to the folder */
    const char *job_path;    /* where the job file is; NULL: nowhere */
    bool sealed;             /* the folder has its inputs in it */
    size_t input_count;
    const pp_recorded_input *inputs;
} pp_recorded;

/* Read FOLDER/results.json and find its inputs.
 * errors  PP_EIO it is not there, or unfit; PP_EINPUT it is no results.json of plateproof, or of a
 *         later version; PP_ENOMEM */
pp_status pp_recorded_read(const char *folder, const pp_recorded_options *options,
                           pp_memory *memory, pp_recorded *recorded, pp_error *error);
void pp_recorded_free(pp_recorded *recorded);

/* Where an input is that was written so; NULL: none. `context`: the pp_recorded. */
const char *pp_recorded_place(const void *context, const char *written);
/* The job's name, whatever its file is called now. errors: PP_ENOMEM */
pp_status pp_recorded_name(const pp_recorded *recorded, pp_arena *arena, const char **job_name,
                           pp_error *error);
/* Point the job's files to where they were found. The job bears the name it was recorded under.
 * errors: PP_ENOMEM */
pp_status pp_recorded_place_inputs(const pp_recorded *recorded, pp_job *job, pp_arena *arena,
                                   pp_error *error);

/* A JSON file of the folder, if it is regular and at most `most` bytes long. NULL otherwise;
 * *there: something stands under the name; *why (if not NULL): jansson's own account of what is
 * damaged. */
json_t *pp_recorded_json(const char *path, long long most, bool *there, json_error_t *why);

/* May the file be opened and read whole: regular, and at most `most` bytes? errno says why not. */
bool pp_recorded_is_fit(const char *path, long long most);

#endif
