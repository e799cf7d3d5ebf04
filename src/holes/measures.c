#include "holes/measures.h"
#include "holes/drill_order.h"

#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "base/text.h"
#include "holes/aligned.h"
#include "holes/frame_check.h"
#include "holes/matching.h"
#include "holes/pitch_error.h"
#include "holes/unknown_frame.h"

enum { PARTS = 64 };

typedef struct taking {
    const pp_job *job;
    const pp_hole_files *files;
    const pp_hole_sizes *sizes;
    int threads;
    pp_memory *memory;
    pp_view view;
    pp_grid grid; /* all nominal holes */
    pp_matching_state match;
    pp_align_options options;
    pp_mark before_centres; /* of the scratch, which the places as read are taken from */
    pp_gathered gathered;
    pp_pose poses[2];
    pp_centre_errors errors;
    pp_hole_uncertainty uncertainty;
    pp_aligned aligned;
    pp_measures out;
} taking;

/* --- which reading is which hole, and where the frame lies ------------------------------------ */

static pp_status gather(taking *t, const uint32_t *key, size_t extras, pp_arena *into,
                        pp_error *error)
{
    pp_gathering request = {.files = t->files,
                            .view = &t->view,
                            .sizes = t->sizes,
                            .key_of_row = key,
                            .extras = extras,
                            .into = into};
    return pp_gather(&request, t->threads, t->memory, &t->gathered, error);
}

static pp_alignable alignable(const taking *t)
{
    return (pp_alignable){.files = t->files, .view = &t->view, .gathered = &t->gathered};
}

static pp_status align(taking *t, pp_error *error)
{
    bool turned_over = t->out.alignment.turned_over;
    size_t symmetries = t->out.alignment.symmetries;
    pp_alignable what = alignable(t);
    PP_TRY(pp_alignment_find(&what, &t->options, t->threads, t->poses, &t->out.alignment, error));
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
    pp_matching_frame frame = {
        .files = t->files, .nominal_grid = &t->grid, .view = &t->view, .poses = t->poses};
    return pp_match_nearest(&frame, t->out.pitch / 2, t->threads, t->memory, &t->match, error);
}

/* Gather what is matched so far and align by it; everything in scratch. Rows not matched are left
 * out. */
static pp_status align_by_matched(taking *t, pp_error *error)
{
    const uint32_t *key = t->match.key;
    uint32_t *matched;
    size_t count = t->files->measured.count;
    PP_TAKE(matched, &t->memory->scratch, count);
    for (size_t i = 0; i < count; i++)
        matched[i] = key[i] < t->files->nominal.count ? key[i] : PP_NONE;
    PP_TRY(gather(t, matched, 0, &t->memory->scratch, error));
    return align(t, error);
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
        pp_frame_question question = {.files = t->files,
                                      .nominal_grid = &t->grid,
                                      .view = &t->view,
                                      .options = &t->options,
                                      .pitch = t->out.pitch};
        PP_TRY(pp_frame_find(&question, t->memory, &frame, error));
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
    t->before_centres = pp_arena_mark(scratch);
    PP_TRY(gather(t, t->match.key, t->match.extra_count, &t->memory->keep, error));
    return align(t, error);
}

/* --- each bore's own measures ----------------------------------------------------------------- */

/* What the alignment carries into every centre. */
static pp_status find_errors(taking *t, pp_error *error)
{
    pp_alignment *a = &t->out.alignment;
    const pp_aligned_by by = {
        .files = t->files, .gathered = &t->gathered, .options = &t->options, .alignment = a};
    PP_TRY(pp_centre_errors_find(&by, &t->uncertainty, t->threads, &t->errors, error));
    const pp_pose_error *first = &t->errors.pose[PP_ENTRY];
    a->u_dx = sqrt(first->shift.xx);
    a->u_dy = sqrt(first->shift.yy);
    a->u_angle_deg = sqrt(first->turn) * PP_DEGREES;
    a->scale_u = t->uncertainty.scale;
    return PP_OK;
}

static pp_status place(taking *t, pp_error *error)
{
    pp_aligning request = {.files = t->files,
                           .gathered = &t->gathered,
                           .poses = t->poses,
                           .alignment = &t->out.alignment,
                           .errors = &t->errors,
                           .outline = pp_job_outline(t->job),
                           .uncertainty = t->uncertainty};
    PP_TRY(pp_bores_align(&request, t->threads, t->memory, &t->aligned, error));
    t->out.edge = t->aligned.edge;
    t->out.edge_u = t->aligned.edge_u;
    t->out.bore_errors = t->aligned.errors;
    t->out.alignment.common_share = t->aligned.common_share;
    t->out.alignment.rms = t->aligned.rms;
    return PP_OK;
}

/* The covariance of a bore within the pattern. An exit face aligned on its own has that alignment's
 * errors beside those of the entry face that the pattern is moved by: added as if they had nothing
 * in common, which is on the safe side. */
static pp_covariance covariance_within(const taking *t, const pp_centre_errors *within, size_t b)
{
    const pp_bore *bore = &t->gathered.bores[b];
    pp_covariance c = pp_centre_covariance(within, bore->face, bore->hole, bore->at, true);
    if (bore->face != PP_EXIT || !t->out.alignment.exit_own) return c;
    for (uint8_t face = PP_ENTRY; face <= PP_EXIT; face++)
        c = pp_covariance_add(c,
                              pp_centre_covariance(&t->errors, face, bore->hole, bore->at, false));
    return c;
}

/* Composite position: lay the pattern on itself once more. */
static pp_status place_within(taking *t, pp_error *error)
{
    if (!pp_given(t->job->holes.pattern_limit)) return PP_OK;
    double *within;
    PP_TAKE(within, &t->memory->keep, t->gathered.extra_first);
    pp_plate_point *at;
    PP_TAKE(at, &t->memory->scratch, t->gathered.bore_count);
    for (size_t b = 0; b < t->gathered.bore_count; b++) at[b] = t->gathered.bores[b].at;
    pp_alignable what = alignable(t);
    pp_pose pose;
    PP_TRY(pp_pattern_lay(&what, at, &t->options, t->threads, &pose, error));
    pp_distance_error *within_error;
    pp_centre_errors errors;
    PP_TAKE(within_error, &t->memory->keep, t->gathered.extra_first);
    PP_TRY(pp_centre_errors_within(&t->errors, &t->gathered, t->threads, &errors, error));
    for (size_t b = 0; b < t->gathered.extra_first; b++) {
        pp_nominal_point nominal = pp_nominal_at(&t->files->nominal, t->gathered.bores[b].hole);
        pp_offset off = pp_offset_from(nominal, pp_pose_again(pose, at[b]));
        within[b] = 2 * sqrt(off.dx * off.dx + off.dy * off.dy);
        within_error[b] = pp_distance_error_of(covariance_within(t, &errors, b), off.dx, off.dy, 2);
    }
    t->out.position_within = within;
    t->out.within_error = within_error;
    t->out.pattern_angle_deg = pp_pose_angle_deg(pose);
    t->out.pattern_dx = pose.dx + 0.0; /* not -0 */
    t->out.pattern_dy = pose.dy + 0.0;
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
static pp_covariance drift_covariance(const taking *t, uint32_t hole, pp_plate_point in,
                                      pp_plate_point out)
{
    if (t->out.alignment.exit_own)
        return pp_covariance_add(pp_centre_covariance(&t->errors, PP_ENTRY, hole, in, false),
                                 pp_centre_covariance(&t->errors, PP_EXIT, hole, out, false));
    double u = t->uncertainty.position / 2;
    return (pp_covariance){2 * u * u, 0, 2 * u * u};
}

static pp_status find_drift(taking *t, pp_error *error)
{
    if (!t->gathered.faces[PP_ENTRY] || !t->gathered.faces[PP_EXIT]) return PP_OK;
    size_t count = t->files->nominal.count;
    double *drift;
    pp_distance_error *drift_error;
    PP_TAKE(drift, &t->memory->keep, count);
    PP_TAKE(drift_error, &t->memory->keep, count);
    for (size_t h = 0; h < count; h++) {
        uint32_t entry = t->gathered.bore_of[PP_ENTRY][h], exit = t->gathered.bore_of[PP_EXIT][h];
        drift[h] = NAN;
        if (entry == PP_NONE || exit == PP_NONE || t->files->nominal.kind[h] != PP_TUBE_HOLE)
            continue;
        pp_plate_point in = t->gathered.bores[entry].at, out = t->gathered.bores[exit].at;
        double dx = out.x - in.x, dy = out.y - in.y;
        drift[h] = hypot(dx, dy);
        drift_error[h] = pp_distance_error_of(drift_covariance(t, (uint32_t)h, in, out), dx, dy, 1);
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
    pp_neighbours neighbours;
    pp_ligaments ligaments;
    pp_mark mark = pp_arena_mark(&t->memory->scratch);
    pp_neighbour_question near = {.nominal = nominal,
                                  .grid = &t->grid,
                                  .pitch = out->pitch,
                                  .plugged = out->plugged,
                                  .job_file = t->job->path,
                                  .pitch_line = pp_job_key_line(t->job, "holes", "pitch")};
    PP_TRY(pp_neighbours_find(&near, t->threads, t->memory, &neighbours, error));
    pp_ligament_question metal = {.files = t->files,
                                  .neighbours = &neighbours,
                                  .plugged = out->plugged,
                                  .gathered = &t->gathered,
                                  .scale = t->view.size,
                                  .uncertainty = t->uncertainty};
    PP_TRY(pp_ligaments_take(&metal, t->threads, t->memory, &ligaments, error));
    out->pair_count = neighbours.count;
    out->pairs_measured = ligaments.pairs_measured;
    out->pairs_unmeasured = neighbours.count - ligaments.pairs_measured;
    out->ligament_count = ligaments.count;
    out->ligaments = ligaments.ligaments;
    if (t->job->holes.coverage == PP_SAMPLE)
        PP_TRY(pp_half_ligaments_take(&metal, t->memory, &out->half_ligaments, error));
    pp_arena_release(&t->memory->scratch, mark); /* the neighbours */

    pp_closeness close;
    pp_close_question beside = {.files = t->files,
                                .gathered = &t->gathered,
                                .plugged = out->plugged,
                                .direct_count = ligaments.other_count,
                                .direct = ligaments.others,
                                .pitch = out->pitch,
                                .close_below = t->sizes->close_below,
                                .uncertainty = t->uncertainty};
    PP_TRY(pp_close_find(&beside, t->threads, t->memory, &close, error));
    out->close_below = t->sizes->close_below;
    out->close_count = close.pair_count;
    out->close = close.pairs;
    return join_others(t, &close, &ligaments, error);
}

static pp_status take_pitch_errors(taking *t, pp_error *error)
{
    if (!pp_given(t->job->holes.pitch_steps) && !pp_given(t->job->holes.pitch_error_limit))
        return PP_OK;
    double steps = t->job->holes.pitch_steps;
    pp_pitch_request request = {.nominal = &t->files->nominal,
                                .grid = &t->grid,
                                .plugged = t->out.plugged,
                                .gathered = &t->gathered,
                                .errors = &t->errors,
                                .pitch = t->out.pitch,
                                .steps = pp_given(steps) ? (size_t)steps : 1,
                                .threads = t->threads};
    return pp_pitch_errors_find(&request, t->memory, &t->out.pitch_errors, error);
}

/* Every bore has its place: where it was read has been used. */
static void release_centres(taking *t)
{
    t->gathered.centre = NULL;
    pp_arena_release(&t->memory->scratch, t->before_centres);
}

/* --- all of it -------------------------------------------------------------------------------- */

static void publish_bores(taking *t)
{
    pp_measures *out = &t->out;
    const pp_gathered *g = &t->gathered;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        out->bore_of[face] = g->bore_of[face];
        out->faces[face] = g->faces[face];
    }
    out->bore_count = g->bore_count;
    out->bores = g->bores;
    out->extra_first = g->extra_first;
}

static pp_status publish_history(taking *t, pp_error *error)
{
    pp_reading_history *history;
    PP_TAKE(history, &t->memory->keep, t->gathered.history_count);
    for (size_t i = 0; i < t->gathered.history_count; i++) {
        const pp_past_reading *past = &t->gathered.history[i];
        history[i] = (pp_reading_history){.hole = past->hole,
                                          .round = past->round,
                                          .face = past->face,
                                          .at = pp_pose_apply(t->poses[past->face], past->centre),
                                          .diameter_min = past->diameter_min,
                                          .diameter_max = past->diameter_max};
    }
    t->out.history_count = t->gathered.history_count;
    t->out.history = history;
    return PP_OK;
}

/* The keys become what readers of the measures want: the hole of each row. */
static pp_status publish_keys(taking *t, pp_error *error)
{
    const pp_gathered *g = &t->gathered;
    size_t holes = t->files->nominal.count, rows = t->files->measured.count;
    uint32_t *extra_of, *hole_of_row = t->match.key;
    PP_TAKE(extra_of, &t->memory->keep, g->bore_count - g->extra_first);
    for (size_t b = g->extra_first; b < g->bore_count; b++)
        extra_of[b - g->extra_first] = (uint32_t)(t->match.key[g->bores[b].row - 1] - holes);
    for (size_t i = 0; i < rows; i++)
        if (hole_of_row[i] >= holes) hole_of_row[i] = PP_NONE;
    t->out.extra_count = t->match.extra_count;
    t->out.extra = t->match.extra;
    t->out.extra_of = extra_of;
    t->out.hole_of_row = hole_of_row;
    if (!t->files->measured.order) return PP_OK;
    double *order;
    PP_TAKE(order, &t->memory->keep, holes);
    t->out.drill_order = order;
    return pp_drill_order_take(&t->files->measured, hole_of_row, holes, &t->memory->scratch, order,
                               error);
}

static pp_status publish(taking *t, pp_error *error)
{
    t->out.nominal = &t->files->nominal;
    t->out.readings = &t->files->measured;
    publish_bores(t);
    PP_TRY(publish_history(t, error));
    return publish_keys(t, error);
}

static pp_status take(taking *t, pp_error *error)
{
    PP_TRY(match(t, error));
    PP_TRY(pp_frame_check(t->files, &t->gathered, t->poses, &t->grid, t->job->holes.align,
                          t->out.pitch, &t->out.datum_doubt, error));
    const pp_exit_view_request exit_view = {.files = t->files,
                                            .gathered = &t->gathered,
                                            .key = t->match.key,
                                            .nominal_grid = &t->grid,
                                            .view = &t->view,
                                            .pose = &t->poses[PP_EXIT],
                                            .pitch = t->out.pitch,
                                            .stated = t->job->holes.exit_view,
                                            .align = t->options.exit_align};
    PP_TRY(pp_exit_view_check(&exit_view, &t->out.exit_view_open, error));
    PP_TRY(find_plugged(t, error));
    PP_TRY(find_errors(t, error));
    PP_TRY(place(t, error));
    PP_TRY(place_within(t, error));
    PP_TRY(take_pitch_errors(t, error));
    release_centres(t);
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
                .view = pp_view_of(job),
                .options = pp_align_options_of(job),
                .uncertainty = pp_hole_uncertainty_of(job)};
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
