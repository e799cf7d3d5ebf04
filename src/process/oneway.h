/* Does a figure go with a factor: one-way analysis of variance, and how long tools last. */
#ifndef PP_PROCESS_ONEWAY_H
#define PP_PROCESS_ONEWAY_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

typedef struct pp_oneway {
    size_t plates, groups;
    double between_ss, within_ss, f, p;
    double share;   /* of the variance that goes with the factor */
    double scatter; /* within groups, standard deviation */
    bool valid;     /* two groups of two at least, and a plate to spare */
} pp_oneway;

/* value[count] in groups group[count], 0 .. groups - 1; plates of a group with `left_out` do not
 * count; `room` for 2 groups numbers. No classic F is to be had where nothing varies within: p is
 * then NaN. */
pp_oneway pp_oneway_test(const double *value, const size_t *group, size_t count, size_t groups,
                         const bool *left_out, double *room);

/* Holm's adjustment of p[count] (NaN: no test) in place; scratch has room for `count`. */
void pp_holm_adjust(double *p, size_t count, size_t *scratch);

/* The line of wear of one tool: diameter = level + slope k + scatter, k holes drilled. */
typedef struct pp_tool_line {
    double level, slope, scatter, holes, last; /* last: highest k seen */
} pp_tool_line;

typedef struct pp_tool_life {
    size_t tools;
    double level, level_sd, slope, slope_sd, scatter, longest;
    double life;      /* holes; NaN: fewer than two tools; infinite: it never leaves the limits */
    double life_sure; /* with confidence .95; NaN: fewer than three tools */
    bool unlimited;   /* so long a life that there is no end of it */
    bool beyond_experience; /* longer than any tool was seen */
} pp_tool_life;

enum { PP_TOOL_LINE_HOLES_MIN = 20 };

/* How many holes a new tool may drill until `share` of its holes lie beyond a limit (NaN: none).
 * errors   PP_EINPUT: no limit, or a share that is none; PP_ENOTHING: no tool */
pp_status pp_tool_life_find(const pp_tool_line *lines, size_t count, double lower, double upper,
                            double share, pp_tool_life *life, pp_error *error);

#endif
