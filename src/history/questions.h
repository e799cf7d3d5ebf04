/* What a history is asked, and its answers as plain data; report/history writes them.
 *
 * Every question takes the plates that meet the selection (select.h), those since the last event of
 * their machine where it is about the process as it is now; its answer lives in the arena given.
 * errors   PP_EINPUT: no such figure, a wrong limit or date; PP_ENOTHING: too few plates; of the
 *          file: PP_EIO, PP_EINPUT as pp_history_step; PP_ENOMEM*/
#ifndef PP_HISTORY_QUESTIONS_H
#define PP_HISTORY_QUESTIONS_H

#include "history/select.h"
#include "process/charts.h"

typedef struct pp_chart_answer {
    const char *figure; /* full name */
    pp_history_rows rows;
    const double *value; /* [rows.count] since the last event */
    size_t earlier_count;
    const pp_history_row *earlier; /* those before it; they are in no limit */
    pp_individuals chart;
} pp_chart_answer;
/* The chart of individuals of a figure. base: limits from the first so many plates; 0: all. */
pp_status pp_ask_chart(pp_history *history, const pp_selection *selection, const char *figure,
                       size_t base, pp_arena *arena, pp_chart_answer *answer, pp_error *error);

typedef struct pp_share_answer {
    const char *figure;
    pp_history_rows rows;
    pp_shares chart;
} pp_share_answer;
/* The chart of a count, as a share of the holes of each plate. */
pp_status pp_ask_share(pp_history *history, const pp_selection *selection, const char *figure,
                       pp_arena *arena, pp_share_answer *answer, pp_error *error);

typedef struct pp_capability_answer {
    bool position;
    double lower, upper, limit;
    pp_history_rows rows;
    const pp_plate_moments *moments; /* [rows.count] */
    pp_size_capability size;
    pp_position_capability place;
    double counted, counted_of, counted_bound; /* holes out by their reports, where their limit is
                                                  this one; NaN: none judged by it. Bound: 95 % */
    double counted_share;                      /* of those judged */
    bool more_than_model; /* clearly more were counted outside than the model's share */
} pp_capability_answer;
typedef struct pp_capability_question { /* limits in mm; NaN: not given */
    const char *what;                   /* "diameter" or "position" */
    double lower, upper;                /* of the diameter */
    double limit;                       /* of the position */
} pp_capability_question;
/* Capability of the process against limits. errors: as above, and PP_EINPUT: a limit that is needed
 * is not given. */
pp_status pp_ask_capability(pp_history *history, const pp_selection *selection,
                            const pp_capability_question *question, pp_arena *arena,
                            pp_capability_answer *answer, pp_error *error);

typedef struct pp_used_limits { /* mm; NaN: the reports have none */
    double lower, upper;        /* of the diameter */
    double position;            /* diametral */
    bool several;               /* some plates were judged by others than the latest one */
} pp_used_limits;
/* What the latest plate since the last event was judged by. No figure at all is no error. */
pp_status pp_ask_limits(pp_history *history, const pp_selection *selection, pp_arena *arena,
                        pp_used_limits *limits, pp_error *error);

typedef struct pp_trend_answer {
    const char *figure;
    bool days; /* per day, else per plate */
    pp_history_rows rows;
    const double *x, *y;
    pp_trend trend;
} pp_trend_answer;
/* The line through a figure. */
pp_status pp_ask_trend(pp_history *history, const pp_selection *selection, const char *figure,
                       bool days, pp_arena *arena, pp_trend_answer *answer, pp_error *error);

typedef struct pp_cause_test {
    const char *figure, *unit;
    pp_factor by;
    size_t group_count;
    const char **group;
    const size_t *plates; /* [group_count] */
    const double *mean;   /* [group_count] */
    const bool *left_out; /* [group_count]: of one plate only */
    pp_oneway test;
    double p_adjusted;
    bool found;
    unsigned same_as, within; /* bits of factors: the same partition; a coarser one */
} pp_cause_test;

typedef struct pp_cause_answer {
    size_t count;
    const pp_cause_test *tests;
    size_t without; /* figures that no factor could be tried on */
} pp_cause_answer;
/* figure: NULL: those that are worth charting. */
pp_status pp_ask_causes(pp_history *history, const pp_selection *selection, const char *figure,
                        pp_arena *arena, pp_cause_answer *answer, pp_error *error);

typedef struct pp_tool_answer {
    double lower, upper, share;
    size_t count;
    const pp_tool_row *tools;
    pp_tool_life life;
} pp_tool_answer;
/* How long tools last. share: of their holes, that may be beyond a limit. */
pp_status pp_ask_tools(pp_history *history, const pp_selection *selection, double lower,
                       double upper, double share, pp_arena *arena, pp_tool_answer *answer,
                       pp_error *error);

typedef struct pp_listed_figure {
    const char *figure, *unit, *kind; /* "figure", "count", "term" */
    size_t reports;
} pp_listed_figure;
typedef struct pp_listed_machine {
    const char *name, *serial;
    size_t plates;
} pp_listed_machine;

typedef struct pp_list_answer {
    size_t plates, reports, replaced;
    size_t figure_count, machine_count, event_count;
    const pp_listed_figure *figures;
    const pp_listed_machine *machines;
    const pp_history_event *events;
} pp_list_answer;
/* What there is in the history. */
pp_status pp_ask_list(pp_history *history, pp_arena *arena, pp_list_answer *answer,
                      pp_error *error);

typedef struct pp_checked_folder {
    const char *plate, *folder;
} pp_checked_folder;
typedef struct pp_check_answer {
    const char *integrity; /* "ok", or what SQLite found */
    size_t reports, missing_count, differ_count;
    const pp_checked_folder *missing, *differ; /* folders that are gone, or hold another report */
} pp_check_answer;
/* Is the file sound, and is every report still there and the same? Hashes every report. */
pp_status pp_ask_check(pp_history *history, pp_memory *memory, pp_check_answer *answer,
                       pp_error *error);

/* The figures that are worth charting: signed terms, mean diameter, flatness, rms; never the
 * largest of many. Ends with NULL. */
extern const char *const pp_charted_figures[];

#endif
