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

void pp_fit_add(pp_fit_sums *sums, pp_measured_point a, pp_nominal_point b)
{
    double ax = a.x - sums->ax0, ay = a.y - sums->ay0;
    double bx = b.x - sums->bx0, by = b.y - sums->by0;
    sums->count++;
    pp_sum_add(&sums->ax, ax);
    pp_sum_add(&sums->ay, ay);
    pp_sum_add(&sums->bx, bx);
    pp_sum_add(&sums->by, by);
    pp_sum_add(&sums->dot, ax * bx + ay * by);
    pp_sum_add(&sums->cross, ax * by - ay * bx);
    pp_sum_add(&sums->square, ax * ax + ay * ay);
}

/* Add the sums of a part, made about the same origins. */
static void fit_merge(pp_fit_sums *sums, const pp_fit_sums *part)
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
    const pp_plate_point *again; /* where the bores lie as aligned; NULL: as measured */
    pp_face face;
    pp_fit_sums parts[PARTS];
} fitting;

static bool takes_part(const fitting *f, const pp_bore *bore)
{
    return bore->face == f->face && f->nominal->kind[bore->hole] == PP_TUBE_HOLE;
}

static pp_measured_point place_of(const fitting *f, size_t bore)
{
    if (!f->again) return f->gathered->centre[bore];
    return (pp_measured_point){f->again[bore].x, f->again[bore].y};
}

static pp_status fit_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    fitting *f = context;
    size_t end = pp_part_begin(f->gathered->extra_first, PARTS, part + 1);
    for (size_t b = pp_part_begin(f->gathered->extra_first, PARTS, part); b < end; b++) {
        const pp_bore *bore = &f->gathered->bores[b];
        if (takes_part(f, bore))
            pp_fit_add(&f->parts[part], place_of(f, b), pp_nominal_at(f->nominal, bore->hole));
    }
    return PP_OK;
}

static pp_status best_fit(const pp_alignable *what, const pp_plate_point *again,
                          const pp_align_options *options, pp_face face, int threads, pp_pose *pose,
                          pp_error *error)
{
    const pp_gathered *gathered = what->gathered;
    fitting f = {
        .nominal = &what->files->nominal, .gathered = gathered, .again = again, .face = face};
    pp_fit_sums all = {0};
    for (size_t b = 0; b < gathered->extra_first; b++) /* an origin: the first pair */
        if (takes_part(&f, &gathered->bores[b])) {
            const pp_bore *bore = &gathered->bores[b];
            all = pp_fit_about(place_of(&f, b), pp_nominal_at(f.nominal, bore->hole));
            break;
        }
    for (size_t p = 0; p < PARTS; p++) f.parts[p] = all;
    PP_TRY(pp_parallel(threads, PARTS, fit_part, &f, error));
    for (size_t p = 0; p < PARTS; p++) fit_merge(&all, &f.parts[p]);

    const char *side = face == PP_ENTRY ? "entry" : "exit";
    if (all.count < 2)
        return pp_fail_at(
            error, PP_EINPUT, options->job_file, options->align_line, 0,
            "the best fit needs at least 2 tube holes of the %s face that are in both "
            "the nominal and the measured list, found %zu; check the hole names, or "
            "choose another align",
            side, all.count);
    if (!pp_fit_pose(&all, pose))
        return pp_fail_at(error, PP_EINPUT, options->job_file, options->align_line, 0,
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

static pp_status datum_bores(const pp_alignable *what, const pp_align_options *options,
                             pp_face face, uint32_t bores[2], pp_error *error)
{
    const pp_hole_files *files = what->files;
    const pp_gathered *gathered = what->gathered;
    for (int k = 0; k < 2; k++) {
        const char *name = options->datum_holes[k];
        if (!name)
            return pp_fail_at(error, PP_EINPUT, options->job_file, options->align_line, 0,
                              "datum_holes is not given; two-holes needs it: name the hole of the "
                              "origin and the hole of the direction, datum_holes = A1, A40");
        uint32_t hole = find_hole(&files->nominal, name);
        if (hole == PP_NONE)
            return pp_fail_at(error, PP_EINPUT, options->job_file, options->datum_holes_line, 0,
                              "datum hole %s is not in the nominal list %s; name a hole that is in "
                              "both lists",
                              name, files->nominal.file);
        uint32_t bore = gathered->bore_of[face][hole];
        if (bore == PP_NONE)
            return pp_fail_at(error, PP_EINPUT, options->job_file, options->datum_holes_line, 0,
                              "datum hole %s has no reading of the %s face in %s; measure it, or "
                              "name a hole that is in both lists",
                              name, face == PP_ENTRY ? "entry" : "exit", files->measured.file);
        bores[k] = bore;
    }
    return PP_OK;
}

/* The first datum hole on its nominal centre, the line to the second onto its nominal direction. */
static pp_status two_holes(const pp_alignable *what, const pp_align_options *options, pp_face face,
                           pp_pose *pose, pp_error *error)
{
    uint32_t m[2];
    PP_TRY(datum_bores(what, options, face, m, error));
    const pp_nominal *nominal = &what->files->nominal;
    const pp_gathered *g = what->gathered;
    pp_measured_point m0 = g->centre[m[0]], m1 = g->centre[m[1]];
    pp_nominal_point n0 = pp_nominal_at(nominal, g->bores[m[0]].hole);
    pp_nominal_point n1 = pp_nominal_at(nominal, g->bores[m[1]].hole);
    double ax = m1.x - m0.x, ay = m1.y - m0.y;
    double bx = n1.x - n0.x, by = n1.y - n0.y;
    double dot = ax * bx + ay * by, cross = ax * by - ay * bx, length = hypot(dot, cross);
    if (!(length > 0))
        return pp_fail_at(error, PP_EINPUT, options->job_file, options->datum_holes_line, 0,
                          "datum holes %s and %s lie in one place; name two that are apart",
                          options->datum_holes[0], options->datum_holes[1]);
    pp_pose p = {.c = dot / length, .s = cross / length};
    p.dx = n0.x - (p.c * m0.x - p.s * m0.y);
    p.dy = n0.y - (p.s * m0.x + p.c * m0.y);
    *pose = p;
    return PP_OK;
}

/* --- datum points ----------------------------------------------------------------------------- */

pp_fit_sums pp_fit_datum(const pp_hole_files *files, const pp_view *view)
{
    pp_fit_sums sums = {0};
    for (size_t i = 0; i < files->datum_count; i++) {
        const pp_datum_point *d = &files->datum[i];
        pp_measured_point a = pp_view_point(view, PP_ENTRY, d->x, d->y);
        pp_nominal_point b = {d->nominal_x, d->nominal_y};
        if (i == 0) sums = pp_fit_about(a, b);
        pp_fit_add(&sums, a, b);
    }
    return sums;
}

static pp_status datum_points(const pp_alignable *what, const pp_align_options *options,
                              pp_pose *pose, pp_alignment *alignment, pp_error *error)
{
    size_t count = what->files->datum_count;
    const char *file = options->datum_points_file ? options->datum_points_file : options->job_file;
    if (count < 2)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "datum-points needs at least 2 points, found %zu; give name, nominal_x, "
                          "nominal_y, x, y of each in datum_points",
                          count);
    pp_fit_sums sums = pp_fit_datum(what->files, what->view);
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

static pp_status first_pose(const pp_alignable *what, const pp_align_options *options, pp_face face,
                            int threads, pp_pose *pose, pp_alignment *alignment, pp_error *error)
{
    const pp_nominal *nominal = &what->files->nominal;
    switch (options->align) {
    case PP_ALIGN_AS_MEASURED:
        *pose = pp_pose_identity();
        return PP_OK;
    case PP_ALIGN_BEST_FIT:
        return best_fit(what, NULL, options, face, threads, pose, error);
    case PP_ALIGN_TWO_HOLES:
        PP_TRY(two_holes(what, options, face, pose, error));
        uint32_t origin = find_hole(nominal, options->datum_holes[0]);
        alignment->reference_x = nominal->x[origin];
        alignment->reference_y = nominal->y[origin];
        return PP_OK;
    case PP_ALIGN_DATUM_POINTS:
        return datum_points(what, options, pose, alignment, error);
    }
    return PP_OK;
}

pp_align_options pp_align_options_of(const pp_job *job)
{
    return (pp_align_options){.align = job->holes.align,
                              .exit_align = job->holes.exit_align,
                              .datum_holes = {job->holes.datum_holes[0], job->holes.datum_holes[1]},
                              .job_file = job->path,
                              .datum_points_file = job->holes.datum_points.path,
                              .align_line = pp_job_key_line(job, "holes", "align"),
                              .datum_holes_line = pp_job_key_line(job, "holes", "datum_holes"),
                              .datum_points_line = pp_job_key_line(job, "holes", "datum_points"),
                              .match_line = pp_job_key_line(job, "holes", "match")};
}

/* Entry, or the only face there is. */
static pp_face first_face(const pp_gathered *gathered)
{
    return gathered->faces[PP_ENTRY] || !gathered->faces[PP_EXIT] ? PP_ENTRY : PP_EXIT;
}

pp_status pp_pattern_lay(const pp_alignable *what, const pp_plate_point *at,
                         const pp_align_options *options, int threads, pp_pose *pose,
                         pp_error *error)
{
    return best_fit(what, at, options, first_face(what->gathered), threads, pose, error);
}

pp_status pp_alignment_find(const pp_alignable *what, const pp_align_options *options, int threads,
                            pp_pose poses[2], pp_alignment *alignment, pp_error *error)
{
    const pp_gathered *gathered = what->gathered;
    pp_alignment a = {.kind = options->align, .rms = NAN, .symmetries = 1};
    pp_face face = first_face(gathered);
    pp_pose first = pp_pose_identity(), exit;
    PP_TRY(first_pose(what, options, face, threads, &first, &a, error));
    exit = first;
    if (gathered->faces[PP_EXIT] && face == PP_ENTRY) {
        a.exit_own = options->exit_align != PP_EXIT_ALIGN_SAME;
        if (options->exit_align == PP_EXIT_ALIGN_TWO_HOLES)
            PP_TRY(two_holes(what, options, PP_EXIT, &exit, error));
        if (options->exit_align == PP_EXIT_ALIGN_BEST_FIT)
            PP_TRY(best_fit(what, NULL, options, PP_EXIT, threads, &exit, error));
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
