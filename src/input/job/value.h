/* A value as people write it: a number, perhaps with a unit: "38 mm", "1-1/4 in", "6 kN", "4 %". */
#ifndef PP_INPUT_JOB_VALUE_H
#define PP_INPUT_JOB_VALUE_H

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

/* What kind of value is wanted. */
typedef struct pp_value_kind {
    pp_quantity quantity;
    bool difference;     /* of two temperatures: 1.8 F are 1 C */
    pp_length_unit bare; /* unit of a length written without one */
    pp_range range;
} pp_value_kind;

typedef struct pp_value_unit { /* the unit as written */
    bool given;
    pp_length_unit length; /* of a length; the bare unit if none was given */
} pp_value_unit;

/* Read text[length] as one value in its internal unit.
 *
 * out      value     untouched on failure
 *          written   may be NULL
 * errors   PP_EINPUT: no number, a decimal comma, a unit of another quantity, out of range
 *
 * Lengths may be fractions as drawings print them: 5/8 in, 1-1/4 in, 1 1/4 in.
 */
pp_status pp_value_read(const pp_value_place *place, const char *text, size_t length,
                        const pp_value_kind *kind, double *value, pp_value_unit *written,
                        pp_error *error);

/* "above 0 mm", "from 0 to 100 %": the range in words, for messages and the manual. */
void pp_range_words(pp_range range, pp_quantity quantity, char *text, size_t size);

#endif
