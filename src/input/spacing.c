#include "input/spacing.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define CELL_MM 0.01
#define FREE UINT32_MAX
enum { BATCH = 16, SLOTS_MIN = 16 };

typedef struct table {
    const double *x, *y;
    uint32_t *slots; /* indices of points */
    size_t mask;
} table;

/* Shifted by less than a cell, so that round coordinates do not lie on the sides of cells. */
static double cell_of(double coordinate) { return floor(coordinate / CELL_MM + 0.37); }

static uint64_t bits_of(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static size_t home_of(const table *t, double cell_x, double cell_y)
{
    /* + 0.0: minus zero has other bits */
    uint64_t h = bits_of(cell_x + 0.0) * 0x9E3779B97F4A7C15u;
    h = (h ^ h >> 32 ^ bits_of(cell_y + 0.0)) * 0xD6E8FEB86659FD93u;
    return (size_t)(h ^ h >> 32) & t->mask;
}

/* The lowest point in the cell that is the same as (x, y); FREE if none. */
static uint32_t find_same(const table *t, double cell_x, double cell_y, double x, double y)
{
    uint32_t lowest = FREE;
    for (size_t at = home_of(t, cell_x, cell_y); t->slots[at] != FREE; at = (at + 1) & t->mask) {
        uint32_t other = t->slots[at];
        double dx = t->x[other] - x, dy = t->y[other] - y;
        if (dx * dx + dy * dy <= PP_SPACING_SAME * PP_SPACING_SAME && other < lowest)
            lowest = other;
    }
    return lowest;
}

static void insert(table *t, uint32_t point)
{
    size_t at = home_of(t, cell_of(t->x[point]), cell_of(t->y[point]));
    while (t->slots[at] != FREE) at = (at + 1) & t->mask;
    t->slots[at] = point;
}

/* The lowest earlier point that coincides with this one, in its own cell or beyond a near side. */
static uint32_t find_earlier(const table *t, uint32_t point)
{
    double x = t->x[point], y = t->y[point];
    double left = cell_of(x - PP_SPACING_SAME), right = cell_of(x + PP_SPACING_SAME);
    double below = cell_of(y - PP_SPACING_SAME), above = cell_of(y + PP_SPACING_SAME);
    uint32_t lowest = find_same(t, left, below, x, y), other;
    if (right != left && (other = find_same(t, right, below, x, y)) < lowest) lowest = other;
    if (above != below && (other = find_same(t, left, above, x, y)) < lowest) lowest = other;
    if (right != left && above != below && (other = find_same(t, right, above, x, y)) < lowest)
        lowest = other;
    return lowest;
}

pp_status pp_spacing_find_close(const double *x, const double *y, size_t count, pp_arena *scratch,
                                pp_close_pair *pair, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    size_t size = SLOTS_MIN;
    while (size < 2 * count) size *= 2;
    table t = {.x = x, .y = y, .mask = size - 1};
    PP_TAKE(t.slots, scratch, size);
    memset(t.slots, 0xFF, size * sizeof t.slots[0]); /* FREE */
    *pair = (pp_close_pair){0};
    for (size_t begin = 0; begin < count && !pair->found; begin += BATCH) {
        size_t end = count - begin < BATCH ? count : begin + BATCH;
        for (size_t i = begin; i < end; i++) /* fetch ahead */
            __builtin_prefetch(&t.slots[home_of(&t, cell_of(x[i]), cell_of(y[i]))]);
        for (size_t i = begin; i < end && !pair->found; i++) {
            uint32_t earlier = find_earlier(&t, (uint32_t)i);
            if (earlier != FREE) *pair = (pp_close_pair){true, earlier, i};
            insert(&t, (uint32_t)i);
        }
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}
