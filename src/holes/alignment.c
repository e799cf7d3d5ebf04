#include "holes/alignment.h"

#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"

enum { PARTS = 64 };

double pp_pose_angle_deg(pp_pose pose)
{
    double angle = atan2(pose.s, pose.c) * PP_DEGREES;
    return angle <= -180 ? 180 : angle + 0.0;
}

void pp_fit_add(pp_fit_sums *sums, double ax, double ay, double bx, double by)
{
    ax -= sums->ax0;
    ay -= sums->ay0;
    bx -= sums->bx0;
    by -= sums->by0;
    sums->count++;
    pp_sum_add(&sums->ax, ax);
    pp_sum_add(&sums->ay, ay);
    pp_sum_add(&sums->bx, bx);
    pp_sum_add(&sums->by, by);
    pp_sum_add(&sums->dot, ax * bx + ay * by);
    pp_sum_add(&sums->cross, ax * by - ay * bx);
    pp_sum_add(&sums->square, ax * ax + ay * ay);
}

void pp_fit_merge(pp_fit_sums *sums, const pp_fit_sums *part)
{
    sums->count += part->count;
    pp_sum_merge(&sums->ax, part->ax);
    pp_sum_merge(&sums->ay, part->ay);
    pp_sum_merge(&sums->bx, part->bx);
    pp_sum_merge(&sums->by, part->by);
    pp_sum_merge(&sums->dot, part->dot);
    pp_sum_merge(&sums->cross, part->cross);
    pp_sum_merge(&sums->square, part->square);
}

/* Below this share of the spread the turning moment is rounding, and the angle with it. */
static const double UNDETERMINED = 1e-12;

bool pp_fit_pose(const pp_fit_sums *sums, pp_pose *pose)
{
    if (sums->count < 2) return false;
    double n = (double)sums->count;
    double ax = pp_sum_value(sums->ax) / n, ay = pp_sum_value(sums->ay) / n;
    double bx = pp_sum_value(sums->bx) / n, by = pp_sum_value(sums->by) / n;
    double dot = pp_sum_value(sums->dot) - n * (ax * bx + ay * by);
    double cross = pp_sum_value(sums->cross) - n * (ax * by - ay * bx);
    double moment = hypot(dot, cross);
    if (!(moment > UNDETERMINED * pp_sum_value(sums->square))) return false;
    pp_pose p = {.c = dot / moment, .s = cross / moment};
    p.dx = (bx + sums->bx0) - (p.c * (ax + sums->ax0) - p.s * (ay + sums->ay0));
    p.dy = (by + sums->by0) - (p.s * (ax + sums->ax0) + p.c * (ay + sums->ay0));
    *pose = p;
    return true;
}

/* --- best fit --------------------------------------------------------------------------------- */

typedef struct fitting {
    const pp_nominal *nominal;
    const pp_gathered *gathered;
    pp_face face;
    pp_fit_sums parts[PARTS];
} fitting;

static bool takes_part(const fitting *f, const pp_bore *bore)
{
    return bore->face == f->face && f->nominal->kind[bore->hole] == PP_TUBE_HOLE;
}

static pp_status fit_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    fitting *f = context;
    size_t end = pp_part_begin(f->gathered->extra_first, PARTS, part + 1);
    for (size_t b = pp_part_begin(f->gathered->extra_first, PARTS, part); b < end; b++) {
        const pp_bore *bore = &f->gathered->bores[b];
        if (takes_part(f, bore))
            pp_fit_add(&f->parts[part], bore->x, bore->y, f->nominal->x[bore->hole],
                       f->nominal->y[bore->hole]);
    }
    return PP_OK;
}

static pp_status best_fit(const pp_job *job, const pp_hole_files *files,
                          const pp_gathered *gathered, pp_face face, int threads, pp_pose *pose,
                          pp_error *error)
{
    fitting f = {.nominal = &files->nominal, .gathered = gathered, .face = face};
    pp_fit_sums all = {0};
    for (size_t b = 0; b < gathered->extra_first; b++) /* an origin: the first pair */
        if (takes_part(&f, &gathered->bores[b])) {
            const pp_bore *bore = &gathered->bores[b];
            all.ax0 = bore->x;
            all.ay0 = bore->y;
            all.bx0 = files->nominal.x[bore->hole];
            all.by0 = files->nominal.y[bore->hole];
            break;
        }
    for (size_t p = 0; p < PARTS; p++) f.parts[p] = all;
    PP_TRY(pp_parallel(threads, PARTS, fit_part, &f, error));
    for (size_t p = 0; p < PARTS; p++) pp_fit_merge(&all, &f.parts[p]);

    const char *side = face == PP_ENTRY ? "entry" : "exit";
    if (all.count < 2)
        return pp_fail_at(
            error, PP_EINPUT, job->path, pp_job_key_line(job, "holes", "align"), 0,
            "the best fit needs at least 2 tube holes of the %s face that are in both "
            "the nominal and the measured list, found %zu; check the hole names, or "
            "choose another align",
            side, all.count);
    if (!pp_fit_pose(&all, pose))
        return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "holes", "align"), 0,
                          "the %zu holes of the %s face give no direction for the best fit (they "
                          "lie in one place); check the coordinates",
                          all.count, side);
    return PP_OK;
}

/* --- two holes -------------------------------------------------------------------------------- */

static uint32_t find_hole(const pp_nominal *nominal, const char *name)
{
    for (size_t i = 0; i < nominal->count; i++)
        if (strcmp(nominal->name[i], name) == 0) return (uint32_t)i;
    return PP_NONE;
}

static pp_status datum_bores(const pp_job *job, const pp_hole_files *files,
                             const pp_gathered *gathered, pp_face face, const pp_bore *bores[2],
                             pp_error *error)
{
    for (int k = 0; k < 2; k++) {
        const char *name = job->holes.datum_holes[k];
        if (!name)
            return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "holes", "align"),
                              0,
                              "datum_holes is not given; two-holes needs it: name the hole of the "
                              "origin and the hole of the direction, datum_holes = A1, A40");
        uint32_t hole = find_hole(&files->nominal, name);
        if (hole == PP_NONE)
            return pp_fail_at(error, PP_EINPUT, job->path,
                              pp_job_key_line(job, "holes", "datum_holes"), 0,
                              "datum hole %s is not in the nominal list %s; name a hole that is in "
                              "both lists",
                              name, files->nominal.file);
        uint32_t bore = gathered->bore_of[face][hole];
        if (bore == PP_NONE)
            return pp_fail_at(error, PP_EINPUT, job->path,
                              pp_job_key_line(job, "holes", "datum_holes"), 0,
                              "datum hole %s has no reading of the %s face in %s; measure it, or "
                              "name a hole that is in both lists",
                              name, face == PP_ENTRY ? "entry" : "exit", files->measured.file);
        bores[k] = &gathered->bores[bore];
    }
    return PP_OK;
}

/* The first datum hole on its nominal centre, the line to the second onto its nominal direction. */
static pp_status two_holes(const pp_job *job, const pp_hole_files *files,
                           const pp_gathered *gathered, pp_face face, pp_pose *pose,
                           pp_error *error)
{
    const pp_bore *m[2];
    PP_TRY(datum_bores(job, files, gathered, face, m, error));
    const double *nx = files->nominal.x, *ny = files->nominal.y;
    double ax = m[1]->x - m[0]->x, ay = m[1]->y - m[0]->y;
    double bx = nx[m[1]->hole] - nx[m[0]->hole], by = ny[m[1]->hole] - ny[m[0]->hole];
    double dot = ax * bx + ay * by, cross = ax * by - ay * bx, length = hypot(dot, cross);
    if (!(length > 0))
        return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "holes", "datum_holes"),
                          0, "datum holes %s and %s lie in one place; name two that are apart",
                          job->holes.datum_holes[0], job->holes.datum_holes[1]);
    pp_pose p = {.c = dot / length, .s = cross / length};
    p.dx = nx[m[0]->hole] - (p.c * m[0]->x - p.s * m[0]->y);
    p.dy = ny[m[0]->hole] - (p.s * m[0]->x + p.c * m[0]->y);
    *pose = p;
    return PP_OK;
}

/* --- datum points ----------------------------------------------------------------------------- */

static pp_status datum_points(const pp_job *job, const pp_hole_files *files, const pp_view *view,
                              pp_pose *pose, pp_alignment *alignment, pp_error *error)
{
    size_t count = files->datum_count;
    const char *file = job->holes.datum_points.path ? job->holes.datum_points.path : job->path;
    if (count < 2)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "datum-points needs at least 2 points, found %zu; give name, nominal_x, "
                          "nominal_y, x, y of each in datum_points",
                          count);
    const pp_datum_point *d = files->datum;
    double sx = view->x[PP_ENTRY], sy = view->y[PP_ENTRY];
    pp_fit_sums sums = {
        .ax0 = sx * d[0].x, .ay0 = sy * d[0].y, .bx0 = d[0].nominal_x, .by0 = d[0].nominal_y};
    for (size_t i = 0; i < count; i++)
        pp_fit_add(&sums, sx * d[i].x, sy * d[i].y, d[i].nominal_x, d[i].nominal_y);
    if (!pp_fit_pose(&sums, pose))
        return pp_fail_at(
            error, PP_EINPUT, file, 0, 0,
            "the datum points lie in one place and give no direction; use points that "
            "are apart");
    alignment->reference_x = pp_sum_value(sums.bx) / (double)count + sums.bx0;
    alignment->reference_y = pp_sum_value(sums.by) / (double)count + sums.by0;
    return PP_OK;
}

/* --- both faces ------------------------------------------------------------------------------- */

static pp_status first_pose(const pp_job *job, const pp_hole_files *files, const pp_view *view,
                            const pp_gathered *gathered, pp_face face, int threads, pp_pose *pose,
                            pp_alignment *alignment, pp_error *error)
{
    switch (job->holes.align) {
    case PP_ALIGN_AS_MEASURED:
        *pose = pp_pose_identity();
        return PP_OK;
    case PP_ALIGN_BEST_FIT:
        return best_fit(job, files, gathered, face, threads, pose, error);
    case PP_ALIGN_TWO_HOLES:
        PP_TRY(two_holes(job, files, gathered, face, pose, error));
        uint32_t origin = find_hole(&files->nominal, job->holes.datum_holes[0]);
        alignment->reference_x = files->nominal.x[origin];
        alignment->reference_y = files->nominal.y[origin];
        return PP_OK;
    case PP_ALIGN_DATUM_POINTS:
        return datum_points(job, files, view, pose, alignment, error);
    }
    return PP_OK;
}

pp_status pp_alignment_find(const pp_job *job, const pp_hole_files *files, const pp_view *view,
                            const pp_gathered *gathered, int threads, pp_pose poses[2],
                            pp_alignment *alignment, pp_error *error)
{
    pp_alignment a = {.kind = job->holes.align, .rms = NAN, .symmetries = 1};
    /* entry centres, or those of the only face there is */
    pp_face face = gathered->faces[PP_ENTRY] || !gathered->faces[PP_EXIT] ? PP_ENTRY : PP_EXIT;
    pp_pose first = pp_pose_identity(), exit;
    PP_TRY(first_pose(job, files, view, gathered, face, threads, &first, &a, error));
    exit = first;
    if (gathered->faces[PP_EXIT] && face == PP_ENTRY) {
        a.exit_own = job->holes.exit_align != PP_EXIT_ALIGN_SAME;
        if (job->holes.exit_align == PP_EXIT_ALIGN_TWO_HOLES)
            PP_TRY(two_holes(job, files, gathered, PP_EXIT, &exit, error));
        if (job->holes.exit_align == PP_EXIT_ALIGN_BEST_FIT)
            PP_TRY(best_fit(job, files, gathered, PP_EXIT, threads, &exit, error));
    }
    a.angle_deg = pp_pose_angle_deg(first);
    a.dx = first.dx + 0.0;
    a.dy = first.dy + 0.0;
    a.exit_angle_deg = pp_pose_angle_deg(exit);
    a.exit_dx = exit.dx;
    a.exit_dy = exit.dy;
    poses[PP_ENTRY] = first;
    poses[PP_EXIT] = exit;
    *alignment = a;
    return PP_OK;
}
