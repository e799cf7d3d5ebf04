/* Alignment: from the measuring frame to the plate frame, by rigid motion only (no scale, no
 * reflection). Knows named pairs; decides no matches. */
#ifndef PP_HOLES_ALIGNMENT_H
#define PP_HOLES_ALIGNMENT_H

#include "base/sum.h"
#include "holes/bores.h"

/* Where the measuring frame lies in the plate's: rotation of the point, then a shift. */
typedef struct pp_pose {
    double c, s; /* cosine and sine of the angle, counter-clockwise */
    double dx, dy;
} pp_pose;

/* No motion: the frames are one. */
static inline pp_pose pp_pose_identity(void) { return (pp_pose){1, 0, 0, 0}; }
/* The only way from the measuring frame to the plate frame. */
static inline pp_plate_point pp_pose_apply(pp_pose p, pp_measured_point at)
{
    return (pp_plate_point){p.c * at.x - p.s * at.y + p.dx, p.s * at.x + p.c * at.y + p.dy};
}
/* A pose on top of the alignment in force: the pattern laid on itself once more. */
static inline pp_plate_point pp_pose_again(pp_pose pose, pp_plate_point at)
{
    return pp_pose_apply(pose, (pp_measured_point){at.x, at.y});
}
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

/* Sums about the origins a and b, still empty. */
static inline pp_fit_sums pp_fit_about(pp_measured_point a, pp_nominal_point b)
{
    return (pp_fit_sums){.ax0 = a.x, .ay0 = a.y, .bx0 = b.x, .by0 = b.y};
}
/* One more pair: the measured point a belongs on the nominal b. */
void pp_fit_add(pp_fit_sums *sums, pp_measured_point a, pp_nominal_point b);
/* Sums over the datum points of the job. */
pp_fit_sums pp_fit_datum(const pp_hole_files *files, const pp_view *view);

/* The motion (Kabsch, Acta Cryst. A32 (1976) 922, and Umeyama, IEEE TPAMI 13 (1991) 376, in the
 * plane and without scale: the angle is atan2(cross, dot) of the centred points, which is the best
 * proper rotation even where the best orthogonal matrix would be a reflection). False when it is
 * undetermined: fewer than two points, or all points a or all points b in one place. */
bool pp_fit_pose(const pp_fit_sums *sums, pp_pose *pose);

typedef struct pp_alignment {
    pp_align kind;
    double angle_deg, dx,
        dy;        /* aligned = rotation by angle of the measured point, then + (dx, dy) */
    double rms;    /* distance from nominal after alignment */
    bool exit_own; /* the exit face was aligned on its own */
    double exit_angle_deg, exit_dx, exit_dy;
    double reference_x, reference_y; /* where uncertainty per metre starts from */
    double u_dx, u_dy, u_angle_deg; /* standard uncertainties of the motion, its shift counted where
                                       it turns about: the first datum hole, the centroid of the
                                       fit; 0 as measured, NaN without uncertainty_position */
    double scale_u;                 /* standard uncertainty of the plate's scale, relative */
    double common_share; /* of a position's variance, what comes with the alignment and the scale:
                            mean over the tube holes read; NaN where there is no variance */
    bool turned_over;  /* extension match = pattern: the plate was measured turned over; the sign of
                          the measured x was changed before the rotation */
    size_t symmetries; /* extension: poses that match the pattern equally well; 1: no choice left
                          open */
} pp_alignment;

typedef struct pp_align_options {
    pp_align align;
    pp_exit_align exit_align;
    const char *datum_holes[2]; /* of two-holes: origin and direction; NULL when absent */
    /* where the job says so, for messages; lines 0 where it does not */
    const char *job_file, *datum_points_file;
    long align_line, datum_holes_line, datum_points_line, match_line;
} pp_align_options;

/* As the job states them; its texts must outlive the options. */
pp_align_options pp_align_options_of(const pp_job *job);

/* What is aligned. */
typedef struct pp_alignable {
    const pp_hole_files *files; /* nominal holes, datum points */
    const pp_view *view;        /* for the datum points */
    const pp_gathered *gathered;
} pp_alignable;

/* Alignment of both faces, from the readings gathered.
 *
 * out     poses[face], alignment (all but rms, uncertainties, turned_over and symmetries)
 * errors  PP_EINPUT: fewer than two holes in common for a best fit, a datum hole missing, datum
 *         points or holes in one place
 */
pp_status pp_alignment_find(const pp_alignable *what, const pp_align_options *options, int threads,
                            pp_pose poses[2], pp_alignment *alignment, pp_error *error);

/* The pattern as aligned, at[gathered->bore_count], laid on the nominal one by best fit: what is
 * left to do on top of the alignment (pp_pose_again). Tube holes of the entry face, or of the only
 * one. errors: as of a best fit */
pp_status pp_pattern_lay(const pp_alignable *what, const pp_plate_point *at,
                         const pp_align_options *options, int threads, pp_pose *pose,
                         pp_error *error);

#endif
