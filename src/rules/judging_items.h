/* An item of a count rule: a hole or a pair, its faces together. */
#ifndef PP_RULES_JUDGING_ITEMS_H
#define PP_RULES_JUDGING_ITEMS_H

#include "rules/judging.h"

typedef struct pp_item {
    bool any;         /* some face counts */
    pp_verdict outer; /* against the outermost limits, worst face */
    uint8_t standard; /* against the standard limit: 1 proven inside, 2 proven outside, 0 open */
    pp_class class_;  /* worst face */
    bool open;        /* not proven against some limit, whatever the others say */
} pp_item;

/* Where a bore stands against the three diameter limits. */
typedef struct pp_standing {
    pp_verdict lower, upper, outer;
    pp_class class_;
} pp_standing;

/* One bore against the limits of its kind of hole: by plug gauge, or by its readings, which a gauge
 * that says no makes worse. `limit`: pp_bounds_of_hole. */
pp_standing pp_diameter_standing(const pp_judging *j, const pp_bore *bore,
                                 pp_diameter_bounds limit);

/* How many items of the denominator may be in the remainder. */
size_t pp_remainder_allowed(const pp_limits *limits, size_t denominator);

#endif
