/* pins.dxf: outline, holes and numbered pins for a drawing program, as a minimal DXF of release 12
 * (ASCII: group code and value in turn); mm. Layers PLATE, HOLES, PINS, NUMBERS. */
#ifndef PP_REPORT_SETUPS_PIN_DXF_H
#define PP_REPORT_SETUPS_PIN_DXF_H

#include "answer/results.h"
#include "base/text.h"

/* errors: PP_ENOMEM */
pp_status pp_pin_dxf_write(const pp_results *results, pp_memory *memory, pp_text *out,
                           pp_error *error);

#endif
