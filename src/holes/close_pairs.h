/* Bores of one face against each other wherever they lie: pairs with too little metal between them,
 * and the metal around holes of kind other. mm. */
#ifndef PP_HOLES_CLOSE_PAIRS_H
#define PP_HOLES_CLOSE_PAIRS_H

#include "holes/ligaments.h"

typedef struct pp_close_pair { /* of any two bores on one face, by bore index, a before b */
    uint32_t a, b;
    double ligament;
} pp_close_pair;

typedef struct pp_closeness {
    size_t pair_count;
    pp_close_pair *pairs; /* by first hole, second hole, face */
    size_t other_count;
    pp_other_ligament *others; /* nearest tube hole of each bore of kind other, face by face */
} pp_closeness;

typedef struct pp_close_question {
    const pp_hole_files *files;
    const pp_gathered *gathered;     /* aligned */
    const bool *plugged;             /* [nominal]: a pair of two plugged holes is left out */
    size_t direct_count;             /* metal measured directly around holes of kind other: */
    const pp_other_ligament *direct; /* these tube holes are left out (by hole, face, neighbour) */
    double pitch;                    /* NaN: none */
    double close_below;              /* list pairs with less metal than this */
    pp_hole_uncertainty uncertainty;
} pp_close_question;

/* Find them.
 * memory   keep: both lists
 * errors   PP_EINPUT: most bores lie on top of each other; PP_ENOMEM */
pp_status pp_close_find(const pp_close_question *question, int threads, pp_memory *memory,
                        pp_closeness *closeness, pp_error *error);

#endif
