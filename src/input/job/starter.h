/* The starter job file of `plateproof new`. */
#ifndef PP_INPUT_JOB_STARTER_H
#define PP_INPUT_JOB_STARTER_H

#include "base/text.h"
#include "base/units.h"

/* Add a commented starter job file: every key with its meaning, defaults filled in, limits and
 * uncertainties left empty. `units` (PP_MM or PP_INCH) is what the file says its lengths are in. */
void pp_starter_write(pp_length_unit units, pp_text *text);

/* Add the manual's reference of the keys: a Markdown table per section, from the same table. */
void pp_starter_write_manual(pp_text *text);

#endif
