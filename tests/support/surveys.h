/* Surveys made in memory for tests: deterministic points and noise. */
#ifndef PP_TESTS_SURVEYS_H
#define PP_TESTS_SURVEYS_H

#include <math.h>
#include <stdint.h>

#include "base/memory.h"
#include "input/lists/survey.h"

/* Uniform in (0, 1); the state is any number to begin with. */
static inline double test_uniform(uint64_t *state)
{
    *state = *state * 6364136223846793005ULL + 1442695040888963407ULL;
    return ((double)(*state >> 11) + 0.5) / 9007199254740992.0;
}

/* Gaussian, mean 0, standard deviation 1 (Box and Muller). */
static inline double test_gaussian(uint64_t *state)
{
    double r = sqrt(-2 * log(test_uniform(state)));
    return r * cos(6.283185307179586 * test_uniform(state));
}

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
    for (size_t k = 0; k < p->count; k++) {
        p->x[k] = (test_uniform(&seed) - 0.5) * width;
        p->y[k] = (test_uniform(&seed) - 0.5) * height;
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
