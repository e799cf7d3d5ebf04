/* Plates of a history, by conditions, in the order they were drilled. */
#ifndef PP_HISTORY_SELECT_H
#define PP_HISTORY_SELECT_H

#include "history/store.h"
#include "process/capability.h"
#include "process/oneway.h"

/* What plates can be picked and grouped by. */
typedef enum pp_factor {
    PP_BY_SUPPLIER,
    PP_BY_HEAT,
    PP_BY_MACHINE,
    PP_BY_OPERATOR,
    PP_BY_INSTRUMENT,
    PP_BY_ROLE,
    PP_BY_STAGE,
    PP_FACTORS
} pp_factor;
extern const char *const pp_factor_names[PP_FACTORS]; /* "supplier", ... */

enum { PP_CONDITIONS_MAX = 32, PP_GROUPED_FACTORS = PP_BY_INSTRUMENT + 1 };

typedef struct pp_condition {
    pp_factor factor;
    const char *value;
} pp_condition;

typedef struct pp_selection { /* conditions on one factor: any of them; on several: all of them */
    size_t count;
    pp_condition conditions[PP_CONDITIONS_MAX];
    const char *since, *until; /* YYYY-MM-DD, both included; NULL */
} pp_selection;

/* Add a condition "machine=borer 2". errors: PP_EINPUT: no such key or no "=", or too many
 * conditions */
pp_status pp_selection_add(pp_selection *selection, const char *text, pp_error *error);
/* Are the dates dates? errors: PP_EINPUT: one is none, or they are the wrong way round */
pp_status pp_selection_check(const pp_selection *selection, pp_error *error);

typedef struct pp_history_row {       /* one report of a plate */
    long long report, plate, machine; /* machine 0: not told */
    const char *label;                /* plate_id, else serial */
    const char *date;                 /* drilled, else inspected, else added */
    const char *of[PP_FACTORS];       /* NULL: not told; PP_ROWS_BRIEF: the stage only */
    const char *folder;               /* PP_ROWS_BRIEF: NULL */
    bool before_event;                /* drilled before something changed at its machine */
    double value, lower, upper, u;    /* the figure; of a term: u is its standard error */
    double count, out_of;             /* of a tally */
    pp_plate_moments moments;
} pp_history_row;

typedef enum pp_wanted {
    PP_WANT_FIGURE, /* a figure, else a term of the diagnosis, of that name */
    PP_WANT_TALLY,
    PP_WANT_MOMENTS, /* entry face; `name` is not looked at */
    PP_WANT_REPORT   /* the reports themselves */
} pp_wanted;

typedef enum pp_detail {
    PP_ROWS_BRIEF, /* what charts need */
    PP_ROWS_WHOLE  /* factors and folder, too */
} pp_detail;

typedef struct pp_history_event {
    const char *date, *text, *machine; /* NULL: of all machines */
    long long machine_number;
} pp_history_event;

typedef struct pp_history_rows {
    size_t count; /* one a plate: its latest stage that has the figure */
    pp_history_row *rows;
    size_t machines;               /* different ones among the rows since the last event */
    size_t since_event;            /* rows from there on, the others stand before */
    size_t earlier_count;          /* once those are set aside: how many stand before rows[0] */
    const pp_history_event *event; /* the last one that set rows aside; NULL */
    const char *unit;
} pp_history_rows;

/* Rows in the order of their dates; those before an event of their machine come first in no other
 * order, and are marked.
 * errors   PP_EINPUT: nobody has that figure (the nearest name is said), a date that is none;
 *          PP_ENOTHING: no report has such figures; of the file as pp_history_step; PP_ENOMEM */
pp_status pp_history_select(pp_history *history, const pp_selection *selection, pp_wanted wanted,
                            pp_detail detail, const char *name, pp_arena *arena,
                            pp_history_rows *rows, pp_error *error);

/* The rows since the last events only, in place. */
void pp_history_rows_since(pp_history_rows *rows);

/* Events that start anew, by date. errors: PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_history_events(pp_history *history, pp_arena *arena, size_t *count,
                            pp_history_event **events, pp_error *error);

typedef struct pp_tool_row {
    const char *plate, *tool, *machine;
    size_t used_before, holes;
    pp_tool_line line;
} pp_tool_row;

/* Tools that drilled PP_TOOL_LINE_HOLES_MIN holes or more in a row; a tool that goes on is one.
 * errors   PP_EINPUT: a date that is none; of the file as pp_history_step; PP_ENOMEM */
pp_status pp_history_tools(pp_history *history, const pp_selection *selection, pp_arena *arena,
                           size_t *count, pp_tool_row **tools, pp_error *error);

#endif
