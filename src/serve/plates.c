#include "serve/plates.h"

#include <errno.h>
#include <fcntl.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/text.h"
#include "input/job/ini.h"
#include "serve/beneath.h"
#include "serve/child.h"
#include "serve/kinds.h"
#include "serve/scan.h"
#include "serve/standing.h"

enum { SURELY_READ = 50 };          /* new entries of one list */
static const double PATIENCE = 0.2; /* seconds until the rest is left for the next */

void pp_plates_begin(pp_plates *plates)
{
    pthread_mutex_init(&plates->lock, NULL);
    plates->known = json_object();
}

void pp_plates_end(pp_plates *plates)
{
    json_decref(plates->known);
    plates->known = NULL;
}

/* ---- reading a job file ---- */

pp_status pp_plates_text(int root, const char *path, pp_memory *memory, const char **text,
                         size_t *length, pp_error *error)
{
    struct stat found;
    int handle = pp_beneath_open_file(root, path, &found);
    if (handle < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be opened (%s)", strerror(errno));
    char *bytes = NULL;
    ssize_t got = -1;
    if (found.st_size <= PP_INI_FILE_MAX) {
        bytes = pp_arena_take(&memory->keep, (size_t)found.st_size + 1, 1);
        if (bytes) got = read(handle, bytes, (size_t)found.st_size);
    }
    close(handle);
    if (found.st_size > PP_INI_FILE_MAX)
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "is larger than any job file; choose another");
    if (!bytes) return pp_fail_memory(error);
    if (got < 0) return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read");
    bytes[got] = '\0';
    *text = bytes;
    *length = (size_t)got;
    return PP_OK;
}

pp_status pp_plates_job(const char *top, int root, const char *path, pp_memory *memory, pp_job *job,
                        pp_error *error)
{
    const char *text;
    size_t length;
    PP_TRY(pp_plates_text(root, path, memory, &text, &length, error));
    const char *whole = pp_text_kept(&memory->keep, "%s/%s", top, path);
    if (!whole) return pp_fail_memory(error);
    return pp_job_parse(whole, text, length, memory, job, error);
}

typedef enum ini_kind { NO_JOB, A_JOB, A_SET } ini_kind;

/* A bundle's set and a rule file are .ini too: a job has a section that they have not. What can't
 * be read is a job: it says why. */
static ini_kind kind_of(int root, const char *path, pp_memory *memory, pp_ini *ini)
{
    static const char *const OURS[] = {"plate", "survey", "holes", "stack"};
    const char *text;
    size_t length;
    *ini = (pp_ini){0};
    if (pp_plates_text(root, path, memory, &text, &length, NULL) != PP_OK) return A_JOB;
    if (pp_ini_parse(path, text, length, memory, ini, NULL) != PP_OK) return A_JOB;
    ini_kind kind = NO_JOB;
    for (size_t s = 0; s < ini->section_count; s++) {
        if (strcmp(ini->sections[s].name, "bundle") == 0) return A_SET;
        for (size_t i = 0; i < sizeof OURS / sizeof *OURS; i++)
            if (strcmp(ini->sections[s].name, OURS[i]) == 0) kind = A_JOB;
    }
    return kind;
}

bool pp_plates_is_set(int root, const char *path)
{
    pp_memory memory = {0};
    pp_ini ini;
    bool set = kind_of(root, path, &memory, &ini) == A_SET;
    pp_memory_free(&memory);
    return set;
}

/* ---- one row ---- */

static void set_text(json_t *row, const char *name, const char *text)
{
    if (text && *text) json_object_set_new(row, name, json_string(text));
}

static void tell_job(json_t *row, const pp_job *job)
{
    set_text(row, "title", job->title);
    set_text(row, "plate", job->plate_id);
    set_text(row, "role", job->plate_role);
    set_text(row, "order", job->order);
    set_text(row, "drawing", job->drawing);
    set_text(row, "stage", job->stage);
    set_text(row, "inspected", job->inspection_date);
    set_text(row, "machine", job->machine.name);
}

/* Of a set its own words; what is wrong with it is told when it is run. */
static void tell_set(json_t *row, const pp_ini *ini)
{
    static const char *const WANTED[][2] = {{"title", "title"},
                                            {"order", "order"},
                                            {"drawing", "drawing"},
                                            {"inspection_date", "inspected"}};
    json_object_set_new(row, "bundle", json_true());
    for (size_t e = 0; e < ini->entry_count; e++)
        for (size_t i = 0; i < sizeof WANTED / sizeof *WANTED; i++)
            if (strcmp(ini->entries[e].key, WANTED[i][0]) == 0)
                set_text(row, WANTED[i][1], ini->entries[e].value);
}

/* The problem as a person at the screen can use it: the line, and not where the folder is. */
static void tell_problem(json_t *row, const pp_error *error)
{
    char text[PP_ERROR_TEXT_MAX + 32];
    if (error->line)
        snprintf(text, sizeof text, "line %ld: %s", error->line, error->message);
    else
        snprintf(text, sizeof text, "%s", error->message);
    set_text(row, "problem", text);
}

/* {"row", "inputs"} of a job, read anew; no row: no job. */
static json_t *read_entry(const char *top, int root, const char *path, const char *report)
{
    pp_memory memory = {0};
    pp_job job;
    pp_error error = {0};
    pp_ini ini;
    json_t *row = json_pack("{s:s}", "job", path), *entry = json_object(), *results = NULL;
    ini_kind kind = kind_of(root, path, &memory, &ini);
    if (kind == A_SET)
        tell_set(row, &ini);
    else if (kind == A_JOB && pp_plates_job(top, root, path, &memory, &job, &error) == PP_OK)
        tell_job(row, &job);
    else
        tell_problem(row, &error);
    pp_memory_free(&memory);
    if (kind != NO_JOB) results = pp_standing_read(root, report);
    if (results) {
        json_t *facts = pp_standing_facts(results);
        json_object_update(row, facts);
        json_decref(facts);
        set_text(row, "report", report);
        json_object_set_new(entry, "inputs", pp_standing_inputs(results, top, path));
    }
    json_decref(results);
    if (kind != NO_JOB) json_object_set(entry, "row", row);
    json_decref(row);
    return entry;
}

/* What is kept of it: its key, a new line, and the entry as text. Text, and copied once all that
 * was read is given back: thousands of small pieces would each hold on to the room that a large
 * results.json took around them. */
static json_t *make_kept(const char *top, int root, const char *path, const char *report,
                         const char *key)
{
    json_t *entry = read_entry(top, root, path, report);
    char *text = json_dumps(entry, JSON_COMPACT);
    json_decref(entry);
    json_t *kept = text ? json_sprintf("%s\n%s", key, text) : NULL;
    free(text);
    return kept;
}

/* Which file a name leads to and when it was last written, as letters; "" where there is none. */
static void key_of(int root, const char *path, char key[80], struct timespec *when)
{
    struct stat found;
    int handle = pp_beneath_open(root, path, O_PATH);
    key[0] = '\0';
    if (handle < 0) return;
    if (fstat(handle, &found) == 0) {
        snprintf(key, 80, "%llu.%lld.%lld.%ld", (unsigned long long)found.st_ino,
                 (long long)found.st_size, (long long)found.st_mtim.tv_sec, found.st_mtim.tv_nsec);
        *when = found.st_mtim;
    }
    close(handle);
}

/* How much may still be read before the list has to be told. */
typedef struct patience {
    int sure;     /* entries that are read in any case */
    double until; /* pp_child_clock */
} patience;

static bool runs_out(patience *p) { return p->sure-- <= 0 && pp_child_clock() > p->until; }

/* The kept row of a job, made anew where its files are others; NULL: no job. */
static json_t *row_of(pp_plates *plates, const char *top, int root, const char *path,
                      patience *left, pp_arena *arena)
{
    char of_job[80], of_results[80], key[161], results[PP_BENEATH_PATH_MAX];
    struct timespec unused, ran = {0};
    const char *report = pp_kind_folder(&pp_kind_report, path, arena);
    if (!report || !pp_beneath_join("", report, "results.json", results)) return NULL;
    key_of(root, path, of_job, &unused);
    key_of(root, results, of_results, &ran);
    snprintf(key, sizeof key, "%s %s", of_job, of_results);
    size_t length = strlen(key);
    const char *kept = json_string_value(json_object_get(plates->known, path));
    if (!kept || strncmp(kept, key, length) != 0 || kept[length] != '\n') {
        if (runs_out(left)) return json_pack("{s:s, s:b}", "job", path, "reading", 1);
        json_object_set_new(plates->known, path, make_kept(top, root, path, report, key));
        kept = json_string_value(json_object_get(plates->known, path));
    }
    json_t *entry = kept ? json_loads(kept + length + 1, 0, NULL) : NULL;
    json_t *row = json_incref(json_object_get(entry, "row"));
    json_t *inputs = json_object_get(entry, "inputs");
    if (row && inputs && ran.tv_sec) {
        json_object_set_new(row, "ran", json_integer((json_int_t)ran.tv_sec));
        json_object_set_new(row, "changed", pp_standing_newer(root, inputs, ran));
    }
    json_decref(entry);
    return row;
}

/* Forget jobs that are gone, once there are many. */
static void forget(pp_plates *plates, const pp_scan *scan)
{
    if (json_object_size(plates->known) <= 2 * scan->count + 100) return;
    json_object_clear(plates->known);
}

pp_status pp_plates_list(pp_plates *plates, const char *top, int root, json_t **list,
                         pp_error *error)
{
    pp_arena arena = {0};
    pp_scan scan;
    patience left = {SURELY_READ, pp_child_clock() + PATIENCE};
    pp_status status = pp_scan_folder(root, ".ini", &arena, &scan, error);
    if (status == PP_OK) {
        json_t *rows = json_array();
        pthread_mutex_lock(&plates->lock);
        forget(plates, &scan);
        for (size_t i = 0; i < scan.count; i++) {
            json_t *row = row_of(plates, top, root, scan.paths[i], &left, &arena);
            if (row) json_array_append_new(rows, row);
        }
        pthread_mutex_unlock(&plates->lock);
        if (left.sure < SURELY_READ) malloc_trim(0); /* much was read, and little is kept */
        *list = json_pack("{s:o, s:I}", "rows", rows, "more", (json_int_t)scan.more);
        if (!*list) status = pp_fail_memory(error);
    }
    pp_arena_free(&arena);
    return status;
}
