#include "rules/cause_rules.h"

#include <math.h>

#include "base/compare.h"

static const double CAUSE_SHARE = 0.25; /* of the radius of the position limit */
static const double MARGIN_SHARE =
    0.5; /* of the position limit: within it there is room to spare */

/* The largest position error of the tube holes, on both faces, with what it is uncertain by. */
static double largest_position(const pp_measures *m)
{
    double most = 0;
    for (size_t b = 0; b < m->bore_count; b++) {
        const pp_bore *bore = &m->bores[b];
        if (bore->hole == PP_NONE || m->nominal->kind[bore->hole] != PP_TUBE_HOLE) continue;
        if (m->plugged[bore->hole] || isnan(bore->position)) continue;
        double u = pp_bore_error_of(m, b).u_centre;
        if (isnan(u)) u = 0;
        most = fmax(most, bore->position + 4 * u); /* k = 2, on a diameter */
    }
    return most;
}

pp_cause_weight pp_cause_weight_of(double position_limit, const pp_measures *measures)
{
    if (isnan(position_limit)) return (pp_cause_weight){.least = 0, .for_information = true};
    return (pp_cause_weight){
        .least = CAUSE_SHARE * 0.5 * position_limit,
        .for_information = pp_at_most(largest_position(measures), MARGIN_SHARE * position_limit)};
}
