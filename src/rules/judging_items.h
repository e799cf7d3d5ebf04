/* An item of a count rule: a hole or a pair, its faces together. */
#ifndef PP_RULES_JUDGING_ITEMS_H
#define PP_RULES_JUDGING_ITEMS_H

#include "rules/judging.h"

typedef struct pp_item {
    bool any;         /* some face counts */
    pp_verdict outer; /* against the outermost limits, worst face */
    uint8_t standard; /* against the standard limit: 1 proven inside, 2 proven outside, 0 open */
    pp_class class_;  /* worst face */
} pp_item;

/* The item with one more finding in it: the worst class and the worst verdict hold. */
pp_item pp_item_add(pp_item item, const pp_finding *finding);

/* How many items of the denominator may be in the remainder. */
size_t pp_remainder_allowed(const pp_limits *limits, size_t denominator);

#endif
