/* Which numbers of results.json a history keeps, and what they are called. */
#ifndef PP_HISTORY_FIGURES_H
#define PP_HISTORY_FIGURES_H

#include <jansson.h>

#include "history/report.h"

/* Figures, counts, terms of the diagnosis and tools of the results. Arrays in `keep`.
 * errors   PP_ENOMEM */
pp_status pp_kept_figures_take(const json_t *root, pp_arena *keep, pp_kept_report *report,
                               pp_error *error);

/* The dotted name that a short one stands for ("flatness"), or the name itself. */
const char *pp_figure_full_name(const char *name);

#endif
