/* The pictures of a history's page, as SVG. */
#ifndef PP_REPORT_HISTORY_HISTORY_PICTURES_H
#define PP_REPORT_HISTORY_HISTORY_PICTURES_H

#include "base/text.h"
#include "history/questions.h"

/* Individuals over moving ranges: limits as lines, plates beyond ringed and numbered, hints in open
 * rings, what came before the last event hollow behind its line. */
void pp_picture_chart(pp_text *out, const pp_chart_answer *answer);
/* Shares of holes with both pairs of limits. */
void pp_picture_shares(pp_text *out, const pp_share_answer *answer);
/* Diameters: each plate's mean with twice its spread, between the limits. */
void pp_picture_size(pp_text *out, const pp_capability_answer *answer);
/* Positions: the limit's circle, the plates' means, the ellipse of one plate. */
void pp_picture_position(pp_text *out, const pp_capability_answer *answer);
/* Each tool's line over the holes it drilled, the limits, and the life that is sure. */
void pp_picture_tools(pp_text *out, const pp_tool_answer *answer);

#endif
