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

/* What a hole is asked at. Contact is sought from what was found there at the hole before. */
typedef enum pp_bench_start {
    PP_BENCH_REST,
    PP_BENCH_FOOT,
    PP_BENCH_CLOSE,     /* the force to close between layers */
    PP_BENCH_CLOSE_ALL, /* the same, to the support too */
    PP_BENCH_BEYOND,    /* larger forces: from a smaller one at the same hole */
    PP_BENCH_STARTS
} pp_bench_start;

typedef struct pp_bench {
    const pp_stack_pile *pile;
    const pp_stack_rest *rest;
    size_t columns;       /* at each hole: the pairs of all interfaces, the foot, two slopes */
    double *g, *rigid;    /* [N * columns * block], [3 layers * columns * block] */
    double *d, *motion;   /* the same in the base */
    double *columns_work; /* [active * block] */
    size_t touching[PP_LAYERS_MAX + 1]; /* the first of each interface among the base's places */
    double *influence;                  /* [points * 4] of one place with D = 1 */
    pp_contact_base base;               /* rest's, with the hole's places behind */
    pp_contact_work work;
    double *d_foot, *d_place, *d_slope; /* [N + layers] each, [layers], [2] of them */
    bool *start[PP_BENCH_STARTS];       /* [N + layers] contact sets */
    size_t fallbacks;
    double close_force[2]; /* of the hole before: between layers; to the support too */
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

/* Begin a chain of holes, with the force to try first for closing. */
void pp_bench_begin(pp_bench *bench, double force);

/* The contact state at a force, begun from start[from] and kept there.
 * errors   PP_ENUMERIC: the contact does not settle; PP_ENOMEM */
pp_status pp_bench_solve(pp_bench *bench, double force, pp_bench_start from, pp_error *error);

/* What is kept of one start becomes that of another, too. */
void pp_bench_start_like(pp_bench *bench, pp_bench_start start, pp_bench_start like);

/* Gap of the hole on interface k in the state found; slope of the top layer less that of the base.
 */
double pp_bench_gap(const pp_bench *bench, size_t k, double force);
double pp_bench_slope(const pp_bench *bench, int axis, double force);

/* How the gap on interface k moves with the force while contact stays.
 * errors   PP_ENUMERIC: the equations of the contact cannot be solved; PP_ENOMEM */
pp_status pp_bench_line(pp_bench *bench, size_t k, pp_contact_straight *line, pp_error *error);

#endif
