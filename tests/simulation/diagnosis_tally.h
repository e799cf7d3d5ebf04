/* What the diagnosis says of many simulated plates, counted against what was planted in them. */
#ifndef PP_TESTS_DIAGNOSIS_TALLY_H
#define PP_TESTS_DIAGNOSIS_TALLY_H

#include "simulated_plate.h"

typedef struct tally {
    int plates;
    int said;      /* anything: a cause, unclear, structure left; beside what was planted */
    int named;     /* a cause, told apart, beside what was planted: a wrong name where one was */
    int structure; /* left */
    int right, unclear; /* all that was planted told apart; else: something found, not told apart */
    int found[PP_TERM_KINDS], patterns[PP_PATTERN_KINDS];       /* told apart or not */
    int wrong[PP_TERM_KINDS], wrong_patterns[PP_PATTERN_KINDS]; /* `named`, by name */
    double z[PP_TERM_KINDS], z2[PP_TERM_KINDS]; /* of (estimate - truth) / standard error */
    int tested[PP_TERM_KINDS];
    int changes; /* of tools */
} tally;

/* A plate with no cause and even scatter. */
plan tally_sound_plate(size_t holes, sequence order);

/* Make and diagnose `runs` plates by a plan. Ends the program where the diagnosis fails. */
tally tally_plates(const plan *p, int runs, uint64_t seed);

const char *tally_term_name(int kind);
/* Short names with their counts, those that are not 0. */
void tally_print(const int terms[PP_TERM_KINDS], const int patterns[PP_PATTERN_KINDS]);

static inline double tally_percent(int count, const tally *t) { return 100.0 * count / t->plates; }

#endif
