/* What became of a promise: the plate was drilled to a corrected list, and that list came with one.
 */
#ifndef PP_ANSWER_PROMISE_H
#define PP_ANSWER_PROMISE_H

#include <stdbool.h>

typedef struct pp_promise_kept {
    double rms;               /* mm: of the errors against the drawing, shift and turn apart */
    double median, low, high; /* mm: what was promised, and what 9 of 10 plates lie between */
    bool kept;                /* not above high */
} pp_promise_kept;

struct pp_results;
struct pp_text;
/* In one sentence; nothing where the plate was drilled to the drawing's own list. */
void pp_promise_words(struct pp_text *text, const struct pp_results *results);

#endif
