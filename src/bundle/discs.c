#include "bundle/discs.h"

#include <math.h>

pp_disc pp_disc_moved(pp_disc disc, const pp_play *play, const pp_move *move)
{
    double c = cos(move->angle), s = sin(move->angle);
    double x = disc.x - play->x, y = disc.y - play->y;
    disc.x = c * x - s * y + play->x + move->dx;
    disc.y = s * x + c * y + play->y + move->dy;
    return disc;
}

size_t pp_discs_of(const pp_discs *discs, size_t tube, const pp_play *play, const pp_move *moves,
                   pp_disc out[PP_EDGES_MAX])
{
    size_t first = discs->first[tube], count = discs->first[tube + 1] - first;
    for (size_t i = 0; i < count; i++) {
        uint8_t plate = discs->plate[first + i];
        out[i] = discs->disc[first + i];
        if (moves && (play[plate].radius > 0 || play[plate].angle > 0))
            out[i] = pp_disc_moved(out[i], &play[plate], &moves[plate]);
    }
    return count;
}

int pp_play_any(const pp_play *play, size_t plates)
{
    for (size_t p = 0; p < plates; p++)
        if (play[p].radius > 0 || play[p].angle > 0) return 1;
    return 0;
}
