#include "input/lists/spacing.h"

#include <stdint.h>
#include <string.h>

/* Larger cells: fewer points near a side; smaller ones: a lower bound on the points in a cell. */
#define CELL_MM 0.025
#define SHIFT                                                                                      \
    4.0e10 /* cells: more than PP_SPACING_REACH / CELL_MM, so that cells are not negative */
#define NEAR (1.01 * PP_SPACING_SAME / CELL_MM) /* places round by 2e-7 mm */
#define FREE UINT64_MAX
enum { BATCH = 16, SLOTS_MIN = 16 };

typedef struct place { /* of a point among the cells */
    uint64_t x, y;
    int side_x, side_y; /* -1, 0, 1: which neighbour it is within 1 um of */
    uint64_t hash;
} place;

typedef struct table {
    const double *x, *y;
    uint64_t *slots; /* high half of the cell's hash, index of the point */
    size_t mask;
} table;

static uint64_t hash_cell(uint64_t x, uint64_t y)
{
    uint64_t h = x * 0x9E3779B97F4A7C15u;
    h = (h ^ h >> 32 ^ y) * 0xD6E8FEB86659FD93u;
    return h ^ h >> 29;
}

static int near_side(double inside) /* 0..1 within the cell */
{
    return inside <= NEAR ? -1 : inside >= 1 - NEAR ? 1 : 0;
}

static place place_of(const table *t, size_t point)
{
    /* the odd share keeps round coordinates off the sides of cells */
    double x = t->x[point] / CELL_MM + (SHIFT + 0.37), y = t->y[point] / CELL_MM + (SHIFT + 0.37);
    place p = {.x = (uint64_t)x, .y = (uint64_t)y};
    p.side_x = near_side(x - (double)p.x);
    p.side_y = near_side(y - (double)p.y);
    p.hash = hash_cell(p.x, p.y);
    return p;
}

/* The lowest point in the cell of that hash that coincides with `point`; `lowest` if none lower. */
static uint32_t find_same(const table *t, uint64_t hash, size_t point, uint32_t lowest)
{
    for (size_t at = hash & t->mask; t->slots[at] != FREE; at = (at + 1) & t->mask) {
        if (t->slots[at] >> 32 != hash >> 32) continue;
        uint32_t other = (uint32_t)t->slots[at];
        double dx = t->x[other] - t->x[point], dy = t->y[other] - t->y[point];
        if (dx * dx + dy * dy <= PP_SPACING_SAME * PP_SPACING_SAME && other < lowest)
            lowest = other;
    }
    return lowest;
}

/* In its own cell and beyond the near sides. */
static uint32_t find_earlier(const table *t, const place *p, size_t point)
{
    uint64_t x = p->x + (uint64_t)(int64_t)p->side_x, y = p->y + (uint64_t)(int64_t)p->side_y;
    uint32_t lowest = find_same(t, p->hash, point, UINT32_MAX);
    if (p->side_x) lowest = find_same(t, hash_cell(x, p->y), point, lowest);
    if (p->side_y) lowest = find_same(t, hash_cell(p->x, y), point, lowest);
    if (p->side_x && p->side_y) lowest = find_same(t, hash_cell(x, y), point, lowest);
    return lowest;
}

static void insert(table *t, const place *p, size_t point)
{
    size_t at = p->hash & t->mask;
    while (t->slots[at] != FREE) at = (at + 1) & t->mask;
    t->slots[at] = (p->hash >> 32 << 32) | point;
}

pp_status pp_spacing_find_close(const double *x, const double *y, size_t count, pp_arena *scratch,
                                pp_spacing_pair *pair, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    size_t size = SLOTS_MIN;
    while (size < 2 * count) size *= 2;
    table t = {.x = x, .y = y, .mask = size - 1};
    PP_TAKE(t.slots, scratch, size);
    memset(t.slots, 0xFF, size * sizeof t.slots[0]); /* FREE */
    *pair = (pp_spacing_pair){0};
    place places[BATCH];
    for (size_t begin = 0; begin < count && !pair->found; begin += BATCH) {
        size_t batch = count - begin < BATCH ? count - begin : BATCH;
        for (size_t i = 0; i < batch; i++) { /* fetch ahead */
            places[i] = place_of(&t, begin + i);
            __builtin_prefetch(&t.slots[places[i].hash & t.mask]);
        }
        for (size_t i = 0; i < batch && !pair->found; i++) {
            uint32_t earlier = find_earlier(&t, &places[i], begin + i);
            if (earlier != UINT32_MAX) *pair = (pp_spacing_pair){true, earlier, begin + i};
            insert(&t, &places[i], begin + i);
        }
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}
