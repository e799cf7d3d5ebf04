/* Inside pp_judge: how findings are made (findings.c), for the functions that find them. */
#ifndef PP_RULES_MAKING_H
#define PP_RULES_MAKING_H

#include "rules/judging.h"

/* A finding as it is made: with what pp_finding leaves out. */
typedef struct pp_made {
    double value;
    float u;
    uint32_t subject, other;
    uint8_t characteristic, face, class_;
    uint8_t verdict : 4;
    uint8_t proven_standard : 4;
} pp_made;

/* Findings are made in two rounds of the same code: the first counts each characteristic, the
 * second fills. */
typedef struct pp_finding_maker {
    pp_judging *j;
    size_t next; /* of the findings */
    bool fill;
} pp_finding_maker;

enum { PP_BLOCK_PARTS = 64 };

/* A block of findings, one for each of many items, made on several threads. */
typedef struct pp_finding_block {
    pp_characteristic which;
    size_t count;
    void (*make)(const struct pp_finding_block *b, size_t item, pp_made *to);
    double limit; /* for `make` */
    /* filled in by pp_findings_add_block: */
    const pp_judging *j;
    pp_finding *findings;
    pp_finding_rest *rest; /* NULL: they are by index */
    double largest_u[PP_BLOCK_PARTS];
    size_t unsure[PP_BLOCK_PARTS];
} pp_finding_block;

/* One more finding: counted in the first round, put at its place in the second. */
void pp_findings_add(pp_finding_maker *m, pp_made finding);
/* The same of a whole block, made on several threads. errors: PP_ENOMEM */
pp_status pp_findings_add_block(pp_finding_maker *m, pp_finding_block block, pp_error *error);

/* A finding that says nothing yet. */
pp_made pp_finding_blank(pp_characteristic which, uint32_t subject);
/* A value with one limit only. `u`: standard uncertainty; NaN: not given. */
pp_made pp_finding_upper_side(const pp_judging *j, pp_characteristic which, uint32_t subject,
                              double value, double u, double limit);
pp_made pp_finding_lower_side(const pp_judging *j, pp_characteristic which, uint32_t subject,
                              double value, double u, double limit);

/* The same of a value whose true size lies between two bounds, each with the risk of the guarded
 * decision; the simple decision goes by the value. */
pp_made pp_finding_between(const pp_judging *j, pp_characteristic which, uint32_t subject,
                           double value, double u, double low, double high, double limit);

/* The guard band of a value with that standard uncertainty: 0 under the simple decision, even where
 * no uncertainty is given. */
static inline double pp_guard_of(const pp_judging *j, double u)
{
    return j->guard == 0 ? 0 : j->guard * u;
}

#endif
