/* Drilled holes soften the plate: effective elastic constants of a perforated region.
 *
 * The drilled part is reckoned as a solid plate of the same thickness with an effective modulus E*
 * and Poisson's ratio nu*, polynomials in the ligament efficiency mu = (p - d)/p with coefficients
 * that depend on thickness over pitch, after ASME Boiler and Pressure Vessel Code section VIII
 * division 1, UHX-11.5 (material Poisson's ratio 0.3, 0.1 <= mu <= 0.6).
 */
#ifndef PP_HOLDDOWN_SOFTENING_H
#define PP_HOLDDOWN_SOFTENING_H

#include <stdint.h>

#include "elements/mesh.h"
#include "input/lists/holelist.h"

typedef enum pp_pattern_kind { PP_TRIANGULAR, PP_SQUARE, PP_NO_PATTERN } pp_pattern_kind;

typedef struct pp_softening {
    pp_pattern_kind kind;
    double efficiency;     /* mu */
    double modulus_ratio;  /* effective over solid modulus */
    double poisson_ratio;  /* nu* */
    double share;          /* of the plate's area that is drilled */
    const uint8_t *region; /* [ny * nx] of the mesh: 1 where a cell is drilled */
} pp_softening;

/* Modulus ratio and effective Poisson's ratio of a pattern; thickness over pitch is held within the
 * tables' 0.1 to 2. False when the efficiency is outside 0.1 to 0.6 or there is no pattern. */
bool pp_softening_constants(pp_pattern_kind kind, double efficiency, double thickness_over_pitch,
                            double *modulus_ratio, double *poisson_ratio);

typedef struct pp_drilling { /* what is drilled into the plate, mm */
    const pp_nominal *nominal;
    double pitch, hole_diameter; /* of tube holes */
    double thickness;            /* of the plate */
    const char *job_file;        /* for messages */
} pp_drilling;

/* What the tube holes make of the plate.
 * memory   keep       the region
 * errors   PP_EINPUT  no pitch or hole diameter, no pattern, or outside the tables' range */
pp_status pp_softening_find(const pp_mesh *mesh, const pp_drilling *drilling, pp_memory *memory,
                            pp_softening *softening, pp_error *error);

#endif
