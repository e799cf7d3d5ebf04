#include "serve/form.h"

#include <stdio.h>
#include <string.h>

#include "input/job/ini.h"
#include "input/job/job_keys.h"
#include "serve/edit.h"
#include "serve/fence.h"
#include "serve/store.h"

static const char *text_of(const json_t *asked, const char *key)
{
    return json_string_value(json_object_get(asked, key));
}

static pp_status missing(const char *what, pp_error *error)
{
    return pp_fail(error, PP_EINPUT, "the question lacks %s; load the page again", what);
}

/* ---- the table of keys ---- */

static const char *kind_of(const pp_key *key)
{
    switch (key->kind) {
    case PP_KEY_DATE:
        return "date";
    case PP_KEY_CHOICE:
        return "choice";
    case PP_KEY_YES_NO:
        return "yes-no";
    case PP_KEY_FILE:
        return "file";
    default:
        return "text";
    }
}

static void set_text(json_t *object, const char *name, const char *text)
{
    if (text) json_object_set_new(object, name, json_string(text));
}

static json_t *tell_key(const pp_key *key)
{
    char range[128];
    json_t *told =
        json_pack("{s:s, s:s, s:s}", "key", key->key, "kind", kind_of(key), "help", key->help);
    set_text(told, "standard", key->standard);
    set_text(told, "example", key->example);
    if (key->kind == PP_KEY_REAL) {
        pp_range_words(key->range, key->quantity, range, sizeof range);
        if (range[0]) set_text(told, "range", range);
        set_text(told, "units", pp_unit_choices(key->quantity));
    }
    if (key->kind == PP_KEY_CHOICE) {
        json_t *choices = json_array();
        for (size_t i = 0; key->choice[i].word; i++)
            json_array_append_new(choices, json_string(key->choice[i].word));
        json_object_set_new(told, "choices", choices);
    }
    return told;
}

json_t *pp_form_keys(void)
{
    size_t key_count, section_count;
    const pp_key *keys = pp_keys(&key_count);
    const pp_key_section *sections = pp_key_sections(&section_count);
    json_t *list = json_array();
    for (size_t s = 0; s < section_count; s++) {
        json_t *of_section = json_array();
        for (size_t k = 0; k < key_count; k++)
            if (strcmp(keys[k].section, sections[s].name) == 0)
                json_array_append_new(of_section, tell_key(&keys[k]));
        json_array_append_new(list, json_pack("{s:s, s:s, s:o}", "name", sections[s].name, "help",
                                              sections[s].help, "keys", of_section));
    }
    return json_pack("{s:o}", "sections", list);
}

/* ---- reading and checking ---- */

pp_status pp_form_read(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    pp_memory memory = {0};
    const char *text;
    size_t length;
    char version[65];
    pp_status status =
        pp_plates_text(server->root, text_of(asked, "job"), &memory, &text, &length, error);
    if (status == PP_OK) {
        pp_store_version(text, length, version);
        json_t *told = json_stringn(text, length);
        if (!told)
            status = pp_fail(error, PP_EINPUT,
                             "the file is no UTF-8 text; save it as UTF-8 in your editor first");
        else
            *answer = json_pack("{s:o, s:s}", "text", told, "version", version);
    }
    pp_memory_free(&memory);
    return status;
}

static json_t *tell_sections(const pp_ini *ini)
{
    json_t *list = json_array();
    for (size_t s = 0; s < ini->section_count; s++) {
        const pp_ini_section *section = &ini->sections[s];
        json_t *entries = json_array();
        for (size_t e = section->first; e < section->first + section->count; e++)
            json_array_append_new(entries, json_pack("{s:s, s:s, s:I}", "key", ini->entries[e].key,
                                                     "value", ini->entries[e].value, "line",
                                                     (json_int_t)ini->entries[e].line));
        json_array_append_new(list, json_pack("{s:s, s:I, s:o}", "name", section->name, "line",
                                              (json_int_t)section->line, "entries", entries));
    }
    return list;
}

pp_status pp_form_job(pp_server *server, const json_t *asked, pp_memory *memory, pp_job *job,
                      pp_error *error)
{
    const char *path = text_of(asked, "job"), *text = text_of(asked, "text");
    if (text) {
        const char *whole = pp_text_kept(&memory->keep, "%s/%s", server->folder, path);
        if (!whole) return pp_fail_memory(error);
        PP_TRY(pp_job_parse(whole, text, strlen(text), memory, job, error));
    } else {
        PP_TRY(pp_plates_job(server->folder, server->root, path, memory, job, error));
    }
    return pp_fence_check(server->folder, server->root, path, job, error);
}

static void add_problem(json_t *list, long line, const char *text)
{
    json_array_append_new(list, json_pack("{s:I, s:s}", "line", (json_int_t)line, "text", text));
}

/* All that is wrong with a text, as if it stood at the job's place. */
static json_t *find_problems(pp_server *server, const char *path, const char *text, size_t length,
                             pp_memory *memory)
{
    json_t *list = json_array();
    pp_job job;
    pp_error why = {0};
    pp_job_problems problems = {0};
    const char *whole = pp_text_kept(&memory->keep, "%s/%s", server->folder, path);
    pp_status status = whole
                           ? pp_job_parse_noted(whole, text, length, memory, &job, &problems, &why)
                           : pp_fail_memory(&why);
    for (size_t i = 0; i < problems.count; i++)
        add_problem(list, problems.problem[i].line, problems.problem[i].text);
    if (problems.more) add_problem(list, 0, "there may be more; mend these first");
    if (status == PP_OK) status = pp_fence_check(server->folder, server->root, path, &job, &why);
    if (status != PP_OK && problems.count == 0) add_problem(list, why.line, why.message);
    return list;
}

static json_t *check(pp_server *server, const char *path, const char *text, size_t length)
{
    pp_memory memory = {0};
    pp_ini ini = {0};
    json_t *problems = find_problems(server, path, text, length, &memory);
    pp_ini_parse("the job file", text, length, &memory, &ini, NULL); /* as far as it goes */
    json_t *answer = json_pack("{s:o, s:o, s:o}", "problems", problems, "sections",
                               tell_sections(&ini), "text", json_stringn(text, length));
    pp_memory_free(&memory);
    return answer;
}

pp_status pp_form_check(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    const char *text = text_of(asked, "text");
    if (!text) return missing("the text", error);
    *answer = check(server, text_of(asked, "job"), text, strlen(text));
    return PP_OK;
}

pp_status pp_form_edit(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    const char *text = text_of(asked, "text"), *value = text_of(asked, "value");
    const char *section = text_of(asked, "section"), *key = text_of(asked, "key");
    if (!text || !value || !section || !key) return missing("what to change", error);
    pp_memory memory = {0};
    pp_text changed = {0};
    pp_status status =
        pp_edit_set(text, strlen(text), section, key, value, &memory, &changed, error);
    if (status == PP_OK)
        *answer =
            check(server, text_of(asked, "job"), changed.data ? changed.data : "", changed.length);
    pp_text_free(&changed);
    pp_memory_free(&memory);
    return status;
}

/* ---- saving ---- */

static bool is_job_name(const char *path)
{
    size_t length = strlen(path);
    return length > 4 && strcmp(path + length - 4, ".ini") == 0;
}

pp_status pp_form_save(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    const char *path = text_of(asked, "job"), *text = text_of(asked, "text");
    const char *version = text_of(asked, "version");
    if (!text) return missing("the text", error);
    if (!is_job_name(path))
        return pp_fail(error, PP_EINPUT, "a job file is called NAME.ini; choose such a name");
    char now[65];
    json_t *standing = NULL;
    json_t *ask = json_pack("{s:s}", "job", path);
    pthread_mutex_lock(&server->save_lock);
    bool there = pp_form_read(server, ask, &standing, NULL) == PP_OK;
    const char *of_file = there ? text_of(standing, "version") : NULL;
    bool same = there ? version && strcmp(version, of_file) == 0 : !version;
    pp_status status = PP_OK;
    if (same) status = pp_store_write(server->root, path, text, strlen(text), error);
    pthread_mutex_unlock(&server->save_lock);
    pp_store_version(text, strlen(text), now);
    if (status == PP_OK && same) *answer = json_pack("{s:s}", "version", now);
    if (status == PP_OK && !same)
        *answer = json_pack("{s:O?, s:s?}", "conflict", json_object_get(standing, "text"),
                            "version", of_file);
    json_decref(standing);
    json_decref(ask);
    return status;
}
