/* How each file of a job was read, from the reader that a run goes through. */
#include <string.h>
#include <unistd.h>

#include "base/foreign.h"
#include "input/lists/preview.h"
#include "serve/beneath.h"
#include "serve/form.h"

enum { FIRST_LINES = 5, FIRST_BYTES = 2000 };

static const char *const ORIGINS[] = {
    [PP_UNIT_NONE] = "",
    [PP_UNIT_OF_HEADER] = "in the header",
    [PP_UNIT_OF_UNIT_ROW] = "in the row of units",
    [PP_UNIT_OF_SECTION] = "length_unit in the job file",
    [PP_UNIT_OF_JOB] = "units of the job",
    [PP_UNIT_ASSUMED] = "said nowhere, assumed",
};

static json_t *foreign(const char *text)
{
    pp_text shown = {0};
    pp_text_add_foreign(&shown, text);
    json_t *told = json_stringn(shown.length ? shown.data : "", shown.length);
    pp_text_free(&shown);
    return told ? told : json_string("");
}

static json_t *tell_used(const pp_table_reading *reading)
{
    json_t *list = json_array();
    for (size_t i = 0; i < reading->used_count; i++) {
        const pp_column_used *column = &reading->used[i];
        json_t *told = json_pack("{s:s, s:o, s:b}", "column", column->column, "header",
                                 foreign(column->header), "mapped", column->mapped);
        if (column->origin != PP_UNIT_NONE) {
            json_object_set_new(told, "unit", json_string(pp_unit_name(column->unit)));
            json_object_set_new(told, "origin", json_string(ORIGINS[column->origin]));
        }
        json_array_append_new(list, told);
    }
    return list;
}

static json_t *tell_texts(const char *const *texts, size_t count)
{
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) json_array_append_new(list, foreign(texts[i]));
    return list;
}

static json_t *tell_skipped(const pp_table_reading *r)
{
    return json_pack("{s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "blank", (json_int_t)r->blank,
                     "comments", (json_int_t)r->comments, "above the header",
                     (json_int_t)r->preamble, "rows of units", (json_int_t)r->unit_rows, "totals",
                     (json_int_t)r->totals, "repeated headers", (json_int_t)r->headers,
                     "rows behind a #", (json_int_t)r->commented_count);
}

static json_t *tell_problems(const pp_table_note *note)
{
    json_t *list = json_array();
    for (size_t i = 0; i < note->problem_count; i++)
        json_array_append_new(list, json_pack("{s:I, s:I, s:o}", "line",
                                              (json_int_t)note->problems[i].line, "column",
                                              (json_int_t)note->problems[i].column, "text",
                                              foreign(note->problems[i].text)));
    return list;
}

/* The first lines as they stand. */
static json_t *first_lines(pp_server *server, const char *path)
{
    char bytes[FIRST_BYTES + 1], name[PP_BENEATH_PATH_MAX];
    json_t *list = json_array();
    if (!pp_beneath_join(server->folder, "", path, name)) return list;
    int handle = pp_beneath_open_file(server->root, name, NULL);
    ssize_t got = handle >= 0 ? read(handle, bytes, FIRST_BYTES) : 0;
    if (handle >= 0) close(handle);
    bytes[got > 0 ? got : 0] = '\0';
    char *rest = bytes;
    for (int i = 0; i < FIRST_LINES && rest && *rest; i++) {
        char *line = strsep(&rest, "\n");
        line[strcspn(line, "\r")] = '\0';
        json_array_append_new(list, foreign(line));
    }
    return list;
}

static json_t *tell_note(const pp_table_note *note)
{
    const pp_table_reading *r = &note->reading;
    char delimiter[2] = {r->delimiter, '\0'}, decimal[2] = {r->decimal, '\0'};
    json_t *told =
        json_pack("{s:s, s:s, s:I, s:I}", "delimiter", delimiter, "decimal", decimal, "header_line",
                  (json_int_t)r->header_line, "rows", (json_int_t)r->rows);
    json_object_set_new(told, "used", tell_used(r));
    json_object_set_new(told, "ignored", tell_texts(r->ignored, r->ignored_count));
    json_object_set_new(told, "skipped", tell_skipped(r));
    json_object_set_new(told, "problems", tell_problems(note));
    json_object_set_new(told, "more", json_boolean(note->more));
    json_object_set_new(told, "remarks", tell_texts(note->remarks, note->remark_count));
    return told;
}

static json_t *tell_file(pp_server *server, const pp_job *job, const char *role, pp_memory *memory)
{
    pp_table_note note = {0};
    pp_error why = {0};
    const pp_job_file *file = pp_list_preview_file(job, role);
    json_t *told = pp_list_preview(job, role, 1, memory, &note, &why) == PP_OK
                       ? tell_note(&note)
                       : json_pack("{s:[{s:i, s:i, s:o}]}", "problems", "line", 0, "column", 0,
                                   "text", foreign(why.message));
    json_object_set_new(told, "role", json_string(role));
    json_object_set_new(told, "file", foreign(file->written));
    json_object_set_new(told, "first", first_lines(server, file->path));
    return told;
}

pp_status pp_form_files(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    pp_memory memory = {0};
    pp_job job;
    pp_status status = pp_form_job(server, asked, &memory, &job, error);
    if (status == PP_OK) {
        json_t *list = json_array();
        for (size_t i = 0; pp_list_preview_role(i); i++)
            if (pp_list_preview_file(&job, pp_list_preview_role(i))->path)
                json_array_append_new(list,
                                      tell_file(server, &job, pp_list_preview_role(i), &memory));
        *answer = json_pack("{s:o}", "files", list);
    }
    pp_memory_free(&memory);
    return status;
}
