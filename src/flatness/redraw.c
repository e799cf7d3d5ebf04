#include "flatness/redraw.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/random.h"
#include "linalg/linalg.h"

static const double nothing = 1e-13; /* of the mean diagonal: a pivot of round-off only */

/* Uniform in (0, 1): Knuth's 64-bit linear congruence (MMIX), its upper bits. Not base/random.h's
 * own numbers: others would give other clamp plans than the reports that are out. */
static double uniform(uint64_t *state)
{
    *state = *state * 6364136223846793005U + 1442695040888963407U;
    return pp_random_open(*state);
}

static double normal(uint64_t *state)
{
    double u = uniform(state), v = uniform(state);
    return pp_random_normal_of(u, v);
}

/* b = L z for a lower band factor L */
static void colour(size_t n, size_t kd, const double *factor, const double *z, double *b)
{
    memset(b, 0, n * sizeof *b);
    for (size_t j = 0; j < n; j++)
        for (size_t k = 0; k <= kd && j + k < n; k++) b[j + k] += factor[j * (kd + 1) + k] * z[j];
}

/* A = L L' of a band that may be singular, in place: where a pivot is nothing, so is its column. */
static void factor_singular(size_t n, size_t kd, double *band)
{
    double trace = 0;
    for (size_t j = 0; j < n; j++) trace += band[j * (kd + 1)] / (double)n;
    for (size_t j = 0; j < n; j++) {
        double *l = band + j * (kd + 1);
        size_t most = j + kd < n ? kd : n - 1 - j;
        bool none = l[0] <= nothing * trace;
        double root = none ? 0 : sqrt(l[0]);
        for (size_t k = 0; k <= most; k++) l[k] = none ? 0 : k == 0 ? root : l[k] / root;
        for (size_t p = 1; !none && p <= most; p++) {
            double *to = band + (j + p) * (kd + 1);
            for (size_t q = p; q <= most; q++) to[q - p] -= l[p] * l[q];
        }
    }
}

pp_status pp_surface_redraw(const pp_surface *surface, size_t count, pp_memory *memory,
                            double **field, pp_error *error)
{
    size_t n = surface->mesh->dofs, kd = surface->mesh->half_bandwidth;
    double *made, *a, *z;
    PP_TAKE_ZERO(made, &memory->keep, count * n);
    *field = made;
    if (!surface->normal || !(surface->used_noise > 0)) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(a, &memory->scratch, n * (kd + 1));
    PP_TAKE(z, &memory->scratch, n);
    memcpy(a, surface->normal, n * (kd + 1) * sizeof *a);
    factor_singular(n, kd, a);
    uint64_t state = 20260101;
    for (size_t c = 0; c < count; c++) {
        for (size_t j = 0; j < n; j++) z[j] = surface->used_noise * normal(&state);
        colour(n, kd, a, z, made + c * n);
    }
    PP_TRY(pp_band_solve(n, kd, surface->factor, count, made, error));
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
