/* Clamps in words, edge stops apart from them: those hold nothing down but for a small force. */
#ifndef PP_ANSWER_CLAMP_WORDS_H
#define PP_ANSWER_CLAMP_WORDS_H

#include "answer/results.h"
#include "base/text.h"

/* "3 clamps and 1 edge stop" */
void pp_clamps_number_say(pp_text *text, size_t count, const pp_clamp *clamps);

/* "3 clamps of 8.0 kN to 11.0 kN and 1 edge stop": the range is that of the clamps. */
void pp_clamps_force_say(pp_text *text, pp_length_unit units, size_t count, const pp_clamp *clamps);

/* "4 clamps of 8.0 kN, 32.0 kN in all, over 9 holes" */
void pp_clamps_say(pp_text *text, pp_length_unit units, size_t count, const pp_clamp *clamps);

/* "Tighten clamps in the order 2, 1; release them ...", a sentence or two. */
void pp_clamps_order_say(pp_text *text, const pp_setup_list *setups, size_t clamp_count);

#endif
