/* One worker's view of a pile under the foot: the columns of the holes of a block, and the contact
 * problem that holds a hole's own places too. Inside stack/under_foot.c and stack/clamps.c. */
#ifndef PP_STACK_BENCH_H
#define PP_STACK_BENCH_H

#include "stack/under_foot.h"

enum {
    PP_BENCH_BLOCK = 32, /* holes whose columns are made at once */
    PP_BENCH_SLOPES = 2,
    PP_BENCH_COLUMNS = PP_LAYERS_MAX + 1 + PP_BENCH_SLOPES /* pairs, foot, two slopes */
};

typedef struct pp_bench {
    const pp_stack_pile *pile;
    const pp_stack_rest *rest;
    size_t columns;     /* at each hole: the pairs of all interfaces, the foot, two slopes */
    double *g, *rigid;  /* [N * columns * block], [3 layers * columns * block] */
    double *d, *motion; /* the same in the base */
    double *columns_work;
    double *influence;    /* [points * 4] of one place with D = 1 */
    pp_contact_base base; /* rest's, with the hole's places behind */
    pp_contact_work work;
    double *d_foot, *d_place, *d_slope; /* [N + layers] each, [layers], [2] of them */
    bool *start_rest, *start_foot;      /* [N] contact sets of the hole before */
    size_t fallbacks;
    double close_force; /* of the hole before */
    /* the hole under way */
    bool contact[PP_LAYERS_MAX]; /* its place on the interface is a contact of its own */
    double at_rest[PP_LAYERS_MAX],
        give[PP_LAYERS_MAX]; /* gap in the base, and per newton of foot */
    double slope_give[PP_BENCH_SLOPES];
} pp_bench;

/* Arrays of one bench (one a thread), with the stack at rest as its base and room for a hole's
 * place on each interface. Refers to *pile and *rest, which must outlive it. PP_ENOMEM. */
pp_status pp_bench_take(const pp_stack_pile *pile, const pp_stack_rest *rest, pp_arena *arena,
                        pp_bench *bench, pp_error *error);

/* Bytes of one bench, about. */
size_t pp_bench_bytes(const pp_stack_pile *pile);

/* The columns of up to PP_BENCH_BLOCK holes. probes[4 * count]: point, foot, two slopes of each. */
void pp_bench_look(pp_bench *bench, size_t count, const double *x, const double *y,
                   pp_probe *probes);

/* Take hole k of the block into the contact problem. */
void pp_bench_enter(pp_bench *bench, size_t k, double x, double y, const pp_probe *probes);

/* The contact state at a force, started from start[N] (kept there). */
pp_status pp_bench_solve(pp_bench *bench, double force, bool *start, pp_error *error);

/* Gap of the hole on interface k in the state found; slope of the top layer less that of the base.
 */
double pp_bench_gap(const pp_bench *bench, size_t k, double force);
double pp_bench_slope(const pp_bench *bench, int axis, double force);

/* How the gap on interface k moves with the force while contact stays. */
pp_status pp_bench_line(pp_bench *bench, size_t k, pp_contact_straight *line, pp_error *error);

#endif
