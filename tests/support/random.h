/* Random numbers for tests and simulations: the same on every machine.
 * SplitMix64 (Steele, Lea & Flood, OOPSLA 2014); normals by the polar method (Marsaglia). */
#ifndef PP_TESTS_RANDOM_H
#define PP_TESTS_RANDOM_H

#include <math.h>
#include <stdint.h>

typedef struct test_random {
    uint64_t state;
} test_random;

static inline uint64_t random_bits(test_random *r)
{
    uint64_t z = r->state += 0x9e3779b97f4a7c15u;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
}

/* In [0, 1). */
static inline double random_unit(test_random *r)
{
    return (double)(random_bits(r) >> 11) * 0x1p-53;
}

static inline double random_between(test_random *r, double low, double high)
{
    return low + (high - low) * random_unit(r);
}

/* In 0 .. count - 1. */
static inline size_t random_below(test_random *r, size_t count)
{
    return (size_t)(random_unit(r) * (double)count);
}

static inline double random_normal(test_random *r)
{
    for (;;) {
        double x = 2 * random_unit(r) - 1, y = 2 * random_unit(r) - 1, s = x * x + y * y;
        if (s > 0 && s < 1) return x * sqrt(-2 * log(s) / s);
    }
}

#endif
