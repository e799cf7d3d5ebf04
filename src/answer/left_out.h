/* What the job names but a run did not judge, so that a part is not taken for the whole. */
#ifndef PP_ANSWER_LEFT_OUT_H
#define PP_ANSWER_LEFT_OUT_H

#include "answer/results.h"
#include "base/text.h"

/* List it, in memory->keep: whole parts first, then characteristics measured without a limit.
 * given   results: job, command, flatness, holddown, stack, drilled, roughing, measures and
 *         judgement are there; holddown_lacks: the first key the hold-down study lacks, or NULL
 * errors  PP_ENOMEM */
pp_status pp_left_out_find(const pp_results *results, const char *holddown_lacks, pp_memory *memory,
                           size_t *count, const pp_left_out **list, pp_error *error);

/* "Left out: flatness (this run was of the holes only)." of whole parts; nothing where nothing was.
 */
void pp_left_out_words(pp_text *text, const pp_results *results);

/* "holes (no measured list is given), drift": all that was not judged, or "nothing". */
void pp_not_judged_words(pp_text *text, const pp_results *results);

/* No whole part of the job (flatness, holes, hold-down, ...) was left out. */
bool pp_is_whole(const pp_results *results);

/* What a paper of this run may be called: "Dimensional inspection certificate" only of a plate that
 * conforms (else "Inspection report"), where flatness and holes, as far as the job names them, were
 * judged; else "Flatness only: no certificate of the plate", "Hold-down study" and so on. */
const char *pp_paper_title(const pp_results *results);

#endif
