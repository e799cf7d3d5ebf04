#include "serve/fence.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "input/job/ini.h"
#include "input/job/job_files.h"
#include "serve/beneath.h"
#include "serve/plates.h"

typedef struct fence {
    const char *top;
    int root;
    const char *job;
} fence;

static bool leads_out(const fence *f, const char *folder, const char *name)
{
    char path[PP_BENEATH_PATH_MAX];
    if (!pp_beneath_join(f->top, folder, name, path)) return true;
    int handle = pp_beneath_open(f->root, path, O_PATH);
    if (handle >= 0) close(handle);
    return handle < 0 && (errno == EXDEV || errno == ELOOP || errno == EINVAL);
}

static pp_status refuse(const fence *f, const char *written, long line, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, f->job, line, 0,
                      "%s is outside the folder that is shown here; copy it into the folder, or "
                      "run this job in the terminal",
                      written);
}

static pp_status check_file(void *context, pp_job_file *file, pp_error *error)
{
    const fence *f = context;
    return leads_out(f, "", file->path) ? refuse(f, file->written, file->line, error) : PP_OK;
}

static pp_status check_rules(const fence *f, const char *set, long line, pp_error *error)
{
    char folder[PP_BENEATH_PATH_MAX];
    const char *slash = strrchr(f->job, '/');
    if (!set || (!strchr(set, '/') && !strchr(set, '.'))) return PP_OK; /* a built-in's name */
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - f->job) : 0, f->job);
    return leads_out(f, folder, set) ? refuse(f, set, line, error) : PP_OK;
}

pp_status pp_fence_check(const char *top, int root, const char *path, pp_job *job, pp_error *error)
{
    fence f = {top, root, path};
    PP_TRY(pp_job_each_file(job, check_file, &f, error));
    PP_TRY(check_rules(&f, job->rules.set, job->rules.set_line, error));
    return check_rules(&f, job->plate.flatness_rule, pp_job_key_line(job, "plate", "flatness_rule"),
                       error);
}

/* A job that the set names, seen from the set. */
static pp_status check_job_of_set(const fence *f, const char *folder, const char *written,
                                  pp_memory *memory, pp_error *error)
{
    char path[PP_BENEATH_PATH_MAX];
    pp_job job;
    if (!pp_beneath_join(f->top, folder, written, path))
        return pp_fail(error, PP_EINPUT, "%.200s leads out of the folder", written);
    PP_TRY(pp_plates_job(f->top, f->root, path, memory, &job, error));
    return pp_fence_check(f->top, f->root, path, &job, error);
}

pp_status pp_fence_check_set(const char *top, int root, const char *path, pp_memory *memory,
                             pp_error *error)
{
    static const char *const NAMING[] = {"job", "nominal", "measured", "places"};
    fence f = {top, root, path};
    char folder[PP_BENEATH_PATH_MAX];
    const char *slash = strrchr(path, '/'), *text;
    size_t length;
    pp_ini ini;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - path) : 0, path);
    PP_TRY(pp_plates_text(root, path, memory, &text, &length, error));
    PP_TRY(pp_ini_parse(path, text, length, memory, &ini, error));
    for (size_t e = 0; e < ini.entry_count; e++) {
        const pp_ini_entry *entry = &ini.entries[e];
        for (size_t i = 0; i < sizeof NAMING / sizeof *NAMING; i++)
            if (strcmp(entry->key, NAMING[i]) == 0 && *entry->value &&
                leads_out(&f, folder, entry->value))
                return refuse(&f, entry->value, entry->line, error);
        if (strcmp(entry->key, "job") == 0 && *entry->value)
            PP_TRY(check_job_of_set(&f, folder, entry->value, memory, error));
    }
    return PP_OK;
}

const char *pp_fence_command(const pp_job *job)
{
    if (job->layer_count > 0) return "stack";
    return job->roughing.measured.path ? "roughing" : "inspect";
}
