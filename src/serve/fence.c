#include "serve/fence.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "input/job/job_files.h"
#include "serve/beneath.h"

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

const char *pp_fence_command(const pp_job *job)
{
    if (job->layer_count > 0) return "stack";
    return job->roughing.measured.path ? "roughing" : "inspect";
}
