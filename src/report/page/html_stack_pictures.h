/* A stack's pictures as inline SVG: what colour says, size or a mark says too. */
#ifndef PP_REPORT_PAGE_HTML_STACK_PICTURES_H
#define PP_REPORT_PAGE_HTML_STACK_PICTURES_H

#include "answer/results.h"
#include "base/text.h"

/* The layers cut through the worst hole, at rest and under the foot. */
void pp_html_stack_section_picture(pp_text *out, const pp_results *results);
/* The force that closes the gaps between layers, hole by hole. */
void pp_html_stack_force_map(pp_text *out, const pp_results *results);
/* Every interface small: where the foot leaves a gap. */
void pp_html_stack_gap_maps(pp_text *out, const pp_results *results);

#endif
