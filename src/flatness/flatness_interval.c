#include "flatness/flatness_interval.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "flatness/field_zone.h"
#include "flatness/interval_noise.h"
#include "flatness/neighbour_means.h"
#include "flatness/noise_range.h"
#include "flatness/smoothing.h"
#include "flatness/surface_system.h"
#include "linalg/linalg.h"

enum {
    POINTS_MOST = 65536, /* looked at one by one: of more, every k-th */
    FEW = 4096,          /* over which the zones of drawn surfaces are found */
    BIAS_DRAWS = 100,
    BIAS_DRAWS_MANY = 20, /* of more points than FEW */
    SPARE_LEAST = 50,     /* points beyond the degrees of freedom, to see that u is overstated */
    REFUTING_LEAST = 30,  /* the same, to see that it is understated */
    PARTS = 64
};
static const double one_sided = 1.645; /* 5 % of a normal */
static const double risk = 0.05;
static const double overstated = 0.8;     /* noise found over that stated */
static const double pitches_least = 4;    /* of the survey in a feature */
static const double features_least = 4;   /* in the shorter side */
static const double feature_share = 0.05; /* of the shorter side, where none is stated */
static const double feature_kept =
    0.75; /* of the smallest one, full width: room for its sharpness */
static const double feature_factor =
    0.11;                         /* mu with which a wave of that length keeps its height */
static const double twicings = 2; /* of what smoothing twice takes off once more, added for bias */

typedef struct finding {
    const pp_survey *survey;
    const pp_surface *surface;
    const pp_interval_options *options;
    pp_memory *memory;
    size_t count; /* points looked at, plate frame */
    double *x, *y, *z, *fitted, *residual;
    pp_surface_system system;
    double mu, degrees_of_freedom, sigma; /* of the fit in force */
    const double *factor;                 /* of A + mu K */
    double *solution;                     /* heights above the base plane */
    pp_zone_weights fit_zone;             /* W(s) */
    pp_flatness_interval out;
} finding;

/* ---- what the readings say ---- */

static void by_readings(finding *f, const pp_least_squares *least_squares,
                        const pp_minimum_zone *minimum_zone)
{
    const pp_survey *s = f->survey;
    pp_points points = {s->count, s->x, s->y, s->z};
    pp_zone_weights zone =
        pp_zone_weights_of(&points, least_squares, minimum_zone, f->options->least_squares);
    pp_flatness_interval *o = &f->out;
    o->noise_zone = o->u_used * pp_normal_range_quantile((double)s->count, 1 - risk);
    o->readings_high = zone.width + one_sided * pp_zone_spread(&zone) * o->u_used;
    o->readings_low = zone.width - o->noise_zone;
    o->low = o->readings_low, o->high = o->readings_high;
    o->estimate = zone.width;
    o->bias = NAN;
}

/* ---- the fit in force ---- */

static pp_status list_points(finding *f, pp_error *error)
{
    const pp_survey *s = f->survey;
    size_t step = (s->count + POINTS_MOST - 1) / POINTS_MOST, room = s->count / step + 1;
    PP_TAKE(f->x, &f->memory->scratch, room);
    PP_TAKE(f->y, &f->memory->scratch, room);
    PP_TAKE(f->z, &f->memory->scratch, room);
    PP_TAKE(f->fitted, &f->memory->scratch, room);
    PP_TAKE(f->residual, &f->memory->scratch, room);
    for (size_t k = 0; k < s->count; k += step) {
        size_t n = f->count++;
        pp_survey_to_plate(&s->frame, s->x[k], s->y[k], s->z[k], &f->x[n], &f->y[n], &f->z[n]);
    }
    return PP_OK;
}

static double base_height(const finding *f, double x, double y)
{
    const pp_base_plane *b = &f->system.base;
    const pp_mesh *mesh = f->system.mesh;
    return b->height + b->slope_x * (x - mesh->centre_x) + b->slope_y * (y - mesh->centre_y);
}

/* Heights of a solution over the points, above the base plane. */
static void heights_of(const finding *f, const double *solution, double *height)
{
    for (size_t k = 0; k < f->count; k++) {
        pp_mesh_row row;
        pp_surface_row(f->system.mesh, f->x[k], f->y[k], &row);
        height[k] = pp_mesh_value(&row, solution);
    }
}

static pp_status zone_of(const finding *f, const double *height, pp_zone_weights *zone,
                         pp_error *error)
{
    pp_points points = {f->count, f->x, f->y, height};
    return pp_zone_find(&points, f->options->least_squares, f->options->threads, f->memory, zone,
                        error);
}

static pp_status solve(const finding *f, double mu, const double *load, double *factor,
                       double *solution, pp_error *error)
{
    PP_TRY(pp_surface_system_factor(&f->system, mu, factor, error));
    memcpy(solution, load, f->system.n * sizeof *solution);
    return pp_band_solve(f->system.n, f->system.half_bandwidth, factor, 1, solution, error);
}

/* With the mu of the surface its own factor serves. */
static pp_status solve_fit(finding *f, pp_error *error)
{
    const pp_surface_system *s = &f->system;
    f->factor = f->surface->factor;
    if (s->normal == f->surface->normal && f->mu == f->surface->smoothing) {
        memcpy(f->solution, s->load, s->n * sizeof *f->solution);
        return pp_band_solve(s->n, s->half_bandwidth, f->factor, 1, f->solution, error);
    }
    double *factor;
    PP_TAKE(factor, &f->memory->scratch, s->n * (s->half_bandwidth + 1));
    f->factor = factor;
    return solve(f, f->mu, s->load, factor, f->solution, error);
}

/* An overstated uncertainty must not smooth the plate away: then mu as if it were unknown. */
static pp_status choose_fit(finding *f, pp_error *error)
{
    const pp_mesh *mesh = f->surface->mesh;
    pp_surface_system *s = &f->system;
    double count = (double)s->count, shorter = fmin(mesh->width, mesh->height);
    f->mu = f->surface->smoothing;
    f->degrees_of_freedom = f->surface->degrees_of_freedom;
    if (f->surface->noise < overstated * f->out.u && count - f->degrees_of_freedom > SPARE_LEAST) {
        pp_smoothing_problem problem = {.n = s->n,
                                        .half_bandwidth = s->half_bandwidth,
                                        .normal = s->normal,
                                        .stiffness = s->stiffness,
                                        .load = s->load,
                                        .zz = s->zz,
                                        .weight = s->weight,
                                        .unit = count * pow(shorter, 4) / mesh->area,
                                        .sigma = NAN,
                                        .near = NAN,
                                        .threads = f->options->threads};
        pp_smoothing_problem guide;
        if (s->guide) {
            guide = *s->guide;
            guide.sigma = NAN;
            problem.guide = &guide;
        }
        pp_smoothing chosen;
        PP_TRY(pp_smoothing_solve(&problem, f->memory, f->solution, &chosen, error));
        f->mu = chosen.mu;
        f->degrees_of_freedom = chosen.degrees_of_freedom;
    }
    PP_TRY(solve_fit(f, error));
    double squares = 0;
    heights_of(f, f->solution, f->fitted);
    for (size_t k = 0; k < f->count; k++) {
        f->residual[k] = f->z[k] - base_height(f, f->x[k], f->y[k]) - f->fitted[k];
        squares += f->residual[k] * f->residual[k];
    }
    double spare = fmax(1, count - f->degrees_of_freedom);
    f->sigma = sqrt(squares / (double)f->count * count / spare);
    return PP_OK;
}

/* ---- may the surface speak? ---- */

/* Why not; NULL: it may. Raises the uncertainty used where the readings refute the one stated. */
static pp_status object(finding *f, const char **why, pp_error *error)
{
    const pp_mesh *mesh = f->surface->mesh;
    double shorter = fmin(mesh->width, mesh->height), count = (double)f->system.count;
    double spare = count - f->degrees_of_freedom, u = f->out.u, largest;
    const pp_surface_check *check = &f->surface->check;
    bool refuted = spare >= REFUTING_LEAST &&
                   f->sigma * f->sigma * spare > u * u * pp_chi_squared_upper_one_percent(spare);
    if (refuted || (check->valid && check->sharper)) {
        /* a fit that believes the uncertainty follows the noise: points left out tell more */
        f->out.u_used = fmax(u, fmax(f->sigma, check->valid ? check->leave_one_out : 0));
        *why = "the readings scatter more about the surface than their uncertainty allows";
        return PP_OK;
    }
    if (pitches_least * f->surface->pitch > shorter / features_least) {
        *why = "too few points to tell shape from noise";
        return PP_OK;
    }
    if (f->out.smallest_feature < pitches_least * f->surface->pitch * (1 - 1e-9)) {
        *why = "smallest_feature is less than four pitches of the survey";
        return PP_OK;
    }
    PP_TRY(pp_neighbour_means_largest(f->count, f->x, f->y, f->residual, mesh->area, f->memory,
                                      &largest, error));
    if (largest > u * pp_normal_quantile(1 - risk / (6 * (double)f->count)))
        *why = "some points leave the surface";
    return PP_OK;
}

/* ---- what the surface says ---- */

/* Of more points than are looked at: the range of the surface over all of them, between the planes
 * found for those, is no less than its zone. */
typedef struct ranging {
    const finding *f;
    const double *solution;
    pp_plane plane;
    double low[PARTS], high[PARTS];
} ranging;

static pp_status range_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    ranging *r = context;
    const pp_survey *s = r->f->survey;
    const double *n = r->plane.normal, *p = r->plane.point;
    double low = INFINITY, high = -INFINITY;
    size_t end = pp_part_begin(s->count, PARTS, part + 1);
    for (size_t k = pp_part_begin(s->count, PARTS, part); k < end; k++) {
        double x, y, z;
        pp_mesh_row row;
        pp_survey_to_plate(&s->frame, s->x[k], s->y[k], s->z[k], &x, &y, &z);
        pp_surface_row(r->f->system.mesh, x, y, &row);
        z = n[0] * (x - p[0]) + n[1] * (y - p[1]) +
            n[2] * (pp_mesh_value(&row, r->solution) - p[2]);
        low = fmin(low, z), high = fmax(high, z);
    }
    r->low[part] = low, r->high[part] = high;
    return PP_OK;
}

static pp_status width_over_all(const finding *f, const double *solution,
                                const pp_zone_weights *zone, double *width, pp_error *error)
{
    *width = zone->width;
    if (f->count == f->survey->count) return PP_OK;
    ranging r = {.f = f, .solution = solution, .plane = zone->plane};
    PP_TRY(pp_parallel(f->options->threads, PARTS, range_part, &r, error));
    double low = INFINITY, high = -INFINITY;
    for (int part = 0; part < PARTS; part++)
        low = fmin(low, r.low[part]), high = fmax(high, r.high[part]);
    *width = fmax(*width, high - low);
    return PP_OK;
}

/* Standard deviation of the zone's width about the surface, by the points it hangs on. */
static pp_status width_error(const finding *f, const pp_zone_weights *zone, const double *factor,
                             double *work, double *error_of, pp_error *error)
{
    size_t n = f->system.n;
    double *load = work, sum = 0;
    memset(work, 0, 2 * n * sizeof *work);
    for (int i = 0; i < zone->count; i++) {
        pp_mesh_row row;
        pp_surface_row(f->system.mesh, f->x[zone->index[i]], f->y[zone->index[i]], &row);
        for (int a = 0; a < 16; a++) load[row.dof[a]] += zone->weight[i] * row.value[a];
    }
    memcpy(work + n, load, n * sizeof *work);
    PP_TRY(pp_band_solve(n, f->system.half_bandwidth, factor, 1, work + n, error));
    for (size_t d = 0; d < n; d++) sum += load[d] * work[n + d];
    *error_of = f->out.u_used * sqrt(fmax(0, sum));
    return PP_OK;
}

/* A second, sharper fit, with room for the smallest feature; what smoothing twice takes off once
 * more pays for what it shaves off a peak. */
static pp_status surface_high(finding *f, double *high, pp_error *error)
{
    const pp_mesh *mesh = f->surface->mesh;
    const pp_surface_system *s = &f->system;
    double wave = feature_kept * f->out.smallest_feature / PP_PI, error_of, width;
    double mu = fmin(f->mu, feature_factor * (double)s->count / mesh->area * pow(wave, 4));
    double *factor, *sharp, *twice, *height, *work;
    pp_zone_weights zone, again;
    PP_TAKE(factor, &f->memory->scratch, s->n * (s->half_bandwidth + 1));
    PP_TAKE(sharp, &f->memory->scratch, s->n);
    PP_TAKE(twice, &f->memory->scratch, s->n);
    PP_TAKE(work, &f->memory->scratch, 2 * s->n);
    PP_TAKE(height, &f->memory->scratch, f->count);
    PP_TRY(solve(f, mu, s->load, factor, sharp, error));
    heights_of(f, sharp, height);
    PP_TRY(zone_of(f, height, &zone, error));
    pp_band_multiply(s->n, s->half_bandwidth, s->normal, sharp, work);
    memcpy(twice, work, s->n * sizeof *twice);
    PP_TRY(pp_band_solve(s->n, s->half_bandwidth, factor, 1, twice, error));
    heights_of(f, twice, height);
    PP_TRY(zone_of(f, height, &again, error));
    PP_TRY(width_over_all(f, sharp, &zone, &width, error));
    PP_TRY(width_error(f, &zone, factor, work, &error_of, error));
    *high = width + twicings * fmax(0, zone.width - again.width) + one_sided * error_of;
    return PP_OK;
}

/* The points over which drawn surfaces are looked at. */
static pp_status take_few(const finding *f, pp_noise_request *few, pp_error *error)
{
    size_t step = (f->count + FEW - 1) / FEW;
    double *x, *y;
    few->count = (f->count + step - 1) / step;
    PP_TAKE(x, &f->memory->scratch, few->count);
    PP_TAKE(y, &f->memory->scratch, few->count);
    for (size_t k = 0; k < few->count; k++) x[k] = f->x[k * step], y[k] = f->y[k * step];
    few->x = x;
    few->y = y;
    return PP_OK;
}

static pp_status by_surface(finding *f, pp_error *error)
{
    pp_flatness_interval *o = &f->out;
    pp_noise_request few = {
        .u = o->u_used, .least_squares = f->options->least_squares, .threads = f->options->threads};
    double high, quantile;
    PP_TRY(zone_of(f, f->fitted, &f->fit_zone, error));
    PP_TRY(surface_high(f, &high, error));
    PP_TRY(take_few(f, &few, error));
    PP_TRY(pp_noise_surface_quantile(&f->system, f->factor, &few, f->memory, &quantile, error));
    if (isnan(quantile)) {
        o->why = "the points do not determine the surface everywhere";
        return PP_OK;
    }
    o->by_surface = true;
    o->high = fmin(o->readings_high, high);
    o->low = fmax(o->readings_low, f->fit_zone.width - quantile);
    double zone = o->estimate; /* of the readings, so far */
    o->estimate = f->fit_zone.width;
    if (f->count < f->survey->count) return PP_OK;
    pp_noise_request all = few;
    all.count = f->count;
    all.x = f->x;
    all.y = f->y;
    all.u = fmin(o->u_used, f->sigma);
    PP_TRY(pp_noise_zone_bias(&all, f->fitted, f->fit_zone.width,
                              f->count > FEW ? BIAS_DRAWS_MANY : BIAS_DRAWS, &o->bias, error));
    o->estimate = zone - o->bias;
    return PP_OK;
}

static pp_status try_surface(finding *f, pp_error *error)
{
    const pp_surface *s = f->surface;
    pp_flatness_interval *o = &f->out;
    if (!s) {
        o->why = "no outline was given, so there is no surface";
        return PP_OK;
    }
    if (!(o->smallest_feature > 0)) {
        o->why = "smallest_feature is 0";
        return PP_OK;
    }
    if (s->outlier_count || s->outside_count) {
        o->why =
            s->outlier_count ? "some points leave the surface" : "some points lie off the plate";
        return PP_OK;
    }
    PP_TRY(
        pp_surface_system_find(f->survey, s, 0, f->options->threads, f->memory, &f->system, error));
    PP_TAKE(f->solution, &f->memory->scratch, f->system.n);
    PP_TRY(list_points(f, error));
    PP_TRY(choose_fit(f, error));
    PP_TRY(object(f, &o->why, error));
    return o->why ? PP_OK : by_surface(f, error);
}

static double feature_of(const pp_interval_options *options, const pp_surface *surface)
{
    if (!isnan(options->smallest_feature) || !surface) return options->smallest_feature;
    return fmax(pitches_least * surface->pitch,
                feature_share * fmin(surface->mesh->width, surface->mesh->height));
}

/* A form error common to all readings: the residuals cannot show it, nor can it average out. */
static void finish(const pp_interval_options *options, pp_flatness_interval *o)
{
    double form = isnan(options->uncertainty_form) ? 0 : options->uncertainty_form / 2;
    o->high += one_sided * form;
    o->low -= one_sided * form;
    if (!(o->low > o->u_used)) o->low = 0;
    o->estimate = fmin(o->high, fmax(o->low, o->estimate));
    o->valid = true;
}

pp_status pp_flatness_interval_find(const pp_survey *survey, const pp_least_squares *least_squares,
                                    const pp_minimum_zone *minimum_zone, const pp_surface *surface,
                                    const pp_interval_options *options, pp_memory *memory,
                                    pp_flatness_interval *interval, pp_error *error)
{
    finding f = {.survey = survey, .surface = surface, .options = options, .memory = memory};
    if (!(options->uncertainty > 0)) {
        *interval = f.out;
        return PP_OK;
    }
    pp_mark mark = pp_arena_mark(&memory->scratch);
    f.out.u = f.out.u_used = options->uncertainty / 2;
    f.out.smallest_feature = feature_of(options, surface);
    by_readings(&f, least_squares, minimum_zone);
    PP_TRY(try_surface(&f, error));
    if (f.out.u_used > f.out.u) by_readings(&f, least_squares, minimum_zone);
    finish(options, &f.out);
    pp_arena_release(&memory->scratch, mark);
    *interval = f.out;
    return PP_OK;
}
