/* What the machine files call things. Names of bores: pp_bore_name. */
#ifndef PP_ANSWER_MACHINE_NAMES_H
#define PP_ANSWER_MACHINE_NAMES_H

#include <math.h>

#include "answer/results.h"

/* Uncertainties are kept as float; their seven digits, without the noise of a double behind them.
 */
static inline double pp_named_uncertainty(float u)
{
    if (!(u > 0)) return (double)u;
    double scale = pow(10, 6 - floor(log10((double)u)));
    return round((double)u * scale) / scale;
}

/* NULL for PP_NONE. */
static inline const char *pp_named_hole(const pp_measures *measures, uint32_t hole)
{
    return hole == PP_NONE ? NULL : measures->nominal->name[hole];
}

/* entry or exit. */
static inline const char *pp_named_face(uint8_t face) { return face == PP_EXIT ? "exit" : "entry"; }

/* The class of a hole in the hold-down study. */
static inline const char *pp_named_hold_class(pp_hold_class class_)
{
    switch (class_) {
    case PP_SEATED:
        return "seated";
    case PP_SEATS_UNDER_FOOT:
        return "seats under foot";
    case PP_NEEDS_HOLDDOWN:
        return "needs hold-down";
    case PP_SAGS:
        return "sags";
    }
    return "";
}

/* high, low or gap. */
static inline const char *pp_named_area_side(pp_area_side side)
{
    return side == PP_AREA_HIGH ? "high" : side == PP_AREA_LOW ? "low" : "gap";
}

#endif
