/* Unilateral contact of a plate with its supports: dense kernels on the compliance of the contact
 * points. Pure numbers: knows no mesh, no job, no units beyond mm and N. Theory:
 * docs/theory/holddown, "Contact".
 *
 * m contact points carry reactions r >= 0 (up) at gaps y >= 0 with r_i y_i = 0:
 *
 *     y = gap + G r - F g_f + R a        (G compliance, R rigid motions, a their amounts)
 *     R' r = load + F r_f                (balance of force and two moments)
 *
 * for a down force F whose column is (g_f = compliance between the points and the force,
 * r_f = its own rigid row). `gap` and `load` describe the state without foot.
 *
 * A base is a set of points assumed touching. Around it the problem reads
 *
 *     v + F d + P x >= 0,  x >= 0,  complementary        (a linear complementarity problem)
 *
 * where x is "gap opened" for a touching point and "reaction taken up" for the others, and the
 * left side is their reaction and their gap. Points are renumbered: the touching ones first. P gets
 * eps on the diagonal of the touching ones: a lifted support pulls back eps newton per mm, far
 * below anything that matters, which makes P a P-matrix, so that every F has one solution and
 * tipping is a path, not a singularity.
 *
 * Matrices are column-major. Workspaces are the caller's; nothing here allocates.
 */
#ifndef PP_HOLDDOWN_CONTACT_H
#define PP_HOLDDOWN_CONTACT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "holddown/contact_factor.h"

typedef struct pp_contact_points {
    size_t count;    /* m */
    size_t rigid;    /* columns of R: 3 for one plate, 3 for each of a stack */
    const double *g; /* G[m * m], symmetric, mm/N; NULL: `entry` tells */
    const double *r; /* R[m * rigid]: 1, (x - xc)/L, (y - yc)/L */
    /* G[i, j] where most of G is nought and not worth its memory */
    double (*entry)(const void *context, size_t i, size_t j);
    const void *context;
} pp_contact_points;

typedef struct pp_contact_base {
    size_t count, active, rigid;
    uint32_t *order; /* [m] point at each place: the touching ones first, each part ascending */
    double *p;       /* P[m * m], in places */
    double *v;       /* [m] reactions of the touching ones, gaps of the others, at F = 0 */
    double *zv;      /* [m * rigid] rigid part of a force's column, in places */
    double *q;       /* [rigid * rigid] rigid compliance */
    double *motion;  /* [rigid] */
    double eps;
    double tiny_force, tiny_gap; /* a reaction or gap above minus this counts as not negative */
    const double *g;             /* of the points it was made of; NULL: not made, or of entries */
} pp_contact_base;

/* Arrays for one base of up to m points with so many rigid motions.
 * errors   PP_ENUMERIC: sizes that do not fit; PP_ENOMEM */
pp_status pp_contact_base_take(size_t m, size_t rigid, pp_arena *arena, pp_contact_base *base,
                               pp_error *error);

/* Doubles that pp_contact_base_make needs, and ints. */
size_t pp_contact_base_work(size_t m, size_t active, size_t rigid);

/* What a base is made of: the state without foot (see above). */
typedef struct pp_contact_start {
    const bool *touching; /* [m] points that fix every rigid motion */
    const double *gap;    /* [m] mm */
    const double *load;   /* [rigid] */
    double eps;           /* N/mm */
} pp_contact_start;

/* Make the base around the touching points.
 *
 * given    work[pp_contact_base_work], pivots[active + rigid]
 * out      *base              its arrays must be taken beforehand; tiny_* are left alone
 * errors   PP_ENUMERIC        the touching points do not fix a plane
 */
pp_status pp_contact_base_make(const pp_contact_points *points, const pp_contact_start *start,
                               double *work, int *pivots, pp_contact_base *base, pp_error *error);

/* Whether a base made earlier is of these points and touches the same: only the state without foot
 * is then another one. */
bool pp_contact_base_serves(const pp_contact_base *made, const pp_contact_points *points,
                            const pp_contact_start *start);
/* Such a base for the new state, the same to the last bit as one made anew. base: `made` itself, or
 * another one whose arrays are taken. work[m] */
void pp_contact_base_move(const pp_contact_base *made, const pp_contact_start *start, double *work,
                          pp_contact_base *base);

/* Whether the base's contact is that at rest: no reaction pulls and no gap is closed beyond `slack`
 * times its tiny_force and tiny_gap. */
bool pp_contact_base_rests(const pp_contact_base *base, double slack);

/* Bring `count` columns g[m * count] (compliance between the points, in the points' own order, and
 * a force or probe) with rigid rows r[rigid * count] into the base: d[m * count] in places,
 * motion[rigid * count] the rigid motion per newton. work[(m + active) * count] */
void pp_contact_columns(const pp_contact_base *base, size_t count, const double *g, const double *r,
                        double *d, double *motion, double *work);

/* The entry of such a column at one place: g_a[active] of the touching places, in their order, and
 * g of this place. */
double pp_contact_column_at(const pp_contact_base *base, size_t place, const double *g_a, double g,
                            const double *r);

/* Displacement (down positive is negative) at a probe per newton of a force, nothing changing
 * contact: e = -c + g_probe,A . d_A + r_probe . motion, c the compliance between probe and force.
 */
double pp_contact_flexibility(const pp_contact_base *base, double direct, const double *g_probe,
                              const double *r_probe, const double *d, const double *motion);

/* What one contact problem needs; one each for every thread. */
typedef struct pp_contact_work {
    size_t count;   /* m */
    bool *changed;  /* [m] the set C of points that changed state; kept as the next start */
    bool *next;     /* [m] */
    uint32_t *list; /* [m] C, ascending */
    size_t changed_count;
    /* [m] places changed at no force, about a base that is not at rest itself; NULL: none */
    const bool *rest;
    double *raise; /* [m] */
    double *x;     /* [2 m] x of C, in the order of list */
    double *q;     /* [2 m] v + F d + P x, in places */
    pp_contact_factor factor;
    size_t iterations; /* sum over all solves, for the record */
    size_t fallbacks;  /* how often the exact path had to be followed */
} pp_contact_work;

/* Arrays for problems of up to m points, begun. errors: PP_ENOMEM */
pp_status pp_contact_work_take(size_t m, pp_arena *arena, pp_contact_work *work, pp_error *error);
/* Before another base, or wherever the past must not matter: forget the start and all factors. */
void pp_contact_work_begin(pp_contact_work *work);

/* The contact state at force F, by a primal-dual active set started from work->changed. Where a set
 * repeats or grows far beyond that start, the exact path is followed a little way, then points join
 * a few at a time; in the end the exact path. held: touching points may not lift.
 * out: work->changed, list, changed_count, x, q. errors: PP_ENUMERIC: the path does not end. */
pp_status pp_contact_solve(const pp_contact_base *base, const double *d, double force, bool held,
                           pp_contact_work *work, pp_error *error);

/* The same about a base that may have negative v, from which there is no path: *found = false where
 * a set repeats or grows far beyond the start, and the state is then none.
 * errors   PP_ENUMERIC: the equations of a set cannot be solved; PP_ENOMEM */
pp_status pp_contact_try(const pp_contact_base *base, const double *d, double force,
                         pp_contact_work *work, bool *found, pp_error *error);

/* The same for a start that may be far off: sets may grow to any size.
 * errors   PP_ENUMERIC: the equations of a set cannot be solved; PP_ENOMEM */
pp_status pp_contact_roam(const pp_contact_base *base, const double *d, double force,
                          pp_contact_work *work, bool *found, pp_error *error);

/* The same for a base from which there is no path, where the active set has failed: block pivots as
 * long as fewer and fewer places are infeasible, else one at a time, the last of them, which ends
 * for every P-matrix (Judice and Pires, Computers & Operations Research 21 (1994) 587).
 * PP_ENUMERIC: no end after very many. */
pp_status pp_contact_pivot(const pp_contact_base *base, const double *d, double force,
                           pp_contact_work *work, pp_error *error);

/* The contact state without force, for a base around points that do not all touch in truth (v may
 * be negative anywhere): the same method; its fallback raises what is negative and lowers it again.
 * errors   PP_ENUMERIC: the path of the fallback does not end; PP_ENOMEM */
pp_status pp_contact_settle(const pp_contact_base *base, pp_contact_work *work, pp_error *error);

/* The same by following every change of contact from force `from`, where only work->rest has
 * changed (without it v + from d >= 0), to `to` (either direction). Exact and unique. out: as
 * above; events: how many changes.
 * errors   PP_ENUMERIC: no end after very many changes; PP_ENOMEM */
pp_status pp_contact_path(const pp_contact_base *base, const double *d, double from, double to,
                          bool held, pp_contact_work *work, size_t *events, pp_error *error);

/* sum over C of coefficient times x: the change of a probe whose base column is d. */
double pp_contact_probe(const pp_contact_base *base, const pp_contact_work *work, const double *d);

typedef struct pp_contact_probed { /* a place whose height is asked for */
    const double *d;               /* [m] its column in the base */
    double start;                  /* its value at F = 0 in the base, mm */
    double e;                      /* its flexibility, mm/N */
} pp_contact_probed;

typedef struct pp_contact_straight { /* y = at_zero + slope F */
    double at_zero, slope;
} pp_contact_straight;

/* Take the set in work->changed as C: list it. */
void pp_contact_list(pp_contact_work *work);

/* For the set C in work: how the probe moves with the force. PP_ENUMERIC should P of the set be
 * singular. */
pp_status pp_contact_line(const pp_contact_base *base, const double *d,
                          const pp_contact_probed *probe, pp_contact_work *work,
                          pp_contact_straight *line, pp_error *error);

/* The whole state in the points' own order: reaction[m], gap[m], motion[rigid] (each may be NULL).
 */
void pp_contact_state(const pp_contact_base *base, const pp_contact_work *work, double force,
                      const double *force_motion, double *reaction, double *gap, double *motion);

#endif
