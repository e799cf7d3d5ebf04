#include "bundle/uncertainty.h"

#include <math.h>

enum { DECIDE_AT_MOST = 5 };        /* discs, where no tie leaves it open (Helly) */
static const double TOUCHES = 1e-5; /* mm from the cylinder */

static double square(double a) { return a * a; }

/* Is disc i the rear edge of the same plate's front edge i - 1? */
static bool is_rear(const pp_disc_doubts *d, size_t i)
{
    return i > 0 && d->plate[i] == d->plate[i - 1];
}

static double of_readings(const pp_disc_doubts *d, const pp_share *share)
{
    double sum = 0;
    for (size_t i = 0; i < d->count; i++) {
        pp_share s = share[i];
        if (d->shared[i] && is_rear(d, i)) continue; /* taken with the front edge */
        if (d->shared[i] && i + 1 < d->count && d->plate[i + 1] == d->plate[i]) {
            s.l += share[i + 1].l;
            s.vx += share[i + 1].vx;
            s.vy += share[i + 1].vy;
        }
        sum += square(2 * s.l * d->u_radius[i]);
        sum += 4 * (square(s.vx) + square(s.vy)) * square(d->u_centre[i]);
    }
    return sum;
}

static double of_placement(const pp_disc_doubts *d, const pp_share *share)
{
    double sum = 0;
    for (size_t i = 0; i < d->count; i++) {
        if (is_rear(d, i)) continue;
        double vx = share[i].vx, vy = share[i].vy;
        if (i + 1 < d->count && d->plate[i + 1] == d->plate[i]) {
            vx += share[i + 1].vx;
            vy += share[i + 1].vy;
        }
        sum += 4 * (square(vx) + square(vy)) * square(d->u_placed[d->plate[i]]);
    }
    return sum;
}

static double of_three(const pp_disc_doubts *d, const pp_passage *line)
{
    size_t touching = 0;
    double most = 0;
    for (size_t i = 0; i < d->count; i++) {
        if (pp_passage_slack(line, &d->disc[i]) - line->radius > TOUCHES) continue;
        touching++;
        most = fmax(most, square(2 * d->u_radius[i]) + 4 * square(d->u_centre[i]));
    }
    return touching > DECIDE_AT_MOST ? 3.0 / 8 * most : 0;
}

double pp_margin_uncertainty(const pp_disc_doubts *doubts, const pp_passage *line,
                             const pp_share *share)
{
    double readings = of_readings(doubts, share), three = of_three(doubts, line);
    if (isnan(readings)) return NAN;
    return sqrt((three > readings ? three : readings) + of_placement(doubts, share));
}
