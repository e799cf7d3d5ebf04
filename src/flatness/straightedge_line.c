#include <math.h>
#include <stdint.h>

#include "base/clones.h"
#include "flatness/straightedge_line.h"

/* ---- the plate's outline ---- */

static bool is_cut_out(const pp_relief *r)
{
    return r->outline != PP_OUTLINE_DISC && r->outline != PP_OUTLINE_RECTANGLE;
}

double pp_relief_extent(const pp_relief *r)
{
    return r->outline == PP_OUTLINE_DISC ? 2 * r->radius : hypot(r->width, r->height);
}

double pp_relief_half_across(const pp_relief *r, double angle)
{
    if (r->outline == PP_OUTLINE_DISC) return r->radius;
    return (r->width * fabs(sin(angle)) + r->height * fabs(cos(angle))) / 2;
}

/* Cut [begin, end] to where |from + s along| <= half. */
static void clip(double from, double along, double half, double *begin, double *end)
{
    double slack = half * PP_LINE_EDGE;
    if (fabs(along) < PP_LINE_EDGE) {
        if (fabs(from) > half + slack) *end = *begin - 1;
        return;
    }
    double s0 = (-half - from) / along, s1 = (half - from) / along;
    *begin = fmax(*begin, fmin(s0, s1));
    *end = fmin(*end, fmax(s0, s1));
}

/* The stretches of the line on a cut-out plate */
static bool place_on_cut_out(const pp_relief *r, pp_line *l)
{
    l->stretches = pp_outline_chords(&r->shape, r->centre_x + l->ox, r->centre_y + l->oy, l->ex,
                                     l->ey, l->stretch);
    if (l->stretches == 0) return false;
    l->begin = l->stretch[0].begin;
    l->end = l->stretch[l->stretches - 1].end;
    return l->end - l->begin > PP_LINE_EDGE * pp_relief_extent(r);
}

bool pp_line_ends_on_plate(const pp_line *l, double start, double length)
{
    int found = 0;
    if (l->stretches < 2) return true;
    double slack = PP_LINE_EDGE * length;
    for (size_t k = 0; k < l->stretches; k++) {
        found += start >= l->stretch[k].begin - slack && start <= l->stretch[k].end + slack;
        found += start + length >= l->stretch[k].begin - slack &&
                 start + length <= l->stretch[k].end + slack;
    }
    return found >= 2;
}

bool pp_line_place(const pp_relief *r, double angle, double offset, pp_line *l)
{
    double ex = cos(angle), ey = sin(angle);
    l->ox = -offset * ey, l->oy = offset * ex, l->ex = ex, l->ey = ey;
    l->stretches = 1;
    if (is_cut_out(r)) return place_on_cut_out(r, l);
    if (r->outline == PP_OUTLINE_DISC) {
        double square = (r->radius - offset) * (r->radius + offset);
        if (!(square > 0)) return false;
        l->end = sqrt(square);
        l->begin = -l->end;
        return true;
    }
    l->end = pp_relief_extent(r);
    l->begin = -l->end;
    clip(l->ox, ex, r->width / 2, &l->begin, &l->end);
    clip(l->oy, ey, r->height / 2, &l->begin, &l->end);
    return l->end - l->begin > PP_LINE_EDGE * pp_relief_extent(r);
}

/* ---- one profile ---- */

/* A straight line over each opening, from edge to edge. */
static void bridge_openings(const pp_relief *r, const pp_line *l, double start, double step,
                            size_t count, pp_profile *p)
{
    for (size_t k = 0; k + 1 < l->stretches; k++) {
        double from = l->stretch[k].end, to = l->stretch[k + 1].begin, h[2];
        const double x[2] = {r->centre_x + l->ox + from * l->ex, r->centre_x + l->ox + to * l->ex};
        const double y[2] = {r->centre_y + l->oy + from * l->ey, r->centre_y + l->oy + to * l->ey};
        r->heights(r->context, 2, x, y, h);
        for (size_t i = 0; i < count; i++) {
            double s = start + step * (double)i;
            if (s > from && s < to) p->height[i] = h[0] + (h[1] - h[0]) * (s - from) / (to - from);
        }
    }
}

/* Places along a line; few enough to be counted in 32 bits, which convert in fours. */
PP_VECTOR_CLONES
static void place_samples(const pp_relief *r, const pp_line *l, double start, double step,
                          size_t count, double *restrict x, double *restrict y)
{
    double x0 = r->centre_x + l->ox, y0 = r->centre_y + l->oy, ex = l->ex, ey = l->ey;
    for (int32_t i = 0; i < (int32_t)count; i++) {
        double s = start + step * (double)i;
        x[i] = x0 + s * ex;
        y[i] = y0 + s * ey;
    }
}

void pp_profile_sample(const pp_relief *r, const pp_line *l, double start, double step,
                       size_t count, pp_profile *p)
{
    place_samples(r, l, start, step, count, p->x, p->y);
    r->heights(r->context, count, p->x, p->y, p->height);
    bridge_openings(r, l, start, step, count, p);
}

/* fmax is a call of the library */
static inline double larger(double a, double b) { return a > b ? a : b; }

void pp_profile_turn_over(pp_profile *p, size_t count)
{
    for (size_t i = 0; i < count; i++) p->height[i] = -p->height[i];
}

/* Andrew's monotone chain. */
double pp_profile_hull_gap(const double *height, size_t n, double *hull)
{
    double *at = hull, *up = hull + n + 1;
    size_t count = 0;
    for (size_t i = 0; i <= n; i++) {
        double x = (double)i, h = height[i];
        while (count >= 2 && (up[count - 1] - up[count - 2]) * (x - at[count - 1]) <=
                                 (h - up[count - 1]) * (at[count - 1] - at[count - 2]))
            count--;
        at[count] = x, up[count] = h;
        count++;
    }
    double gap = 0;
    for (size_t k = 1; k < count; k++) {
        double slope = (up[k] - up[k - 1]) / (at[k] - at[k - 1]);
        for (size_t i = (size_t)at[k - 1] + 1; i < (size_t)at[k]; i++)
            gap = larger(gap, up[k - 1] + slope * ((double)i - at[k - 1]) - height[i]);
    }
    return gap;
}

/* hollow[i] and i times it, at all samples but the first and the last */
PP_VECTOR_CLONES
static void find_hollows(const double *restrict height, size_t count, double *restrict hollow,
                         double *restrict moment)
{
    for (int32_t i = 1; i < (int32_t)count - 1; i++) {
        hollow[i] = larger(height[i - 1] - 2 * height[i] + height[i + 1], 0);
        moment[i] = (double)i * hollow[i];
    }
}

void pp_profile_sum_hollows(pp_profile *p, size_t count)
{
    double sum = 0, moment = 0;
    if (count == 0) return;
    find_hollows(p->height, count, p->sum, p->moment);
    p->sum[0] = p->moment[0] = p->sum[count - 1] = p->moment[count - 1] = 0;
    for (size_t i = 0; i < count; i++) {
        p->sum[i] = sum += p->sum[i];
        p->moment[i] = moment += p->moment[i];
    }
}

/* A piece of the profile, for S(k): where it begins, its length in steps, and all its hollows and
 * their moments about its beginning. */
typedef struct piece {
    size_t c, high; /* S is nought at sample high, or before */
    size_t last;    /* sample whose hollow is in `all` alone; SIZE_MAX: none */
    double whole, all, all_moment;
} piece;

static bool piece_may_exceed(const pp_profile *p, const piece *g, double floor)
{
    const double from = (double)g->c, whole = g->whole, limit = whole * floor;
    double d0 = p->sum[g->c], d1 = p->moment[g->c];
    size_t low = 0, high = g->high; /* S rises at low, not at high */
    while (high - low > 1) {
        size_t k = (low + high) / 2;
        double sum = p->sum[g->c + k] - d0, moment = p->moment[g->c + k] - d1 - from * sum;
        if (k == g->last) sum = g->all, moment = g->all_moment;
        double rest = whole * (g->all - sum) - (g->all_moment - moment);
        double value = (whole - (double)k) * moment + (double)k * rest; /* n S(k) */
        double rise = rest - moment;                                    /* n (S(k + 1) - S(k)) */
        if (value > limit) return true;
        if (value + rise * (double)(high - k) <= limit && value - rise * (double)(k - low) <= limit)
            return false;
        if (rise > 0)
            low = k;
        else
            high = k;
    }
    return false;
}

bool pp_profile_may_exceed(const pp_profile *p, size_t c, size_t n, double floor)
{
    piece g = {.c = c, .high = n, .last = SIZE_MAX, .whole = (double)n};
    g.all = p->sum[c + n] - p->sum[c];
    g.all_moment = p->moment[c + n] - p->moment[c] - (double)c * g.all;
    return piece_may_exceed(p, &g, floor);
}

bool pp_profile_end_may_exceed(const pp_profile *p, size_t c, size_t count, double share,
                               double floor)
{
    const double *h = p->height;
    size_t last = count - 1;
    if (!(share > 0)) return false;
    piece g = {.c = c, .high = last - c + 1, .last = last - c, .whole = (double)(last - c) + share};
    double bend = larger((h[count] - h[last]) / share - (h[last] - h[last - 1]), 0);
    g.all = p->sum[last] - p->sum[c];
    g.all_moment = p->moment[last] - p->moment[c] - (double)c * g.all + (double)g.last * bend;
    g.all += bend;
    return piece_may_exceed(p, &g, floor);
}
