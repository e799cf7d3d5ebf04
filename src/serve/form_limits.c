/* The limits that follow from a job, each with where it comes from: before anything is measured. */
#include <string.h>

#include "answer/for_people.h"
#include "rules/limits.h"
#include "serve/form.h"

static json_t *tell_limit(const pp_job *job, const pp_limit *limit)
{
    pp_text value = {0};
    pp_people_limit_of(&value, job->units, limit->quantity, limit->value);
    json_t *told = json_pack("{s:s, s:s, s:s}", "words", limit->words, "value",
                             value.length ? value.data : "", "source", limit->source);
    pp_text_free(&value);
    return told;
}

/* All that can be told by now; a table that still lacks an answer says which. */
static json_t *tell_limits(const pp_job *job, pp_memory *memory)
{
    pp_limits limits;
    pp_error missing = {0}, error = {0};
    bool holes = job->holes.nominal.path || job->holes.measured.path;
    double pitch = job->holes.pitch;
    json_t *list = json_array();
    bool whole = holes && pp_limits_resolve(job, pitch, memory, &limits, &missing) == PP_OK;
    if (whole || pp_limits_resolve_unjudged(job, pitch, memory, &limits, &error) == PP_OK)
        for (size_t i = 0; i < limits.count; i++)
            if (holes || limits.all[i].of_plate)
                json_array_append_new(list, tell_limit(job, &limits.all[i]));
    json_t *told = json_pack("{s:o}", "limits", list);
    const char *lacks = holes && !whole ? missing.message : error.message;
    if (*lacks) json_object_set_new(told, "lacks", json_string(lacks));
    return told;
}

pp_status pp_form_limits(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    pp_memory memory = {0};
    pp_job job;
    if (!json_is_string(json_object_get(asked, "text")))
        return pp_fail(error, PP_EINPUT, "the text is missing; load the page again");
    pp_status status = pp_form_job(server, asked, &memory, &job, error);
    if (status == PP_OK) *answer = tell_limits(&job, &memory);
    if (status == PP_EINPUT) { /* pp_form_check tells what is wrong */
        *answer = json_pack("{s:[]}", "limits");
        status = PP_OK;
    }
    pp_memory_free(&memory);
    return status;
}
