/* Whether the roughing pass is enough, in sentences a foreman understands. */
#ifndef PP_ANSWER_ROUGHING_WORDS_H
#define PP_ANSWER_ROUGHING_WORDS_H

#include "answer/results.h"

/* Texts live in memory->keep. PP_ENOMEM. */
pp_status pp_roughing_say(const pp_job *job, const pp_roughing *roughing, pp_memory *memory,
                          pp_roughing_words *words, pp_error *error);

#endif
