/* Parts of rows are formatted side by side, and written in turn. */
#include <pthread.h>
#include <string.h>

#include "base/parallel.h"
#include "report/tables/csv_table.h"

enum {
    PART_ROWS = 1024, /* formatted and written while they are in the cache */
    THREADS_MAX = 16  /* more would only wait for their turn to write */
};

typedef struct writing {
    const pp_results *results;
    const pp_outgoing_table *table;
    const pp_sink *sink;
    size_t rows;
    pp_text text[THREADS_MAX]; /* one per worker */
    pthread_mutex_t lock;
    pthread_cond_t moved_on;
    size_t turn; /* the part to be written next */
    bool failed;
} writing;

/* False: another part has failed. */
static bool wait_for_turn(writing *w, size_t part)
{
    pthread_mutex_lock(&w->lock);
    while (w->turn != part && !w->failed) pthread_cond_wait(&w->moved_on, &w->lock);
    bool go_on = !w->failed;
    pthread_mutex_unlock(&w->lock);
    return go_on;
}

static pp_status end_turn(writing *w, size_t part, pp_status status)
{
    pthread_mutex_lock(&w->lock);
    if (status == PP_OK)
        w->turn = part + 1;
    else
        w->failed = true;
    pthread_cond_broadcast(&w->moved_on);
    pthread_mutex_unlock(&w->lock);
    return status;
}

static pp_status write_part(void *context, size_t part, int worker, pp_error *error)
{
    writing *w = context;
    pp_text *text = &w->text[worker];
    text->length = 0;
    size_t row = part * PART_ROWS, end = row + PART_ROWS < w->rows ? row + PART_ROWS : w->rows;
    for (; row < end; row++) w->table->row(w->results, row, text);
    if (text->failed) return end_turn(w, part, pp_fail_memory(error));
    if (!wait_for_turn(w, part)) return PP_OK; /* the part that failed says so */
    pp_status status = PP_OK;
    if (text->length) status = w->sink->write(w->sink->context, text->data, text->length, error);
    return end_turn(w, part, status);
}

pp_status pp_csv_write(const pp_results *results, pp_csv which, int threads, const pp_sink *sink,
                       pp_error *error)
{
    const pp_outgoing_table *table = pp_outgoing_table_of(which);
    writing w = {.results = results, .table = table, .sink = sink, .rows = table->count(results)};
    PP_TRY(sink->write(sink->context, w.table->header, strlen(w.table->header), error));
    if (threads > THREADS_MAX) threads = THREADS_MAX;
    pthread_mutex_init(&w.lock, NULL);
    pthread_cond_init(&w.moved_on, NULL);
    pp_status status =
        pp_parallel(threads, (w.rows + PART_ROWS - 1) / PART_ROWS, write_part, &w, error);
    pthread_cond_destroy(&w.moved_on);
    pthread_mutex_destroy(&w.lock);
    for (int i = 0; i < THREADS_MAX; i++) pp_text_free(&w.text[i]);
    return status;
}
