/* What was counted and what became of it, beyond the verdicts: dispositions and their references,
 * readings superseded, exit readings missing where there should be one. */
#ifndef PP_RULES_COUNTS_H
#define PP_RULES_COUNTS_H

#include "rules/judging.h"

enum {                    /* what the rows of one hole say */
       PP_DISPOSED = 1,   /* any disposition */
       PP_SLEEVED = 2,    /* a sleeve or bush was put in: the bore may be smaller */
       PP_DECIDED = 4,    /* plugged, or accepted under concession: somebody decided */
       PP_REFERENCED = 8, /* some row has a reference */
};

typedef struct pp_hole_counts {
    uint8_t *said; /* [nominal]: of the above */
    size_t plugged, plugged_bare, superseded;
    size_t bare_count;
    uint32_t *bare; /* holes decided about without a reference */
    size_t no_exit_count;
    uint32_t *no_exit; /* tube holes without an exit reading though most neighbours have one */
} pp_hole_counts;

/* j->measures is there. memory->scratch; PP_ENOMEM */
pp_status pp_count_holes(const pp_judging *j, pp_hole_counts *counts, pp_error *error);

/* "985 of 1285 holes, entry face; 144 plugged, 3 of them without reference; 2 not measured" into
 * j->out->basis. counts: NULL without holes. memory->keep; PP_ENOMEM */
pp_status pp_write_basis(pp_judging *j, const pp_hole_counts *counts, pp_error *error);

#endif
