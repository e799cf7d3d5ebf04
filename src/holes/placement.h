/* The smallest diametral zone that any rigid placement of the measured pattern allows, certified.
 */
#ifndef PP_HOLES_PLACEMENT_H
#define PP_HOLES_PLACEMENT_H

#include "holes/measures.h"
#include "rules/limits.h"

typedef struct pp_placement {
    bool valid;
    double zone;        /* diametral, mm: 2 F*, less the bonus where maximum material applies */
    double lower_bound; /* proven */
    double angle_deg, dx,
        dy; /* on top of the alignment in force: aligned point turned, then shifted */
    int witness_count;
    uint32_t witnesses[4]; /* nominal indices */
    size_t left_out_count; /* blunders: misdrilled pairs, extra holes */
    const uint32_t *left_out;
    bool saves;   /* zone within the limit while the plate as aligned is not */
    double moved; /* largest movement of any hole by this placement, mm */
} pp_placement;

pp_status pp_place(const pp_job *job, const pp_measures *measures, const pp_limits *limits,
                   pp_memory *memory, pp_placement *placement, pp_error *error);

#endif
