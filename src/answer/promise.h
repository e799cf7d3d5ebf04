/* What became of a promise: the plate was drilled to a corrected list, and that list came with one.
 */
#ifndef PP_ANSWER_PROMISE_H
#define PP_ANSWER_PROMISE_H

struct pp_results;
struct pp_text;
/* In one sentence; nothing where the plate was drilled to the drawing's own list. */
void pp_promise_words(struct pp_text *text, const struct pp_results *results);

#endif
