#include "holes/measures.h"

#include <stdlib.h>
#include <string.h>

#include "base/parallel.h"
#include "base/text.h"
#include "holes/centre_error.h"
#include "holes/close_pairs.h"
#include "holes/ligaments.h"
#include "holes/matching.h"
#include "holes/unknown_frame.h"

enum { PARTS = 64 };

static const double DEGREES = 57.295779513082320876798;

typedef struct taking {
    const pp_job *job;
    const pp_hole_files *files;
    const pp_hole_sizes *sizes;
    int threads;
    pp_memory *memory;
    pp_view view;
    pp_grid grid; /* all nominal holes */
    pp_matching_state match;
    pp_gathered gathered;
    pp_pose poses[2];
    pp_centre_errors errors;
    pp_measures out;
} taking;

/* --- which reading is which hole, and where the frame lies ------------------------------------ */

static pp_status gather(taking *t, pp_arena *arena, pp_error *error)
{
    return pp_gather(t->files, &t->view, t->sizes, t->match.key, t->match.extra_count, t->threads,
                     arena, &t->memory->scratch, &t->gathered, error);
}

static pp_status align(taking *t, pp_error *error)
{
    bool turned_over = t->out.alignment.turned_over;
    size_t symmetries = t->out.alignment.symmetries;
    PP_TRY(pp_alignment_find(t->job, t->files, &t->view, &t->gathered, t->threads, t->poses,
                             &t->out.alignment, error));
    t->out.alignment.turned_over = turned_over;
    t->out.alignment.symmetries = symmetries;
    return PP_OK;
}

static pp_status match_nearest(taking *t, pp_error *error)
{
    if (!pp_given(t->out.pitch))
        return pp_fail_at(error, PP_EINPUT, t->job->path,
                          pp_job_key_line(t->job, "holes", "nominal"), 0,
                          "measured holes without names are matched within half a pitch, but the "
                          "pattern gives no pitch; give pitch under [holes]");
    return pp_match_nearest(t->files, &t->grid, &t->view, t->poses, t->out.pitch / 2, t->threads,
                            t->memory, &t->match, error);
}

/* Gather what is matched so far and align by it; everything in scratch. Rows not matched are left
 * out. */
static pp_status align_by_matched(taking *t, pp_error *error)
{
    uint32_t *key = t->match.key, *matched;
    size_t count = t->files->measured.count;
    PP_TAKE(matched, &t->memory->scratch, count);
    for (size_t i = 0; i < count; i++)
        matched[i] = key[i] < t->files->nominal.count ? key[i] : PP_NONE;
    t->match.key = matched;
    t->match.extra_count = 0;
    pp_status status = gather(t, &t->memory->scratch, error);
    if (status == PP_OK) status = align(t, error);
    t->match.key = key;
    return status;
}

/* Rows without names: find a first alignment, match by place; for a best fit without any names once
 * more after the fit. */
static pp_status match_by_place(taking *t, pp_error *error)
{
    bool pattern = t->job->holes.match == PP_MATCH_PATTERN;
    bool fit = t->job->holes.align == PP_ALIGN_BEST_FIT;
    t->poses[PP_ENTRY] = t->poses[PP_EXIT] = pp_pose_identity();
    if (pattern) {
        pp_frame frame;
        PP_TRY(pp_frame_find(t->job, t->files, &t->grid, &t->view, t->out.pitch, t->memory, &frame,
                             error));
        t->view = frame.view;
        t->poses[PP_ENTRY] = t->poses[PP_EXIT] = frame.pose;
        t->out.alignment.turned_over = frame.turned_over;
        t->out.alignment.symmetries = frame.symmetries;
    } else if (t->job->holes.align == PP_ALIGN_TWO_HOLES && t->match.named == 0) {
        return pp_fail_at(
            error, PP_EINPUT, t->job->path, 0, 0,
            "align = two-holes needs hole names in %s; add the column hole, or choose "
            "another align",
            t->files->measured.file);
    } else if (!(fit && t->match.named == 0)) {
        PP_TRY(align_by_matched(t, error));
    }
    PP_TRY(match_nearest(t, error));
    if (fit && (t->match.named == 0 || pattern)) {
        PP_TRY(align_by_matched(t, error));
        PP_TRY(match_nearest(t, error));
    }
    return PP_OK;
}

static pp_status match(taking *t, pp_error *error)
{
    const pp_nominal *nominal = &t->files->nominal;
    pp_arena *scratch = &t->memory->scratch;
    double cell = PP_NEIGHBOUR_PITCHES * (pp_given(t->out.pitch) ? t->out.pitch : 1.0);
    PP_TRY(pp_grid_build(nominal->count, nominal->x, nominal->y, cell, scratch, &t->grid, error));
    PP_TRY(pp_match_names(t->files, t->threads, t->memory, &t->match, error));
    t->out.alignment.symmetries = 1;
    if (t->match.pending) {
        pp_mark mark = pp_arena_mark(scratch);
        PP_TRY(match_by_place(t, error));
        pp_arena_release(scratch, mark);
    }
    PP_TRY(pp_match_extras(t->files, t->memory, &t->match, error));
    pp_mark mark = pp_arena_mark(scratch);
    PP_TRY(gather(t, &t->memory->keep, error));
    pp_arena_release(scratch, mark);
    return align(t, error);
}

/* --- each bore's own measures ----------------------------------------------------------------- */

typedef struct placing {
    const taking *t;
    double *edge, *edge_u;
    pp_sum square[PARTS]; /* of distances from nominal, tube holes of the face aligned */
    size_t count[PARTS];
    pp_sum common[PARTS]; /* of the shares in common, and how many */
    size_t common_count[PARTS];
} placing;

static double beyond_outline(const pp_job *job, double x, double y, double *size)
{
    double dx = x - job->plate.centre_x, dy = y - job->plate.centre_y;
    if (job->plate.outline == PP_OUTLINE_DISC) {
        *size = job->plate.diameter;
        return hypot(dx, dy) - job->plate.diameter / 2;
    }
    *size = fmax(job->plate.width, job->plate.height);
    double ox = fabs(dx) - job->plate.width / 2, oy = fabs(dy) - job->plate.height / 2;
    if (ox <= 0 || oy <= 0) return fmax(ox, oy);
    return hypot(ox, oy);
}

/* Metal from the hole's edge to the plate's. */
static double edge_of(const pp_job *job, const pp_bore *bore)
{
    double dx = bore->x - job->plate.centre_x, dy = bore->y - job->plate.centre_y;
    double left = job->plate.outline == PP_OUTLINE_DISC
                      ? job->plate.diameter / 2 - hypot(dx, dy)
                      : fmin(job->plate.width / 2 - fabs(dx), job->plate.height / 2 - fabs(dy));
    return left - bore->diameter_max / 2;
}

/* That metal's standard uncertainty: of the centre towards the edge, and of the hole's size. */
static double edge_u_of(const pp_job *job, const pp_bore *bore, pp_covariance centre)
{
    double dx = bore->x - job->plate.centre_x, dy = bore->y - job->plate.centre_y;
    double diameter = bore->gauged ? 0 : job->holes.uncertainty_diameter / 2;
    double r = hypot(dx, dy), nx = 1, ny = 0;
    if (job->plate.outline == PP_OUTLINE_DISC) {
        if (r > 0) nx = dx / r, ny = dy / r;
    } else if (job->plate.height / 2 - fabs(dy) < job->plate.width / 2 - fabs(dx)) {
        nx = 0, ny = 1;
    }
    return hypot(pp_covariance_along(centre, nx, ny), diameter / 2);
}

/* Standard uncertainty of one coordinate of a hole centre as read. */
static double centre_u(const pp_job *job, const pp_alignment *alignment, double x, double y)
{
    double r = hypot(x - alignment->reference_x, y - alignment->reference_y);
    double per_metre =
        pp_given(job->holes.uncertainty_per_metre) ? job->holes.uncertainty_per_metre : 0;
    double fixed = job->holes.uncertainty_position / 2;
    double growing = per_metre * r / 2000;
    double warm = r * alignment->scale_u;
    return sqrt(fixed * fixed + growing * growing + warm * warm);
}

static pp_status refuse_far(const taking *t, const pp_bore *bore, double beyond, pp_error *error)
{
    const pp_readings *r = &t->files->measured;
    size_t row = bore->row - 1;
    bool named = r->name && r->name[row] && r->name[row][0];
    return pp_fail_at(
        error, PP_EINPUT, r->file, r->line ? r->line[row] : 0, 0,
        "hole %s at x %g, y %g mm (aligned) lies %g mm beyond the plate's edge; is its "
        "unit right (length_unit under [holes], a unit in the header), or the outline?",
        named ? r->name[row] : "without a name", bore->x, bore->y, beyond);
}

static pp_status place_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    placing *p = context;
    const taking *t = p->t;
    const pp_nominal *nominal = &t->files->nominal;
    bool outline = t->job->plate.outline != PP_OUTLINE_NONE;
    int fitted = t->gathered.faces[PP_ENTRY] ? PP_ENTRY : PP_EXIT;
    size_t end = pp_part_begin(t->gathered.bore_count, PARTS, part + 1);
    for (size_t b = pp_part_begin(t->gathered.bore_count, PARTS, part); b < end; b++) {
        pp_bore *bore = &t->gathered.bores[b];
        pp_pose pose = t->poses[bore->face];
        double x = pp_pose_x(pose, bore->x, bore->y), y = pp_pose_y(pose, bore->x, bore->y);
        bore->x = x;
        bore->y = y;
        bore->u_centre = centre_u(t->job, &t->out.alignment, x, y);
        pp_covariance c = pp_centre_covariance(&t->errors, bore->face, bore->hole, x, y, true);
        if (outline) {
            double size, beyond = beyond_outline(t->job, x, y, &size);
            if (beyond > size / 2) return refuse_far(t, bore, beyond, error);
            p->edge[b] = edge_of(t->job, bore);
            p->edge_u[b] = edge_u_of(t->job, bore, c);
        }
        if (bore->hole == PP_NONE) continue;
        double dx = x - nominal->x[bore->hole], dy = y - nominal->y[bore->hole];
        double square = dx * dx + dy * dy;
        bore->position = 2 * sqrt(square);
        bore->position_error = pp_distance_error_of(c, dx, dy, 2);
        double common = pp_common_share(&t->errors, bore->hole, c);
        if (!isnan(common) && nominal->kind[bore->hole] == PP_TUBE_HOLE) {
            pp_sum_add(&p->common[part], common);
            p->common_count[part]++;
        }
        if (bore->face == fitted && nominal->kind[bore->hole] == PP_TUBE_HOLE) {
            pp_sum_add(&p->square[part], square);
            p->count[part]++;
        }
    }
    return PP_OK;
}

/* What the alignment carries into every centre. */
static pp_status find_errors(taking *t, pp_error *error)
{
    pp_alignment *a = &t->out.alignment;
    PP_TRY(pp_centre_errors_find(t->job, t->files, &t->gathered, a, t->threads, &t->errors, error));
    const pp_pose_error *first = &t->errors.pose[PP_ENTRY];
    a->u_dx = sqrt(first->shift.xx);
    a->u_dy = sqrt(first->shift.yy);
    a->u_angle_deg = sqrt(first->turn) * DEGREES;
    a->scale_u = t->errors.scale;
    return PP_OK;
}

static pp_status place(taking *t, pp_error *error)
{
    placing p = {.t = t};
    if (t->job->plate.outline != PP_OUTLINE_NONE) {
        PP_TAKE(p.edge, &t->memory->keep, t->gathered.bore_count);
        PP_TAKE(p.edge_u, &t->memory->keep, t->gathered.bore_count);
    }
    PP_TRY(pp_parallel(t->threads, PARTS, place_part, &p, error));
    pp_sum square = {0}, common = {0};
    size_t count = 0, common_count = 0;
    for (size_t part = 0; part < PARTS; part++) {
        pp_sum_merge(&square, p.square[part]);
        count += p.count[part];
        pp_sum_merge(&common, p.common[part]);
        common_count += p.common_count[part];
    }
    t->out.edge = p.edge;
    t->out.edge_u = p.edge_u;
    t->out.alignment.common_share =
        common_count ? pp_sum_value(common) / (double)common_count : NAN;
    t->out.alignment.rms = count ? sqrt(pp_sum_value(square) / (double)count) : NAN;
    for (size_t i = 0; i < t->gathered.history_count; i++) {
        pp_reading_history *h = &t->gathered.history[i];
        pp_pose pose = t->poses[h->face];
        double x = h->x;
        h->x = pp_pose_x(pose, x, h->y);
        h->y = pp_pose_y(pose, x, h->y);
    }
    return PP_OK;
}

/* The covariance of a bore within the pattern. An exit face aligned on its own has that alignment's
 * errors beside those of the entry face that the pattern is moved by: added as if they had nothing
 * in common, which is on the safe side. */
static pp_covariance covariance_within(const taking *t, const pp_centre_errors *within,
                                       const pp_bore *bore)
{
    pp_covariance c = pp_centre_covariance(within, bore->face, bore->hole, bore->x, bore->y, true);
    if (bore->face != PP_EXIT || !t->out.alignment.exit_own) return c;
    for (uint8_t face = PP_ENTRY; face <= PP_EXIT; face++)
        c = pp_covariance_add(
            c, pp_centre_covariance(&t->errors, face, bore->hole, bore->x, bore->y, false));
    return c;
}

/* Composite position: lay the pattern on itself once more. */
static pp_status place_within(taking *t, pp_error *error)
{
    if (!pp_given(t->job->holes.pattern_limit)) return PP_OK;
    const pp_nominal *nominal = &t->files->nominal;
    double *within;
    PP_TAKE(within, &t->memory->keep, t->gathered.extra_first);
    pp_job free_job = *t->job; /* the same job, aligned by best fit */
    free_job.holes.align = PP_ALIGN_BEST_FIT;
    free_job.holes.exit_align = PP_EXIT_ALIGN_SAME;
    pp_pose poses[2];
    pp_alignment fit;
    PP_TRY(pp_alignment_find(&free_job, t->files, &t->view, &t->gathered, t->threads, poses, &fit,
                             error));
    pp_distance_error *within_error;
    pp_centre_errors errors;
    PP_TAKE(within_error, &t->memory->keep, t->gathered.extra_first);
    PP_TRY(pp_centre_errors_within(&t->errors, &t->gathered, t->threads, &errors, error));
    for (size_t b = 0; b < t->gathered.extra_first; b++) {
        const pp_bore *bore = &t->gathered.bores[b];
        double dx = pp_pose_x(poses[0], bore->x, bore->y) - nominal->x[bore->hole];
        double dy = pp_pose_y(poses[0], bore->x, bore->y) - nominal->y[bore->hole];
        within[b] = 2 * sqrt(dx * dx + dy * dy);
        within_error[b] = pp_distance_error_of(covariance_within(t, &errors, bore), dx, dy, 2);
    }
    t->out.position_within = within;
    t->out.within_error = within_error;
    t->out.pattern_angle_deg = fit.angle_deg;
    t->out.pattern_dx = fit.dx;
    t->out.pattern_dy = fit.dy;
    return PP_OK;
}

/* --- holes: plugged, unmeasured, drift -------------------------------------------------------- */

static pp_status find_plugged(taking *t, pp_error *error)
{
    const pp_readings *r = &t->files->measured;
    bool *plugged;
    PP_TAKE_ZERO(plugged, &t->memory->keep, t->files->nominal.count);
    t->out.plugged = plugged;
    if (!r->disposition) return PP_OK;
    for (size_t i = 0; i < r->count; i++)
        if (t->match.key[i] < t->files->nominal.count && r->disposition[i] &&
            pp_same_word(r->disposition[i], strlen(r->disposition[i]), "plugged"))
            plugged[t->match.key[i]] = true;
    return PP_OK;
}

static pp_status list_holes(taking *t, pp_error *error)
{
    const pp_nominal *nominal = &t->files->nominal;
    pp_measures *out = &t->out;
    size_t missing[2] = {0}, doubly = 0;
    for (size_t h = 0; h < nominal->count; h++) {
        bool there = t->gathered.bore_of[PP_ENTRY][h] != PP_NONE ||
                     t->gathered.bore_of[PP_EXIT][h] != PP_NONE;
        bool tube = nominal->kind[h] == PP_TUBE_HOLE;
        out->tube_count += tube;
        out->measured += tube && there;
        missing[!tube] += !there;
        doubly += t->match.doubly[h];
    }
    uint32_t *tubes, *others, *claimed;
    PP_TAKE(tubes, &t->memory->keep, missing[0]);
    PP_TAKE(others, &t->memory->keep, missing[1]);
    PP_TAKE(claimed, &t->memory->keep, doubly);
    for (size_t h = 0; h < nominal->count; h++) {
        bool there = t->gathered.bore_of[PP_ENTRY][h] != PP_NONE ||
                     t->gathered.bore_of[PP_EXIT][h] != PP_NONE;
        if (!there && nominal->kind[h] == PP_TUBE_HOLE)
            tubes[out->unmeasured_count++] = (uint32_t)h;
        if (!there && nominal->kind[h] != PP_TUBE_HOLE)
            others[out->others_unmeasured_count++] = (uint32_t)h;
        if (t->match.doubly[h]) claimed[out->doubly_claimed_count++] = (uint32_t)h;
    }
    out->unmeasured = tubes;
    out->others_unmeasured = others;
    out->doubly_claimed = claimed;
    return PP_OK;
}

/* Of the difference of two readings of one hole: a common alignment drops out of it, and so does
 * the scale. */
static pp_covariance drift_covariance(const taking *t, const pp_bore *p, const pp_bore *q)
{
    if (t->out.alignment.exit_own)
        return pp_covariance_add(
            pp_centre_covariance(&t->errors, p->face, p->hole, p->x, p->y, false),
            pp_centre_covariance(&t->errors, q->face, q->hole, q->x, q->y, false));
    double u = t->job->holes.uncertainty_position / 2;
    return (pp_covariance){2 * u * u, 0, 2 * u * u};
}

static pp_status find_drift(taking *t, pp_error *error)
{
    size_t count = t->files->nominal.count;
    double *drift;
    pp_distance_error *drift_error = NULL;
    PP_TAKE(drift, &t->memory->keep, count);
    if (t->gathered.faces[PP_ENTRY] && t->gathered.faces[PP_EXIT])
        PP_TAKE(drift_error, &t->memory->keep, count);
    for (size_t h = 0; h < count; h++) {
        uint32_t entry = t->gathered.bore_of[PP_ENTRY][h], exit = t->gathered.bore_of[PP_EXIT][h];
        drift[h] = NAN;
        if (entry == PP_NONE || exit == PP_NONE || t->files->nominal.kind[h] != PP_TUBE_HOLE)
            continue;
        const pp_bore *p = &t->gathered.bores[entry], *q = &t->gathered.bores[exit];
        drift[h] = hypot(q->x - p->x, q->y - p->y);
        drift_error[h] =
            pp_distance_error_of(drift_covariance(t, p, q), q->x - p->x, q->y - p->y, 1);
    }
    t->out.drift = drift;
    t->out.drift_error = drift_error;
    return PP_OK;
}

/* --- metal between holes ---------------------------------------------------------------------- */

static int by_other(const void *a, const void *b)
{
    const pp_other_ligament *p = a, *q = b;
    if (p->other != q->other) return p->other < q->other ? -1 : 1;
    if (p->face != q->face) return p->face < q->face ? -1 : 1;
    if (p->direct != q->direct) return p->direct ? -1 : 1; /* measured directly first */
    return p->tube < q->tube ? -1 : p->tube > q->tube;
}

/* Computed and direct ones together. */
static pp_status join_others(taking *t, const pp_closeness *close, const pp_ligaments *ligaments,
                             pp_error *error)
{
    size_t count = close->other_count + ligaments->other_count;
    pp_other_ligament *list;
    PP_TAKE(list, &t->memory->keep, count);
    for (size_t i = 0; i < count; i++)
        list[i] =
            i < close->other_count ? close->others[i] : ligaments->others[i - close->other_count];
    if (count) qsort(list, count, sizeof *list, by_other);
    t->out.other_ligaments = list;
    t->out.other_ligament_count = count;
    return PP_OK;
}

static pp_status take_metal(taking *t, pp_error *error)
{
    const pp_nominal *nominal = &t->files->nominal;
    pp_measures *out = &t->out;
    pp_mark mark = pp_arena_mark(&t->memory->scratch);
    pp_neighbours neighbours;
    pp_ligaments ligaments;
    PP_TRY(pp_neighbours_find(t->job, nominal, &t->grid, out->pitch, out->plugged, t->threads,
                              t->memory, &neighbours, error));
    PP_TRY(pp_ligaments_take(t->job, t->files, &t->view, &neighbours, out->plugged, &t->gathered,
                             t->threads, t->memory, &ligaments, error));
    out->pair_count = neighbours.count;
    out->pairs_measured = ligaments.pairs_measured;
    out->pairs_unmeasured = neighbours.count - ligaments.pairs_measured;
    out->ligament_count = ligaments.count;
    out->ligaments = ligaments.ligaments;
    pp_arena_release(&t->memory->scratch, mark);

    pp_closeness close;
    PP_TRY(pp_close_find(t->job, t->files, &t->gathered, out->plugged, ligaments.others,
                         ligaments.other_count, out->pitch, t->sizes->close_below, t->threads,
                         t->memory, &close, error));
    out->close_below = t->sizes->close_below;
    out->close_count = close.pair_count;
    out->close = close.pairs;
    return join_others(t, &close, &ligaments, error);
}

/* --- all of it -------------------------------------------------------------------------------- */

/* The keys become what readers of the measures want: the hole of each row. */
static pp_status publish(taking *t, pp_error *error)
{
    pp_measures *out = &t->out;
    const pp_gathered *g = &t->gathered;
    size_t holes = t->files->nominal.count;
    uint32_t *extra_of;
    PP_TAKE(extra_of, &t->memory->keep, g->bore_count - g->extra_first);
    for (size_t b = g->extra_first; b < g->bore_count; b++)
        extra_of[b - g->extra_first] = (uint32_t)(t->match.key[g->bores[b].row - 1] - holes);
    for (size_t i = 0; i < t->files->measured.count; i++)
        if (t->match.key[i] >= holes) t->match.key[i] = PP_NONE;

    out->nominal = &t->files->nominal;
    out->readings = &t->files->measured;
    out->faces[PP_ENTRY] = g->faces[PP_ENTRY];
    out->faces[PP_EXIT] = g->faces[PP_EXIT];
    out->bore_count = g->bore_count;
    out->bores = g->bores;
    out->bore_of[PP_ENTRY] = g->bore_of[PP_ENTRY];
    out->bore_of[PP_EXIT] = g->bore_of[PP_EXIT];
    out->extra_first = g->extra_first;
    out->extra_count = t->match.extra_count;
    out->extra = t->match.extra;
    out->extra_of = extra_of;
    out->hole_of_row = t->match.key;
    out->history_count = g->history_count;
    out->history = g->history;
    return PP_OK;
}

static pp_status take(taking *t, pp_error *error)
{
    PP_TRY(match(t, error));
    PP_TRY(find_plugged(t, error));
    PP_TRY(find_errors(t, error));
    PP_TRY(place(t, error));
    PP_TRY(place_within(t, error));
    PP_TRY(list_holes(t, error));
    PP_TRY(find_drift(t, error));
    PP_TRY(take_metal(t, error));
    PP_TRY(pp_labels_find(&t->files->nominal, t->out.pitch, t->memory, &t->out.row_label,
                          &t->out.column_label, error));
    return publish(t, error);
}

pp_status pp_measures_take(const pp_job *job, const pp_hole_files *files, double pitch,
                           const pp_hole_sizes *sizes, int threads, pp_memory *memory,
                           pp_measures *measures, pp_error *error)
{
    taking t = {.job = job,
                .files = files,
                .sizes = sizes,
                .threads = threads,
                .memory = memory,
                .view = pp_view_of(job)};
    t.out.pitch = pitch;
    t.out.pitch_found = !pp_given(job->holes.pitch);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = take(&t, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *measures = t.out;
    return status;
}

const char *pp_bore_name(const pp_measures *measures, size_t bore)
{
    uint32_t hole = measures->bores[bore].hole;
    if (hole != PP_NONE) return measures->nominal->name[hole];
    return measures->extra[measures->extra_of[bore - measures->extra_first]];
}
