/* Ligaments: metal between neighbours, computed from centres and diameters or measured directly.
 * mm.
 */
#ifndef PP_HOLES_LIGAMENTS_H
#define PP_HOLES_LIGAMENTS_H

#include "holes/aligned.h"
#include "holes/pitch.h"

/* Metal between two neighbouring tube holes on one face. Kept small: a large plate has millions. */
typedef struct pp_ligament {
    double value;  /* mm */
    float u;       /* standard uncertainty; NaN where none was given */
    uint32_t a, b; /* nominal indices, a before b */
    uint8_t face;
    bool direct; /* measured directly */
} pp_ligament;

/* Metal from a hole of kind other on one face: measured directly to a neighbour, or to the nearest
 * (by metal) of the other tube holes. */
typedef struct pp_other_ligament {
    uint32_t other, tube; /* nominal indices */
    uint8_t face;
    bool direct;
    double value, u;
} pp_other_ligament;

typedef struct pp_ligaments {
    size_t count;
    pp_ligament *ligaments; /* pair order, entry before exit */
    size_t pairs_measured;
    size_t other_count; /* direct measurements at a hole of kind other, smallest of each pair */
    pp_other_ligament *others; /* by hole of kind other, face, neighbour */
} pp_ligaments;

typedef struct pp_ligament_question {
    const pp_hole_files *files;
    const pp_neighbours *neighbours;
    const bool *plugged;         /* [nominal] */
    const pp_gathered *gathered; /* aligned */
    double scale;                /* of direct measurements: the view's size */
    pp_hole_uncertainty uncertainty;
} pp_ligament_question;

/* Every ligament of every pair and face; fills in the smallest of each of gathered->bores.
 * memory   keep: all of it
 * errors   PP_EINPUT: a direct ligament names an unknown hole or two that are no neighbours;
 *          PP_ENOMEM */
pp_status pp_ligaments_take(const pp_ligament_question *question, int threads, pp_memory *memory,
                            pp_ligaments *ligaments, pp_error *error);

#endif
