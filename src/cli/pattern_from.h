/* plateproof pattern --from: a nominal list made from the measured holes themselves. */
#ifndef PP_CLI_PATTERN_FROM_H
#define PP_CLI_PATTERN_FROM_H

#include "base/units.h"
#include "cli/options.h"

/* Read the measured list at `path` (bare numbers in `units`), find its regular pattern and write it
 * with a column `derived`. Returns the exit status, mistakes printed. */
int pp_pattern_from(const char *path, pp_length_unit units, const pp_common_options *common);

#endif
