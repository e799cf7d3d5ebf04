/* Ligaments: metal between neighbours, computed from centres and diameters or measured directly. */
#ifndef PP_HOLES_LIGAMENTS_H
#define PP_HOLES_LIGAMENTS_H

#include "holes/bores.h"
#include "holes/pitch.h"

typedef struct pp_ligaments {
    size_t count;
    pp_ligament *ligaments; /* pair order, entry before exit */
    size_t pairs_measured;
    size_t other_count; /* direct measurements at a hole of kind other, smallest of each pair */
    pp_other_ligament *others; /* by hole of kind other, face, neighbour */
} pp_ligaments;

/* Every ligament of every pair and face, and smallest_ligament of each bore. Bores are aligned (it
 * does not matter). Results in memory->keep.
 * errors  PP_EINPUT: a direct ligament names an unknown hole or two that are no neighbours */
pp_status pp_ligaments_take(const pp_job *job, const pp_hole_files *files, const pp_view *view,
                            const pp_neighbours *neighbours, const bool *plugged,
                            pp_gathered *gathered, int threads, pp_memory *memory,
                            pp_ligaments *ligaments, pp_error *error);

#endif
