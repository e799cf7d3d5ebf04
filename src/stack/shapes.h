/* The layers of a stack as they would be without any load: their surveys, fitted, less what gravity
 * and the supports of the survey did to them. mm, N, MPa; every layer in its own frame, as
 * surveyed.
 *
 * Theory: docs/theory/stack.md, "Stress-free shapes". */
#ifndef PP_STACK_SHAPES_H
#define PP_STACK_SHAPES_H

#include "base/reading.h"
#include "elements/mesh.h"
#include "input/job/job.h"

/* How a layer lies in the stack: turned over about its own x axis or not, then turned about z. */
typedef struct pp_stack_way {
    size_t layer; /* index in job->layers */
    bool over;
    double turn_deg;
} pp_stack_way;

typedef struct pp_stack_shape {
    bool surveyed; /* false: reckoned flat */
    const double
        *top; /* [mesh->dofs] stress-free upper face less the nominal thickness; NULL: flat */
    const double *under; /* the same of the lower face; = top without a survey of it */
    bool both_faces;     /* the underside was surveyed too */
    const pp_table_reading *reading, *underside_reading; /* how the surveys were read; NULL */
    double rigidity;                                     /* D, N mm */
    double weight;                                       /* N */
    double bow; /* largest less smallest height of the stress-free shape above its own plane */
    double hidden_bow;     /* a dome this high would not show on the supports it was surveyed on */
    bool forces_low;       /* out of flat both ways by more than half the thickness */
    double stiffer;        /* share by which it begins stiffer than reckoned, 0 if not low */
    double standard_error; /* of the fitted surface; NaN: not surveyed */
    bool touch_gap_grown;
    double unseen_share; /* of the area, farther than two survey pitches from any point */
    bool noisier;        /* its survey scatters more than its stated uncertainty */
    size_t left_out;     /* points of the survey that stand alone far off */
} pp_stack_shape;

typedef struct pp_stack_shapes {
    const pp_mesh *mesh; /* of the surveys */
    size_t count;
    const pp_stack_shape *shape; /* by layer */
} pp_stack_shapes;

/* Read and fit every survey the layers name and free it of its load.
 *
 * given    job       layers, plate, survey, support; every layer has a thickness
 *          pins      support pins, for what was surveyed on them; NULL on a table
 * memory   keep      everything in *shapes
 * errors   those of the survey and its fit; PP_EINPUT: a plate that would have tipped
 */
pp_status pp_stack_shapes_make(const pp_job *job, int threads, pp_memory *memory,
                               pp_stack_shapes *shapes, pp_error *error);

/* Height of a face of the layer at a place of the stack, lying this way: the face that looks down
 * (under) or up. Places are the plate frame's. */
double pp_stack_shape_height(const pp_stack_shapes *shapes, const pp_stack_way *way, bool under,
                             double x, double y);

#endif
