#include "serve/child.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { STEPS = 3 }; /* the child's handle for its steps */

/* Address space of one run: a plate of ten million readings takes about a third. Sanitizers map
 * far more than they use. */
#ifndef PLATEPROOF_SANITIZED
static const rlim_t ROOM = (rlim_t)8 << 30;
#endif

double pp_child_clock(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void close_ends(int ends[2])
{
    for (int i = 0; i < 2; i++)
        if (ends[i] >= 0) close(ends[i]);
}

/* steps, words: -1 where nobody listens. */
static int spawn(pid_t *child, char *const argv[], int steps, int words, int errors)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t how;
    sigset_t none;
    sigemptyset(&none);
    if (posix_spawn_file_actions_init(&files) != 0) return ENOMEM;
    if (posix_spawnattr_init(&how) != 0) {
        posix_spawn_file_actions_destroy(&files);
        return ENOMEM;
    }
    posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    if (words >= 0)
        posix_spawn_file_actions_adddup2(&files, words, STDOUT_FILENO);
    else
        posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_adddup2(&files, errors, STDERR_FILENO);
    if (steps >= 0) posix_spawn_file_actions_adddup2(&files, steps, STEPS);
    posix_spawnattr_setsigmask(&how, &none);
    posix_spawnattr_setpgroup(&how, 0); /* the terminal's Ctrl-C is for the server */
    posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
    /* the very program that runs, also where its file was replaced since */
    int failed = posix_spawn(child, "/proc/self/exe", &files, &how, argv, environ);
    posix_spawnattr_destroy(&how);
    posix_spawn_file_actions_destroy(&files);
    return failed;
}

/* The command line: words[] points into `line`. False: too many words, or memory ran out. */
static bool make_words(const pp_run_order *order, const char *top, pp_text *line, char *words[])
{
    size_t begins[PP_RUN_WORDS_MAX], count = 0;
    const char *const own[] = {"--quiet", "--progress-fd", "3"};
    size_t own_count = order->steps ? 3 : order->kind->tells ? 0 : 1;
    const char *end = order->words.data + order->words.length;
    for (const char *word = order->words.data; word < end; word += strlen(word) + 1) {
        if (count + own_count + 1 >= PP_RUN_WORDS_MAX) return false;
        begins[count++] = line->length;
        if (*word == '/') pp_text_add(line, top);
        pp_text_add_bytes(line, word, strlen(word) + 1);
    }
    for (size_t i = 0; i < own_count; i++) {
        begins[count++] = line->length;
        pp_text_add_bytes(line, own[i], strlen(own[i]) + 1);
    }
    if (line->failed) return false;
    for (size_t i = 0; i < count; i++) words[i] = line->data + begins[i];
    words[count] = NULL;
    return true;
}

bool pp_child_start(pp_child_run *run, const char *top)
{
    char program[] = "plateproof", *words[PP_RUN_WORDS_MAX + 1] = {program};
    int steps[2] = {-1, -1}, errors[2] = {-1, -1};
    pp_text line = {0};
    int failed = make_words(&run->order, top, &line, words + 1) ? 0 : E2BIG;
    if (!failed && (pipe2(steps, O_CLOEXEC) != 0 || pipe2(errors, O_CLOEXEC) != 0)) failed = errno;
    /* dup2 of a handle onto itself would leave it closed in the child */
    int writes = failed ? -1 : fcntl(steps[1], F_DUPFD_CLOEXEC, STEPS + 1);
    if (!failed && writes < 0) failed = errno;
    if (!failed)
        failed = spawn(&run->child, words, run->order.steps ? writes : -1,
                       run->order.kind->tells ? errors[1] : -1, errors[1]);
    if (writes >= 0) close(writes);
    pp_text_free(&line);
    if (failed) {
        close_ends(steps);
        close_ends(errors);
        pp_text_print(&run->said, "no process could be started (%s)", strerror(failed));
        return false;
    }
#ifndef PLATEPROOF_SANITIZED
    prlimit(run->child, RLIMIT_AS, &(struct rlimit){ROOM, ROOM}, NULL);
#endif
    close(steps[1]);
    close(errors[1]);
    run->steps = steps[0];
    run->errors = errors[0];
    fcntl(run->steps, F_SETFL, O_NONBLOCK);
    fcntl(run->errors, F_SETFL, O_NONBLOCK);
    return true;
}

/* ---- what it tells ---- */

static void note_stage(pp_child_run *run, const char *name, double share)
{
    pp_run_stage *last = run->stage_count ? &run->stages[run->stage_count - 1] : NULL;
    if (last && strncmp(last->name, name, sizeof last->name - 1) == 0) {
        last->share = share;
        return;
    }
    if (last) last->share = 1;
    if (run->stage_count == PP_RUN_STAGES_MAX) return;
    pp_run_stage *stage = &run->stages[run->stage_count++];
    *stage = (pp_run_stage){.begun = pp_child_clock() - run->begun, .share = share};
    snprintf(stage->name, sizeof stage->name, "%s", name);
}

static void take_lines(pp_child_run *run)
{
    size_t begin = 0;
    for (size_t i = 0; i < run->line.length; i++) {
        if (run->line.data[i] != '\n') continue;
        json_t *line = json_loadb(run->line.data + begin, i - begin, 0, NULL);
        const char *name = json_string_value(json_object_get(line, "stage"));
        if (name) note_stage(run, name, json_number_value(json_object_get(line, "share")));
        json_decref(line);
        begin = i + 1;
    }
    memmove(run->line.data, run->line.data + begin, run->line.length - begin);
    run->line.length -= begin;
}

/* Everything that is there now; at the end the handle is closed. */
static bool drain(int *handle, pp_text *text, size_t most)
{
    char piece[4096];
    bool came = false;
    while (*handle >= 0) {
        ssize_t got = read(*handle, piece, sizeof piece);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0 && errno == EAGAIN) break;
        if (got <= 0) {
            close(*handle);
            *handle = -1;
            break;
        }
        came = true;
        size_t room = text->length < most ? most - text->length : 0;
        if (room) pp_text_add_bytes(text, piece, (size_t)got < room ? (size_t)got : room);
    }
    return came;
}

bool pp_child_read(pp_child_run *run)
{
    enum { LINES_MAX = 1 << 20 };
    bool steps = drain(&run->steps, &run->line, LINES_MAX);
    if (steps && !run->line.failed) take_lines(run);
    return drain(&run->errors, &run->said, PP_RUN_SAID_MAX) || steps;
}

bool pp_child_gone(pp_child_run *run)
{
    int how;
    if (waitpid(run->child, &how, WNOHANG) != run->child) return false;
    pp_child_read(run);
    if (run->steps >= 0) close(run->steps);
    if (run->errors >= 0) close(run->errors);
    run->steps = run->errors = -1;
    run->child = 0;
    run->status = WIFEXITED(how) ? WEXITSTATUS(how) : 128 + WTERMSIG(how);
    if (run->status < 2 && run->stage_count) run->stages[run->stage_count - 1].share = 1;
    return true;
}
