#include "serve/runs.h"

#include <errno.h>
#include <sched.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "serve/child.h"

static int processors(void)
{
    cpu_set_t set;
    int count = sched_getaffinity(0, sizeof set, &set) == 0 ? CPU_COUNT(&set) : 1;
    return count < 1 ? 1 : count;
}

bool pp_runs_begin(pp_runs *runs, const char *top)
{
    pthread_condattr_t kind;
    *runs = (pp_runs){.top = top, .next = 1, .version = 1, .at_once = processors()};
    runs->run = calloc(PP_RUNS_MAX, sizeof *runs->run);
    pthread_mutex_init(&runs->lock, NULL);
    pthread_condattr_init(&kind);
    pthread_condattr_setclock(&kind, CLOCK_MONOTONIC);
    pthread_cond_init(&runs->changed, &kind);
    pthread_condattr_destroy(&kind);
    return runs->run != NULL;
}

/* Under the lock. */
static void note_change(pp_runs *runs)
{
    runs->version++;
    pthread_cond_broadcast(&runs->changed);
}

void pp_runs_note(pp_runs *runs)
{
    pthread_mutex_lock(&runs->lock);
    note_change(runs);
    pthread_mutex_unlock(&runs->lock);
}

static void clear(pp_child_run *run)
{
    pp_text_free(&run->order.words);
    pp_text_free(&run->line);
    pp_text_free(&run->said);
    *run = (pp_child_run){.steps = -1, .errors = -1};
}

static bool going(const pp_child_run *run)
{
    return run->state == PP_RUN_GOING || run->state == PP_RUN_WAITING;
}

/* ---- asked for ---- */

static bool same(const pp_run_order *a, const pp_run_order *b)
{
    return a->kind == b->kind && strcmp(a->subject, b->subject) == 0;
}

/* A free place, or that of the run that ended first; older runs of the same are forgotten. */
static pp_child_run *find_place(pp_runs *runs, const pp_run_order *order)
{
    pp_child_run *place = NULL;
    for (int i = 0; i < PP_RUNS_MAX; i++) {
        pp_child_run *run = &runs->run[i];
        if (run->state == PP_RUN_ENDED && same(&run->order, order)) clear(run);
        if (going(run)) continue;
        if (!place || (place->state != PP_RUN_FREE &&
                       (run->state == PP_RUN_FREE || run->number < place->number)))
            place = run;
    }
    return place;
}

long pp_runs_ask(pp_runs *runs, pp_run_order *order)
{
    long number = 0;
    pthread_mutex_lock(&runs->lock);
    bool already = false;
    for (int i = 0; i < PP_RUNS_MAX; i++)
        already |= going(&runs->run[i]) && same(&runs->run[i].order, order);
    pp_child_run *place = already || order->words.failed ? NULL : find_place(runs, order);
    if (!already && (!place || runs->ending)) number = -1;
    if (place && !runs->ending) {
        clear(place);
        place->state = PP_RUN_WAITING;
        place->number = number = runs->next++;
        place->order = *order;
        order->words = (pp_text){0};
        note_change(runs);
    }
    pthread_mutex_unlock(&runs->lock);
    pp_text_free(&order->words);
    return number;
}

bool pp_runs_stop(pp_runs *runs, long number)
{
    bool found = false;
    pthread_mutex_lock(&runs->lock);
    for (int i = 0; i < PP_RUNS_MAX; i++) {
        pp_child_run *run = &runs->run[i];
        if (run->number != number || !going(run)) continue;
        found = run->stopped = true;
        if (run->state == PP_RUN_WAITING) run->state = PP_RUN_ENDED;
        if (run->state == PP_RUN_GOING) kill(run->child, SIGTERM);
        note_change(runs);
    }
    pthread_mutex_unlock(&runs->lock);
    return found;
}

/* ---- the thread that waits ---- */

void pp_runs_start_waiting(pp_runs *runs)
{
    pthread_mutex_lock(&runs->lock);
    int busy = 0;
    for (int i = 0; i < PP_RUNS_MAX; i++) busy += runs->run[i].state == PP_RUN_GOING;
    while (busy < runs->at_once && !runs->ending) {
        pp_child_run *next = NULL;
        for (int i = 0; i < PP_RUNS_MAX; i++) {
            pp_child_run *run = &runs->run[i];
            if (run->state == PP_RUN_WAITING && (!next || run->number < next->number)) next = run;
        }
        if (!next) break;
        next->begun = pp_child_clock();
        bool started = pp_child_start(next, runs->top);
        next->state = started ? PP_RUN_GOING : PP_RUN_ENDED;
        if (!started) next->status = 3;
        busy += started;
        note_change(runs);
    }
    pthread_mutex_unlock(&runs->lock);
}

int pp_runs_wanted(pp_runs *runs, struct pollfd *wanted, int room)
{
    int count = 0;
    pthread_mutex_lock(&runs->lock);
    for (int i = 0; i < PP_RUNS_MAX && count + 2 <= room; i++) {
        const pp_child_run *run = &runs->run[i];
        if (run->state != PP_RUN_GOING) continue;
        if (run->steps >= 0) wanted[count++] = (struct pollfd){run->steps, POLLIN, 0};
        if (run->errors >= 0) wanted[count++] = (struct pollfd){run->errors, POLLIN, 0};
    }
    pthread_mutex_unlock(&runs->lock);
    return count;
}

void pp_runs_look(pp_runs *runs)
{
    pthread_mutex_lock(&runs->lock);
    for (int i = 0; i < PP_RUNS_MAX; i++) {
        pp_child_run *run = &runs->run[i];
        if (run->state != PP_RUN_GOING) continue;
        bool came = pp_child_read(run);
        bool gone = pp_child_gone(run);
        if (gone) {
            run->state = PP_RUN_ENDED;
            run->ended = pp_child_clock();
        }
        if (came || gone) note_change(runs);
    }
    pthread_mutex_unlock(&runs->lock);
}

static bool any_going(pp_runs *runs)
{
    bool any = false;
    pp_runs_look(runs);
    pthread_mutex_lock(&runs->lock);
    for (int i = 0; i < PP_RUNS_MAX; i++) any |= runs->run[i].state == PP_RUN_GOING;
    pthread_mutex_unlock(&runs->lock);
    return any;
}

static void signal_all(pp_runs *runs, int which)
{
    pthread_mutex_lock(&runs->lock);
    runs->ending = true;
    for (int i = 0; i < PP_RUNS_MAX; i++)
        if (runs->run[i].state == PP_RUN_GOING) kill(runs->run[i].child, which);
    note_change(runs); /* who waits for news goes home */
    pthread_mutex_unlock(&runs->lock);
}

void pp_runs_end(pp_runs *runs)
{
    enum { TRIES = 50 }; /* of 10 ms */
    if (!runs->run) return;
    const int signals[] = {SIGTERM, SIGKILL};
    for (int s = 0; s < 2; s++) {
        signal_all(runs, signals[s]);
        for (int i = 0; i < TRIES && any_going(runs); i++)
            nanosleep(&(struct timespec){0, 10000000}, NULL);
    }
}

void pp_runs_release(pp_runs *runs)
{
    for (int i = 0; runs->run && i < PP_RUNS_MAX; i++) clear(&runs->run[i]);
    free(runs->run);
    runs->run = NULL;
}

/* ---- told ---- */

static const char *state_of(const pp_child_run *run)
{
    if (run->state == PP_RUN_WAITING) return "waiting";
    if (run->state == PP_RUN_GOING) return run->stopped ? "stopping" : "running";
    if (run->stopped && run->status != 0 && run->status != 1) return "stopped";
    return run->status == 0 || run->status == 1 ? "done" : "failed";
}

/* What it said, without the place of the folder on this machine; NULL where it said nothing. */
static json_t *tell_said(const pp_child_run *run, const char *top)
{
    pp_text said = {0};
    size_t length = strlen(top);
    for (size_t i = 0; i < run->said.length;) {
        const char *at = run->said.data + i;
        bool here =
            run->said.length - i > length && strncmp(at, top, length) == 0 && at[length] == '/';
        if (!here) pp_text_add_bytes(&said, at, 1);
        i += here ? length + 1 : 1;
    }
    json_t *told = said.length ? json_stringn(said.data, said.length) : NULL;
    if (said.length && !told) told = json_string("what it said is no text");
    pp_text_free(&said);
    return told;
}

static json_t *tell(const pp_child_run *run, const char *top, double now)
{
    json_t *stages = json_array();
    for (size_t i = 0; i < run->stage_count; i++)
        json_array_append_new(stages,
                              json_pack("{s:s, s:f, s:f}", "name", run->stages[i].name, "begun",
                                        run->stages[i].begun, "share", run->stages[i].share));
    double until = run->state == PP_RUN_GOING ? now : run->ended;
    json_t *told =
        json_pack("{s:I, s:s, s:s, s:s, s:f, s:i, s:o}", "number", (json_int_t)run->number, "job",
                  run->order.subject, "kind", run->order.kind->name, "state", state_of(run),
                  "seconds", run->begun > 0 && until > run->begun ? until - run->begun : 0.0,
                  "status", run->status, "stages", stages);
    json_t *said = tell_said(run, top);
    if (said) json_object_set_new(told, "said", said);
    return told;
}

json_t *pp_runs_tell(pp_runs *runs)
{
    json_t *list = json_array();
    double now = pp_child_clock();
    pthread_mutex_lock(&runs->lock);
    for (long before = runs->next;;) {
        const pp_child_run *newest = NULL;
        for (int i = 0; i < PP_RUNS_MAX; i++) {
            const pp_child_run *run = &runs->run[i];
            if (run->state != PP_RUN_FREE && run->number < before &&
                (!newest || run->number > newest->number))
                newest = run;
        }
        if (!newest) break;
        json_array_append_new(list, tell(newest, runs->top, now));
        before = newest->number;
    }
    pthread_mutex_unlock(&runs->lock);
    return json_pack("{s:o}", "runs", list);
}

unsigned long pp_runs_await(pp_runs *runs, unsigned long version, int seconds)
{
    struct timespec until;
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += seconds;
    pthread_mutex_lock(&runs->lock);
    while (runs->version == version && !runs->ending)
        if (pthread_cond_timedwait(&runs->changed, &runs->lock, &until) != 0) break;
    unsigned long now = runs->ending ? 0 : runs->version;
    pthread_mutex_unlock(&runs->lock);
    return now;
}
