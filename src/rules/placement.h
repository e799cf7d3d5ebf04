/* The smallest diametral zone that any rigid placement of the measured pattern allows, certified.
 */
#ifndef PP_RULES_PLACEMENT_H
#define PP_RULES_PLACEMENT_H

#include "holes/measures.h"
#include "rules/limits.h"

typedef struct pp_placement {
    bool valid;         /* some nominal hole was measured */
    bool uncertified;   /* the certificate's gap exceeds 1e-9 mm (zone/smallest.h), as where holes
                           are displaced by millimetres: nothing below holds, and the report says
                           so */
    double zone;        /* diametral, mm: 2 F*, bonus taken off where maximum material applies:
                           some placement conforms exactly if zone <= position limit. Negative: bonus
                           to spare at every hole */
    double lower_bound; /* proven: no placement has a smaller zone */
    double u;           /* standard uncertainty of the zone: the largest of its witnesses'; NaN
                           where none was given */
    double angle_deg, dx,
        dy; /* on top of the alignment in force: aligned point turned, then shifted */
    int witness_count;
    uint32_t witnesses[4];  /* nominal indices: these holes alone force the zone */
    bool witnesses_suffice; /* false only for errors as large as the plate */
    size_t holes;           /* nominal holes that take part */
    size_t left_out_count;  /* blunders: misdrilled pairs; extra holes are measures->extra */
    const uint32_t *left_out;
    double as_aligned; /* diametral zone of the same holes, as aligned now */
    bool saves;   /* zone within the limit (proven, under the guarded decision) while the holes as
                     aligned are not. What was left out, or fails for another reason, still fails */
    double moved; /* largest movement of any hole by this placement, mm */
} pp_placement;

/* Place the measured holes (tube and other, both faces where they share one alignment; not the
 * plugged, the misdrilled and the extra ones) where their worst position is smallest.
 *
 * threads  the result has the same bits whatever their number
 * errors   PP_ENOMEM; that the zone can't be certified is a result
 */
pp_status pp_place(const pp_job *job, const pp_measures *measures, const pp_limits *limits,
                   int threads, pp_memory *memory, pp_placement *placement, pp_error *error);

#endif
