#include "bundle/discs.h"

#include <math.h>

void pp_plate_moved_of(const pp_play *play, const pp_move *moves, size_t plates,
                       pp_plate_moved *stand)
{
    for (size_t p = 0; p < plates; p++)
        stand[p] = (pp_plate_moved){.moved = play[p].radius > 0 || play[p].angle > 0,
                                    .cosine = cos(moves[p].angle),
                                    .sine = sin(moves[p].angle),
                                    .x = play[p].x,
                                    .y = play[p].y,
                                    .dx = moves[p].dx,
                                    .dy = moves[p].dy};
}

size_t pp_discs_of(const pp_discs *discs, size_t tube, const pp_plate_moved *stand,
                   pp_disc out[PP_EDGES_MAX])
{
    size_t first = discs->first[tube], count = discs->first[tube + 1] - first;
    for (size_t i = 0; i < count; i++) {
        const pp_plate_moved *at = stand ? &stand[discs->plate[first + i]] : NULL;
        out[i] =
            at && at->moved ? pp_disc_moved(discs->disc[first + i], at) : discs->disc[first + i];
    }
    return count;
}

int pp_play_any(const pp_play *play, size_t plates)
{
    for (size_t p = 0; p < plates; p++)
        if (play[p].radius > 0 || play[p].angle > 0) return 1;
    return 0;
}
