/* Lines over the plate and the profile along one: what straightedge.c lays its edges on. */
#ifndef PP_FLATNESS_STRAIGHTEDGE_LINE_H
#define PP_FLATNESS_STRAIGHTEDGE_LINE_H

#include "flatness/straightedge.h"

#define PP_LINE_EDGE 1e-9 /* of a size: a line along the edge of the plate lies on it */

typedef struct pp_line {
    double ox, oy; /* foot of the centre */
    double ex, ey; /* unit, along */
    double begin, end;
    size_t
        stretches; /* of plate along it: more than one where it leaves the plate and comes back */
    pp_chord stretch[PP_CHORDS_MAX];
} pp_line;

/* The longest straight line of the plate, about. */
double pp_relief_extent(const pp_relief *relief);
/* Half the extent of the plate across a direction. */
double pp_relief_half_across(const pp_relief *relief, double angle);

/* The line at `offset` from the centre (to the left of `angle`) and its chord of the plate; false
 * when it misses the plate. */
bool pp_line_place(const pp_relief *relief, double angle, double offset, pp_line *line);
/* Whether both ends of a window lie on the plate, and not over an opening. */
bool pp_line_ends_on_plate(const pp_line *line, double start, double length);

/* Arrays of one worker, of one length, for the samples of the longest line. */
typedef struct pp_profile {
    double *x, *y, *height;
    double *sum, *moment; /* of the hollows up to a sample: of d_i and of i d_i */
    double *hull;         /* heights and places of hull points, in turn */
} pp_profile;
enum { PP_PROFILE_ARRAYS = 7 };

/* Heights at `count` places along the line; over an opening a straight line from edge to edge. */
void pp_profile_sample(const pp_relief *relief, const pp_line *line, double start, double step,
                       size_t count, pp_profile *profile);
void pp_profile_turn_over(pp_profile *profile, size_t count);

/* Largest depth below the upper convex hull of height[0 .. n], at even steps. hull: room for
 * 2 (n + 1). */
double pp_profile_hull_gap(const double *height, size_t n, double *hull);

/* Running sums of the hollows d_i = max(second difference, 0) and of i d_i. */
void pp_profile_sum_hollows(pp_profile *profile, size_t count);

/* Whether any window within the n steps from sample c may have a gap above the floor. The depth at
 * sample k below a chord over all n steps is the sum of second differences weighted by Green's
 * function of the chord, so it is at most
 *     S(k) = [(n - k) sum_{i <= k} i d_i + k sum_{i > k} (n - i) d_i] / n    (i, k from c)
 * whatever the contacts, and below a shorter chord it is less, as Green's function is. S is
 * concave: its largest value is found by halving, which ends early where a value passes the floor
 * or the tangent stays below it. Equal to the gap of n steps where all of them are hollow. */
bool pp_profile_may_exceed(const pp_profile *profile, size_t c, size_t n, double floor);
/* The same from sample c to height[count], one more that lies a share of a step beyond the last of
 * `count`. */
bool pp_profile_end_may_exceed(const pp_profile *profile, size_t c, size_t count, double share,
                               double floor);

#endif
