#include "holes/repeats.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct reading {
    const char *name;
    uint32_t round;
    uint8_t face;
    double x, y;
} reading;

static int compare(const void *left, const void *right)
{
    const reading *a = left, *b = right;
    int names = strcmp(a->name, b->name);
    if (names != 0) return names;
    if (a->face != b->face) return a->face < b->face ? -1 : 1;
    if (a->round != b->round) return a->round < b->round ? -1 : 1;
    if (a->x != b->x) return a->x < b->x ? -1 : 1; /* so that the sums have one order */
    return a->y < b->y ? -1 : a->y > b->y;
}

static bool same_bore(const reading *a, const reading *b)
{
    return a->face == b->face && a->round == b->round && strcmp(a->name, b->name) == 0;
}

/* Sum of squares about the mean of readings [count] of one bore. */
static double about_mean(const reading *r, size_t count)
{
    double mx = 0, my = 0, sum = 0;
    for (size_t i = 0; i < count; i++) mx += r[i].x - r[0].x, my += r[i].y - r[0].y;
    mx = r[0].x + mx / (double)count, my = r[0].y + my / (double)count;
    for (size_t i = 0; i < count; i++)
        sum += (r[i].x - mx) * (r[i].x - mx) + (r[i].y - my) * (r[i].y - my);
    return sum;
}

pp_status pp_repeats_scatter(const pp_readings *readings, pp_arena *scratch, double *scatter,
                             pp_error *error)
{
    *scatter = 0;
    if (!readings->name) return PP_OK; /* without names nothing is read twice */
    pp_mark mark = pp_arena_mark(scratch);
    reading *list;
    size_t n = 0;
    PP_TAKE(list, scratch, readings->count);
    for (size_t i = 0; i < readings->count; i++)
        if (readings->name[i][0])
            list[n++] = (reading){readings->name[i], readings->round ? readings->round[i] : 1,
                                  readings->face ? readings->face[i] : (uint8_t)PP_ENTRY,
                                  readings->x[i], readings->y[i]};
    qsort(list, n, sizeof *list, compare);
    double sum = 0, coordinates = 0;
    for (size_t begin = 0, end; begin < n; begin = end) {
        for (end = begin + 1; end < n && same_bore(&list[begin], &list[end]);) end++;
        if (end - begin < 2) continue;
        sum += about_mean(&list[begin], end - begin);
        coordinates += 2 * (double)(end - begin - 1);
    }
    if (coordinates > 0) *scatter = sqrt(sum / coordinates);
    pp_arena_release(scratch, mark);
    return PP_OK;
}
