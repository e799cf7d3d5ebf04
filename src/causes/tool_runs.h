/* The holes of each tool, and the tool's own line of wear through their diameters:
 *
 *     diameter_k = level + slope k + noise,   k = holes the tool had drilled before
 *
 * by least squares. Diameters beyond 4.5 robust standard deviations are left out: of a running
 * median of 9 at first, then of the line. The diagnosis tests one slope for all tools; a tool that
 * wears faster than the others shows here only. */
#ifndef PP_CAUSES_TOOL_RUNS_H
#define PP_CAUSES_TOOL_RUNS_H

#include "causes/diagnosis.h"

enum { PP_TOOL_RUN_HOLES_MIN = 4 }; /* fewer have no line of their own */

/* Diameters in drilling order, and what is known of each. */
typedef struct pp_tool_holes {
    size_t count;
    const double *diameter;    /* mm */
    const uint32_t *place;     /* in the drilling order, from 0 */
    const char *const *tool;   /* that drilled it, "" or NULL where not told; NULL: none is told */
    const double *tool_used;   /* holes it had drilled before, NaN: not told; NULL: none is told */
    size_t change_count;       /* where no tool is told: the changes found in the diameters */
    const uint32_t *change_at; /* index of the first diameter of each new tool */
} pp_tool_holes;

/* The runs, in drilling order: a run ends where the tool does. A tool that comes back counts on.
 * Runs of fewer than PP_TOOL_RUN_HOLES_MIN diameters are left out.
 * out      runs[*count] in `keep`
 * errors   PP_ENOMEM */
pp_status pp_tool_runs_find(const pp_tool_holes *holes, pp_arena *keep, pp_arena *scratch,
                            size_t *count, const pp_tool_run **runs, pp_error *error);

#endif
