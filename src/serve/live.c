#include "serve/live.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

#include "serve/child.h"
#include "serve/orders.h"

static const double STANDS_STILL = 0.3; /* seconds */

bool pp_live_begin(pp_live *live, int root, pp_runs *runs)
{
    *live =
        (pp_live){.root = root, .runs = runs, .notices = inotify_init1(IN_NONBLOCK | IN_CLOEXEC)};
    pthread_mutex_init(&live->lock, NULL);
    live->job = calloc(PP_LIVE_MAX, sizeof *live->job);
    return live->job != NULL;
}

void pp_live_end(pp_live *live)
{
    if (live->notices >= 0) close(live->notices);
    free(live->job);
    *live = (pp_live){.notices = -1};
}

/* ---- what is followed ---- */

/* Notices of the folder that the file stands in; where there are none, looking is enough. */
static void want_notices(const pp_live *live, const char *path)
{
    char folder[PP_BENEATH_PATH_MAX], place[64];
    const char *slash = strrchr(path, '/');
    if (live->notices < 0) return;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - path) : 0, path);
    int handle = pp_beneath_open(live->root, folder, O_RDONLY | O_DIRECTORY);
    if (handle < 0) return;
    snprintf(place, sizeof place, "/proc/self/fd/%d", handle); /* the very folder that was opened */
    inotify_add_watch(live->notices, place, IN_CLOSE_WRITE | IN_MOVED_TO);
    close(handle);
}

static pp_live_job *find(pp_live *live, const char *job)
{
    for (int i = 0; live->job && i < PP_LIVE_MAX; i++)
        if (strcmp(live->job[i].job, job) == 0) return &live->job[i];
    return NULL;
}

bool pp_live_follow(pp_live *live, const char *job, int file_count,
                    const char (*files)[PP_BENEATH_PATH_MAX])
{
    pthread_mutex_lock(&live->lock);
    pp_live_job *place = find(live, job);
    if (!place) place = find(live, "");
    if (place) {
        *place = (pp_live_job){.file_count =
                                   file_count < PP_LIVE_FILES_MAX ? file_count : PP_LIVE_FILES_MAX};
        snprintf(place->job, sizeof place->job, "%s", job);
        for (int i = 0; i < place->file_count; i++) {
            snprintf(place->file[i], sizeof place->file[i], "%s", files[i]);
            want_notices(live, files[i]);
        }
    }
    pthread_mutex_unlock(&live->lock);
    pp_runs_note(live->runs);
    return place != NULL;
}

void pp_live_leave(pp_live *live, const char *job)
{
    pthread_mutex_lock(&live->lock);
    pp_live_job *place = *job ? find(live, job) : NULL;
    if (place) *place = (pp_live_job){0};
    pthread_mutex_unlock(&live->lock);
    pp_runs_note(live->runs);
}

json_t *pp_live_tell(pp_live *live)
{
    json_t *list = json_array();
    pthread_mutex_lock(&live->lock);
    for (int i = 0; live->job && i < PP_LIVE_MAX; i++)
        if (live->job[i].job[0]) json_array_append_new(list, json_string(live->job[i].job));
    pthread_mutex_unlock(&live->lock);
    return list;
}

/* ---- looking ---- */

bool pp_live_any(pp_live *live)
{
    bool any = false;
    pthread_mutex_lock(&live->lock);
    for (int i = 0; live->job && i < PP_LIVE_MAX; i++) any |= live->job[i].job[0] != '\0';
    pthread_mutex_unlock(&live->lock);
    return any;
}

int pp_live_wanted(const pp_live *live) { return live->notices; }

/* Inodes, sizes and times of a job's files in one number (FNV-1a, 64 bits); never 0. */
static unsigned long long state_of(const pp_live *live, const pp_live_job *job)
{
    unsigned long long state = 14695981039346656037ULL;
    for (int i = 0; i < job->file_count; i++) {
        struct stat found;
        long long facts[4] = {0};
        int handle = pp_beneath_open(live->root, job->file[i], O_PATH);
        if (handle >= 0 && fstat(handle, &found) == 0) {
            facts[0] = (long long)found.st_ino;
            facts[1] = (long long)found.st_size;
            facts[2] = (long long)found.st_mtim.tv_sec;
            facts[3] = found.st_mtim.tv_nsec;
        }
        if (handle >= 0) close(handle);
        const unsigned char *bytes = (const unsigned char *)facts;
        for (size_t k = 0; k < sizeof facts; k++) state = (state ^ bytes[k]) * 1099511628211ULL;
    }
    return state ? state : 1;
}

/* Whether any file was closed after writing, or moved to its place. */
static bool take_notices(const pp_live *live)
{
    char events[4096];
    bool came = false;
    while (live->notices >= 0 && read(live->notices, events, sizeof events) > 0) came = true;
    return came;
}

static void look_at(pp_live *live, pp_live_job *job, bool whole)
{
    unsigned long long now = state_of(live, job);
    double clock = pp_child_clock();
    if (now != job->seen) job->seen = now, job->since = clock;
    if (now == job->ran_for) return;
    bool first = job->ran_for == 0;
    if (!first && !whole && clock - job->since < STANDS_STILL) return;
    pp_run_order order = pp_order_live(job->job);
    if (pp_runs_ask(live->runs, &order) > 0) job->ran_for = now;
}

void pp_live_look(pp_live *live)
{
    bool whole = take_notices(live);
    pthread_mutex_lock(&live->lock);
    for (int i = 0; live->job && i < PP_LIVE_MAX; i++)
        if (live->job[i].job[0]) look_at(live, &live->job[i], whole);
    pthread_mutex_unlock(&live->lock);
}
