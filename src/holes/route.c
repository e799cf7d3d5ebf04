#include "holes/route.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

enum {
    ROUND_WORK = 1000000, /* pairs of steps looked at in a round */
    AHEAD_LEAST = 8,      /* below, rounds would mend little: the lanes stand */
    ROUNDS_MOST = 60
};
static const double GAIN_LEAST = 1e-9; /* mm; less is rounding */

typedef struct place {
    double x, y;
    uint32_t index, lane;
} place;

static double apart(const place *a, const place *b)
{
    double dx = a->x - b->x, dy = a->y - b->y;
    return sqrt(dx * dx + dy * dy);
}

/* Odd lanes are walked back. */
static int along_lanes(const void *left, const void *right)
{
    const place *a = left, *b = right;
    if (a->lane != b->lane) return a->lane < b->lane ? -1 : 1;
    if (a->x != b->x) return (a->x < b->x) == (a->lane % 2 == 0) ? -1 : 1;
    if (a->y != b->y) return a->y < b->y ? -1 : 1;
    return a->index < b->index ? -1 : a->index > b->index;
}

static void lay_lanes(place *list, size_t count)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, list[i].y);
        high = fmax(high, list[i].y);
    }
    double lanes = fmax(1, round(sqrt((double)count / 3)));
    double width = (high - low) / lanes;
    for (size_t i = 0; i < count; i++) {
        double lane = width > 0 ? floor((list[i].y - low) / width) : 0;
        list[i].lane = (uint32_t)fmin(lane, lanes - 1);
    }
    qsort(list, count, sizeof *list, along_lanes);
}

static void turn_round(place *list, size_t first, size_t last)
{
    for (; first < last; first++, last--) {
        place kept = list[first];
        list[first] = list[last];
        list[last] = kept;
    }
}

/* What turning the stretch first .. last round saves; first > 0: the beginning stays. */
static double gain(const place *list, size_t count, size_t first, size_t last)
{
    const place *before = &list[first - 1], *a = &list[first], *b = &list[last];
    double now = apart(before, a), then = apart(before, b);
    if (last + 1 < count) {
        now += apart(b, &list[last + 1]);
        then += apart(a, &list[last + 1]);
    }
    return now - then;
}

static bool mend_once(place *list, size_t count, size_t ahead)
{
    bool mended = false;
    for (size_t first = 1; first + 1 < count; first++) {
        size_t end = first + ahead < count ? first + ahead : count;
        for (size_t last = first + 1; last < end; last++) {
            if (gain(list, count, first, last) <= GAIN_LEAST) continue;
            turn_round(list, first, last);
            mended = true;
        }
    }
    return mended;
}

pp_status pp_route_find(size_t count, const double *x, const double *y, pp_arena *scratch,
                        uint32_t *order, double *length, pp_error *error)
{
    *length = 0;
    if (count == 0) return PP_OK;
    pp_mark mark = pp_arena_mark(scratch);
    place *list;
    PP_TAKE(list, scratch, count);
    for (size_t i = 0; i < count; i++) list[i] = (place){x[i], y[i], (uint32_t)i, 0};
    lay_lanes(list, count);
    size_t ahead = ROUND_WORK / count;
    for (int k = 0; k < ROUNDS_MOST && ahead >= AHEAD_LEAST; k++)
        if (!mend_once(list, count, ahead)) break;
    for (size_t i = 0; i < count; i++) {
        order[i] = list[i].index;
        if (i > 0) *length += apart(&list[i - 1], &list[i]);
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}
