/* Random numbers, the same ones on every machine. Whoever draws holds the state and says with which
 * seed it begins; nothing of it is shared. */
#ifndef PP_BASE_RANDOM_H
#define PP_BASE_RANDOM_H

#include <math.h>
#include <stdint.h>

#include "base/constants.h"

/* 64 even bits: SplitMix64 (Steele, Lea and Flood, OOPSLA 2014). */
static inline uint64_t pp_random_bits(uint64_t *state)
{
    uint64_t z = *state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* Uniform in (0, 1), neither end taken, from the upper bits of 64 even ones. */
static inline double pp_random_open(uint64_t bits)
{
    return ((double)(bits >> 11) + 0.5) * 0x1p-53;
}

/* Uniform in (0, 1). */
static inline double pp_random_uniform(uint64_t *state)
{
    return pp_random_open(pp_random_bits(state));
}

/* Standard normal of two uniform numbers (Box and Muller); the other one has the sine. */
static inline double pp_random_normal_of(double u, double v)
{
    return sqrt(-2 * log(u)) * cos(PP_TURN * v);
}

/* Standard normal. */
static inline double pp_random_normal(uint64_t *state)
{
    double u = pp_random_uniform(state), v = pp_random_uniform(state);
    return pp_random_normal_of(u, v);
}

#endif
