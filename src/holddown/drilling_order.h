/* In which order holes are drilled within one set-up. */
#ifndef PP_HOLDDOWN_DRILLING_ORDER_H
#define PP_HOLDDOWN_DRILLING_ORDER_H

#include <stdint.h>

#include "base/memory.h"
#include "input/job/job.h"

typedef struct pp_drilling_path {
    double travel;         /* from hole to hole, mm */
    double travel_by_rows; /* of the same holes row by row */
    int sweeps;            /* 1: row by row */
} pp_drilling_path;

typedef struct pp_drilling_pattern {
    const double *x, *y; /* of all nominal holes, mm */
    double pitch;        /* of the holes, mm; NaN: not known, rows are then those of equal y */
    /* interleaved: four sweeps, each over every fourth row, up and down the plate by turns, so that
     * what drifts while the job lasts is not the same as what changes along the plate; fewer than
     * eight rows are drilled row by row all the same */
    pp_drilling_order order;
} pp_drilling_pattern;

/* Put the holes of one set-up into drilling order.
 *
 * given    holes[count]  nominal indices
 * out      holes   in drilling order; rows are run to and fro
 * errors   PP_ENOMEM */
pp_status pp_drilling_order_make(const pp_drilling_pattern *pattern, size_t count, uint32_t *holes,
                                 pp_arena *scratch, pp_drilling_path *path, pp_error *error);

#endif
