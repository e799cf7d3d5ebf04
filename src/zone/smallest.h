/* The smallest zone of any rigid placement, for any number of holes: exact, and proven.
 *
 *     F = min over theta, t of max over i (|R(theta) m_i + t - n_i| - r_i)
 *
 * F <= limit / 2 exactly when some placement conforms to a diametral limit. A lower bound that
 * holds for every angle and shift comes with it, and the few holes (witnesses) that alone force F.
 */
#ifndef PP_ZONE_SMALLEST_H
#define PP_ZONE_SMALLEST_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

enum { PP_ZONE_WITNESSES_MAX = 4 };

/* The search stops at this gap between value and bound; more than ..._GAP_ACCEPTED is an error. mm,
 * for coordinates up to 10 m; larger ones in proportion (the coordinates' own last digit). */
#define PP_ZONE_GAP_WANTED 1e-10
#define PP_ZONE_GAP_ACCEPTED 1e-9

typedef struct pp_zone_problem {
    size_t count;            /* >= 1 */
    const double *mx, *my;   /* measured centres, mm */
    const double *nx, *ny;   /* nominal centres, mm */
    const double *allowance; /* r_i >= 0, radial: half of the bonus; NULL: none */
} pp_zone_problem;

typedef struct pp_smallest_zone {
    double radius;      /* F, reached by the placement below; negative: allowance to spare */
    double lower_bound; /* proven; radius - lower_bound is the gap */
    double angle;       /* rad in (-pi, pi]: measured point turned about (0, 0), then shifted */
    double dx, dy;
    double moved; /* largest movement of any hole by this placement */
    int witness_count;
    size_t witness[PP_ZONE_WITNESSES_MAX]; /* indices, ascending */
    bool witnesses_suffice;     /* these alone force F; false only for errors as large as the plate,
                                   where more holes than these rule out far angles */
    double least_squares_worst; /* largest |..| - r_i at the least-squares placement */
    /* how it went */
    int passes, evaluations;
    size_t working_set;
} pp_smallest_zone;

/* Solve.
 *
 * threads  the result has the same bits whatever their number
 * scratch  temporaries, released on success; 1.5 MB plus half a kB per 16384 holes
 * errors   PP_ENUMERIC when the gap stays above PP_ZONE_GAP_ACCEPTED; PP_ENOMEM
 *
 * method   From the least-squares placement, a pass over all holes picks the worst few in each
 *          direction; that small set is solved over every angle (zone_angle.h); a pass at its
 *          placement finds who is worse there and adds them; the end comes when nobody is. A bound
 *          for a subset is one for the whole.
 *
 * The placement need not be the only one that reaches F (two witnesses leave a valley); one hole,
 * or holes measured all in one place, keep angle 0.
 */
pp_status pp_smallest_zone_solve(const pp_zone_problem *problem, int threads, pp_arena *scratch,
                                 pp_smallest_zone *zone, pp_error *error);

#endif
