#include "holddown/drilling_order.h"

#include <math.h>
#include <stdlib.h>

enum { SWEEPS = 4, ROWS_LEAST = 2 * SWEEPS };
static const double ROW_SHARE = 0.25; /* of the pitch: what lies nearer in y is one row */

typedef struct spot {
    double x, y;
    uint32_t hole;
} spot;

typedef struct rows {
    size_t count;
    size_t *begin; /* [count + 1] in `spots` */
    spot *spots;   /* by row, by x within */
} rows;

static int compare(double a, double b) { return (a > b) - (a < b); }

static int by_y(const void *a, const void *b)
{
    const spot *s = a, *t = b;
    int c = compare(s->y, t->y);
    if (!c) c = compare(s->x, t->x);
    return c ? c : (s->hole > t->hole) - (s->hole < t->hole);
}

static int by_x(const void *a, const void *b)
{
    const spot *s = a, *t = b;
    int c = compare(s->x, t->x);
    return c ? c : by_y(a, b);
}

static pp_status split_rows(const pp_drilling_pattern *p, size_t count, const uint32_t *holes,
                            pp_arena *scratch, rows *r, pp_error *error)
{
    double same = p->pitch > 0 ? ROW_SHARE * p->pitch : 0;
    PP_TAKE(r->spots, scratch, count);
    PP_TAKE(r->begin, scratch, count + 1);
    for (size_t k = 0; k < count; k++)
        r->spots[k] = (spot){p->x[holes[k]], p->y[holes[k]], holes[k]};
    qsort(r->spots, count, sizeof *r->spots, by_y);
    r->count = 0;
    for (size_t k = 0; k < count; k++)
        if (k == 0 || r->spots[k].y - r->spots[r->begin[r->count - 1]].y > same)
            r->begin[r->count++] = k;
    r->begin[r->count] = count;
    for (size_t i = 0; i < r->count; i++)
        qsort(r->spots + r->begin[i], r->begin[i + 1] - r->begin[i], sizeof *r->spots, by_x);
    return PP_OK;
}

/* One row, to or fro, after what is there already. */
static size_t run_row(const rows *r, size_t row, bool back, size_t n, uint32_t *holes,
                      const spot **last, double *travel)
{
    size_t length = r->begin[row + 1] - r->begin[row];
    for (size_t k = 0; k < length; k++) {
        const spot *s = &r->spots[r->begin[row] + (back ? length - 1 - k : k)];
        if (*last) *travel += hypot(s->x - (*last)->x, s->y - (*last)->y);
        *last = s;
        if (holes) holes[n + k] = s->hole;
    }
    return n + length;
}

/* Every `sweeps`th row; odd sweeps come down again. */
static double run(const rows *r, size_t sweeps, uint32_t *holes)
{
    double travel = 0;
    const spot *last = NULL;
    size_t n = 0, turns = 0;
    for (size_t s = 0; s < sweeps; s++) {
        size_t own = r->count > s ? (r->count - s + sweeps - 1) / sweeps : 0;
        for (size_t k = 0; k < own; k++, turns++) {
            size_t row = s + sweeps * (s % 2 ? own - 1 - k : k);
            n = run_row(r, row, turns % 2 == 1, n, holes, &last, &travel);
        }
    }
    return travel;
}

pp_status pp_drilling_order_make(const pp_drilling_pattern *pattern, size_t count, uint32_t *holes,
                                 pp_arena *scratch, pp_drilling_path *path, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    rows r;
    PP_TRY(split_rows(pattern, count, holes, scratch, &r, error));
    bool interleaved = pattern->order == PP_ORDER_INTERLEAVED && r.count >= ROWS_LEAST;
    path->sweeps = interleaved ? SWEEPS : 1;
    path->travel = run(&r, (size_t)path->sweeps, holes);
    path->travel_by_rows = interleaved ? run(&r, 1, NULL) : path->travel;
    pp_arena_release(scratch, mark);
    return PP_OK;
}
