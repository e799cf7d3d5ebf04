/* Shapes of plates for simulations, on a disc of radius 1: heights of any size. */
#ifndef PP_TESTS_SHAPES_H
#define PP_TESTS_SHAPES_H

#include <math.h>
#include <stddef.h>

typedef struct plate_shape {
    const char *words;
    double (*height)(double x, double y, double width); /* width: full, at half height */
    double width;                                       /* of what has one */
} plate_shape;

/* exp(-(r/c)^2) is one half at r = c sqrt(ln 2) = width / 2 */
static inline double shape_hill(double dx, double dy, double width)
{
    double c = width / (2 * 0.8325546111576977);
    return exp(-(dx * dx + dy * dy) / (c * c));
}

static inline double shape_flat(double x, double y, double w) { return 0 * (x + y + w); }
static inline double shape_bow(double x, double y, double w) { return x * x + 0.7 * y * y + 0 * w; }
static inline double shape_wave(double x, double y, double w)
{
    return sin(6.283185307179586 / w * (0.8 * x + 0.6 * y));
}
static inline double shape_inside(double x, double y, double w)
{
    return shape_hill(x - 0.31, y + 0.22, w);
}
static inline double shape_pit(double x, double y, double w)
{
    return -shape_hill(x + 0.43, y - 0.17, w);
}
static inline double shape_rim(double x, double y, double w)
{
    return shape_hill(x - 0.97, y - 0.12, w);
}
static inline double shape_rim_pit(double x, double y, double w)
{
    return -shape_hill(x + 0.6, y - 0.77, w);
}
static inline double shape_three_lobes(double x, double y, double w)
{
    return x * x * x - 3 * x * y * y + 0 * w;
}
static inline double shape_crease(double x, double y, double w)
{
    return fabs(x - 0.3 * y - 0.15) + 0 * w;
}
static inline double shape_cone(double x, double y, double w)
{
    return hypot(x - 0.2, y + 0.1) + 0 * w;
}
static inline double shape_droop(double x, double y, double w)
{
    double r = hypot(x, y), in = 1 - w;
    return r > in ? -(r - in) * (r - in) : 0;
}
static inline double shape_ring(double x, double y, double w)
{
    double r = hypot(x - 0.1, y) - 0.55, c = w / (2 * 0.8325546111576977);
    return exp(-r * r / (c * c));
}
static inline double shape_two_hills(double x, double y, double w)
{
    return shape_hill(x - 0.5, y - 0.4, w) - shape_hill(x + 0.4, y + 0.55, w);
}
static inline double shape_dent_in_bow(double x, double y, double w)
{
    return 0.5 * (x * x + y * y) - 0.6 * shape_hill(x - 0.45, y + 0.5, w);
}
static inline double shape_step(double x, double y, double w)
{
    return tanh((x + 0.4 * y - 0.1) / (0.5 * w));
}

#endif
