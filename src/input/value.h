/* A value as people write it: a number, perhaps with a unit: "38 mm", "1-1/4 in", "6 kN", "4 %". */
#ifndef PP_INPUT_VALUE_H
#define PP_INPUT_VALUE_H

#include <stdbool.h>

#include "base/units.h"
#include "plateproof/error.h"

/* Which values are allowed, in the internal unit. */
typedef struct pp_range {
    double low, high;  /* infinite where there is no bound */
    bool above, below; /* the bound itself is not allowed */
} pp_range;

/* Where a value stands and what it is called, for messages. */
typedef struct pp_value_place {
    const char *file; /* NULL on the command line */
    long line;
    const char *name; /* "[plate] thickness", "--pitch" */
} pp_value_place;

/* Read text[length] as one value of `quantity` in its internal unit, within `range`.
 *
 * given    bare      unit of a length without one
 * out      value     in the internal unit
 *          written   of a length, the unit it was written in (`bare` if none); may be NULL
 *          has_unit  whether a unit was written; may be NULL
 * errors   PP_EINPUT: no number, a decimal comma, a unit of another quantity, out of range
 *
 * Lengths may be fractions as drawings print them: 5/8 in, 1-1/4 in, 1 1/4 in.
 */
pp_status pp_value_read(const pp_value_place *place, const char *text, size_t length,
                        pp_quantity quantity, pp_length_unit bare, pp_range range, double *value,
                        pp_length_unit *written, bool *has_unit, pp_error *error);

/* "above 0 mm", "from 0 to 100 %": the range in words, for messages and the manual. */
void pp_range_words(pp_range range, pp_quantity quantity, char *text, size_t size);

#endif
