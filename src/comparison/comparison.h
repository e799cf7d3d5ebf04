/* Two reports of a plate, hole by hole: what was repaired, what is new, what got worse; and how
 * much the plate's face moved between two surveys. */
#ifndef PP_COMPARISON_COMPARISON_H
#define PP_COMPARISON_COMPARISON_H

#include "base/memory.h"
#include "history/report.h"

typedef enum pp_change {
    PP_CHANGE_NEW,       /* in before, out or not proven now */
    PP_CHANGE_WORSE,     /* a worse class, or out both times, further now beyond the uncertainty */
    PP_CHANGE_UNCHANGED, /* out or not proven both times */
    PP_CHANGE_BETTER,    /* the other way round than worse */
    PP_CHANGE_REPAIRED,  /* the other way round than new */
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
} pp_compared_item;

/* How much the face moved, without tilt: places that both maps have. */
typedef struct pp_moved_face {
    size_t places;                        /* 0: one of the reports has no map */
    double rms, largest, x, y;            /* mm; where */
    double flatness_before, flatness_now; /* mm, minimum zone; NaN: none */
} pp_moved_face;

typedef struct pp_comparison {
    const char *folder[2];
    pp_kept_report report[2];
    bool same_plate;
    size_t compared[PP_COMPARED_KINDS]; /* in both reports */
    size_t moved[PP_COMPARED_KINDS];    /* of them, changed beyond the uncertainty of both */
    size_t only[2];                     /* holes and faces that only one report has */
    size_t count[PP_CHANGE_KINDS];
    size_t item_count;
    const pp_compared_item
        *items; /* by change, then characteristic, then the order of the report */
    pp_moved_face face;
} pp_comparison;

/* Compare the report folders `before` and `now`.
 * errors   PP_EINPUT: no report, nothing in common; PP_EIO; PP_ENOMEM */
pp_status pp_compare_reports(const char *before, const char *now, int threads, pp_memory *memory,
                             pp_comparison *comparison, pp_error *error);

#endif
