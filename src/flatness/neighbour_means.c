#include "flatness/neighbour_means.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

enum { NEAREST = 8, HALF = 4, BUCKET = 3 /* points a bucket on average */, SIDE_MOST = 2048 };

typedef struct buckets {
    size_t columns, rows;
    double x0, y0, size;
    uint32_t *start, *points;
    const double *x, *y;
} buckets;

static size_t bucket_of(double at, double from, double size, size_t most)
{
    double k = (at - from) / size;
    return !(k > 0) ? 0 : k < (double)most ? (size_t)k : most - 1;
}

static size_t bucket_at(const buckets *b, size_t k)
{
    return bucket_of(b->y[k], b->y0, b->size, b->rows) * b->columns +
           bucket_of(b->x[k], b->x0, b->size, b->columns);
}

static pp_status fill(size_t count, double area, pp_memory *memory, buckets *b, pp_error *error)
{
    double x1 = b->x[0], y1 = b->y[0];
    b->x0 = x1, b->y0 = y1;
    for (size_t k = 1; k < count; k++) {
        b->x0 = fmin(b->x0, b->x[k]), x1 = fmax(x1, b->x[k]);
        b->y0 = fmin(b->y0, b->y[k]), y1 = fmax(y1, b->y[k]);
    }
    double longest = fmax(x1 - b->x0, y1 - b->y0);
    b->size = fmax(sqrt(BUCKET * area / (double)count), longest / SIDE_MOST);
    b->columns = (size_t)((x1 - b->x0) / b->size) + 1;
    b->rows = (size_t)((y1 - b->y0) / b->size) + 1;
    PP_TAKE_ZERO(b->start, &memory->scratch, b->columns * b->rows + 1);
    PP_TAKE(b->points, &memory->scratch, count);
    for (size_t k = 0; k < count; k++) b->start[bucket_at(b, k) + 1]++;
    for (size_t c = 0; c < b->columns * b->rows; c++) b->start[c + 1] += b->start[c];
    for (size_t k = count; k-- > 0;) b->points[--b->start[bucket_at(b, k) + 1]] = (uint32_t)k;
    /* each start has come down to where its own bucket begins, one place too late */
    for (size_t c = 0; c < b->columns * b->rows; c++) b->start[c] = b->start[c + 1];
    b->start[b->columns * b->rows] = (uint32_t)count;
    return PP_OK;
}

typedef struct found {
    size_t count;
    double distance[NEAREST];
    uint32_t point[NEAREST];
} found;

static void offer(found *f, double distance, uint32_t point)
{
    if (f->count == NEAREST && !(distance < f->distance[NEAREST - 1])) return;
    size_t at = f->count < NEAREST ? f->count++ : NEAREST - 1;
    for (; at > 0 && f->distance[at - 1] > distance; at--) {
        f->distance[at] = f->distance[at - 1];
        f->point[at] = f->point[at - 1];
    }
    f->distance[at] = distance, f->point[at] = point;
}

/* The buckets at that many steps from the middle one. */
static void look_in_ring(const buckets *b, size_t k, long ring, found *f)
{
    long ci = (long)bucket_of(b->x[k], b->x0, b->size, b->columns);
    long cj = (long)bucket_of(b->y[k], b->y0, b->size, b->rows);
    for (long j = cj - ring; j <= cj + ring; j++) {
        if (j < 0 || j >= (long)b->rows) continue;
        long step = j == cj - ring || j == cj + ring || ring == 0 ? 1 : 2 * ring;
        for (long i = ci - ring; i <= ci + ring; i += step) {
            if (i < 0 || i >= (long)b->columns) continue;
            size_t c = (size_t)j * b->columns + (size_t)i;
            for (uint32_t p = b->start[c]; p < b->start[c + 1]; p++) {
                double dx = b->x[b->points[p]] - b->x[k], dy = b->y[b->points[p]] - b->y[k];
                offer(f, dx * dx + dy * dy, b->points[p]);
            }
        }
    }
}

static void find_nearest(const buckets *b, size_t k, found *f)
{
    long most = (long)(b->columns > b->rows ? b->columns : b->rows);
    f->count = 0;
    for (long ring = 0; ring <= most; ring++) {
        double reach = (double)(ring - 1) * b->size; /* nothing outside the rings seen is nearer */
        if (f->count == NEAREST && reach > 0 && f->distance[NEAREST - 1] <= reach * reach) return;
        look_in_ring(b, k, ring, f);
    }
}

pp_status pp_neighbour_means_largest(size_t count, const double *x, const double *y,
                                     const double *residual, double area, pp_memory *memory,
                                     double *largest, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    buckets b = {.x = x, .y = y};
    double most = 0;
    PP_TRY(fill(count, area, memory, &b, error));
    for (size_t k = 0; k < count; k++) {
        found f;
        double sum = 0;
        most = fmax(most, fabs(residual[k]));
        find_nearest(&b, k, &f);
        for (size_t i = 0; i < f.count; i++) {
            sum += residual[f.point[i]];
            if (i + 1 == HALF || i + 1 == NEAREST)
                most = fmax(most, fabs(sum) / sqrt((double)(i + 1)));
        }
    }
    pp_arena_release(&memory->scratch, mark);
    *largest = most;
    return PP_OK;
}
