/* Surveys made in memory for tests: deterministic points and noise. */
#ifndef PP_TESTS_SURVEYS_H
#define PP_TESTS_SURVEYS_H

#include <math.h>
#include <stdint.h>

#include "base/memory.h"
#include "input/lists/survey.h"
#include "support/random.h"

typedef struct test_points {
    size_t count;
    double *x, *y, *z;
} test_points;

static inline test_points test_points_take(pp_memory *memory, size_t count)
{
    test_points p = {.count = count};
    p.x = pp_arena_take(&memory->keep, count, sizeof(double));
    p.y = pp_arena_take(&memory->keep, count, sizeof(double));
    p.z = pp_arena_take(&memory->keep, count, sizeof(double));
    return p;
}

/* A spiral that fills the disc of this radius evenly, as far as the rim. */
static inline void test_fill_disc(test_points *p, double radius)
{
    for (size_t k = 0; k < p->count; k++) {
        double r = radius * sqrt(((double)k + 0.5) / (double)p->count);
        double angle = 2.399963229728653 * (double)k;
        p->x[k] = r * cos(angle), p->y[k] = r * sin(angle);
    }
}

static inline void test_fill_rectangle(test_points *p, double width, double height, uint64_t seed)
{
    test_random random = {seed};
    for (size_t k = 0; k < p->count; k++) {
        p->x[k] = (random_unit(&random) - 0.5) * width;
        p->y[k] = (random_unit(&random) - 0.5) * height;
    }
}

static inline pp_survey test_survey(const test_points *p)
{
    return (pp_survey){.count = p->count, .x = p->x, .y = p->y, .z = p->z, .frame = {.cosine = 1}};
}

static inline pp_job test_disc_job(double diameter)
{
    return (pp_job){.plate = {.outline = PP_OUTLINE_DISC, .diameter = diameter}};
}

static inline pp_job test_rectangle_job(double width, double height)
{
    return (pp_job){.plate = {.outline = PP_OUTLINE_RECTANGLE, .width = width, .height = height}};
}

#endif
