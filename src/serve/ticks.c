#include "serve/ticks.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/text.h"
#include "serve/beneath.h"
#include "serve/kinds.h"
#include "serve/standing.h"
#include "serve/store.h"

enum { FILE_MAX = 16 * 1024 * 1024 };
static const char FORMAT[] = "plateproof-ticks";

/* One plate's work list and its ticks. */
typedef struct ticks {
    json_t *results;     /* NULL: no report */
    json_t *rows;        /* of the work list, borrowed from results; NULL: nothing to do */
    char of_results[65]; /* which result they are about */
    const char *path;    /* of the file of ticks */
    json_t *ticks;       /* by key_of: {"hole", "extra", "todo", "when"}, of this very result */
    size_t before;       /* ticks of another result */
    pp_memory memory;
} ticks;

static const char *text_of(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

/* What tells a row of the list from every other. */
static const char *key_of(ticks *t, const json_t *row)
{
    const char *key =
        pp_text_kept(&t->memory.scratch, "%s\n%d\n%s", text_of(row, "todo"),
                     json_is_true(json_object_get(row, "extra")), text_of(row, "hole"));
    return key ? key : "";
}

static pp_status read_ticks(int root, ticks *t, pp_error *error)
{
    struct stat found;
    t->ticks = json_object();
    int handle = pp_beneath_open_file(root, t->path, &found);
    if (handle < 0) return PP_OK; /* nothing was ticked yet */
    json_t *file = NULL;
    if (found.st_size <= FILE_MAX)
        file = pp_standing_load(handle);
    else
        close(handle);
    if (strcmp(text_of(file, "format"), FORMAT) != 0) {
        json_decref(file);
        return pp_fail_at(error, PP_EINPUT, t->path, 0, 0,
                          "is no list of ticks of this program; move it elsewhere");
    }
    json_t *kept = json_object_get(file, "ticks");
    bool ours = strcmp(text_of(file, "results"), t->of_results) == 0;
    size_t index;
    json_t *tick;
    json_array_foreach(kept, index, tick)
    {
        if (ours) json_object_set(t->ticks, key_of(t, tick), tick);
    }
    if (!ours) t->before = json_array_size(kept);
    json_decref(file);
    return PP_OK;
}

static void end_ticks(ticks *t)
{
    json_decref(t->results);
    json_decref(t->ticks);
    pp_memory_free(&t->memory);
}

static pp_status begin_ticks(pp_server *server, const json_t *asked, ticks *t, pp_error *error)
{
    char results[PP_BENEATH_PATH_MAX];
    const char *report = pp_kind_folder(&pp_kind_report, text_of(asked, "job"), &t->memory.keep);
    if (!report) return pp_fail_memory(error);
    t->path = pp_text_kept(&t->memory.keep, "%.*s-ticks.json",
                           (int)(strlen(report) - strlen("-report")), report);
    if (!t->path) return pp_fail_memory(error);
    t->results = pp_standing_read(server->root, report);
    if (!t->results || !pp_beneath_join("", report, "results.json", results) ||
        !pp_standing_hash(server->root, results, t->of_results))
        return PP_OK;
    const json_t *holes = json_object_get(t->results, "holes");
    t->rows = json_object_get(json_object_get(holes, "work_list"), "rows");
    return read_ticks(server->root, t, error);
}

static json_t *tell(ticks *t)
{
    json_t *rows = json_array(), *row;
    size_t index, done = 0;
    json_array_foreach(t->rows, index, row)
    {
        const json_t *tick = json_object_get(t->ticks, key_of(t, row));
        done += tick != NULL;
        if (index >= PP_TICKS_ROWS_MAX) continue;
        json_t *told = json_copy(row);
        json_object_set_new(told, "done",
                            json_integer(json_integer_value(json_object_get(tick, "when"))));
        json_array_append_new(rows, told);
    }
    return json_pack("{s:o, s:I, s:I, s:I}", "rows", rows, "count",
                     (json_int_t)json_array_size(t->rows), "done", (json_int_t)done, "before",
                     (json_int_t)t->before);
}

pp_status pp_ticks_read(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    ticks t = {0};
    pp_status status = begin_ticks(server, asked, &t, error);
    if (status == PP_OK) *answer = tell(&t);
    end_ticks(&t);
    return status;
}

/* Away with the tick of this row; `done`: and a new one of now. */
static pp_status change(ticks *t, const json_t *asked, pp_error *error)
{
    size_t index;
    json_t *row, *meant = NULL;
    const char *key = key_of(t, asked);
    json_array_foreach(t->rows, index, row)
    {
        if (strcmp(key_of(t, row), key) == 0) meant = row;
    }
    if (!meant)
        return pp_fail(error, PP_EINPUT,
                       "that hole is no longer on the work list; look at the plate again");
    json_object_del(t->ticks, key);
    if (json_is_true(json_object_get(asked, "done")))
        json_object_set_new(t->ticks, key,
                            json_pack("{s:s, s:b, s:s, s:I}", "hole", text_of(meant, "hole"),
                                      "extra", json_is_true(json_object_get(meant, "extra")),
                                      "todo", text_of(meant, "todo"), "when",
                                      (json_int_t)time(NULL)));
    return PP_OK;
}

static pp_status write_ticks(int root, ticks *t, pp_error *error)
{
    json_t *list = json_array(), *tick;
    const char *key;
    json_object_foreach(t->ticks, key, tick) { json_array_append(list, tick); }
    json_t *file = json_pack("{s:s, s:i, s:s, s:o}", "format", FORMAT, "version", 1, "results",
                             t->of_results, "ticks", list);
    char *text = json_dumps(file, JSON_INDENT(1));
    json_decref(file);
    if (!text) return pp_fail_memory(error);
    pp_status status = pp_store_write(root, t->path, text, strlen(text), error);
    free(text);
    t->before = 0;
    return status;
}

pp_status pp_ticks_set(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    ticks t = {0};
    pthread_mutex_lock(&server->save_lock); /* two tick at once: none is lost */
    pp_status status = begin_ticks(server, asked, &t, error);
    if (status == PP_OK) status = change(&t, asked, error);
    if (status == PP_OK) status = write_ticks(server->root, &t, error);
    pthread_mutex_unlock(&server->save_lock);
    if (status == PP_OK) *answer = tell(&t);
    end_ticks(&t);
    return status;
}
