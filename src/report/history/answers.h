/* The answers of a history, each as JSON ("plateproof-history", version 1) and as
 * words for the terminal. They only write. */
#ifndef PP_REPORT_HISTORY_ANSWERS_H
#define PP_REPORT_HISTORY_ANSWERS_H

#include "base/text.h"
#include "history/questions.h"

typedef struct pp_history_answer { /* one of these; the others NULL */
    const pp_chart_answer *chart;
    const pp_share_answer *share;
    const pp_capability_answer *capability;
    const pp_trend_answer *trend;
    const pp_cause_answer *causes;
    const pp_tool_answer *tools;
    const pp_list_answer *list;
    const pp_check_answer *check;
} pp_history_answer;

/* Append to `text`. errors: PP_ENOMEM */
pp_status pp_history_json(const pp_history_answer *answer, pp_text *text, pp_error *error);
pp_status pp_history_words(const pp_history_answer *answer, pp_text *text, pp_error *error);

/* What has to be said beside an answer: "provisional", "plates of several machines", ...; each a
 * sentence, one after the other, with `before` in front and `behind` at the end. */
void pp_history_cautions(const pp_history_answer *answer, const char *before, const char *behind,
                         pp_text *text);

/* A figure's number as people read it: six significant digits, small ones of scales in ppm. */
void pp_history_number(pp_text *text, double value, const char *unit);
/* A share by a model in per cent; what no model knows (below one in a million) only as a bound. */
void pp_history_modelled(pp_text *text, double share);
const char *pp_history_unit(const char *unit); /* "mm", "ppm", "urad", ... */
double pp_history_scale(const char *unit);     /* what a number is multiplied by for that unit */

#endif
