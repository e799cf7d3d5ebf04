/* Two reports of a plate, or two rounds of one, hole by hole: what was repaired, what is new, what
 * got worse; and how much the plate's face moved between two surveys. */
#ifndef PP_COMPARISON_COMPARISON_H
#define PP_COMPARISON_COMPARISON_H

#include "base/memory.h"
#include "comparison/sides.h"
#include "history/report.h"

typedef enum pp_change {
    PP_CHANGE_NEW,       /* in before, out or not proven now */
    PP_CHANGE_WORSE,     /* a worse class, or out both times, further now beyond the uncertainty */
    PP_CHANGE_UNCHANGED, /* out or not proven both times */
    PP_CHANGE_BETTER,    /* the other way round than worse */
    PP_CHANGE_REPAIRED,  /* the other way round than new */
    PP_CHANGE_UNJUDGED,  /* out or not proven before, judged by nothing now: no limit, plugged */
    PP_CHANGE_KINDS
} pp_change;
const char *pp_change_words(pp_change change); /* "new", "worse", ... */

typedef enum pp_compared {
    PP_COMPARED_POSITION,
    PP_COMPARED_DIAMETER,
    PP_COMPARED_LIGAMENT,
    PP_COMPARED_KINDS
} pp_compared;
const char *pp_compared_words(pp_compared characteristic); /* "position", ... */

/* One characteristic of one hole (or pair) and face that is out in one report at least. */
typedef struct pp_compared_item {
    pp_compared characteristic;
    pp_change change;
    const char *hole, *other, *face; /* other: of a ligament; NULL */
    const char *class_before, *class_now;
    double before, now; /* mm */
    double uncertainty; /* expanded (k = 2), of the difference; NaN: not known */
    bool beyond;        /* the difference is larger than that; not known: larger than nothing */
} pp_compared_item;

typedef struct pp_changed_limit { /* what a figure is held against, where that is not the same */
    const char *figure;
    double before[2], now[2]; /* lower, upper; NaN: none */
} pp_changed_limit;

/* How much the face moved, without tilt: places that both maps have. */
typedef struct pp_moved_face {
    size_t places;                              /* 0: one of the reports has no map */
    const double *x, *y, *before, *now, *moved; /* [places], mm; moved: without tilt, up positive */
    double rms, largest, at_x, at_y;            /* mm; where */
    double rise, rise_x, rise_y, fall, fall_x, fall_y; /* the most up, the most down (negative) */
    double uncertainty; /* expanded, of the difference of the two surfaces; NaN: not stated */
    double flatness_before, flatness_now; /* mm, minimum zone; NaN: none */
    const char
        *turned; /* how the second survey would lie far better on the first; NULL: as it is */
} pp_moved_face;

typedef struct pp_compared_state { /* one of the two */
    const char *name;              /* its folder, or "round 1" */
    const char *verdict;
    pp_side side;
} pp_compared_state;

typedef struct pp_comparison {
    pp_compared_state state[2]; /* before, now */
    pp_kept_report report[2];   /* of rounds both the same */
    bool rounds, same_plate;
    bool verdict_worse; /* conformed before, and is not proven or does not now; and so on */
    size_t compared[PP_COMPARED_KINDS]; /* in both */
    size_t moved[PP_COMPARED_KINDS];    /* of them, changed beyond the uncertainty of both */
    size_t unstated[PP_COMPARED_KINDS]; /* of them, without a stated uncertainty to tell by */
    size_t only[2];                     /* holes and faces that only one has */
    size_t count[PP_CHANGE_KINDS];
    size_t item_count;
    const pp_compared_item
        *items; /* by change, then characteristic, then the order of the report */
    size_t limit_count;
    const pp_changed_limit *limits; /* classes before and now mean different things then */
    pp_moved_face face;
} pp_comparison;

/* Compare the report folders `before` and `now`.
 * errors   PP_EINPUT: no report, nothing in common; PP_EIO: a file of theirs cannot be read;
 *          PP_ENOMEM */
pp_status pp_compare_reports(const char *before, const char *now, int threads, pp_memory *memory,
                             pp_comparison *comparison, pp_error *error);

/* Compare two rounds of the report in `folder`, already worked out (results[2], which must outlive
 * the comparison). errors as above */
pp_status pp_compare_rounds(const char *folder, const unsigned round[2],
                            const pp_results results[2], int threads, pp_memory *memory,
                            pp_comparison *comparison, pp_error *error);

/* One of the two has holes or ligaments; else surveys alone are compared. */
bool pp_comparison_has_holes(const pp_comparison *comparison);
/* Something is new or worse, or the verdict is. */
bool pp_comparison_is_worse(const pp_comparison *comparison);

#endif
