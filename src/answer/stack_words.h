/* A stack's study in words: what to do, how far to trust it, and the card for the floor. */
#ifndef PP_ANSWER_STACK_WORDS_H
#define PP_ANSWER_STACK_WORDS_H

#include "answer/results.h"
#include "base/text.h"

/* Texts live in memory->keep. PP_ENOMEM. */
pp_status pp_stack_say(const pp_job *job, const pp_nominal *nominal, const pp_stack *stack,
                       const pp_stack_judgement *judged, pp_memory *memory, pp_stack_words *words,
                       pp_error *error);

/* "C, A over, B at 180°": layers bottom first, with how they lie where it is not as surveyed. */
void pp_stack_order_words(pp_text *text, const pp_job *job, const pp_stack_way *way, size_t count);

#endif
