/* Matching: which nominal hole each reading belongs to. By name where it has one, else the nearest
 * within half a pitch of where the alignment puts it. Never aligns. */
#ifndef PP_HOLES_MATCHING_H
#define PP_HOLES_MATCHING_H

#include "base/grid.h"
#include "holes/alignment.h"

/* As pp_gather takes it: nominal index, or nominal count + number of the extra. While matching is
 * under way also these: */
#define PP_KEY_EXTRA (UINT32_MAX - 1)   /* matches nothing */
#define PP_KEY_PENDING (UINT32_MAX - 2) /* has no name and was not looked for yet */

typedef struct pp_matching_state {
    uint32_t *key; /* [row] */
    size_t named;  /* rows with a name */
    size_t pending;
    bool *doubly; /* [nominal]: more than one row matched it */
    size_t extra_count;
    const char **extra; /* name or "row N", each once, in row order */
} pp_matching_state;

/* Rows with a name get their hole or PP_KEY_EXTRA, the others PP_KEY_PENDING.
 * memory   keep: the keys, which the measures hand on; scratch: the rest
 * errors   PP_EINPUT: more names than fit; PP_ENOMEM */
pp_status pp_match_names(const pp_hole_files *files, int threads, pp_memory *memory,
                         pp_matching_state *state, pp_error *error);

typedef struct pp_matching_frame { /* what lies where, as far as is known */
    const pp_hole_files *files;
    const pp_grid *nominal_grid; /* all nominal holes */
    const pp_view *view;
    const pp_pose *poses; /* [face] */
} pp_matching_frame;

/* (Re)match every row without a name to the nearest nominal hole within `radius` of its aligned
 * place. Of several rows for one hole, face and round the nearest keeps it (ties: the lowest row; a
 * named row before any other); the others become PP_KEY_EXTRA and the hole is doubly claimed.
 * errors   PP_ENOMEM */
pp_status pp_match_nearest(const pp_matching_frame *frame, double radius, int threads,
                           pp_memory *memory, pp_matching_state *state, pp_error *error);

/* Number the extras in row order, rows of one name together, and put them into the keys. Results in
 * memory->keep.
 * errors   PP_EINPUT: more names than fit; PP_ENOMEM */
pp_status pp_match_extras(const pp_hole_files *files, pp_memory *memory, pp_matching_state *state,
                          pp_error *error);

#endif
