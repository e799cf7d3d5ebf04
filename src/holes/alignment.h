/* Alignment: from the measuring frame to the plate frame, by rigid motion only (no scale, no
 * reflection). Knows named pairs; decides no matches. */
#ifndef PP_HOLES_ALIGNMENT_H
#define PP_HOLES_ALIGNMENT_H

#include "base/sum.h"
#include "holes/bores.h"

/* aligned = rotation of the point, then a shift */
typedef struct pp_pose {
    double c, s; /* cosine and sine of the angle, counter-clockwise */
    double dx, dy;
} pp_pose;

static inline pp_pose pp_pose_identity(void) { return (pp_pose){1, 0, 0, 0}; }
static inline double pp_pose_x(pp_pose p, double x, double y) { return p.c * x - p.s * y + p.dx; }
static inline double pp_pose_y(pp_pose p, double x, double y) { return p.s * x + p.c * y + p.dy; }
double pp_pose_angle_deg(pp_pose pose); /* in (-180, 180] */

/* Sums for the least-squares rigid motion that takes points a onto points b, both shifted by an
 * origin of their own (any pair of the set) so that large coordinates lose nothing. */
typedef struct pp_fit_sums {
    double ax0, ay0, bx0, by0;
    size_t count;
    pp_sum ax, ay, bx, by;
    pp_sum dot;    /* sum of a . b */
    pp_sum cross;  /* sum of a x b */
    pp_sum square; /* sum of a . a */
} pp_fit_sums;

void pp_fit_add(pp_fit_sums *sums, double ax, double ay, double bx, double by);
void pp_fit_merge(pp_fit_sums *sums, const pp_fit_sums *part);

/* The motion (Kabsch, Acta Cryst. A32 (1976) 922, and Umeyama, IEEE TPAMI 13 (1991) 376, in the
 * plane and without scale: the angle is atan2(cross, dot) of the centred points, which is the best
 * proper rotation even where the best orthogonal matrix would be a reflection). False when it is
 * undetermined: fewer than two points, or all points a or all points b in one place. */
bool pp_fit_pose(const pp_fit_sums *sums, pp_pose *pose);

/* Alignment of both faces by the job's rule, from the readings gathered.
 *
 * out     poses[face], alignment (all but rms, turned_over and symmetries)
 * errors  PP_EINPUT: fewer than two holes in common for a best fit, a datum hole missing, datum
 *         points or holes in one place
 */
pp_status pp_alignment_find(const pp_job *job, const pp_hole_files *files, const pp_view *view,
                            const pp_gathered *gathered, int threads, pp_pose poses[2],
                            pp_alignment *alignment, pp_error *error);

#endif
