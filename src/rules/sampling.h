/* A sample against the list that was drawn for it. */
#ifndef PP_RULES_SAMPLING_H
#define PP_RULES_SAMPLING_H

#include "rules/judging.h"

typedef struct pp_sampling {
    bool listed;             /* a list was drawn, and the job names it */
    size_t drawn;            /* different holes of it */
    size_t not_measured;     /* drawn, and without a reading */
    uint32_t *missing;       /* these */
    size_t not_drawn;        /* tube holes read that are not on it */
    uint32_t *added;         /* these */
    bool seeded, reproduced; /* a seed is given; it draws this very list from the nominal one */
} pp_sampling;

/* Only for coverage = sample. memory->scratch; PP_ENOMEM */
pp_status pp_sampling_find(const pp_judging *j, pp_sampling *sampling, pp_error *error);

#endif
