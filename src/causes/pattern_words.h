/* Plain sentences of the patterns, in the units of the job's reports. */
#ifndef PP_CAUSES_PATTERN_WORDS_H
#define PP_CAUSES_PATTERN_WORDS_H

#include "base/text.h"
#include "causes/error_field.h"

/* What results.json and the tables call a pattern: "step", "half plate"; a fixed text. */
const char *pp_cause_pattern_name(pp_error_pattern_kind kind);

/* A component as the second half of "A or B": "a step at hole 149 of the order". */
void pp_component_words(pp_text *text, const pp_error_field *field, pp_length_unit units,
                        const pp_component *component);

/* A pattern found, in the same words, as the first half. */
void pp_pattern_words(pp_text *text, const pp_error_pattern *pattern, pp_length_unit units);

/* What a pattern found says, where it is told apart; `holes` along the order. */
void pp_pattern_sentence(pp_text *text, const pp_error_pattern *pattern, pp_length_unit units,
                         const pp_nominal *nominal, size_t holes);

/* A length in the units of the reports. */
void pp_words_length(pp_text *text, pp_length_unit units, double mm);

#endif
