/* A sealed folder: the inputs of a report kept in it, so that it can be recomputed anywhere.
 *
 *     inputs/000-plate.ini, inputs/001-survey.csv, ...   the bytes that were read
 *     inputs/index.json    {"format": "plateproof-inputs", "version": 1, "files": [
 *                            {"role": "survey", "file": "survey.csv", "packed": "001-survey.csv",
 *                             "sha256": "..."}, ...]}
 *
 * `file` is the name in results.json; two inputs may bear the same one. In a packed name every byte
 * but letters, digits, `.`, `-` and `_` has become `_`.
 */
#ifndef PP_REPORT_FOLDER_PACK_H
#define PP_REPORT_FOLDER_PACK_H

#include "answer/results.h"
#include "base/text.h"
#include "report/folder/folder.h"

enum { PP_PACKED_NAME_MAX = 128, PP_PACKED_FILES_MAX = 1000 };

/* Copy the inputs into a report that is being written. `job_file`: what results.json calls the job.
 * Each is hashed as it is copied.
 * errors  PP_EIO  an input cannot be read any more, or is another file than the one that was read;
 *                 the report cannot be written */
pp_status pp_pack_inputs(pp_folder *folder, size_t count, const pp_input_file *inputs,
                         const char *job_file, pp_error *error);

#endif
