#include "cli/side_by_side.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cli/session.h"

enum { OUT, ERR, ROW, FILES };
enum {
    WORKERS_MAX = 64,
    SEATS_MAX = 2 * WORKERS_MAX,
    JOBS_EACH = 100, /* of a worker: libraries keep some memory of each (fontconfig 8 kB) */
    IDLE = -1
};

/* A process that does one job after the other: the libraries that draw and the fonts are opened
 * once, and memory that was touched is used again. */
typedef struct worker {
    pid_t process;   /* 0: none here */
    int link;        /* numbers of jobs go there, their statuses come back */
    int file[FILES]; /* in memory: what the job under way has put out */
    int job;         /* under way; IDLE */
    int jobs;        /* begun by it */
} worker;

/* A job that was begun and whose turn to be handed on has not come */
typedef struct seat {
    bool ended;
    int status, signal;
    pp_text put_out[FILES];
} seat;

typedef struct side {
    const pp_side_work *work;
    int most;                /* workers */
    int seats;               /* of the ring; a job sits at its number modulo this */
    int begun, handed, busy; /* jobs begun, handed on, under way */
    bool stopping;
    int ended_by;
    worker worker[WORKERS_MAX];
    seat seat[SEATS_MAX];
} side;

static seat *seat_of(side *d, int job) { return &d->seat[job % d->seats]; }

/* ---- in the worker's own process ---- */

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

static int do_job(const side *d, const worker *w, int job)
{
    pp_text row = {0};
    pp_session_release_signals();
    int status = d->work->run(d->work->context, job, &row);
    if (row.length > 0) write_all(w->file[ROW], row.data, row.length);
    pp_text_free(&row);
    fflush(stdout);
    fflush(stderr);
    return pp_session_end(status);
}

/* Never returns: it ends when the program closes the link. */
static void be_worker(const side *d, const worker *w, int link, pid_t program)
{
    int job;
    pp_session_release_signals();
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    if (getppid() != program) exit(EXIT_FAILURE); /* it ended in between */
    for (int k = 0; k < WORKERS_MAX; k++)
        if (d->worker[k].process > 0) close(d->worker[k].link);
    close(w->link);
    dup2(w->file[OUT], STDOUT_FILENO);
    dup2(w->file[ERR], STDERR_FILENO);
    while (recv(link, &job, sizeof job, 0) == (ssize_t)sizeof job) {
        int status = do_job(d, w, job);
        if (send(link, &status, sizeof status, MSG_NOSIGNAL) < 0) break;
    }
    exit(EXIT_SUCCESS);
}

/* ---- in the program's ---- */

static void close_files(worker *w)
{
    for (int k = 0; k < FILES; k++)
        if (w->file[k] >= 0) close(w->file[k]);
}

static bool open_files(worker *w)
{
    for (int k = 0; k < FILES; k++) w->file[k] = -1;
    for (int k = 0; k < FILES; k++) {
        w->file[k] = memfd_create("plateproof", MFD_CLOEXEC);
        if (w->file[k] < 0) return false;
    }
    return true;
}

static pp_status hire(const side *d, worker *w, pp_error *error)
{
    int ends[2] = {-1, -1};
    *w = (worker){.job = IDLE};
    fflush(stdout);
    fflush(stderr);
    pid_t program = getpid(), process = -1;
    if (open_files(w) && socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) == 0) {
        w->link = ends[0];
        process = fork();
    }
    if (process == 0) be_worker(d, w, ends[1], program);
    int why = errno;
    if (ends[1] >= 0) close(ends[1]);
    if (process > 0) {
        w->process = process;
        return PP_OK;
    }
    if (ends[0] >= 0) close(ends[0]);
    close_files(w);
    return pp_fail(error, PP_EIO, "could not begin another job: %s; use fewer --threads",
                   strerror(why));
}

static bool send_job(worker *w, int job)
{
    if (send(w->link, &job, sizeof job, MSG_NOSIGNAL) < 0) return false;
    w->job = job;
    w->jobs++;
    return true;
}

/* The whole file, which is empty from then on. */
static void take_file(int file, pp_text *text)
{
    struct stat about;
    if (fstat(file, &about) != 0 || about.st_size == 0) return;
    size_t length = (size_t)about.st_size;
    if (pp_text_reserve(text, length)) {
        ssize_t got = pread(file, text->data, length, 0);
        text->length = got > 0 ? (size_t)got : 0;
    }
    lseek(file, 0, SEEK_SET);
    if (ftruncate(file, 0) != 0) text->failed = true;
}

static void end_job(side *d, worker *w, int status, int signal)
{
    seat *s = seat_of(d, w->job);
    for (int k = 0; k < FILES; k++) take_file(w->file[k], &s->put_out[k]);
    /* what is missing of a job's words is told with its row */
    if (s->put_out[OUT].failed || s->put_out[ERR].failed) s->put_out[ROW].failed = true;
    s->status = status;
    s->signal = signal;
    s->ended = true;
    w->job = IDLE;
    d->busy--;
}

/* Hand on what has ended, in the order of the jobs. */
static void hand_on(side *d)
{
    while (d->handed < d->begun && seat_of(d, d->handed)->ended) {
        seat *s = seat_of(d, d->handed);
        d->work->clear(d->work->context);
        fwrite(s->put_out[OUT].data, 1, s->put_out[OUT].length, stdout);
        fflush(stdout);
        fwrite(s->put_out[ERR].data, 1, s->put_out[ERR].length, stderr);
        if (!d->stopping &&
            !d->work->done(d->work->context, d->handed, s->status, s->signal, &s->put_out[ROW]))
            d->stopping = true;
        for (int k = 0; k < FILES; k++) pp_text_free(&s->put_out[k]);
        *s = (seat){0};
        d->handed++;
    }
}

static void pass_on(const side *d, int signal)
{
    for (int k = 0; k < d->most; k++)
        if (d->worker[k].job != IDLE) kill(d->worker[k].process, signal);
}

static bool asks_to_end(int signal)
{
    return signal == SIGINT || signal == SIGTERM || signal == SIGHUP || signal == SIGPIPE;
}

/* Wait for the end of a worker whose link this closes: how it ended, as of waitpid. */
static int reap(worker *w)
{
    int how = 0;
    close(w->link);
    while (waitpid(w->process, &how, 0) < 0 && errno == EINTR) {}
    return how;
}

static void forget(worker *w)
{
    close_files(w);
    *w = (worker){.job = IDLE};
}

/* A worker has ended before it was told to, with its job if it had one. */
static void lose(side *d, worker *w)
{
    int how = reap(w), signal = WIFSIGNALED(how) ? WTERMSIG(how) : 0;
    if (w->job != IDLE) end_job(d, w, WIFEXITED(how) ? WEXITSTATUS(how) : 0, signal);
    forget(w);
    if (asks_to_end(signal) && !d->stopping) {
        d->ended_by = signal;
        d->stopping = true;
        pass_on(d, SIGTERM);
    }
}

/* A worker that is idle ends by itself once its link is closed. */
static pp_status dismiss(const side *d, worker *w, pp_error *error)
{
    int how = reap(w);
    forget(w);
    if (d->stopping || how == 0) return PP_OK;
    return pp_fail(error, PP_EIO, "a process of the jobs ended badly (%s %d)",
                   WIFSIGNALED(how) ? "signal" : "exit status",
                   WIFSIGNALED(how) ? WTERMSIG(how) : WEXITSTATUS(how));
}

/* The next job to a worker that is free, or to a new one. */
static pp_status begin(side *d, pp_error *error)
{
    worker *w = d->worker;
    while (w->process > 0 && w->job != IDLE) w++; /* fewer than `most` are busy */
    if (w->process > 0 && w->jobs == JOBS_EACH) PP_TRY(dismiss(d, w, error));
    if (w->process > 0 && !send_job(w, d->begun)) {
        lose(d, w); /* something ended it while it was idle */
        if (d->stopping) return PP_OK;
    }
    if (w->process == 0) {
        PP_TRY(hire(d, w, error));
        if (!send_job(w, d->begun))
            return pp_fail(error, PP_EIO, "could not begin another job: %s", strerror(errno));
    }
    *seat_of(d, d->begun) = (seat){0};
    d->begun++;
    d->busy++;
    return PP_OK;
}

/* Wait until some job or worker has ended, or a signal has come. */
static void wait_for_some(side *d)
{
    struct pollfd links[WORKERS_MAX];
    for (int k = 0; k < d->most; k++)
        links[k] = (struct pollfd){.fd = d->worker[k].process > 0 ? d->worker[k].link : -1,
                                   .events = POLLIN};
    int ready =
        d->stopping ? poll(links, (nfds_t)d->most, -1) : pp_session_poll(links, (nfds_t)d->most);
    if (ready <= 0) return;
    for (int k = 0; k < d->most; k++) {
        int status;
        worker *w = &d->worker[k];
        if (links[k].revents == 0) continue;
        if (recv(w->link, &status, sizeof status, 0) == (ssize_t)sizeof status)
            end_job(d, w, status, 0);
        else
            lose(d, w);
    }
}

pp_status pp_side_by_side(const pp_side_work *work, int *ended_by, pp_error *error)
{
    side d = {.work = work, .most = work->at_once < WORKERS_MAX ? work->at_once : WORKERS_MAX};
    pp_status status = PP_OK;
    d.seats = 2 * d.most; /* so that a long job does not hold up the others at once */
    for (int k = 0; k < d.most; k++) d.worker[k].job = IDLE;
    pp_session_catch_signals();
    while (d.busy > 0 || (!d.stopping && d.begun < work->count)) {
        if (pp_session_stopped(NULL) && !d.stopping) {
            d.stopping = true;
            pass_on(&d, SIGTERM);
        }
        bool more = !d.stopping && d.begun < work->count;
        if (more && d.busy < d.most && d.begun - d.handed < d.seats) {
            status = begin(&d, error);
            if (status != PP_OK) d.stopping = true; /* those under way are waited for */
        } else if (d.busy > 0) {
            wait_for_some(&d);
        }
        hand_on(&d);
    }
    for (int k = 0; k < d.most; k++) {
        bool fine = status == PP_OK;
        if (d.worker[k].process == 0) continue;
        pp_status ended = dismiss(&d, &d.worker[k], fine ? error : NULL);
        if (fine) status = ended;
    }
    *ended_by = d.ended_by;
    return status;
}
