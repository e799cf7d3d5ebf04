/* A bundle's answer in words, the same on the page, on the fitter's sheet and on the terminal.
 * Nothing here is compared or judged. Texts live in memory->keep. */
#ifndef PP_ANSWER_BUNDLE_SUMMARY_H
#define PP_ANSWER_BUNDLE_SUMMARY_H

#include "answer/bundle_results.h"
#include "answer/identity.h"
#include "base/text.h"

typedef struct pp_bundle_summary {
    const char *headline; /* "every tube passes", "12 of 271 tubes do not pass" */
    size_t fact_count;
    const pp_named_text *facts; /* "worst tube": "T12, 0.102 mm too tight ..." */
    const char *const *fitter;  /* [plates]: "0.44 mm right, 1.00 mm down, 0.01 deg clockwise" */
    const char *fitter_note;    /* what the lines mean, and how far they are proven */
} pp_bundle_summary;

/* The bundle's results in words: one line a plate for the fitter, the verdict and what decides.
 * Texts live in memory->keep, lengths in the job's units. errors: PP_ENOMEM */
pp_status pp_bundle_summary_make(const pp_bundle_results *results, pp_memory *memory,
                                 pp_bundle_summary *summary, pp_error *error);

/* "B3 hole T17, rear edge (52 %)" */
void pp_bundle_disc_words(pp_text *text, const pp_bundle *bundle, const pp_decisive *disc);

/* Why a tube does not pass, or how it passes, in a few words with its numbers. */
void pp_bundle_tube_words(pp_text *text, const pp_bundle_results *results, size_t tube);

#endif
