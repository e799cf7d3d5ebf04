#include "correction/correction.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/compare.h"
#include "base/names.h"
#include "base/text.h"
#include "causes/error_field.h"
#include "correction/parts.h"
#include "holes/pitch.h"

static const double SURE_MIN = 0.80;   /* of getting better, or nothing is corrected */
static const double GAIN_MIN = 0.02;   /* of the rms */
static const double MATTERS = 0.25;    /* of the limit's radius, for one or two plates */
static const double SAME_PLACE = 2e-3; /* mm: of nominal lists that are the same pattern */
enum { PLATES_FOR_PROMISE = 3 };

static pp_status say_why(pp_correcting *w, pp_error *error, const char *text)
{
    pp_correction *o = w->out;
    if (o->why_count < PP_CORRECTION_WHY_MAX) o->why[o->why_count++] = text;
    return text ? PP_OK : pp_fail_memory(error);
}

/* ---- the plates ---- */

static int by_date(const void *left, const void *right)
{
    const pp_kept_report *a = &((const pp_drilled_plate *)left)->report;
    const pp_kept_report *b = &((const pp_drilled_plate *)right)->report;
    const char *da = a->drilled_date ? a->drilled_date : a->inspection_date;
    const char *db = b->drilled_date ? b->drilled_date : b->inspection_date;
    int order = strcmp(da ? da : "", db ? db : "");
    if (order) return order;
    order = strcmp(a->plate_id, b->plate_id);
    return order ? order : strcmp(a->folder, b->folder);
}

static bool same_plate(const pp_kept_report *a, const pp_kept_report *b)
{
    return strcmp(a->plate_id, b->plate_id) == 0 && strcmp(a->serial, b->serial) == 0 &&
           strcmp(a->order_number, b->order_number) == 0 && strcmp(a->item, b->item) == 0;
}

static pp_status sort_plates(pp_correcting *w, const pp_drilled_plate *plates, size_t count,
                             pp_error *error)
{
    pp_drilled_plate *sorted;
    if (count == 0)
        return pp_fail(error, PP_ENOTHING,
                       "there is no plate to learn from; give --from FOLDER or --history FILE");
    if (count > PP_CORRECTION_PLATES_MAX)
        return pp_fail(error, PP_EINPUT, "more than %d plates; the most recent ones say enough",
                       PP_CORRECTION_PLATES_MAX);
    PP_TAKE(sorted, &w->memory->keep, count);
    memcpy(sorted, plates, count * sizeof *sorted);
    qsort(sorted, count, sizeof *sorted, by_date);
    for (size_t i = 0; i < count; i++) {
        const pp_kept_report *r = &sorted[i].report;
        if (strcmp(r->machine, sorted[0].report.machine) != 0)
            return pp_fail_at(error, PP_EINPUT, r->folder, 0, 0,
                              "was drilled by '%.100s', another plate by '%.100s'; a correction is "
                              "of one machine",
                              r->machine, sorted[0].report.machine);
        for (size_t k = 0; k < i; k++)
            if (same_plate(r, &sorted[k].report))
                return pp_fail_at(error, PP_EINPUT, r->folder, 0, 0,
                                  "is the plate of %.200s again; a plate measured twice is one "
                                  "plate, name one of the reports",
                                  sorted[k].report.folder);
    }
    PP_TRY(pp_refuse_copies(sorted, count, &w->memory->scratch, error));
    w->out->plates = sorted, w->out->plate_count = count;
    w->out->machine = sorted[0].report.machine;
    return PP_OK;
}

/* ---- the next list ---- */

static pp_status take_next(pp_correcting *w, const pp_nominal *next, pp_error *error)
{
    uint32_t *hole;
    PP_TAKE(hole, &w->memory->keep, next->count);
    PP_TAKE(w->x, &w->memory->keep, next->count);
    PP_TAKE(w->y, &w->memory->keep, next->count);
    for (uint32_t i = 0; i < next->count; i++) {
        if (next->kind[i] != PP_TUBE_HOLE) continue;
        hole[w->count] = i;
        w->x[w->count] = next->x[i], w->y[w->count++] = next->y[i];
    }
    if (w->count < PP_CORRECTION_HOLES_MIN)
        return pp_fail_at(error, PP_EINPUT, next->file, 0, 0,
                          "has fewer than %d tube holes; a correction is for a whole plate",
                          PP_CORRECTION_HOLES_MIN);
    w->hole = hole, w->out->next = next;
    PP_TRY(
        pp_static_fields(w->x, w->y, w->count, &w->memory->keep, w->ax, w->ay, &w->radius, error));
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        pp_take_rigid_out(w->x, w->y, NULL, w->count, w->ax[k], w->ay[k]);
    return PP_OK;
}

/* Where each plate's holes are in the next list. The same pattern: all of them, and as many. */
static pp_status match_patterns(pp_correcting *w, pp_error *error)
{
    pp_correction *o = w->out;
    const char **name;
    pp_names names;
    PP_TAKE(name, &w->memory->scratch, w->count);
    for (size_t i = 0; i < w->count; i++) name[i] = o->next->name[w->hole[i]];
    PP_TRY(pp_names_build(name, w->count, &w->memory->scratch, &names, error));
    PP_TAKE(w->at, &w->memory->keep, o->plate_count);
    o->same_pattern = true;
    for (size_t p = 0; p < o->plate_count; p++) {
        const pp_report_holes *h = &o->plates[p].holes;
        size_t same = 0;
        PP_TAKE(w->at[p], &w->memory->keep, h->count);
        for (size_t i = 0; i < h->count; i++) {
            uint32_t at = pp_names_find(&names, h->name[i]);
            bool there = at != PP_NAME_NONE && fabs(h->nominal_x[i] - w->x[at]) <= SAME_PLACE &&
                         fabs(h->nominal_y[i] - w->y[at]) <= SAME_PLACE;
            w->at[p][i] = there ? at : PP_NONE;
            same += there;
        }
        /* a few holes may be plugged or unmeasured */
        o->same_pattern &= same == h->count && 20 * same >= 19 * w->count;
    }
    w->has_field = o->same_pattern && o->plate_count >= PLATES_FOR_PROMISE && w->options->use_field;
    return PP_OK;
}

/* ---- what repeats ---- */

/* Largest effect of a term of one over the next holes. */
static double reach_of(const pp_correcting *w, int k)
{
    double most = 0;
    for (size_t i = 0; i < w->count; i++) most = fmax(most, hypot(w->ax[k][i], w->ay[k][i]));
    return most;
}

static void take_series(pp_correcting *w)
{
    pp_correction *o = w->out;
    bool temperatures = true;
    double gauge = 0;
    for (size_t p = 0; p < o->plate_count; p++) {
        temperatures &= pp_given(o->plates[p].report.drilling_temperature);
        if (o->plates[p].report.scale_u > gauge) gauge = o->plates[p].report.scale_u;
    }
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        pp_term_series *s = &o->series[k];
        *s = (pp_term_series){.plates = o->plate_count,
                              .gauge = k == PP_STATIC_SCALE ? gauge : 0,
                              .reach = reach_of(w, k),
                              .is_scale = k == PP_STATIC_SCALE,
                              .is_bow = pp_static_is_bow(k),
                              .temperatures = temperatures};
        s->least = isnan(w->options->limit) ? 0 : MATTERS * 0.5 * w->options->limit;
        for (size_t p = 0; p < o->plate_count; p++) {
            const pp_drilled_plate *plate = &o->plates[p];
            double to = s->is_bow ? (w->radius / plate->radius) * (w->radius / plate->radius) : 1;
            s->value[p] = to * plate->term[k].value;
            s->standard_error[p] = to * plate->term[k].standard_error;
            s->found[p] = plate->term[k].state == PP_TERM_FOUND;
        }
    }
    for (int axis = 0; axis < 2; axis++) {
        o->lost_motion[axis] = 0;
        for (size_t p = 0; p < o->plate_count; p++)
            o->lost_motion[axis] += o->plates[p].lost_motion[axis] / (double)o->plate_count;
    }
}

static pp_status prepare_field(pp_correcting *w, pp_error *error)
{
    const pp_correction *o = w->out;
    pp_arena *keep = &w->memory->keep;
    const double *fixed[PP_STATIC_TERMS], **residual;
    PP_TAKE_ZERO(w->field, keep, 2 * w->count);
    if (!w->has_field) return PP_OK;
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        double *both;
        PP_TAKE(both, keep, 2 * w->count);
        memcpy(both, w->ax[k], w->count * sizeof *both);
        memcpy(both + w->count, w->ay[k], w->count * sizeof *both);
        fixed[k] = both;
    }
    PP_TAKE(residual, keep, o->plate_count);
    for (size_t p = 0; p < o->plate_count; p++) {
        double *r;
        PP_TAKE_ZERO(r, keep, 2 * w->count);
        for (size_t i = 0; i < o->plates[p].count; i++) {
            r[w->at[p][i]] = o->plates[p].rx[i];
            r[w->count + w->at[p][i]] = o->plates[p].ry[i];
        }
        residual[p] = r;
    }
    const pp_field_request request = {.count = w->count,
                                      .x = w->x,
                                      .y = w->y,
                                      .fixed_count = PP_STATIC_TERMS,
                                      .fixed = fixed,
                                      .plates = o->plate_count,
                                      .residual = residual};
    return pp_field_prepare(&request, keep, &w->data, error);
}

/* ---- the shift ---- */

static double rounded(double value, double step)
{
    return step > 0 ? step * nearbyint(value / step) : value;
}

/* Minus what repeats, without shift and turn, scaled as a whole to the cap, rounded. */
static pp_status make_shift(pp_correcting *w, pp_error *error)
{
    pp_correction *o = w->out;
    double *sx, *sy, *fx, *fy;
    PP_TAKE_ZERO(sx, &w->memory->keep, o->next->count);
    PP_TAKE_ZERO(sy, &w->memory->keep, o->next->count);
    PP_TAKE(fx, &w->memory->scratch, w->count);
    PP_TAKE(fy, &w->memory->scratch, w->count);
    for (size_t i = 0; i < w->count; i++) {
        fx[i] = -w->field[i], fy[i] = -w->field[w->count + i];
        for (int k = 0; k < PP_STATIC_TERMS; k++) {
            double c = w->options->machine_sets & 1u << k ? 0 : o->terms[k].applied;
            fx[i] -= c * w->ax[k][i], fy[i] -= c * w->ay[k][i];
        }
    }
    pp_take_rigid_out(w->x, w->y, NULL, w->count, fx, fy);
    double most = 0;
    for (size_t i = 0; i < w->count; i++) most = fmax(most, hypot(fx[i], fy[i]));
    o->cap = isnan(w->options->cap) ? 0.5 * w->options->limit : w->options->cap;
    o->factor = most > o->cap ? o->cap / most : 1;
    for (size_t i = 0; i < w->count; i++) {
        uint32_t h = w->hole[i];
        sx[h] = rounded(o->factor * fx[i], w->options->step);
        sy[h] = rounded(o->factor * fy[i], w->options->step);
        double far = hypot(sx[h], sy[h]);
        if (far > o->largest) o->largest = far, o->largest_hole = h;
    }
    o->shift_x = sx, o->shift_y = sy;
    return PP_OK;
}

static int by_x(const void *left, const void *right)
{
    const double *const *a = left, *const *b = right;
    return (**a > **b) - (**a < **b);
}

/* What the shift leaves between two commanded places, held against the smallest allowed. */
static void look_at_ligament(pp_correcting *w, size_t i, size_t k, double before, double after)
{
    pp_correction *o = w->out;
    double left = after - w->options->hole_diameter, least = w->options->ligament_minimum;
    o->thinned += pp_less_than(left, least) && after < before;
    if (!(left < o->ligament) && !(isnan(o->ligament) && !isnan(left))) return;
    o->ligament = left;
    o->ligament_hole[0] = w->hole[i], o->ligament_hole[1] = w->hole[k];
}

/* The largest change of the distance of two neighbours, and the smallest ligament: by a sweep along
 * x. */
static pp_status find_neighbour_change(pp_correcting *w, pp_error *error)
{
    pp_correction *o = w->out;
    double pitch;
    const double **sorted;
    PP_TRY(pp_pitch_find(NAN, o->next, w->options->threads, w->memory, &pitch, error));
    PP_TAKE(sorted, &w->memory->scratch, w->count);
    for (size_t i = 0; i < w->count; i++) sorted[i] = &w->x[i];
    qsort(sorted, w->count, sizeof *sorted, by_x);
    double reach = PP_NEIGHBOUR_PITCHES * pitch;
    o->ligament = NAN;
    for (size_t a = 0; a < w->count; a++)
        for (size_t b = a + 1; b < w->count && *sorted[b] - *sorted[a] <= reach; b++) {
            size_t i = (size_t)(sorted[a] - w->x), k = (size_t)(sorted[b] - w->x);
            double dx = w->x[k] - w->x[i], dy = w->y[k] - w->y[i], before = hypot(dx, dy);
            if (before > reach) continue;
            dx += o->shift_x[w->hole[k]] - o->shift_x[w->hole[i]];
            dy += o->shift_y[w->hole[k]] - o->shift_y[w->hole[i]];
            o->neighbour_change = fmax(o->neighbour_change, fabs(hypot(dx, dy) - before));
            look_at_ligament(w, i, k, before, hypot(dx, dy));
        }
    return PP_OK;
}

/* ---- whether it is earned ---- */

double pp_correct_applied(const pp_correcting *c, int k)
{
    const pp_correction *o = c->out;
    return o->terms[k].applied * (c->options->machine_sets & 1u << k ? 1 : o->factor);
}

static bool something_applied(const pp_correction *o)
{
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        if (o->terms[k].applied != 0) return true;
    return o->field_used;
}

/* If the machine does the same again: the mean of the plates, before and after. */
static void repeat_itself(pp_correcting *w)
{
    pp_correction *o = w->out;
    double before = 0, after = 0, n = (double)o->plate_count;
    for (size_t p = 0; p < o->plate_count; p++) before += o->plates[p].rest / n;
    after = before - (o->field_used ? w->field_cut * (2 - o->factor) * o->factor : 0);
    for (size_t i = 0; i < w->count; i++) {
        double mx = 0, my = 0, lx = 0, ly = 0;
        for (int k = 0; k < PP_STATIC_TERMS; k++) {
            double m = isnan(o->terms[k].mean) ? 0 : o->terms[k].mean;
            double c = pp_correct_applied(w, k);
            mx += m * w->ax[k][i], my += m * w->ay[k][i];
            lx += (m - c) * w->ax[k][i], ly += (m - c) * w->ay[k][i];
        }
        before += (mx * mx + my * my) / (double)w->count;
        after += (lx * lx + ly * ly) / (double)w->count;
    }
    o->rms_now = sqrt(before), o->rms_then = sqrt(fmax(0, after));
}

static bool leaving_out_helped(const pp_correction *o)
{
    double before = 0, after = 0;
    for (size_t p = 0; p < o->left_out_count; p++) {
        before += o->left_out[p].rms_before * o->left_out[p].rms_before;
        after += o->left_out[p].rms_after * o->left_out[p].rms_after;
    }
    return after < before;
}

static pp_status decide(pp_correcting *w, bool last_differs, pp_error *error)
{
    pp_correction *o = w->out;
    bool many = o->plate_count >= PLATES_FOR_PROMISE;
    double gain = o->promised ? 1 - o->promise.rms_after.median / o->promise.rms_before.median
                              : 1 - o->rms_then / o->rms_now;
    if (last_differs)
        return say_why(w, error,
                       "the last plate differs from those before it: enter what changed (history "
                       "note), and learn from the plates since");
    if (!something_applied(o))
        return say_why(w, error, "nothing repeats well enough to be corrected");
    if (many && !leaving_out_helped(o))
        return say_why(w, error,
                       "plates corrected by the others did not get better: what they share is too "
                       "little");
    if (o->promised && o->promise.probability_better < SURE_MIN)
        return say_why(w, error, "the next plate would get better in fewer than 4 of 5 cases");
    if (o->thinned)
        return say_why(w, error,
                       "the shifts would take a ligament of the drawing below its minimum; give a "
                       "smaller cap, or set the machine instead");
    if (gain < GAIN_MIN) return say_why(w, error, "the gain is below 2 % of the error");
    o->correct = true;
    if (!many)
        return say_why(w, error,
                       "one or two plates do not tell how well the machine repeats: no interval is "
                       "promised, and the next plate gets worse if it shows less than half of what "
                       "is corrected");
    return PP_OK;
}

static pp_status learn(pp_correcting *w, pp_error *error)
{
    pp_correction *o = w->out;
    bool last_differs;
    take_series(w);
    pp_terms_learn(o->series, o->terms, &last_differs);
    PP_TRY(prepare_field(w, error));
    if (o->plate_count >= PLATES_FOR_PROMISE && !last_differs)
        PP_TRY(pp_correct_leave_out(w, error));
    PP_TRY(make_shift(w, error));
    repeat_itself(w);
    if (o->plate_count >= PLATES_FOR_PROMISE && something_applied(o))
        PP_TRY(pp_correct_promise(w, error));
    PP_TRY(find_neighbour_change(w, error));
    return decide(w, last_differs, error);
}

pp_status pp_correct(const pp_nominal *next, const pp_drilled_plate *plates, size_t count,
                     const pp_correct_options *options, pp_memory *memory,
                     pp_correction *correction, pp_error *error)
{
    pp_correction out = {0};
    pp_correcting w = {.options = options, .memory = memory, .out = &out};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = sort_plates(&w, plates, count, error);
    if (status == PP_OK) status = take_next(&w, next, error);
    if (status == PP_OK) status = match_patterns(&w, error);
    if (status == PP_OK) status = learn(&w, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *correction = out;
    return status;
}
