/* A comparison for people and programs. They only write. */
#ifndef PP_REPORT_COMPARISON_COMPARISON_REPORT_H
#define PP_REPORT_COMPARISON_COMPARISON_REPORT_H

#include "base/text.h"
#include "comparison/comparison.h"

/* comparison.json, format "plateproof-comparison", version 1. errors: PP_ENOMEM */
pp_status pp_comparison_json(const pp_comparison *comparison, pp_text *text, pp_error *error);
/* comparison.csv:
 * hole,other,face,characteristic,change,before,now,uncertainty,class_before,class_now,beyond; mm,
 * in the order of the items. errors: PP_ENOMEM */
pp_status pp_comparison_csv(const pp_comparison *comparison, pp_text *text, pp_error *error);
/* moved.csv: x,y,before,now,moved; mm, every place of the face that both maps have. errors:
 * PP_ENOMEM */
pp_status pp_comparison_moved_csv(const pp_comparison *comparison, pp_text *text, pp_error *error);
/* comparison.html: one page without script, for screen and paper. errors: PP_EIO as pp_html_open;
 * PP_ENOMEM */
pp_status pp_comparison_page(const pp_comparison *comparison, pp_memory *memory, pp_text *text,
                             pp_error *error);
/* In words, for the terminal. errors: PP_ENOMEM */
pp_status pp_comparison_words(const pp_comparison *comparison, pp_text *text, pp_error *error);

#endif
