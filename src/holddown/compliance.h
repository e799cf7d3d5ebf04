/* How much the free plate gives: the answer of every point to a force at any other. mm, N, MPa.
 *
 * The free plate has no supports, so its stiffness is singular in the three rigid motions. Three
 * weak springs make it regular; every load set put on it is in balance, so that they carry nothing
 * and leave no trace in any result.
 */
#ifndef PP_HOLDDOWN_COMPLIANCE_H
#define PP_HOLDDOWN_COMPLIANCE_H

#include <stdint.h>

#include "elements/mesh.h"
#include "holddown/support.h"

/* A linear functional of the deflection: its value at a place, a slope, a mean over a ring; as a
 * load the same vector is the force that works on it. rigid: of [1, (x - xc)/L, (y - yc)/L]. */
enum { PP_PROBE_MAX = 8 * 16 };
typedef struct pp_probe {
    size_t count;
    uint32_t dof[PP_PROBE_MAX]; /* distinct */
    double value[PP_PROBE_MAX];
    double rigid[3];
} pp_probe;

typedef struct pp_compliance {
    const pp_mesh *mesh;
    double rigidity;  /* D = E t^3 / (12 (1 - nu^2)), N mm */
    double length;    /* L of the rigid motions: half the long side */
    double *factor;   /* band Cholesky factor of D K + springs */
    double condition; /* estimated, 1-norm; NaN where `near` is not made */
    double *near;     /* lower band of the inverse, [dofs * (near_band + 1)]; NULL: not made */
    size_t near_band;
} pp_compliance;

/* Factor the stiffness band[dofs * (half_bandwidth + 1)] of the mesh for D = 1 (overwritten, kept),
 * and find the inverse between all dofs up to `reach` mm apart. A reach below 0: no inverse, nor an
 * estimate of the condition, for few places that are solved one by one.
 * errors: PP_ENUMERIC: not positive definite, or sizes that do not fit; PP_ENOMEM */
pp_status pp_compliance_make(const pp_mesh *mesh, double *band, double rigidity, double reach,
                             pp_memory *memory, pp_compliance *compliance, pp_error *error);

/* Deflection fields x[dofs * count] for loads given in x. errors: PP_ENUMERIC: the solver refuses;
 * PP_ENOMEM */
pp_status pp_compliance_solve(const pp_compliance *compliance, size_t count, double *x,
                              pp_error *error);

/* Deflection fields of unit forces at probes, deflection[count][dofs]; beside[dofs * count] is
 * workspace. errors: PP_ENUMERIC: sizes that do not fit */
pp_status pp_compliance_deflect(const pp_compliance *compliance, size_t count,
                                const pp_probe *probes, double *beside, double *deflection,
                                pp_error *error);

/* Value (0, 0) or slope (1, 0), (0, 1) per mm at a place. */
void pp_probe_point(const pp_compliance *compliance, double x, double y, int dx, int dy,
                    pp_probe *probe);
/* Mean over 8 places on a circle, the first towards +x; places beyond the outline carry nothing and
 * leave their share to the others; with radius 0, or none within, the centre itself. */
void pp_probe_ring(const pp_compliance *compliance, double x, double y, double radius,
                   pp_probe *probe);

/* The functional of a field[dofs]. */
double pp_probe_field(const pp_probe *probe, const double *field);
/* a' (D K + springs)^-1 b for probes within `reach` of each other. */
double pp_probe_between(const pp_compliance *compliance, const pp_probe *a, const pp_probe *b);

/* The answer of the whole plate to its supports. */
typedef struct pp_influence {
    size_t count;    /* m supports */
    size_t stride;   /* of u, at least m */
    double *u;       /* u[dof * stride + i]: deflection of the dof per newton at support i */
    const double *g; /* G[m * m], symmetric */
    const double *r; /* R[m * 3] */
} pp_influence;

typedef struct pp_influence_room { /* for more supports to come */
    pp_arena *arena;
    size_t count;
} pp_influence_room;

/* Solve for a unit force at every support.
 *
 * given    known    of the first known->count of them, from before; NULL: none. Where its stride
 *                   leaves room for all, they are put beside them in its own u.
 *          room     where u is made, and for how many supports at least; NULL: in keep, for these
 * memory   keep: the influence
 * errors   PP_ENUMERIC: sizes that do not fit; PP_ENOMEM
 * The same bits for any number of threads. */
pp_status pp_influence_make(const pp_compliance *compliance, const pp_supports *supports,
                            const pp_influence *known, const pp_influence_room *room, int threads,
                            pp_memory *memory, pp_influence *influence, pp_error *error);

/* g[m]: deflection of each support per newton of the probe's load. */
void pp_influence_probe(const pp_influence *influence, const pp_probe *probe, double *g);
/* The same of some supports only, for probes on the same dofs: g[probe_count * count]. */
void pp_influence_some(const pp_influence *influence, size_t probe_count, const pp_probe *probes,
                       size_t count, const uint32_t *supports, double *g);
/* field[dofs] += sum of force[i] times the answer to support i. */
void pp_influence_field(const pp_influence *influence, size_t dofs, const double *force,
                        double *field);

#endif
