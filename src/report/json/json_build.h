/* Building blocks of results.json, shared by its sections. Internal to the report folder.
 *
 * Every function notes failure (memory) in the builder; the writer looks once, at the end. */
#ifndef PP_REPORT_JSON_JSON_BUILD_H
#define PP_REPORT_JSON_JSON_BUILD_H

#include <jansson.h>

#include "answer/results.h"
#include "base/text.h"

typedef struct pp_json_builder {
    const pp_results *results;
    bool failed;
} pp_json_builder;

/* Several reals of one object, in their order:
 * pp_json_reals(b, object, PP_NAMED_REALS({"x", x}, {"y", y})) */
typedef struct pp_named_real {
    const char *key;
    double value;
} pp_named_real;
#define PP_NAMED_REALS(...)                                                                        \
    sizeof((const pp_named_real[]){__VA_ARGS__}) / sizeof(pp_named_real), (const pp_named_real[])  \
    {                                                                                              \
        __VA_ARGS__                                                                                \
    }

/* Put under `key`; a real that is not given (NaN) or not finite is null, a text that is NULL too.
 */
void pp_json_put(pp_json_builder *b, json_t *object, const char *key, json_t *value);
void pp_json_real(pp_json_builder *b, json_t *object, const char *key, double value);
void pp_json_count(pp_json_builder *b, json_t *object, const char *key, size_t value);
void pp_json_flag(pp_json_builder *b, json_t *object, const char *key, bool value);
void pp_json_text(pp_json_builder *b, json_t *object, const char *key, const char *value);
void pp_json_reals(pp_json_builder *b, json_t *object, size_t count, const pp_named_real *reals);
json_t *pp_json_object(pp_json_builder *b, json_t *object, const char *key);
json_t *pp_json_array(pp_json_builder *b, json_t *object, const char *key);

/* Append to an array. */
void pp_json_append(pp_json_builder *b, json_t *array, json_t *value);
void pp_json_append_real(pp_json_builder *b, json_t *array, double value);
void pp_json_append_text(pp_json_builder *b, json_t *array, const char *value);
json_t *pp_json_append_object(pp_json_builder *b, json_t *array);

/* What every results.json has, whatever it is of. */
void pp_json_begin(pp_json_builder *b, const char *command, json_t *root);
void pp_json_texts(pp_json_builder *b, json_t *root, const char *key, size_t count,
                   const char *const *texts);
void pp_json_identification(pp_json_builder *b, const pp_job *job, json_t *root);
void pp_json_inputs(pp_json_builder *b, const pp_input_file *inputs, size_t count,
                    const char *job_file, json_t *root);
/* Append all of it to `text` and release it; the text is as before on failure (PP_ENOMEM). */
pp_status pp_json_end(pp_json_builder *b, json_t *root, pp_text *text, pp_error *error);

/* The sections. */
void pp_json_flatness(pp_json_builder *b, json_t *root);
void pp_json_holddown(pp_json_builder *b, json_t *root);
void pp_json_stack(pp_json_builder *b, json_t *root);
void pp_json_drilled(pp_json_builder *b, json_t *root);
void pp_json_roughing(pp_json_builder *b, json_t *root);
void pp_json_holes(pp_json_builder *b, json_t *root);
/* Of one of the inputs: how it was read. */
void pp_json_reading(pp_json_builder *b, json_t *input, const pp_input_file *file);
/* Keys beside the terms of holes.diagnosis. */
void pp_json_patterns(pp_json_builder *b, json_t *diagnosis, const pp_diagnosis *d);
void pp_json_tool_runs(pp_json_builder *b, json_t *diagnosis, const pp_diagnosis *d);
/* The work list, within the holes. */
void pp_json_work(pp_json_builder *b, json_t *holes);
void pp_json_exceptions(pp_json_builder *b, json_t *root);

/* How a plate lay when it was surveyed: "on-supports". */
const char *pp_json_laid_words(pp_laid laid);

#endif
