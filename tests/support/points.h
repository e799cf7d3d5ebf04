/* Point sets for tests of reference planes: reading, moving, turning, shuffling. */
#ifndef PP_TESTS_POINTS_H
#define PP_TESTS_POINTS_H

#include <stdlib.h>

#include "planes/plane.h"
#include "support/check.h"

typedef struct point_set {
    size_t count;
    double *x, *y, *z;
} point_set;

static inline point_set points_new(size_t count)
{
    double *all = malloc(3 * count * sizeof *all);
    assert_non_null(all);
    return (point_set){count, all, all + count, all + 2 * count};
}

static inline void points_free(point_set *p) { free(p->x); }

static inline pp_points points_view(const point_set *p)
{
    return (pp_points){p->count, p->x, p->y, p->z};
}

static inline point_set points_from(size_t count, const double (*rows)[3])
{
    point_set p = points_new(count);
    for (size_t i = 0; i < count; i++)
        p.x[i] = rows[i][0], p.y[i] = rows[i][1], p.z[i] = rows[i][2];
    return p;
}

/* Edge 1: alternate corners of a cube of side 1/sqrt 2. */
static inline point_set points_tetrahedron(void)
{
    const double s = 1 / sqrt(2.0);
    const double rows[][3] = {{0, 0, 0}, {s, s, 0}, {s, 0, s}, {0, s, s}};
    return points_from(sizeof(rows) / sizeof *(rows), rows);
}

/* Edge 1. */
static inline point_set points_octahedron(void)
{
    const double s = 1 / sqrt(2.0);
    const double rows[][3] = {{s, 0, 0}, {-s, 0, 0}, {0, s, 0}, {0, -s, 0}, {0, 0, s}, {0, 0, -s}};
    return points_from(sizeof(rows) / sizeof *(rows), rows);
}

/* Edge 2. */
static inline point_set points_icosahedron(void)
{
    const double g = (1 + sqrt(5.0)) / 2;
    const double rows[][3] = {{0, 1, g}, {0, 1, -g}, {0, -1, g}, {0, -1, -g},
                              {1, g, 0}, {1, -g, 0}, {-1, g, 0}, {-1, -g, 0},
                              {g, 0, 1}, {-g, 0, 1}, {g, 0, -1}, {-g, 0, -1}};
    return points_from(sizeof(rows) / sizeof *(rows), rows);
}

/* Edge 1. */
static inline point_set points_cube(void)
{
    const double rows[][3] = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0},
                              {0, 0, 1}, {1, 0, 1}, {0, 1, 1}, {1, 1, 1}};
    return points_from(sizeof(rows) / sizeof *(rows), rows);
}

/* Pearson, Phil. Mag. 2 (1901) 559: ten points about a line, put on two parallel lines 10 apart. */
static inline point_set points_pearson(void)
{
    static const double x[] = {0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4};
    static const double y[] = {5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5};
    point_set p = points_new(20);
    for (size_t i = 0; i < 20; i++) p.x[i] = x[i / 2], p.y[i] = i % 2 ? 10 : 0, p.z[i] = y[i / 2];
    return p;
}

/* Turn by `angle` about the axis (unit), then shift. */
static inline void points_move(point_set *p, const double axis[3], double angle,
                               const double shift[3])
{
    double c = cos(angle), s = sin(angle);
    for (size_t i = 0; i < p->count; i++) {
        double v[3] = {p->x[i], p->y[i], p->z[i]};
        double along = axis[0] * v[0] + axis[1] * v[1] + axis[2] * v[2];
        double w[3] = {axis[1] * v[2] - axis[2] * v[1], axis[2] * v[0] - axis[0] * v[2],
                       axis[0] * v[1] - axis[1] * v[0]};
        for (int k = 0; k < 3; k++)
            v[k] = c * v[k] + s * w[k] + (1 - c) * along * axis[k] + shift[k];
        p->x[i] = v[0], p->y[i] = v[1], p->z[i] = v[2];
    }
}

/* Both planes of one set, and everything a test wants to look at. */
typedef struct planes {
    pp_memory memory;
    pp_error error;
    pp_least_squares ls;
    pp_minimum_zone mz;
} planes;

static inline planes planes_of(const point_set *p, const double up[3], int threads)
{
    planes r = {0};
    pp_points view = points_view(p);
    assert_ok(pp_plane_least_squares(&view, up, threads, &r.memory, &r.ls, &r.error), &r.error);
    assert_ok(pp_plane_minimum_zone(&view, &r.ls, up, threads, &r.memory, &r.mz, &r.error),
              &r.error);
    pp_memory_free(&r.memory);
    return r;
}

static inline double points_height(const point_set *p, const pp_plane *plane, size_t i)
{
    return plane->normal[0] * (p->x[i] - plane->point[0]) +
           plane->normal[1] * (p->y[i] - plane->point[1]) +
           plane->normal[2] * (p->z[i] - plane->point[2]);
}

static inline const double *witness_point(const point_set *p, const pp_minimum_zone *mz, int k,
                                          double q[3])
{
    size_t i = mz->witness[k].index;
    q[0] = p->x[i], q[1] = p->y[i], q[2] = p->z[i];
    return q;
}

static inline void cross_product(const double a[3], const double b[3], double c[3])
{
    c[0] = a[1] * b[2] - a[2] * b[1], c[1] = a[2] * b[0] - a[0] * b[2],
    c[2] = a[0] * b[1] - a[1] * b[0];
}

/* n . ((b - a) x (c - a)): twice the area of the triangle seen along n, signed. */
static inline double area_seen(const double n[3], const double *a, const double *b, const double *c)
{
    double ab[3] = {b[0] - a[0], b[1] - a[1], b[2] - a[2]};
    double ac[3] = {c[0] - a[0], c[1] - a[1], c[2] - a[2]}, x[3];
    cross_product(ab, ac, x);
    return n[0] * x[0] + n[1] * x[1] + n[2] * x[2];
}

/* Re-check the proof: every point within the zone, the witness on its planes, and three and one
 * whose foot lies inside the triangle, or two and two whose segments cross (seen along the normal;
 * `slack` is relative). */
static inline void assert_zone_proven(const point_set *p, const pp_minimum_zone *mz,
                                      double tolerance)
{
    const double slack = 1e-9;
    double half = mz->flatness / 2;
    for (size_t i = 0; i < p->count; i++)
        assert_true(fabs(points_height(p, &mz->plane, i)) <= half + tolerance);
    assert_int_equal(mz->witness_count, 4);
    int upper = 0;
    double q[4][3];
    for (int k = 0; k < 4; k++) {
        upper += mz->witness[k].side > 0;
        if (k > 0) assert_true(mz->witness[k - 1].side >= mz->witness[k].side);
        assert_near(points_height(p, &mz->plane, mz->witness[k].index), mz->witness[k].side * half,
                    tolerance);
        witness_point(p, mz, k, q[k]);
    }
    const double *n = mz->plane.normal;
    if (upper == 2) {
        double a = area_seen(n, q[0], q[1], q[2]), b = area_seen(n, q[0], q[1], q[3]);
        double c = area_seen(n, q[2], q[3], q[0]), d = area_seen(n, q[2], q[3], q[1]);
        assert_true(a * b <= slack * (fabs(a) + fabs(b)) * (fabs(a) + fabs(b)));
        assert_true(c * d <= slack * (fabs(c) + fabs(d)) * (fabs(c) + fabs(d)));
        return;
    }
    assert_true(upper == 1 || upper == 3);
    const double *one = upper == 3 ? q[3] : q[0], *t = upper == 3 ? q[0] : q[1];
    double whole = area_seen(n, t, t + 3, t + 6), sign = whole > 0 ? 1 : -1;
    for (int k = 0; k < 3; k++)
        assert_true(sign * area_seen(n, one, t + 3 * k, t + 3 * ((k + 1) % 3)) >=
                    -slack * fabs(whole));
}

#endif
