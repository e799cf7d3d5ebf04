/* The hold-down study in words: one sentence of advice, and notes on how far to trust it. */
#ifndef PP_ANSWER_HOLDDOWN_WORDS_H
#define PP_ANSWER_HOLDDOWN_WORDS_H

#include "answer/results.h"
#include "base/text.h"

/* Texts live in memory->keep. PP_ENOMEM. */
pp_status pp_holddown_say(const pp_job *job, const pp_holddown *study,
                          const pp_holddown_judgement *judged, pp_memory *memory,
                          pp_holddown_words *words, pp_error *error);

/* What to do, in one sentence: "Drill with 2 clamps of 18.5 kN in 3 set-ups, the foot at 8 kN."; or
 * that there is nothing to drill by yet. */
void pp_holddown_headline_say(pp_text *text, const pp_results *results);

/* Hours and tools of the set-ups in a few plain sentences; nothing where they are not known. */
void pp_machine_time_say(pp_text *text, pp_length_unit units, const pp_machine_time *time);

#endif
