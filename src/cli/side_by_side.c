#include "cli/side_by_side.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cli/session.h"

enum {
    SEATS_MAX = 128, /* each has three files open */
    OUT = 0,
    ERR,
    ROW,
    FILES,
    COPY_BYTES = 1 << 16
};

/* A job that was begun and whose turn to be handed on has not come */
typedef struct seat {
    pid_t process; /* 0: it has ended */
    int file[FILES];
    int wait_status;
} seat;

typedef struct side {
    const pp_side_work *work;
    int seats;               /* of the ring; a job sits at its number modulo this */
    int begun, handed, busy; /* jobs begun, handed on; processes running */
    bool stopping;
    int ended_by;
    seat seat[SEATS_MAX];
} side;

static void close_files(seat *s)
{
    for (int k = 0; k < FILES; k++)
        if (s->file[k] >= 0) close(s->file[k]);
}

static bool open_files(seat *s)
{
    for (int k = 0; k < FILES; k++) s->file[k] = -1;
    for (int k = 0; k < FILES; k++) {
        s->file[k] = memfd_create("plateproof", MFD_CLOEXEC);
        if (s->file[k] < 0) return false;
    }
    return true;
}

static bool write_all(int file, const char *data, size_t length)
{
    while (length > 0) {
        ssize_t written = write(file, data, length);
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) return false;
        data += written;
        length -= (size_t)written;
    }
    return true;
}

/* In the new process: never returns. */
static void be_job(const side *d, const seat *s, int job, pid_t program)
{
    pp_text row = {0};
    pp_session_release_signals();
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    if (getppid() != program) exit(EXIT_FAILURE); /* it ended in between */
    dup2(s->file[OUT], STDOUT_FILENO);
    dup2(s->file[ERR], STDERR_FILENO);
    int status = d->work->run(d->work->context, job, &row);
    if (row.length > 0) write_all(s->file[ROW], row.data, row.length);
    pp_text_free(&row);
    exit(pp_session_end(status));
}

static pp_status begin(side *d, pp_error *error)
{
    seat *s = &d->seat[d->begun % d->seats];
    *s = (seat){0};
    fflush(stdout);
    fflush(stderr);
    pid_t program = getpid(), process = open_files(s) ? fork() : -1;
    if (process < 0) {
        int why = errno;
        close_files(s);
        return pp_fail(error, PP_EIO, "could not begin another job: %s; use fewer --threads",
                       strerror(why));
    }
    if (process == 0) be_job(d, s, d->begun, program);
    s->process = process;
    d->begun++;
    d->busy++;
    return PP_OK;
}

static void copy_out(int file, FILE *to)
{
    char bytes[COPY_BYTES];
    ssize_t got;
    lseek(file, 0, SEEK_SET);
    while ((got = read(file, bytes, sizeof bytes)) > 0) fwrite(bytes, 1, (size_t)got, to);
    fflush(to);
}

static void read_row(int file, pp_text *row)
{
    char bytes[COPY_BYTES];
    ssize_t got;
    lseek(file, 0, SEEK_SET);
    while ((got = read(file, bytes, sizeof bytes)) > 0) pp_text_add_bytes(row, bytes, (size_t)got);
}

/* Hand on what has ended, in the order of the jobs. */
static void hand_on(side *d)
{
    while (d->handed < d->begun && d->seat[d->handed % d->seats].process == 0) {
        seat *s = &d->seat[d->handed % d->seats];
        bool killed = WIFSIGNALED(s->wait_status);
        pp_text row = {0};
        d->work->clear(d->work->context);
        copy_out(s->file[OUT], stdout);
        copy_out(s->file[ERR], stderr);
        read_row(s->file[ROW], &row);
        close_files(s);
        int status = killed ? 0 : WEXITSTATUS(s->wait_status);
        int signal = killed ? WTERMSIG(s->wait_status) : 0;
        if (!d->stopping && !d->work->done(d->work->context, d->handed, status, signal, &row))
            d->stopping = true;
        pp_text_free(&row);
        d->handed++;
    }
}

static void pass_on(const side *d, int signal)
{
    for (int job = d->handed; job < d->begun; job++) {
        pid_t process = d->seat[job % d->seats].process;
        if (process > 0) kill(process, signal);
    }
}

static bool asks_to_end(int signal)
{
    return signal == SIGINT || signal == SIGTERM || signal == SIGHUP || signal == SIGPIPE;
}

/* Wait until some job has ended, or a signal has come. */
static void wait_for_one(side *d)
{
    int status;
    pid_t process = waitpid(-1, &status, 0);
    if (process < 0 || (!WIFEXITED(status) && !WIFSIGNALED(status))) return;
    for (int job = d->handed; job < d->begun; job++) {
        seat *s = &d->seat[job % d->seats];
        if (s->process != process) continue;
        s->process = 0;
        s->wait_status = status;
        d->busy--;
    }
    if (WIFSIGNALED(status) && asks_to_end(WTERMSIG(status)) && !d->stopping) {
        d->ended_by = WTERMSIG(status);
        d->stopping = true;
        pass_on(d, SIGTERM);
    }
}

pp_status pp_side_by_side(const pp_side_work *work, int *ended_by, pp_error *error)
{
    side d = {.work = work};
    int most = work->at_once < SEATS_MAX / 2 ? work->at_once : SEATS_MAX / 2;
    pp_status status = PP_OK;
    d.seats = 2 * most; /* so that a long job does not hold up the others at once */
    pp_session_catch_signals();
    while (d.busy > 0 || (!d.stopping && d.begun < work->count)) {
        if (pp_session_stopped(NULL) && !d.stopping) {
            d.stopping = true;
            pass_on(&d, SIGTERM);
        }
        bool more = !d.stopping && d.begun < work->count;
        if (more && d.busy < most && d.begun - d.handed < d.seats) {
            status = begin(&d, error);
            if (status != PP_OK) d.stopping = true; /* those under way are waited for */
        } else if (d.busy > 0) {
            wait_for_one(&d);
        }
        hand_on(&d);
    }
    *ended_by = d.ended_by;
    return status;
}
