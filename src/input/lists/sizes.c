#include "input/lists/sizes.h"

bool pp_has_sizes(const pp_readings *readings)
{
    return readings->diameter || readings->go || readings->no_go || readings->no_go_max;
}

pp_status pp_need_sizes(const pp_readings *readings, const char *what, pp_error *error)
{
    if (readings->count == 0 || pp_has_sizes(readings)) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, readings->file, 0, 0,
                      "the measured hole list has no column diameter, and %s needs one; add it",
                      what);
}
