/* The plate's thickness place by place, from readings x, y, t. mm.
 *
 * Through six readings or more goes a plane, through twelve or more a quadric, by least squares: a
 * rolled plate is a wedge or thicker in the middle. What the readings scatter about it is what
 * nobody knows of the thickness at a place. Where they do not tell a quadric (all along the rim of
 * a disc) a plane it is; where not even that (too few, all in a line), the plate counts as thick
 * as the job says everywhere, and their whole range as what may vary. */
#ifndef PP_HOLDDOWN_THICKNESS_READINGS_H
#define PP_HOLDDOWN_THICKNESS_READINGS_H

#include "elements/mesh.h"
#include "input/lists/holelist.h"

enum { PP_THICKNESS_TERMS = 6 };

typedef struct pp_thickness_readings {
    size_t count; /* 0: none */
    double low, high, mean;
    double variation; /* of what the surface below leaves, or of the readings; NaN: fewer than 2 */
    int terms;        /* of it, 3 or 6: 1, u, v, u2, u v, v2; 0: none */
    double term[PP_THICKNESS_TERMS];
    double centre_x, centre_y, scale; /* u = (x - centre_x) / scale */
    double plate_mean;                /* of the surface over the plate's area */
} pp_thickness_readings;

/* Read them, hold each against the plate's thickness, and lay the surface through them.
 * memory   keep: nothing; scratch: nothing that stays
 * errors   PP_EINPUT a reading is more than a fifth off the thickness: a slip of unit, or a wrong
 *          plate; those of pp_places_read; none where the job names no file */
pp_status pp_thickness_read(const pp_job *job, const pp_mesh *mesh, pp_memory *memory,
                            pp_thickness_readings *readings, pp_error *error);

/* With terms: the thickness at a place; the other two also x and y derivatives and the mixed one.
 */
void pp_thickness_at(const pp_thickness_readings *readings, double x, double y, double t[4]);

/* field[dofs] -= how much thicker than its mean the plate is: what a top becomes as underside. */
void pp_thickness_take_off(const pp_thickness_readings *readings, const pp_mesh *mesh,
                           double *field);

#endif
