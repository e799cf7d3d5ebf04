/* Units at the border: inside the program every length is mm, force N, stress MPa, density kg/m3,
 * temperature degC, angle degree. Exactly 25.4 mm to the inch.
 */
#ifndef PP_BASE_UNITS_H
#define PP_BASE_UNITS_H

#include <stdbool.h>
#include <stddef.h>

#define PP_REFERENCE_TEMPERATURE 20.0 /* degC: sizes are those at this temperature (ISO 1) */

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

/* mm in one of the unit. */
double pp_unit_mm(pp_length_unit unit);
/* `value` of the unit in mm, rounded once; unchanged for PP_MM. */
double pp_unit_to_mm(pp_length_unit unit, double value);
const char *pp_unit_name(pp_length_unit unit); /* "mm", "in", ... */

/* Find a length unit by its name (any case: mm, cm, m, in, inch, um, with or without a final dot);
 * false if it is none. */
bool pp_unit_find_length(const char *name, size_t length, pp_length_unit *unit);

/* Convert `value`, written with the unit `name` (length bytes), to the internal unit of `quantity`;
 * false if the unit does not belong to that quantity. Units, in any case: mm cm m in um; N kN lbf;
 * MPa GPa psi ksi; kg/m3 lb/in3; C F; deg rad; %; 1/K (1/F). `name` of length 0: the internal unit
 * (a share: 0..1). A temperature converts as a reading (F with its offset); for a difference of
 * temperatures see pp_unit_convert_difference. */
bool pp_unit_convert(pp_quantity quantity, const char *name, size_t length, double value,
                     double *internal);

/* The same for a difference of two readings or an uncertainty: 1 F is 5/9 C. */
bool pp_unit_convert_difference(pp_quantity quantity, const char *name, size_t length, double value,
                                double *internal);

/* The units a user may write for this quantity, for messages: "mm, cm, m, in or um". */
const char *pp_unit_choices(pp_quantity quantity);

#endif
