/* The plate the other face up beside the plate as laid, in words and clamp for clamp. */
#ifndef PP_ANSWER_TURNED_WORDS_H
#define PP_ANSWER_TURNED_WORDS_H

#include "answer/results.h"
#include "base/text.h"

typedef struct pp_clamp_pair { /* those that stand nearest to each other on the machine */
    size_t laid, turned;       /* of the plan and of the turned plan; SIZE_MAX: none */
} pp_clamp_pair;

enum { PP_CLAMP_PAIRS_MAX = 2 * PP_CLAMPS_MAX };

/* Clamps of both plans in pairs, the nearest first put together, in the order of the plan as laid
 * and then what only the turned one has. Returns how many: 0 unless both plans have clamps. */
size_t pp_clamps_pair(const pp_holddown *study, pp_clamp_pair pairs[PP_CLAMP_PAIRS_MAX]);

/* What the other face up would take, a sentence or two; nothing where it does not matter. */
void pp_turned_say(pp_text *text, const pp_results *results);

#endif
