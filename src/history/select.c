#include "history/select.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/nearest.h"
#include "base/text.h"
#include "history/clauses.h"
#include "history/figures.h"

/* ---- the question as SQL ---- */

#define BRIEF_COLUMNS                                                                              \
    "r.report, r.plate, coalesce(r.machine, 0), iif(p.plate_id <> '', p.plate_id, "                \
    "p.serial), " PP_DAY ", r.stage"
/* In the order of pp_factor; the stage is there already. */
#define DETAIL_COLUMNS                                                                             \
    ", r.folder, p.supplier, p.heat_number, m.name, r.operator, r.instrument, p.plate_role"
enum { LABEL = 3, DATE, STAGE, FIRST_VALUE, VALUES_MAX = 9, COLUMNS_MAX = FIRST_VALUE + 16 };

/* A figure of that name is one of the report, or a term of its diagnosis: asked one after the
 * other, for of a union SQLite first makes a table. */
enum { OF_TERM = PP_WANT_REPORT + 1 };
static const struct {
    const char *values, *from, *where;
    int count; /* of the values */
    bool named;
} QUESTIONS[] = {
    [PP_WANT_FIGURE] = {", v.value, v.lower, v.upper, v.u",
                        " FROM figure v JOIN report r USING (report)", "v.name = ?1", 4, true},
    [OF_TERM] = {", v.value, NULL, NULL, v.standard_error",
                 " FROM term v JOIN report r USING (report)", "v.name = ?1 AND v.value IS NOT NULL",
                 4, true},
    [PP_WANT_TALLY] = {", v.count, v.\"of\"", " FROM tally v JOIN report r USING (report)",
                       "v.name = ?1", 2, true},
    [PP_WANT_MOMENTS] = {", v.holes, v.mean_dx, v.mean_dy, v.var_dx, v.var_dy, v.cov_dxdy, "
                         "v.diameters, v.mean_diameter, v.var_diameter",
                         " FROM moment v JOIN report r USING (report)", "v.face = 'entry'",
                         VALUES_MAX, false},
    [PP_WANT_REPORT] = {"", " FROM report r", "1", 0, false},
};

/* Rows come in any order: sorting ten thousand wide ones there takes longer than asking for them.
 */
static void write_question(const pp_selection *selection, int question, pp_detail detail,
                           pp_text *sql)
{
    bool whole = detail == PP_ROWS_WHOLE;
    pp_text_add(sql, "SELECT " BRIEF_COLUMNS);
    pp_text_add(sql, QUESTIONS[question].values);
    if (whole) pp_text_add(sql, DETAIL_COLUMNS);
    pp_text_add(sql, QUESTIONS[question].from);
    pp_text_add(sql, " JOIN plate p USING (plate)");
    if (whole || pp_selection_has(selection, PP_BY_MACHINE))
        pp_text_add(sql, " LEFT JOIN machine m ON m.machine = r.machine");
    pp_text_print(sql, " WHERE %s", QUESTIONS[question].where);
    pp_clauses_add(selection, 2, sql);
}

/* ---- rows ---- */

/* Texts repeat: the last one of a column is often the next. */
typedef struct reading {
    struct sqlite3_stmt *s;
    pp_arena *arena;
    const char *last[COLUMNS_MAX];
    bool failed;
} reading;

static const char *text(reading *r, int column)
{
    pp_mark mark = pp_arena_mark(r->arena);
    const char *now = pp_history_text(r->s, column, r->arena, &r->failed);
    if (now && r->last[column] && strcmp(now, r->last[column]) == 0) {
        pp_arena_release(r->arena, mark);
        return r->last[column];
    }
    if (now) r->last[column] = now;
    return now;
}

static void read_values(struct sqlite3_stmt *s, int question, pp_history_row *row)
{
    double v[VALUES_MAX];
    for (int i = 0; i < QUESTIONS[question].count; i++) v[i] = pp_history_real(s, FIRST_VALUE + i);
    if (question == PP_WANT_FIGURE || question == OF_TERM)
        row->value = v[0], row->lower = v[1], row->upper = v[2], row->u = v[3];
    else if (question == PP_WANT_TALLY)
        row->count = v[0], row->out_of = v[1];
    else if (question == PP_WANT_MOMENTS)
        row->moments = (pp_plate_moments){.holes = v[0],
                                          .mean_dx = v[1],
                                          .mean_dy = v[2],
                                          .var_dx = v[3],
                                          .var_dy = v[4],
                                          .cov_dxdy = v[5],
                                          .diameters = v[6],
                                          .mean_diameter = v[7],
                                          .var_diameter = v[8]};
}

static pp_history_row read_row(reading *r, int question, pp_detail detail)
{
    pp_history_row row = {.report = pp_history_whole(r->s, 0),
                          .plate = pp_history_whole(r->s, 1),
                          .machine = pp_history_whole(r->s, 2),
                          .label = text(r, LABEL),
                          .date = text(r, DATE)};
    row.of[PP_BY_STAGE] = text(r, STAGE);
    read_values(r->s, question, &row);
    if (detail == PP_ROWS_BRIEF) return row;
    int at = FIRST_VALUE + QUESTIONS[question].count;
    row.folder = text(r, at++);
    for (int f = 0; f < PP_BY_STAGE; f++) row.of[f] = text(r, at + f);
    return row;
}

/* The list grows by itself; room for a row a report from the start keeps it from moving. */
typedef struct growing {
    pp_arena *arena;
    size_t room;
} growing;

static pp_status make_room(pp_history *h, growing *g, pp_history_rows *out, pp_error *error)
{
    enum { LEAST = 64, MOST = 1 << 16 };
    struct sqlite3_stmt *s = NULL;
    bool more = false;
    pp_status status = pp_history_prepare(h, "SELECT max(report) FROM report", &s, error);
    if (status == PP_OK) status = pp_history_step(h, s, &more, error);
    long long last = more ? pp_history_whole(s, 0) : 0;
    pp_history_end(s);
    PP_TRY(status);
    g->room = last < LEAST ? LEAST : last > MOST ? MOST : (size_t)last;
    PP_TAKE(out->rows, g->arena, g->room);
    return PP_OK;
}

static pp_status add_row(growing *g, pp_history_row row, pp_history_rows *out, pp_error *error)
{
    if (out->count == g->room) {
        pp_history_row *more;
        PP_TAKE(more, g->arena, 4 * g->room);
        memcpy(more, out->rows, out->count * sizeof *more);
        out->rows = more, g->room *= 4;
    }
    out->rows[out->count++] = row;
    return PP_OK;
}

static pp_status read_answer(pp_history *h, const pp_selection *selection, int question,
                             pp_detail detail, long long name, growing *g, pp_history_rows *out,
                             pp_error *error)
{
    pp_text sql = {0};
    reading r = {.arena = g->arena};
    bool more = true;
    write_question(selection, question, detail, &sql);
    pp_status status =
        sql.failed ? pp_fail_memory(error) : pp_history_prepare(h, sql.data, &r.s, error);
    if (status == PP_OK) {
        if (QUESTIONS[question].named) pp_history_bind_whole(r.s, 1, name);
        pp_clauses_bind(selection, 2, r.s);
    }
    while (status == PP_OK && more) {
        status = pp_history_step(h, r.s, &more, error);
        if (status == PP_OK && more)
            status = add_row(g, read_row(&r, question, detail), out, error);
        if (r.failed) status = pp_fail_memory(error);
    }
    pp_history_end(r.s);
    pp_text_free(&sql);
    return status;
}

static pp_status read_rows(pp_history *h, const pp_selection *selection, pp_wanted wanted,
                           pp_detail detail, long long name, pp_arena *arena, pp_history_rows *out,
                           pp_error *error)
{
    growing g = {.arena = arena};
    PP_TRY(make_room(h, &g, out, error));
    PP_TRY(read_answer(h, selection, (int)wanted, detail, name, &g, out, error));
    if (wanted != PP_WANT_FIGURE) return PP_OK;
    return read_answer(h, selection, OF_TERM, detail, name, &g, out, error);
}

/* ---- one report a plate ---- */

static int stage_rank(const char *stage)
{
    static const char *const STAGES[] = {"as received", "first holes", "after drilling",
                                         "after rework", "final"};
    for (int i = 0; stage && i < 5; i++)
        if (strcmp(stage, STAGES[i]) == 0) return i + 1;
    return 0;
}

static int by_date(const void *left, const void *right)
{
    const pp_history_row *a = left, *b = right;
    int order = strcmp(a->date, b->date);
    return order ? order : (a->report > b->report) - (a->report < b->report);
}

/* Reports are mostly added in the order of their dates: often there is nothing to do. */
static void sort_rows(pp_history_rows *out)
{
    for (size_t i = 1; i < out->count; i++)
        if (by_date(&out->rows[i - 1], &out->rows[i]) > 0) {
            qsort(out->rows, out->count, sizeof *out->rows, by_date);
            return;
        }
}

/* Of several reports of one plate the latest stage, of one stage the latest date. */
static pp_status keep_latest(pp_arena *arena, pp_history_rows *out, pp_error *error)
{
    long long plates = 0;
    for (size_t i = 0; i < out->count; i++)
        plates = out->rows[i].plate > plates ? out->rows[i].plate : plates;
    size_t *latest, kept = 0; /* of each plate: its row, from 1 */
    PP_TAKE_ZERO(latest, arena, (size_t)plates + 1);
    for (size_t i = 0; i < out->count; i++) {
        size_t *best = &latest[out->rows[i].plate];
        if (!*best || stage_rank(out->rows[i].of[PP_BY_STAGE]) >=
                          stage_rank(out->rows[*best - 1].of[PP_BY_STAGE]))
            *best = i + 1;
    }
    for (size_t i = 0; i < out->count; i++)
        if (latest[out->rows[i].plate] == i + 1) out->rows[kept++] = out->rows[i];
    out->count = kept;
    return PP_OK;
}

/* ---- events ---- */

pp_status pp_history_events(pp_history *h, pp_arena *arena, size_t *count,
                            pp_history_event **events, pp_error *error)
{
    enum { EVENTS_MAX = 4096 };
    struct sqlite3_stmt *s = NULL;
    bool more = true, failed = false;
    *count = 0;
    PP_TAKE(*events, arena, EVENTS_MAX);
    pp_status status = pp_history_prepare(
        h,
        "SELECT e.date, e.text, m.name, coalesce(e.machine, 0) FROM event e LEFT JOIN machine m "
        "USING (machine) WHERE e.restarts ORDER BY e.date, e.event",
        &s, error);
    while (status == PP_OK && more && *count < EVENTS_MAX) {
        status = pp_history_step(h, s, &more, error);
        if (status != PP_OK || !more) break;
        (*events)[(*count)++] = (pp_history_event){
            pp_history_text(s, 0, arena, &failed), pp_history_text(s, 1, arena, &failed),
            pp_history_text(s, 2, arena, &failed), pp_history_whole(s, 3)};
        if (failed) status = pp_fail_memory(error);
    }
    pp_history_end(s);
    return status;
}

/* Those before an event to the front, each part in its order. */
static pp_status part_rows(pp_arena *arena, pp_history_rows *out, pp_error *error)
{
    pp_history_row *parted;
    size_t n = 0;
    PP_TAKE(parted, arena, out->count);
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < out->count; i++)
            if (out->rows[i].before_event == (pass == 0)) parted[n++] = out->rows[i];
        if (pass == 0) out->since_event = n;
    }
    out->rows = parted;
    return PP_OK;
}

static pp_status mark_events(pp_history *h, pp_arena *arena, pp_history_rows *out, pp_error *error)
{
    size_t count;
    pp_history_event *events;
    PP_TRY(pp_history_events(h, arena, &count, &events, error));
    for (size_t e = 0; e < count; e++)
        for (size_t i = 0; i < out->count; i++) {
            pp_history_row *row = &out->rows[i];
            bool own = !events[e].machine_number || events[e].machine_number == row->machine;
            if (!own || strcmp(row->date, events[e].date) >= 0) continue;
            row->before_event = true;
            out->event = &events[e];
        }
    return out->event ? part_rows(arena, out, error) : PP_OK;
}

static void count_machines(pp_history_rows *out)
{
    for (size_t i = out->since_event; i < out->count; i++) {
        size_t k = out->since_event;
        while (k < i && out->rows[k].machine != out->rows[i].machine) k++;
        out->machines += k == i;
    }
}

void pp_history_rows_since(pp_history_rows *rows)
{
    rows->earlier_count = rows->since_event;
    rows->rows += rows->since_event;
    rows->count -= rows->since_event;
    rows->since_event = 0;
}

/* ---- names ---- */

static pp_status fail_unknown(pp_history *h, const char *name, pp_wanted wanted, pp_arena *arena,
                              pp_error *error)
{
    enum { NAMES_MAX = 512 };
    struct sqlite3_stmt *s = NULL;
    const char *names[NAMES_MAX];
    size_t count = 0;
    bool more = true, failed = false;
    const char *sql =
        wanted == PP_WANT_TALLY
            ? "SELECT text FROM name n WHERE EXISTS (SELECT 1 FROM tally t WHERE t.name = n.name)"
            : "SELECT text FROM name n WHERE EXISTS (SELECT 1 FROM figure f WHERE f.name = n.name) "
              "OR EXISTS (SELECT 1 FROM term t WHERE t.name = n.name)";
    pp_status status = pp_history_prepare(h, sql, &s, error);
    while (status == PP_OK && more && count < NAMES_MAX) {
        status = pp_history_step(h, s, &more, error);
        if (status == PP_OK && more) names[count++] = pp_history_text(s, 0, arena, &failed);
        if (failed) status = pp_fail_memory(error);
    }
    pp_history_end(s);
    PP_TRY(status);
    if (count == 0)
        return pp_fail_at(error, PP_ENOTHING, h->path, 0, 0,
                          "no report in it has such a figure; 'plateproof history list' shows what "
                          "there is");
    return pp_fail_at(
        error, PP_EINPUT, h->path, 0, 0,
        "no report in it has a figure '%.80s'; did you mean '%s'? 'plateproof history "
        "list' shows all",
        name, names[pp_nearest_find(name, count, names)]);
}

static pp_status find_name(pp_history *h, pp_wanted wanted, const char *name, pp_arena *arena,
                           pp_history_rows *out, long long *number, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool there = false, failed = false;
    const char *sql =
        wanted == PP_WANT_TALLY
            ? "SELECT name, unit FROM name n WHERE text = ?1 AND EXISTS (SELECT 1 FROM tally t "
              "WHERE t.name = n.name)"
            : "SELECT name, unit FROM name n WHERE text = ?1 AND (EXISTS (SELECT 1 FROM figure f "
              "WHERE f.name = n.name) OR EXISTS (SELECT 1 FROM term t WHERE t.name = n.name))";
    pp_status status = pp_history_prepare(h, sql, &s, error);
    if (status == PP_OK) {
        pp_history_bind_text(s, 1, pp_figure_full_name(name));
        status = pp_history_step(h, s, &there, error);
    }
    if (there) {
        *number = pp_history_whole(s, 0);
        out->unit = pp_history_text(s, 1, arena, &failed);
    }
    pp_history_end(s);
    if (failed) return pp_fail_memory(error);
    if (status != PP_OK || there) return status;
    return fail_unknown(h, name, wanted, arena, error);
}

pp_status pp_history_select(pp_history *h, const pp_selection *selection, pp_wanted wanted,
                            pp_detail detail, const char *name, pp_arena *arena,
                            pp_history_rows *rows, pp_error *error)
{
    pp_history_rows out = {0};
    long long number = 0;
    PP_TRY(pp_selection_check(selection, error));
    if (QUESTIONS[wanted].named) PP_TRY(find_name(h, wanted, name, arena, &out, &number, error));
    PP_TRY(read_rows(h, selection, wanted, detail, number, arena, &out, error));
    sort_rows(&out);
    PP_TRY(keep_latest(arena, &out, error));
    PP_TRY(mark_events(h, arena, &out, error));
    count_machines(&out);
    *rows = out;
    return PP_OK;
}
