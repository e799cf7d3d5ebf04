/* Units at the border: inside the program every length is mm, force N, stress MPa, density kg/m3,
 * temperature degC, angle degree. Exactly 25.4 mm to the inch.
 */
#ifndef PP_BASE_UNITS_H
#define PP_BASE_UNITS_H

#include <stdbool.h>
#include <stddef.h>

typedef enum pp_length_unit { PP_MM, PP_CM, PP_M, PP_INCH, PP_UM } pp_length_unit;

typedef enum pp_quantity {
    PP_LENGTH,
    PP_FORCE,
    PP_STRESS,
    PP_DENSITY,
    PP_TEMPERATURE,
    PP_ANGLE,
    PP_SHARE,
    PP_EXPANSION, /* per K */
    PP_NUMBER     /* no unit */
} pp_quantity;

/* mm in one of the unit; division or multiplication by it is exact for PP_MM. */
double pp_unit_mm(pp_length_unit unit);
const char *pp_unit_name(pp_length_unit unit); /* "mm", "in", ... */

/* Find a length unit by its name (any case: mm, cm, m, in, inch, um, with or without a final dot);
 * false if it is none. */
bool pp_unit_find_length(const char *name, size_t length, pp_length_unit *unit);

/* Convert `value`, written with the unit `name` (length bytes), to the internal unit of `quantity`;
 * false if the unit does not belong to that quantity. Units: mm cm m in um; N kN lbf; MPa GPa psi
 * ksi; kg/m3 lb/in3; C F; deg rad; %; 1/K. `name` of length 0: the internal unit. */
bool pp_unit_convert(pp_quantity quantity, const char *name, size_t length, double value,
                     double *internal);

/* The units a user may write for this quantity, for messages: "mm, cm, m, in or um". */
const char *pp_unit_choices(pp_quantity quantity);

#endif
