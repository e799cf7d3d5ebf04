/* A plate of a history, as drilled by a machine without a past of its own. */
#ifndef PP_TESTS_DRILLED_PLATE_H
#define PP_TESTS_DRILLED_PLATE_H

#include <math.h>

#include "support/check.h"

#include "correction/plate.h"

/* scale_u: standard uncertainty of the gauge's scale, NAN: not stated. limit: mm of position. */
static inline void test_drilled_plate(const char *id, double scale_u, const pp_report_holes *holes,
                                      double limit, pp_memory *memory, pp_drilled_plate *plate)
{
    pp_error error = {0};
    pp_kept_report report = {.folder = id,
                             .order_number = "",
                             .item = "",
                             .plate_id = id,
                             .serial = "",
                             .machine = "borer",
                             .drilling_temperature = NAN,
                             .scale_u = scale_u};
    assert_ok(pp_drilled_plate_make(&report, holes, limit, 1, memory, plate, &error), &error);
}

#endif
