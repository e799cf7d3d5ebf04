/* Numbers as people read them: in the job's units, with the digits the trade uses.
 *
 * Machine files never use these. `units` is the job's: PP_MM or PP_INCH. A value that is not given
 * (NaN) shows as an en dash. Text is UTF-8, the decimal point a point whatever the locale.
 *
 * What stands beside a limit is written by pp_people_against (or with pp_people_decimals): a value
 * that differs from its limit never prints equal to it, digits are added until they differ.
 */
#ifndef PP_ANSWER_FOR_PEOPLE_H
#define PP_ANSWER_FOR_PEOPLE_H

#include "base/text.h"
#include "base/units.h"

/* "mm" or "in". */
const char *pp_people_unit(pp_length_unit units);

/* Measured lengths (positions, diameters, ligaments, gaps): 3 decimals of a millimetre, 4 of an
 * inch. "25.705 mm", "1.0120 in" */
void pp_people_length(pp_text *text, pp_length_unit units, double mm);

/* Places and sizes of the plate: 1 decimal of a millimetre, 2 of an inch. "812.3 mm" */
void pp_people_place(pp_text *text, pp_length_unit units, double mm);

/* As given in the job, without needless zeros: at most 4 decimals of a millimetre, 5 of an inch.
 * "38 mm", "1.5 in" */
void pp_people_size(pp_text *text, pp_length_unit units, double mm);

/* A measured length that is held against a limit (NaN: none): enough decimals that it never reads
 * equal to the limit unless it is (to the 1e-6 mm that every comparison allows), nor seems to lie
 * on the other side of it. */
void pp_people_against(pp_text *text, pp_length_unit units, double mm, double limit);

/* A position (a diametral zone) as the distance that it is: "11.500 mm out of place
 * (position 23.000 mm)". */
void pp_people_out_of_place(pp_text *text, pp_length_unit units, double position, double limit);

/* The limit itself, with the digits it was given in (one more than a measured length at most). */
void pp_people_limit(pp_text *text, pp_length_unit units, double limit);

/* The same of any quantity that a limit may have: a share as "4 %". */
void pp_people_limit_of(pp_text *text, pp_length_unit units, pp_quantity quantity, double limit);

/* The limit printed right beside the value `mm`: more digits where the two would else seem equal.
 */
void pp_people_limit_beside(pp_text *text, pp_length_unit units, double limit, double mm);

/* For tables that put the unit in the heading: how many decimals the functions above use, and the
 * bare number. */
int pp_people_decimals(pp_length_unit units, double mm, double limit);
void pp_people_number(pp_text *text, pp_length_unit units, double mm, int decimals);

/* "6.00 kN" or "1350 lbf" */
void pp_people_force(pp_text *text, pp_length_unit units, double newton);
/* "48.4 kN" of weight as a mass: "4932 kg" or "10874 lb" (g = 9.80665 m/s2) */
void pp_people_mass(pp_text *text, pp_length_unit units, double weight_newton);
/* "110 MPa" or "16.0 ksi" */
void pp_people_stress(pp_text *text, pp_length_unit units, double mpa);
/* "24 °C" or "75.2 °F" */
void pp_people_temperature(pp_text *text, pp_length_unit units, double celsius);
/* "1250 mm²", "12.3 cm²", "0.45 m²"; or "19.1 in²" */
void pp_people_area(pp_text *text, pp_length_unit units, double mm2);
/* slopes: "0.35 mm/m" or "0.0042 in/ft" */
void pp_people_slope(pp_text *text, pp_length_unit units, double mm_per_m);
/* "-0.7048°", "31.5°" */
void pp_people_angle(pp_text *text, double degrees);
/* a share 0..1: "4 %", "3.74 %" */
void pp_people_share(pp_text *text, double share);
/* "1285", "1 000 000" with a narrow space from 10000 up */
void pp_people_count(pp_text *text, size_t count);

#endif
