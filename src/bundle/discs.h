/* The whole bundle as discs: for every tube the edges of the holes it goes through. */
#ifndef PP_BUNDLE_DISCS_H
#define PP_BUNDLE_DISCS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "bundle/passage.h"

enum { PP_PLATES_MAX = 30, PP_PLATES_MIN = 3 };

typedef struct pp_discs {
    size_t tubes;
    const size_t *first;  /* [tubes + 1]: discs first[k] .. first[k + 1] are of tube k */
    const pp_disc *disc;  /* as set out, in order of s */
    const uint8_t *plate; /* of each disc */
} pp_discs;

/* How far a plate can be moved before its tie rods are locked: its origin within `radius`, the
 * plate turned by at most `angle` to either side. Zero: fixed. */
typedef struct pp_play {
    double x, y;          /* the origin, in the bundle */
    double radius, angle; /* mm, rad */
    double rim;           /* distance of the farthest hole from the origin, above zero */
} pp_play;

typedef struct pp_move {
    double dx, dy, angle; /* mm; rad, counter-clockwise seen from the front */
} pp_move;

/* A plate where a move has put it. */
typedef struct pp_plate_moved {
    bool moved; /* false: the plate has no play, its discs stay as they are */
    double cosine, sine, x, y, dx, dy;
} pp_plate_moved;

/* stand: [plates], every plate moved by its move. */
void pp_plate_moved_of(const pp_play *play, const pp_move *moves, size_t plates,
                       pp_plate_moved *stand);

/* The disc where its plate stands, exactly. */
static inline pp_disc pp_disc_moved(pp_disc disc, const pp_plate_moved *stand)
{
    double x = disc.x - stand->x, y = disc.y - stand->y;
    disc.x = stand->cosine * x - stand->sine * y + stand->x + stand->dx;
    disc.y = stand->sine * x + stand->cosine * y + stand->y + stand->dy;
    return disc;
}

/* The discs of one tube where the plates stand; NULL: as set out. Returns their count. */
size_t pp_discs_of(const pp_discs *discs, size_t tube, const pp_plate_moved *stand,
                   pp_disc out[PP_EDGES_MAX]);

/* Does any plate have play? */
int pp_play_any(const pp_play *play, size_t plates);

#endif
