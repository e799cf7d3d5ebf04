/* The verdict in rows for people: one per characteristic, the same on the page, on the certificate
 * and on the terminal. Texts are UTF-8, in the job's units; nothing here is compared or judged. */
#ifndef PP_ANSWER_SUMMARY_H
#define PP_ANSWER_SUMMARY_H

#include "answer/results.h"
#include "base/text.h"

typedef struct pp_summary_row {
    pp_characteristic which;
    pp_verdict verdict;
    const char *name;        /* "ligament" */
    const char *limit;       /* "at least 5.170 mm, at most 4 % down to 3.048 mm"; "" when none */
    const char *result;      /* "smallest 5.412 mm, R12C31 - R12C32, exit face" */
    const char *detail;      /* "11912 standard, 31 in the remainder (at most 476), 0 thin" */
    const char *uncertainty; /* of the result: "U = 0.012 mm (k = 2)"; "" when not known */
    const char *source;      /* of the limit; "" when none */
} pp_summary_row;

typedef struct pp_summary {
    size_t count;
    const pp_summary_row *rows;
    const char *deciding; /* one sentence: what decides the verdict */
    const char *assumed;  /* one sentence: what the probabilities beside the counts assume; "" when
                             there are none */
    const char *taken;    /* how the holes were aligned and at what temperature measured; "" without
                             holes */
} pp_summary;

/* The figures that every report for people begins with, as finished text in the units of the job.
 * memory   keep: the texts
 * errors   PP_ENOMEM */
pp_status pp_summary_make(const pp_results *results, pp_memory *memory, pp_summary *summary,
                          pp_error *error);

/* Only the hold-down study was asked for: whether the plate is ready to be drilled comes first, and
 * what was judged of the survey stands below it. */
bool pp_is_holddown_study(const pp_results *results);

/* A plan is what a hold-down study, the study of a stack not yet drilled or of a roughing pass come
 * to: nothing is accepted by it. */
bool pp_is_plan(const pp_results *results);
/* "Hold-down study", "Stack study", ...; NULL: a report of what was inspected. */
const char *pp_plan_words(const pp_results *results);

/* What stands at the head of page, certificate and terminal, and the verdict whose sign goes with
 * it: "hold-down not ready" of a study, "the holes measured conform" of a sample, else the verdict.
 */
pp_verdict pp_headline_verdict(const pp_results *results);
const char *pp_headline_words(const pp_results *results);
/* The sentence that keeps a study from being taken for an acceptance; false, nothing added: there
 * is no need of one. */
bool pp_headline_caveat(pp_text *text, const pp_results *results);

/* "entry face", or with the job's own word: "entry face (tube side)". */
const char *pp_face_words(uint8_t face);

/* A finding in one line: subject "R12C31, exit face" and what is wrong "diameter 25.981 mm, above
 * 25.959 mm by 0.022 mm". */
void pp_finding_subject(pp_text *text, const pp_results *results, const pp_finding *finding);
void pp_finding_fault(pp_text *text, const pp_results *results, const pp_finding *finding);

#endif
