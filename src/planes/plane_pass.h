/* What the passes over all points share: how points are cut into parts and blocks, and heights of
 * a block over a plane. Internal to the reference planes.
 */
#ifndef PP_PLANES_PLANE_PASS_H
#define PP_PLANES_PLANE_PASS_H

#include <math.h>

#include "planes/plane.h"

enum {
    PP_PASS_LANES = 8,                /* independent sums: lets the compiler use vector registers */
    PP_PASS_BLOCK = 1024,             /* points; a block's three columns stay in a 32 KiB cache */
    PP_PASS_PART = 64 * PP_PASS_BLOCK /* points a thread takes at a time */
};

/* Number of parts that `count` points are passed over in. */
static inline size_t pp_pass_parts(size_t count)
{
    return count / PP_PASS_PART + (count % PP_PASS_PART != 0);
}

/* Points of one block, in [begin, begin + count). */
typedef struct pp_pass_block {
    size_t begin, count;
} pp_pass_block;

/* Number of blocks of one part. */
static inline size_t pp_pass_blocks(size_t count, size_t part)
{
    size_t begin = part * PP_PASS_PART;
    size_t points = count - begin < PP_PASS_PART ? count - begin : PP_PASS_PART;
    return (points + PP_PASS_BLOCK - 1) / PP_PASS_BLOCK;
}

/* First point and length of one block. */
static inline pp_pass_block pp_pass_block_of(size_t count, size_t part, size_t block)
{
    size_t begin = part * PP_PASS_PART + block * PP_PASS_BLOCK;
    size_t rest = count - begin;
    return (pp_pass_block){begin, rest < PP_PASS_BLOCK ? rest : PP_PASS_BLOCK};
}

/* A plane through `shift` + `centre`: two parts, because the sum would be rounded at large offsets
 * while differences of near coordinates are exact. */
typedef struct pp_pass_plane {
    double shift[3], centre[3], normal[3];
} pp_pass_plane;

/* height[i] of point begin + i over the plane. */
static inline void pp_pass_heights(const pp_points *points, const pp_pass_plane *plane,
                                   pp_pass_block block, double height[PP_PASS_BLOCK])
{
    const double *x = points->x + block.begin, *y = points->y + block.begin,
                 *z = points->z + block.begin;
    const double sx = plane->shift[0], sy = plane->shift[1], sz = plane->shift[2];
    const double cx = plane->centre[0], cy = plane->centre[1], cz = plane->centre[2];
    const double nx = plane->normal[0], ny = plane->normal[1], nz = plane->normal[2];
    for (size_t i = 0; i < block.count; i++)
        height[i] = nx * (x[i] - sx - cx) + ny * (y[i] - sy - cy) + nz * (z[i] - sz - cz);
}

typedef struct pp_pass_extremes {
    double lowest, highest;
} pp_pass_extremes;

/* Least and greatest of height[count], count at most a block. */
static inline pp_pass_extremes pp_pass_block_extremes(const double *height, size_t count)
{
    double low[PP_PASS_LANES], high[PP_PASS_LANES];
    for (int l = 0; l < PP_PASS_LANES; l++) low[l] = high[l] = height[0];
    size_t i = 0;
    for (; i + PP_PASS_LANES <= count; i += PP_PASS_LANES)
        for (int l = 0; l < PP_PASS_LANES; l++) {
            double h = height[i + (size_t)l];
            low[l] = h < low[l] ? h : low[l];
            high[l] = h > high[l] ? h : high[l];
        }
    for (; i < count; i++) {
        low[0] = height[i] < low[0] ? height[i] : low[0];
        high[0] = height[i] > high[0] ? height[i] : high[0];
    }
    pp_pass_extremes e = {low[0], high[0]};
    for (int l = 1; l < PP_PASS_LANES; l++) {
        e.lowest = fmin(e.lowest, low[l]);
        e.highest = fmax(e.highest, high[l]);
    }
    return e;
}

/* First index whose height is `value` (it is there). */
static inline size_t pp_pass_find(const double *height, double value)
{
    size_t i = 0;
    while (height[i] != value) i++;
    return i;
}

/* Turn a unit normal to the side of `up`, as plane.h says. */
void pp_plane_orient(double normal[3], const double up[3]);

#endif
