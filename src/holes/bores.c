#include "holes/bores.h"

#include <stdlib.h>
#include <string.h>

#include "base/parallel.h"
#include "base/sum.h"

enum { PARTS = 64, SHORT_LIST = 12, AHEAD = 12 };

pp_view pp_view_of(const pp_job *job)
{
    double scale = 1.0;
    if (pp_given(job->holes.temperature) && !job->holes.compensated)
        scale = 1.0 - job->holes.expansion * (job->holes.temperature - PP_REFERENCE_TEMPERATURE);
    pp_view view = {{scale, scale}, {scale, scale}, scale};
    if (job->holes.exit_view == PP_EXIT_TURNED_ABOUT_X) view.y[PP_EXIT] = -scale;
    if (job->holes.exit_view == PP_EXIT_TURNED_ABOUT_Y) view.x[PP_EXIT] = -scale;
    return view;
}

/* Rows of one key (a hole or an extra) stand together: rows[start[key]] .. rows[start[key + 1]]. */
typedef struct gathering {
    const pp_readings *readings;
    const pp_nominal *nominal;
    const pp_view *view;
    const pp_hole_sizes *sizes;
    size_t holes, keys;
    uint32_t *start, *rows;
    size_t bores_before[PARTS + 1], history_before[PARTS + 1];
    bool faces[PARTS][2], open[PARTS]; /* of the bores filled in by each part */
    pp_bore *bores;
    pp_measured_point *centre;
    pp_past_reading *history;
    uint32_t *bore_of[2];
} gathering;

static pp_status sort_by_key(gathering *g, const uint32_t *key_of_row, pp_arena *scratch,
                             pp_error *error)
{
    size_t count = g->readings->count;
    PP_TAKE_ZERO(g->start, scratch, g->keys + 2);
    PP_TAKE(g->rows, scratch, count);
    uint32_t *next = g->start + 1; /* shifted by one, so that filling leaves each key's first */
    for (size_t i = 0; i < count; i++)
        if (key_of_row[i] != PP_NONE) next[key_of_row[i] + 1]++;
    for (size_t k = 1; k <= g->keys; k++) next[k] += next[k - 1];
    for (size_t i = 0; i < count; i++)
        if (key_of_row[i] != PP_NONE) g->rows[next[key_of_row[i]]++] = (uint32_t)i;
    return PP_OK;
}

/* by face, then round, then row */
static int compare(const pp_readings *r, uint32_t i, uint32_t j)
{
    if (r->face[i] != r->face[j]) return r->face[i] < r->face[j] ? -1 : 1;
    if (r->round[i] != r->round[j]) return r->round[i] < r->round[j] ? -1 : 1;
    return i < j ? -1 : i > j;
}

typedef struct row_order {
    const pp_readings *readings;
} row_order;

static int compare_rows(const void *a, const void *b, void *context)
{
    const row_order *order = context;
    return compare(order->readings, *(const uint32_t *)a, *(const uint32_t *)b);
}

static void sort_rows(const pp_readings *readings, uint32_t *rows, size_t count)
{
    if (count > SHORT_LIST) {
        row_order order = {readings};
        qsort_r(rows, count, sizeof *rows, compare_rows, &order);
        return;
    }
    for (size_t i = 1; i < count; i++)
        for (size_t j = i; j > 0 && compare(readings, rows[j - 1], rows[j]) > 0; j--) {
            uint32_t row = rows[j];
            rows[j] = rows[j - 1];
            rows[j - 1] = row;
        }
}

static size_t part_keys(const gathering *g, size_t part, size_t *end)
{
    *end = pp_part_begin(g->keys, PARTS, part + 1);
    return pp_part_begin(g->keys, PARTS, part);
}

/* Number of rows from rows[0] on with its face and round. */
static size_t run_length(const pp_readings *r, const uint32_t *rows, size_t count)
{
    size_t n = 1;
    while (n < count && r->face[rows[n]] == r->face[rows[0]] &&
           r->round[rows[n]] == r->round[rows[0]])
        n++;
    return n;
}

static pp_status count_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    gathering *g = context;
    size_t end, bores = 0, history = 0;
    for (size_t key = part_keys(g, part, &end); key < end; key++) {
        uint32_t *rows = g->rows + g->start[key];
        size_t count = g->start[key + 1] - g->start[key];
        if (count > 1) sort_rows(g->readings, rows, count);
        for (size_t i = 0; i < count;) {
            size_t run = run_length(g->readings, rows + i, count - i);
            bool last =
                i + run == count || g->readings->face[rows[i + run]] != g->readings->face[rows[i]];
            if (last)
                bores++;
            else if (key < g->holes)
                history++;
            i += run;
        }
    }
    g->bores_before[part + 1] = bores;
    g->history_before[part + 1] = history;
    return PP_OK;
}

/* Worst of repeated gauge results: `bad` (0 or 1) wins over the other, either over not tried. */
static int8_t worst_gauge(int8_t a, int8_t b, int8_t bad)
{
    if (a == bad || b == bad) return bad;
    return a > b ? a : b;
}

/* Sizes of a hole's gauges: a hole of kind other has its own limits. */
static pp_hole_sizes sizes_of(const gathering *g, uint32_t hole)
{
    const pp_nominal *n = g->nominal;
    if (hole == PP_NONE || n->kind[hole] == PP_TUBE_HOLE) return *g->sizes;
    double size = n->diameter ? n->diameter[hole] : NAN;
    double upper = size + (n->over ? n->over[hole] : NAN);
    return (pp_hole_sizes){
        .go = size - (n->under ? n->under[hole] : NAN), .no_go = upper, .no_go_max = upper};
}

/* What the gauges prove of the diameter. An upper bound needs that no larger gauge went in
 * elsewhere in the hole. */
static void gauge_bounds(pp_hole_sizes sizes, pp_bore *bore)
{
    bore->diameter_min = bore->diameter_max = bore->diameter_mean = NAN;
    if (bore->go == 1) bore->diameter_min = sizes.go;
    if (bore->no_go == 1) bore->diameter_min = sizes.no_go;
    if (bore->no_go_max == 1) {
        bore->diameter_min = sizes.no_go_max;
        return;
    }
    if (bore->no_go_max == 0) bore->diameter_max = sizes.no_go_max;
    if (bore->no_go == 0) bore->diameter_max = sizes.no_go;
    if (bore->go == 0 && bore->no_go != 1) bore->diameter_max = sizes.go;
}

static pp_bore combine(const gathering *g, uint32_t hole, const uint32_t *rows, size_t count,
                       pp_measured_point *centre)
{
    const pp_readings *r = g->readings;
    pp_bore bore = {.hole = hole,
                    .row = rows[0] + 1,
                    .readings = (uint32_t)count,
                    .round = r->round[rows[0]],
                    .face = r->face[rows[0]] & 1u,
                    .go = -1,
                    .no_go = -1,
                    .no_go_max = -1,
                    .diameter_min = INFINITY,
                    .diameter_max = -INFINITY};
    pp_sum x = {0}, y = {0}, diameter = {0};
    for (size_t i = 0; i < count; i++) {
        size_t row = rows[i];
        pp_sum_add(&x, r->x[row]);
        pp_sum_add(&y, r->y[row]);
        if (r->go) bore.go = worst_gauge(bore.go, r->go[row], 0);
        if (r->no_go) bore.no_go = worst_gauge(bore.no_go, r->no_go[row], 1);
        if (r->no_go_max) bore.no_go_max = worst_gauge(bore.no_go_max, r->no_go_max[row], 1);
        double d = r->diameter ? r->diameter[row] : NAN;
        if (isnan(d)) continue;
        d *= g->view->size;
        bore.diameter_readings++;
        pp_sum_add(&diameter, d);
        if (d < bore.diameter_min) bore.diameter_min = d;
        if (d > bore.diameter_max) bore.diameter_max = d;
    }
    double n = (double)count;
    *centre = pp_view_point(g->view, bore.face, pp_sum_value(x) / n, pp_sum_value(y) / n);
    bore.diameter_mean = pp_sum_value(diameter) / (double)bore.diameter_readings;
    bore.gauged = bore.diameter_readings == 0;
    if (bore.gauged) gauge_bounds(sizes_of(g, hole), &bore);
    return bore;
}

/* Rows of a shuffled list are far apart: start fetching one that will be needed soon. */
static void fetch_ahead(const gathering *g, size_t at)
{
    if (at >= g->start[g->keys]) return;
    const pp_readings *r = g->readings;
    uint32_t row = g->rows[at];
    __builtin_prefetch(&r->x[row]);
    __builtin_prefetch(&r->y[row]);
    __builtin_prefetch(&r->face[row]);
    __builtin_prefetch(&r->round[row]);
    if (r->diameter) __builtin_prefetch(&r->diameter[row]);
}

static pp_status fill_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    gathering *g = context;
    size_t end, bore = g->bores_before[part], history = g->history_before[part];
    for (size_t key = part_keys(g, part, &end); key < end; key++) {
        const uint32_t *rows = g->rows + g->start[key];
        size_t count = g->start[key + 1] - g->start[key];
        fetch_ahead(g, g->start[key] + AHEAD);
        uint32_t hole = key < g->holes ? (uint32_t)key : PP_NONE;
        if (hole != PP_NONE) g->bore_of[PP_ENTRY][hole] = PP_NONE;
        if (hole != PP_NONE) g->bore_of[PP_EXIT][hole] = PP_NONE;
        for (size_t i = 0; i < count;) {
            size_t run = run_length(g->readings, rows + i, count - i);
            bool last =
                i + run == count || g->readings->face[rows[i + run]] != g->readings->face[rows[i]];
            if (last || hole != PP_NONE) {
                pp_measured_point centre;
                pp_bore combined = combine(g, hole, rows + i, run, &centre);
                if (last) {
                    if (hole != PP_NONE) g->bore_of[combined.face][hole] = (uint32_t)bore;
                    g->faces[part][combined.face] = true;
                    g->open[part] = g->open[part] || isnan(combined.diameter_max);
                    g->centre[bore] = centre;
                    g->bores[bore++] = combined;
                } else {
                    g->history[history++] =
                        (pp_past_reading){hole,   combined.round,        combined.face,
                                          centre, combined.diameter_min, combined.diameter_max};
                }
            }
            i += run;
        }
    }
    return PP_OK;
}

pp_status pp_gather(const pp_gathering *request, int threads, pp_memory *memory,
                    pp_gathered *gathered, pp_error *error)
{
    const pp_nominal *nominal = &request->files->nominal;
    pp_gathered out = {0};
    gathering g = {.readings = &request->files->measured,
                   .nominal = nominal,
                   .view = request->view,
                   .sizes = request->sizes,
                   .holes = nominal->count,
                   .keys = nominal->count + request->extras};
    PP_TAKE(g.centre, &memory->scratch, g.readings->count);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(sort_by_key(&g, request->key_of_row, &memory->scratch, error));
    PP_TRY(pp_parallel(threads, PARTS, count_part, &g, error));
    for (size_t p = 0; p < PARTS; p++) {
        g.bores_before[p + 1] += g.bores_before[p];
        g.history_before[p + 1] += g.history_before[p];
    }
    out.bore_count = g.bores_before[PARTS];
    out.history_count = g.history_before[PARTS];
    PP_TAKE(g.bores, request->into, out.bore_count);
    PP_TAKE(g.history, request->into, out.history_count);
    PP_TAKE(g.bore_of[PP_ENTRY], request->into, g.holes);
    PP_TAKE(g.bore_of[PP_EXIT], request->into, g.holes);
    PP_TRY(pp_parallel(threads, PARTS, fill_part, &g, error));
    if (request->into != &memory->scratch) pp_arena_release(&memory->scratch, mark);

    out.bores = g.bores;
    out.centre = g.centre;
    out.history = g.history;
    out.bore_of[PP_ENTRY] = g.bore_of[PP_ENTRY];
    out.bore_of[PP_EXIT] = g.bore_of[PP_EXIT];
    out.extra_first = out.bore_count;
    while (out.extra_first > 0 && out.bores[out.extra_first - 1].hole == PP_NONE) out.extra_first--;
    out.all_bounded = true;
    for (size_t p = 0; p < PARTS; p++) {
        out.faces[PP_ENTRY] = out.faces[PP_ENTRY] || g.faces[p][PP_ENTRY];
        out.faces[PP_EXIT] = out.faces[PP_EXIT] || g.faces[p][PP_EXIT];
        out.all_bounded = out.all_bounded && !g.open[p];
    }
    *gathered = out;
    return PP_OK;
}
