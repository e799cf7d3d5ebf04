#include "holes/derive.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "base/constants.h"
#include "base/grid.h"

enum { HOLES_LEAST = 6, BLOCK_LEAST = 3, NEIGHBOURS_MAX = 16 };
static const double NEAR = 1.25;   /* pitches: neighbours, as everywhere */
static const double ON_ROWS = 0.1; /* pitches: a block on the rows of another */
static const double REGULAR = 0.1; /* pitches, root mean square */
static const uint32_t NO_BLOCK = UINT32_MAX;

typedef struct lattice {
    size_t count;
    const pp_measured_point *hole;
    double *x, *y; /* of the holes, for the grid */
    pp_grid grid;
    bool square;
    double pitch;        /* first guess */
    double complex row;  /* the step to the next neighbour of a row */
    double complex turn; /* from that step to the one of the next row */
    int32_t *a, *b;      /* [hole]: how many of each step from its block's first hole */
    uint32_t *block;     /* [hole] */
    size_t blocks;
    double complex *place; /* [block] */
    size_t *size;          /* [block] */
} lattice;

static double complex at(const lattice *l, size_t i) { return l->hole[i].x + I * l->hole[i].y; }

/* Holes within `radius` of hole i, itself left out; more than NEIGHBOURS_MAX are not looked at. */
static size_t around(const lattice *l, size_t i, double radius, uint32_t found[NEIGHBOURS_MAX])
{
    size_t count = 0;
    pp_grid_window window = pp_grid_around(&l->grid, l->x[i], l->y[i], radius);
    for (size_t row = window.row_first; row <= window.row_last; row++)
        for (size_t p = pp_grid_first(&l->grid, window, row);
             p < pp_grid_end(&l->grid, window, row) && count < NEIGHBOURS_MAX; p++) {
            uint32_t k = l->grid.item[p];
            if (k != i && cabs(at(l, k) - at(l, i)) <= radius) found[count++] = k;
        }
    return count;
}

static int by_size(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return p < q ? -1 : p > q;
}

/* The median distance to the nearest neighbour. */
static pp_status guess_pitch(lattice *l, pp_memory *memory, pp_error *error)
{
    double *nearest;
    PP_TAKE(nearest, &memory->scratch, l->count);
    double wide = 4 * l->grid.cell;
    for (size_t i = 0; i < l->count; i++) {
        uint32_t beside[NEIGHBOURS_MAX];
        nearest[i] = INFINITY;
        for (double radius = l->grid.cell; !(nearest[i] < INFINITY) && radius <= wide;
             radius *= 2) {
            size_t count = around(l, i, radius, beside);
            for (size_t k = 0; k < count; k++)
                nearest[i] = fmin(nearest[i], cabs(at(l, beside[k]) - at(l, i)));
        }
    }
    qsort(nearest, l->count, sizeof *nearest, by_size);
    l->pitch = nearest[l->count / 2];
    return PP_OK;
}

/* Directions to neighbours repeat every sixth or every quarter of a turn. */
static void find_directions(lattice *l)
{
    double complex sixth = 0, fourth = 0;
    for (size_t i = 0; i < l->count; i++) {
        uint32_t beside[NEIGHBOURS_MAX];
        size_t count = around(l, i, NEAR * l->pitch, beside);
        for (size_t k = 0; k < count; k++) {
            double complex step = at(l, beside[k]) - at(l, i);
            double complex unit = step / cabs(step), squared = unit * unit;
            fourth += squared * squared;
            sixth += squared * squared * squared;
        }
    }
    l->square = cabs(fourth) > cabs(sixth);
    l->row = l->pitch * cexp(I * (l->square ? carg(fourth) / 4 : carg(sixth) / 6));
    l->turn = l->square ? I : 0.5 + I * sqrt(0.75);
}

/* step = a row + b row turn */
static void steps_of(const lattice *l, double complex step, int32_t *a, int32_t *b)
{
    double complex s = step / l->row;
    double over = cimag(s) / cimag(l->turn);
    *b = (int32_t)lround(over);
    *a = (int32_t)lround(creal(s) - over * creal(l->turn));
}

static double complex steps(const lattice *l, size_t i) { return l->a[i] + l->b[i] * l->turn; }

/* From neighbour to neighbour until none is left: a block. */
static void walk(lattice *l, uint32_t first, uint32_t *queue)
{
    size_t head = 0, tail = 0;
    l->block[first] = (uint32_t)l->blocks;
    l->a[first] = l->b[first] = 0;
    queue[tail++] = first;
    while (head < tail) {
        uint32_t i = queue[head++], beside[NEIGHBOURS_MAX];
        size_t count = around(l, i, NEAR * l->pitch, beside);
        for (size_t k = 0; k < count; k++) {
            uint32_t next = beside[k];
            if (l->block[next] != NO_BLOCK) continue;
            int32_t a, b;
            steps_of(l, at(l, next) - at(l, i), &a, &b);
            l->a[next] = l->a[i] + a;
            l->b[next] = l->b[i] + b;
            l->block[next] = (uint32_t)l->blocks;
            queue[tail++] = next;
        }
    }
    l->size[l->blocks++] = tail;
}

/* One step for all blocks, and the place of each. */
static void fit(lattice *l, double complex *mean)
{
    double complex product = 0;
    double square = 0;
    for (size_t b = 0; b < l->blocks; b++) l->place[b] = mean[b] = 0;
    for (size_t i = 0; i < l->count; i++) {
        uint32_t b = l->block[i];
        l->place[b] += at(l, i) / (double)l->size[b];
        mean[b] += steps(l, i) / (double)l->size[b];
    }
    for (size_t i = 0; i < l->count; i++) {
        double complex s = steps(l, i) - mean[l->block[i]];
        product += conj(s) * (at(l, i) - l->place[l->block[i]]);
        square += creal(s) * creal(s) + cimag(s) * cimag(s);
    }
    if (square > 0) l->row = product / square;
    for (size_t b = 0; b < l->blocks; b++) l->place[b] -= l->row * mean[b];
}

/* Blocks on the rows of the largest, and those too small to have rows, become part of it. */
static void join(lattice *l, const double complex *mean)
{
    size_t largest = 0;
    for (size_t b = 1; b < l->blocks; b++)
        if (l->size[b] > l->size[largest]) largest = b;
    for (size_t i = 0; i < l->count; i++) {
        size_t b = l->block[i];
        if (b == largest) continue;
        int32_t da, db;
        double complex middle = l->place[b] + l->row * mean[b];
        double complex off = middle - l->place[largest] - l->row * mean[b];
        steps_of(l, off, &da, &db);
        double away = cabs(off - l->row * (da + db * l->turn));
        if (l->size[b] >= BLOCK_LEAST && away > ON_ROWS * cabs(l->row)) continue;
        l->a[i] += da;
        l->b[i] += db;
        l->block[i] = (uint32_t)largest;
    }
}

/* Number the blocks that are left, and count them again. */
static void renumber(lattice *l, uint32_t *number)
{
    size_t count = 0;
    for (size_t b = 0; b < l->blocks; b++) number[b] = NO_BLOCK, l->size[b] = 0;
    for (size_t i = 0; i < l->count; i++) {
        uint32_t *mine = &number[l->block[i]];
        if (*mine == NO_BLOCK) *mine = (uint32_t)count++;
        l->block[i] = *mine;
        l->size[*mine]++;
    }
    l->blocks = count;
}

static pp_status begin(lattice *l, pp_memory *memory, pp_error *error)
{
    pp_arena *scratch = &memory->scratch;
    PP_TAKE(l->x, scratch, l->count);
    PP_TAKE(l->y, scratch, l->count);
    PP_TAKE(l->a, scratch, l->count);
    PP_TAKE(l->b, scratch, l->count);
    PP_TAKE(l->block, scratch, l->count);
    PP_TAKE(l->place, scratch, l->count);
    PP_TAKE(l->size, scratch, l->count);
    double left = INFINITY, right = -INFINITY, low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < l->count; i++) {
        l->x[i] = l->hole[i].x, l->y[i] = l->hole[i].y;
        left = fmin(left, l->x[i]), right = fmax(right, l->x[i]);
        low = fmin(low, l->y[i]), high = fmax(high, l->y[i]);
        l->block[i] = NO_BLOCK;
    }
    double area = fmax((right - left) * (high - low), 1e-6);
    double cell = sqrt(area / (double)l->count);
    return pp_grid_build(l->count, l->x, l->y, cell, scratch, &l->grid, error);
}

static pp_status publish(const lattice *l, pp_memory *memory, pp_derived *d, pp_error *error)
{
    double complex shown = l->row;
    double sum = 0;
    PP_TAKE(d->at, &memory->keep, l->count);
    for (size_t i = 0; i < l->count; i++) {
        double complex place = l->place[l->block[i]] + l->row * steps(l, i);
        double away = cabs(place - at(l, i));
        d->at[i] = (pp_nominal_point){creal(place), cimag(place)};
        sum += away * away;
        if (away > d->largest) d->largest = away, d->farthest = i;
    }
    d->rms = sqrt(sum / (double)l->count);
    d->square = l->square;
    d->pitch = cabs(shown);
    d->angle_deg = carg(shown) * PP_DEGREES;
    d->blocks = l->blocks;
    return PP_OK;
}

static pp_status derive(lattice *l, pp_memory *memory, pp_derived *d, pp_error *error)
{
    PP_TRY(begin(l, memory, error));
    PP_TRY(guess_pitch(l, memory, error));
    if (!(l->pitch > 0 && l->pitch < INFINITY))
        return pp_fail(error, PP_EINPUT,
                       "the holes have no pitch: they stand far apart, or two "
                       "have one place");
    find_directions(l);
    uint32_t *room;
    double complex *mean;
    PP_TAKE(room, &memory->scratch, l->count);
    PP_TAKE(mean, &memory->scratch, l->count);
    for (size_t i = 0; i < l->count; i++)
        if (l->block[i] == NO_BLOCK) walk(l, (uint32_t)i, room);
    fit(l, mean);
    join(l, mean);
    renumber(l, room);
    fit(l, mean);
    PP_TRY(publish(l, memory, d, error));
    if (d->rms <= REGULAR * d->pitch) return PP_OK;
    return pp_fail(error, PP_EINPUT,
                   "the holes lie %.3f mm (root mean square) from the best regular pattern, of "
                   "pitch %.3f mm: they have none; use the drawing's list",
                   d->rms, d->pitch);
}

pp_status pp_pattern_derive(size_t count, const pp_measured_point *holes, pp_memory *memory,
                            pp_derived *derived, pp_error *error)
{
    lattice l = {.count = count, .hole = holes};
    pp_derived d = {0};
    if (count < HOLES_LEAST)
        return pp_fail(error, PP_EINPUT, "%zu holes show no pattern; %d are the fewest", count,
                       HOLES_LEAST);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = derive(&l, memory, &d, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *derived = d;
    return status;
}
