/* Which tubes of a bundle pass, and the verdict. The only place where a bundle's numbers meet their
 * limits. */
#ifndef PP_RULES_BUNDLE_RULES_H
#define PP_RULES_BUNDLE_RULES_H

#include "bundle/bundle.h"
#include "rules/findings.h"

/* Plain value against limit, whatever the decision rule. */
typedef enum pp_pass_class {
    PP_PASS_NOT_JUDGED, /* holes in one plate only, or in none */
    PP_PASS_STRAIGHT,
    PP_PASS_BENDING,
    PP_PASS_NOT
} pp_pass_class;

typedef enum pp_pass_why { /* why it does not pass */
                           PP_WHY_NONE,
                           PP_WHY_NO_HOLE,
                           PP_WHY_SMALL_HOLE,
                           PP_WHY_STRESS,
                           PP_WHY_PUSH,
                           PP_WHY_NOT_STRAIGHT /* and bending cannot be computed */
} pp_pass_why;

typedef struct pp_tube_judgement {
    uint8_t class_;  /* pp_pass_class */
    uint8_t why;     /* pp_pass_why */
    uint8_t verdict; /* pp_verdict */
} pp_tube_judgement;

typedef struct pp_bundle_judgement {
    pp_verdict verdict;
    pp_tube_judgement *tube;                           /* [tubes] */
    size_t straight, bending, not_passing, not_judged; /* tubes by class */
    size_t set_out_straight;                           /* would pass as set out */
    size_t conform, not_proven, not_conform;
    size_t wrong_holes; /* doubly used ones, and strays of a plate with a nominal list */
    double guard;       /* in standard uncertainties; 0: simple decision */

    double largest_stress, largest_push, largest_contact; /* of tubes that bend; 0: none does */
    uint32_t largest_stress_tube, largest_push_tube;      /* PP_NONE: none */

    const char *basis, *decision_rule;
    size_t judged_count, not_judged_count;
    const char *judged[4], *not_judged_texts[4];
    size_t caution_count;
    const char *const *cautions;
} pp_bundle_judgement;

/* Stress and push that are held against their limits: the worst while going in, or where that was
 * not solved the final state with PP_GOING_IN_ALLOWANCE. NaN for a tube that does not bend. */
#define PP_GOING_IN_ALLOWANCE 1.15
double pp_bundle_stress(const pp_bundle *bundle, size_t tube);
double pp_bundle_push(const pp_bundle *bundle, size_t tube);

/* Judge the tubes and write the words that stand beside the verdict. errors: PP_ENOMEM */
pp_status pp_bundle_judge(const pp_bundle *bundle, pp_memory *memory,
                          pp_bundle_judgement *judgement, pp_error *error);

/* The words: basis, decision rule, what was judged, cautions. Called by pp_bundle_judge.
 * errors   PP_ENOMEM */
pp_status pp_bundle_words(const pp_bundle *bundle, pp_memory *memory,
                          pp_bundle_judgement *judgement, pp_error *error);

const char *pp_pass_class_words(pp_pass_class class_); /* "passes straight" */
const char *pp_pass_why_words(pp_pass_why why);        /* "hole smaller than the tube"; NULL */

#endif
