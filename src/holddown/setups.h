/* The clamp plan as a list of set-ups, from the first chuck to the last: all clamps on, then one
 * after the other lifted for the holes under its pad and put back. Each of these states was solved
 * by the plan (clamps.h): holes under a pad with that clamp moved away, all others with all on. */
#ifndef PP_HOLDDOWN_SETUPS_H
#define PP_HOLDDOWN_SETUPS_H

#include "holddown/study.h"

typedef struct pp_setup_list {
    size_t count;
    const pp_drill_setup *setups; /* the first with all clamps on */
    const size_t *tighten; /* [clamp_count] clamps in the order to tighten them: from the middle
                              outwards, so that the plate can slide flat (common practice, no
                              source); released the other way round */
    size_t unreached;      /* holes under two pads at once: in none of these set-ups */
} pp_setup_list;

/* memory->keep. errors: PP_ENOMEM */
pp_status pp_setups_list(const pp_mesh *mesh, size_t holes, size_t clamp_count,
                         const pp_clamp *clamps, pp_memory *memory, pp_setup_list *list,
                         pp_error *error);

#endif
