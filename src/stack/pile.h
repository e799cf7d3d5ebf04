/* A stack of layers as one contact problem: all layers share one mesh and one factor, scaled by
 * their stiffness. mm, N, MPa. Theory: docs/theory/stack.md.
 *
 * Interface k (from 0) lies under layer k (from the bottom); below interface 0 is the support. Its
 * contact points carry r >= 0 at gaps y >= 0; rigid motion k is that of layer k against the one
 * below it, so that R is block diagonal and interface k carries the weight of all layers above. */
#ifndef PP_STACK_PILE_H
#define PP_STACK_PILE_H

#include "holddown/compliance.h"
#include "holddown/contact.h"
#include "holddown/softening.h"
#include "stack/shapes.h"

/* What a stack is made of and lies on. What it points to must outlive the ground. */
typedef struct pp_stack_spec {
    pp_outline_spec outline; /* of every layer */
    double poisson_ratio;
    double foot_radius;            /* of the ring that stands for the foot; 0: a point */
    const pp_stack_shapes *shapes; /* of all layers */
    const pp_drilling *drilling;   /* what softens the layers; NULL: reckoned solid */
    const char *pins_file;         /* for messages */
} pp_stack_spec;

/* What every arrangement of the layers has in common. */
typedef struct pp_stack_ground {
    pp_stack_spec spec;
    const pp_stack_shapes *shapes;
    size_t layers;
    pp_softening softening;   /* of the mesh's drilled cells; share 0: solid throughout */
    pp_compliance compliance; /* of one layer with D = 1 */
    const pp_mesh *mesh;
    pp_supports points;     /* table points, then pins */
    size_t table_points;    /* the first so many */
    bool table;             /* interface 0 has the table points; else the pins behind them */
    pp_influence influence; /* of points, D = 1 */
    const double *sag;    /* [dofs] deflection down per N/mm2 of uniform load, D = 1, self-balanced
                             by the springs of the compliance */
    const double *sag_at; /* [points] */
} pp_stack_ground;

typedef struct pp_stack_ground_request {
    pp_stack_spec spec;
    const pp_place_list *pins; /* NULL: a table; only read meanwhile */
    size_t cells;              /* of the mesh, on the long side */
    int threads;
} pp_stack_ground_request;

/* memory->keep. errors: PP_EINPUT the drilling softens, and its pattern is outside the tables */
pp_status pp_stack_ground_make(const pp_stack_ground_request *request, pp_memory *memory,
                               pp_stack_ground *ground, pp_error *error);

/* Stiffness of a layer with D = 1 on the ground's mesh: band[dofs * (half_bandwidth + 1)].
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1 */
pp_status pp_stack_stiffness(const pp_stack_ground *ground, double *band, pp_error *error);

/* Forces that stay on the top layer: clamps. */
typedef struct pp_stack_pressed {
    double force;        /* sum, N */
    double rigid[3];     /* what they do to the rigid motions */
    const double *field; /* [dofs] deflection down for D = 1, as pp_stack_ground's sag */
} pp_stack_pressed;

/* One arrangement on that ground: bottom first. */
typedef struct pp_stack_pile {
    const pp_stack_ground *ground;
    size_t layers;
    pp_stack_way way[PP_LAYERS_MAX];
    double rigidity[PP_LAYERS_MAX], weight[PP_LAYERS_MAX]; /* of the layer at each place */
    double carried[PP_LAYERS_MAX];                         /* weight above interface k */
    size_t begin[PP_LAYERS_MAX + 1];                       /* first contact of each interface */
    size_t first_point[PP_LAYERS_MAX];                     /* in ground->points */
    size_t count;                                          /* N contacts */
    const uint8_t *interface;                              /* [N] */
    const uint32_t *point;                                 /* [N] in ground->points */
    const double *gap;                                     /* [N] without reactions */
    pp_contact_points contact;
    const pp_stack_pressed *pressed; /* NULL: no clamps */
    double total_weight;             /* and the clamps' force */
} pp_stack_pile;

/* arena holds what the pile points to; pressed (NULL: no clamps) must outlive it.
 * errors   PP_ENOMEM */
pp_status pp_stack_pile_make(const pp_stack_ground *ground, const pp_stack_way *way,
                             const pp_stack_pressed *pressed, pp_arena *arena, pp_stack_pile *pile,
                             pp_error *error);

/* Gap under the layer at place k without reactions, at a place of the plate. */
double pp_stack_free_gap(const pp_stack_pile *pile, size_t k, double x, double y);

/* Compliance between unit pairs of forces at interfaces k and l (each pushes the layer above it up
 * and the one below down), in units of the compliance of one layer with D = 1 between their places;
 * 0 where they share no layer. */
double pp_stack_coupling(const pp_stack_pile *pile, size_t k, size_t l);

/* The pile at rest, without foot: its base holds whatever touches. */
typedef struct pp_stack_rest {
    pp_contact_base base;
    size_t rounds, iterations;
} pp_stack_rest;

/* arena: the base; scratch is used and given back.
 * errors: PP_EINPUT a layer tips; PP_ENUMERIC it did not come to rest */
pp_status pp_stack_settle(const pp_stack_pile *pile, pp_arena *arena, pp_arena *scratch,
                          pp_stack_rest *rest, pp_error *error);

#endif
