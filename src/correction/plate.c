#include "correction/plate.h"

#include <math.h>
#include <string.h>

#include "causes/error_field.h"
#include "linalg/linalg.h"
#include "rules/cause_rules.h"

const char *const pp_static_names[PP_STATIC_TERMS] = {"scale common", "scale x-y", "squareness",
                                                      "bow of x axis", "bow of y axis"};

pp_status pp_static_fields(const double *x, const double *y, size_t count, pp_arena *arena,
                           double *ax[PP_STATIC_TERMS], double *ay[PP_STATIC_TERMS], double *radius,
                           pp_error *error)
{
    pp_error_field f = {.count = count};
    PP_TAKE(f.x, arena, count);
    PP_TAKE(f.y, arena, count);
    PP_TAKE_ZERO(f.s, arena, count);
    PP_TAKE_ZERO(f.move_x, arena, count);
    PP_TAKE_ZERO(f.move_y, arena, count);
    for (size_t i = 0; i < count; i++) f.centre_x += x[i], f.centre_y += y[i];
    f.centre_x /= (double)count, f.centre_y /= (double)count;
    for (size_t i = 0; i < count; i++) {
        f.x[i] = x[i] - f.centre_x, f.y[i] = y[i] - f.centre_y;
        f.radius = fmax(f.radius, hypot(f.x[i], f.y[i]));
    }
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        PP_TAKE(ax[k], arena, count);
        PP_TAKE(ay[k], arena, count);
        pp_error_field_vectors(&f, (pp_field_kind)(PP_FIELD_FIRST_TERM + k), 0, count, ax[k],
                               ay[k]);
    }
    *radius = f.radius;
    return PP_OK;
}

/* ---- its diagnosis ---- */

/* What the stages alignment and matching would hand on, of the holes of a report. */
typedef struct made_up {
    pp_nominal nominal;
    pp_readings readings;
    pp_measures measures;
} made_up;

static pp_status make_bores(const pp_report_holes *h, pp_arena *arena, made_up *m, pp_error *error)
{
    pp_bore *bores;
    uint32_t *bore_of, *none, *hole_of_row, *round;
    bool *plugged;
    uint8_t *kind;
    PP_TAKE_ZERO(bores, arena, h->count);
    PP_TAKE(bore_of, arena, h->count);
    PP_TAKE(none, arena, h->count);
    PP_TAKE(hole_of_row, arena, h->count);
    PP_TAKE(round, arena, h->count);
    PP_TAKE_ZERO(plugged, arena, h->count);
    PP_TAKE_ZERO(kind, arena, h->count);
    for (uint32_t i = 0; i < h->count; i++) {
        bores[i] =
            (pp_bore){.hole = i,
                      .row = i + 1,
                      .readings = 1,
                      .round = 1,
                      .face = PP_ENTRY,
                      .at = {h->x[i], h->y[i]},
                      .diameter_min = NAN,
                      .diameter_max = NAN,
                      .diameter_mean = NAN,
                      .position = 2 * hypot(h->x[i] - h->nominal_x[i], h->y[i] - h->nominal_y[i]),
                      .smallest_ligament = NAN};
        bore_of[i] = hole_of_row[i] = i, none[i] = PP_NONE, round[i] = 1;
    }
    m->nominal = (pp_nominal){.count = h->count,
                              .name = h->name,
                              .x = h->nominal_x,
                              .y = h->nominal_y,
                              .kind = kind,
                              .file = "holes.csv"};
    m->readings = (pp_readings){.count = h->count, .round = round};
    m->measures = (pp_measures){.nominal = &m->nominal,
                                .readings = &m->readings,
                                .tube_count = h->count,
                                .faces = {true, false},
                                .bore_count = h->count,
                                .bores = bores,
                                .bore_of = {bore_of, none},
                                .plugged = plugged,
                                .measured = h->count,
                                .extra_first = h->count,
                                .hole_of_row = hole_of_row};
    return PP_OK;
}

static pp_status make_up(const pp_report_holes *h, pp_arena *arena, made_up *m, pp_error *error)
{
    bool ordered = h->count > 0, commanded = h->count > 0;
    PP_TRY(make_bores(h, arena, m, error));
    for (size_t i = 0; i < h->count; i++) {
        ordered &= pp_given(h->order[i]);
        commanded &= pp_given(h->commanded_x[i]);
    }
    if (ordered) m->readings.order = h->order;
    if (commanded) m->nominal.commanded_x = h->commanded_x, m->nominal.commanded_y = h->commanded_y;
    return PP_OK;
}

static pp_status fail_plate(const pp_drilled_plate *p, pp_error *error, const char *what)
{
    return pp_fail_at(error, PP_EINPUT, p->report.folder, 0, 0, "%s", what);
}

static void take_terms(const pp_diagnosis *d, pp_drilled_plate *p)
{
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        p->term[k] = (pp_drilled_term){NAN, NAN, PP_TERM_NOT_TESTED};
    p->lost_motion[0] = p->lost_motion[1] = NAN;
    for (size_t i = 0; i < d->term_count; i++) {
        const pp_term *t = &d->terms[i];
        if (t->kind < (pp_term_kind)PP_STATIC_TERMS)
            p->term[t->kind] = (pp_drilled_term){t->value, t->standard_error, t->state};
        if (t->state == PP_TERM_FOUND && t->kind == PP_TERM_LOST_MOTION_X)
            p->lost_motion[0] = t->value;
        if (t->state == PP_TERM_FOUND && t->kind == PP_TERM_LOST_MOTION_Y)
            p->lost_motion[1] = t->value;
    }
    for (size_t i = 0; i < d->misdrilled_count; i++) p->good[d->misdrilled[i]] = false;
}

/* The part of the found terms of the drilling order (lost motion, drift, growth). */
static pp_status take_order_out(const made_up *m, const pp_diagnosis *d, pp_arena *arena,
                                pp_drilled_plate *p, pp_error *error)
{
    pp_error_field f;
    double *vx, *vy;
    PP_TRY(pp_error_field_build(&m->measures, arena, &f, error));
    PP_TAKE(vx, arena, f.count);
    PP_TAKE(vy, arena, f.count);
    for (size_t t = 0; t < d->term_count; t++) {
        const pp_term *term = &d->terms[t];
        bool of_order = term->kind >= PP_TERM_LOST_MOTION_X && term->kind < PP_TERM_LEAN;
        if (!of_order || term->state != PP_TERM_FOUND) continue;
        pp_error_field_vectors(&f, (pp_field_kind)(PP_FIELD_FIRST_TERM + (int)term->kind), 0,
                               f.count, vx, vy);
        for (size_t i = 0; i < f.count; i++) {
            p->rx[f.hole[i]] -= term->value * vx[i];
            p->ry[f.hole[i]] -= term->value * vy[i];
        }
    }
    return PP_OK;
}

static pp_status diagnose(double limit, int threads, pp_memory *memory, pp_drilled_plate *p,
                          pp_error *error)
{
    made_up m;
    pp_diagnosis d;
    const pp_cause_options options = {.units = PP_MM, .expansion = NAN, .thickness = NAN};
    PP_TRY(make_up(&p->holes, &memory->keep, &m, error));
    PP_TRY(pp_diagnose(&options, &m.measures, pp_cause_weight_of(limit, &m.measures), threads,
                       memory, &d, error));
    if (!d.valid) return fail_plate(p, error, d.why_not);
    take_terms(&d, p);
    for (size_t i = 0; i < p->count; i++) p->rx[i] = p->ex[i], p->ry[i] = p->ey[i];
    return take_order_out(&m, &d, &memory->scratch, p, error);
}

/* ---- its fields ---- */

static pp_status take_fields(pp_arena *keep, pp_drilled_plate *p, pp_error *error)
{
    const pp_report_holes *h = &p->holes;
    PP_TAKE(p->good, keep, h->count);
    PP_TAKE(p->ex, keep, h->count);
    PP_TAKE(p->ey, keep, h->count);
    PP_TAKE(p->rx, keep, h->count);
    PP_TAKE(p->ry, keep, h->count);
    for (size_t i = 0; i < h->count; i++) {
        bool own = !isnan(h->commanded_x[i]);
        p->good[i] = true;
        p->ex[i] = h->x[i] - (own ? h->commanded_x[i] : h->nominal_x[i]);
        p->ey[i] = h->y[i] - (own ? h->commanded_y[i] : h->nominal_y[i]);
    }
    p->count = h->count;
    return PP_OK;
}

static double mean_square(const double *x, const double *y, const bool *good, size_t count,
                          double *of_mean)
{
    double n = 0, sum = 0, square = 0;
    for (size_t i = 0; i < count; i++) {
        double e = x[i] * x[i] + y[i] * y[i];
        if (good[i]) n++, sum += e, square += e * e;
    }
    double mean = sum / n;
    if (of_mean) *of_mean = fmax(0, square / n - mean * mean) / n;
    return mean;
}

/* The least-squares equations of the tested terms over the good holes; a term without a field of
 * its own stays at nought. */
typedef struct plain_fit {
    double g[PP_STATIC_TERMS * PP_STATIC_TERMS], right[PP_STATIC_TERMS];
    int term[PP_STATIC_TERMS];
    size_t n;
} plain_fit;

static double good_product(const pp_drilled_plate *p, const double *ax, const double *ay,
                           const double *bx, const double *by)
{
    double sum = 0;
    for (size_t i = 0; i < p->count; i++)
        if (p->good[i]) sum += ax[i] * bx[i] + ay[i] * by[i];
    return sum;
}

static plain_fit set_up_plain_fit(const pp_drilled_plate *p)
{
    static const double HOLD =
        1e-12; /* of two terms that look alike: the equations stay solvable */
    plain_fit f = {.n = 0};
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        if (!isnan(p->term[k].value) && good_product(p, p->ax[k], p->ay[k], p->ax[k], p->ay[k]) > 0)
            f.term[f.n++] = k;
    for (size_t a = 0; a < f.n; a++) {
        int k = f.term[a];
        f.right[a] = good_product(p, p->ax[k], p->ay[k], p->ex, p->ey);
        for (size_t b = 0; b < f.n; b++) {
            int j = f.term[b];
            f.g[a * f.n + b] = good_product(p, p->ax[k], p->ay[k], p->ax[j], p->ay[j]);
        }
        f.g[a * f.n + a] *= 1 + HOLD;
    }
    return f;
}

/* Terms by least squares, the rest, and what the scatter in it does to each term. Fields without
 * shift and turn. */
static pp_status fit_plainly(pp_memory *memory, pp_drilled_plate *p, pp_error *error)
{
    double *left_x, *left_y;
    plain_fit f = set_up_plain_fit(p);
    PP_TAKE(left_x, &memory->scratch, p->count);
    PP_TAKE(left_y, &memory->scratch, p->count);
    memcpy(left_x, p->ex, p->count * sizeof *left_x);
    memcpy(left_y, p->ey, p->count * sizeof *left_y);
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        p->plain[k] = p->plain_error[k] = isnan(p->term[k].value) ? NAN : 0;
    if (f.n) {
        PP_TRY(pp_cholesky_factor(f.n, f.g, f.n, error));
        PP_TRY(pp_cholesky_solve(f.n, f.g, f.n, 1, f.right, f.n, error));
    }
    for (size_t a = 0; a < f.n; a++) {
        int k = f.term[a];
        p->plain[k] = f.right[a];
        for (size_t i = 0; i < p->count; i++)
            left_x[i] -= f.right[a] * p->ax[k][i], left_y[i] -= f.right[a] * p->ay[k][i];
    }
    p->rest = mean_square(left_x, left_y, p->good, p->count, &p->rest_variance);
    for (size_t a = 0; a < f.n; a++) {
        double unit[PP_STATIC_TERMS] = {0};
        unit[a] = 1;
        PP_TRY(pp_cholesky_solve(f.n, f.g, f.n, 1, unit, f.n, error));
        p->plain_error[f.term[a]] = sqrt(0.5 * p->rest * unit[a]);
    }
    return PP_OK;
}

/* Everything without shift and turn, as the best fit over the good holes has it. */
static pp_status settle(pp_memory *memory, pp_drilled_plate *p, pp_error *error)
{
    const double *x = p->holes.nominal_x, *y = p->holes.nominal_y;
    PP_TRY(pp_static_fields(x, y, p->count, &memory->keep, p->ax, p->ay, &p->radius, error));
    pp_take_rigid_out(x, y, p->good, p->count, p->ex, p->ey);
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        double value = isnan(p->term[k].value) ? 0 : p->term[k].value;
        pp_take_rigid_out(x, y, p->good, p->count, p->ax[k], p->ay[k]);
        for (size_t i = 0; i < p->count; i++)
            p->rx[i] -= value * p->ax[k][i], p->ry[i] -= value * p->ay[k][i];
    }
    pp_take_rigid_out(x, y, p->good, p->count, p->rx, p->ry);
    for (size_t i = 0; i < p->count; i++) {
        p->good_count += p->good[i];
        if (!p->good[i]) p->rx[i] = p->ry[i] = 0;
    }
    p->mean_square = mean_square(p->ex, p->ey, p->good, p->count, NULL);
    p->rms = sqrt(p->mean_square);
    return fit_plainly(memory, p, error);
}

static pp_status make(double limit, int threads, pp_memory *memory, pp_drilled_plate *p,
                      pp_error *error)
{
    if (!p->report.machine)
        return fail_plate(p, error,
                          "does not say which machine drilled the plate; give [machine] name and "
                          "inspect again");
    if (p->holes.count < PP_CORRECTION_HOLES_MIN)
        return fail_plate(p, error,
                          "has fewer than 60 tube holes measured on the entry face: too few to "
                          "correct a machine by");
    PP_TRY(take_fields(&memory->keep, p, error));
    PP_TRY(diagnose(limit, threads, memory, p, error));
    return settle(memory, p, error);
}

pp_status pp_drilled_plate_make(const pp_kept_report *report, const pp_report_holes *holes,
                                double limit, int threads, pp_memory *memory,
                                pp_drilled_plate *plate, pp_error *error)
{
    pp_drilled_plate p = {.report = *report, .holes = *holes};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = make(limit, threads, memory, &p, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *plate = p;
    return status;
}

pp_status pp_drilled_plate_read(const char *folder, double limit, int threads, pp_memory *memory,
                                pp_drilled_plate *plate, pp_error *error)
{
    pp_kept_report report;
    pp_report_holes holes;
    PP_TRY(pp_kept_report_read(folder, false, threads, memory, &report, error));
    PP_TRY(pp_report_holes_read(&report, threads, memory, &holes, error));
    return pp_drilled_plate_make(&report, &holes, limit, threads, memory, plate, error);
}
