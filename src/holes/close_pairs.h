/* Bores of one face against each other wherever they lie: pairs with too little metal between them,
 * and the metal around holes of kind other. */
#ifndef PP_HOLES_CLOSE_PAIRS_H
#define PP_HOLES_CLOSE_PAIRS_H

#include "holes/bores.h"

typedef struct pp_closeness {
    size_t pair_count;
    pp_close_pair *pairs; /* by first hole, second hole, face */
    size_t other_count;
    pp_other_ligament *others; /* nearest tube hole of each bore of kind other, face by face */
} pp_closeness;

/* Bores aligned. A pair of two plugged holes is left out, and around holes of kind other the tube
 * holes to which `direct` has the metal measured (by hole, face, neighbour). Results in
 * memory->keep. */
pp_status pp_close_find(const pp_job *job, const pp_hole_files *files, const pp_gathered *gathered,
                        const bool *plugged, const pp_other_ligament *direct, size_t direct_count,
                        double pitch, double close_below, int threads, pp_memory *memory,
                        pp_closeness *closeness, pp_error *error);

#endif
