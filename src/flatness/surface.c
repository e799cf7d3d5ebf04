#include "flatness/surface.h"

#include <math.h>
#include <string.h>

#include "flatness/coarse_system.h"
#include "flatness/coverage.h"
#include "flatness/moments.h"
#include "flatness/smoothing.h"
#include "flatness/surface_check.h"
#include "flatness/surface_system.h"
#include "flatness/wild_points.h"

enum {
    PASSES_MAX = 3,     /* of re-weighting */
    ROBUST_POINTS = 20, /* fewer points tell no outlier from shape */
    ROBUST_SPARE = 10,  /* points beyond the degrees of freedom of the fit */
    LEAVING_OUT_MAX = 4 /* fits, each without the outliers of the one before */
};
static const double normal_median = 1.4826; /* standard deviation over median of |e|, Gaussian */
static const double outlier_least = 5;      /* standard deviations */
static const double outlier_chance = 0.05;  /* of one honest point beyond, per survey */
static const double scale_least = 1e-6;     /* mm: round-off of coordinates far from the origin */
static const double scale_share = 2e-4;   /* of the rms height: the smoothing's own bias at a rim */
static const double line_ratio = 1e-4;    /* spread of the points across over along: a line */
static const double settled = 0.01;       /* change of the surface over the scale: stop */
static const double refuting_ratio = 1.5; /* scale over the one stated */
static const double unreliable_share = 0.9; /* of the points, used up by the shape */
static const double seen_reach = 2;         /* survey pitches */
static const double FAR_SHARE = 0.1;        /* of the plate's shorter side */

/* The equations of the fit, kept with the surface */
typedef struct equations {
    double *normal, *stiffness, *load, *factor;
    pp_surface_system *system;
    pp_coarse_system coarse;
    pp_smoothing_problem *guide; /* the same on larger cells */
} equations;

typedef struct fit {
    pp_survey_pass pass;
    const equations *own;
    pp_survey_moments plain, weighted;
    pp_smoothing_problem problem;
    double *solution, *before;
    pp_cell_polynomial *cells;
    pp_smoothing smoothing;
    pp_residual_sums residuals;
    double known;  /* sigma as stated; NaN: not stated */
    double robust; /* standard deviation of a height, from the median residual */
    double scale;  /* the same, not below what was stated */
    bool reweighted;
} fit;

static double known_sigma(const pp_surface_options *options)
{
    return options->uncertainty > 0 ? options->uncertainty / 2 : NAN;
}

static pp_status take_equations(const pp_mesh *mesh, pp_memory *memory, equations *e,
                                pp_error *error)
{
    size_t values = mesh->dofs * (mesh->half_bandwidth + 1);
    PP_TAKE(e->normal, &memory->keep, values);
    PP_TAKE(e->stiffness, &memory->keep, values);
    PP_TAKE(e->factor, &memory->keep, values);
    PP_TAKE(e->load, &memory->keep, mesh->dofs);
    PP_TAKE(e->system, &memory->keep, 1);
    PP_TAKE(e->guide, &memory->keep, 1);
    PP_TRY(pp_surface_stiffness(mesh, memory, e->stiffness, error));
    return pp_coarse_system_make(mesh, e->stiffness, memory, &e->coarse, error);
}

static pp_status prepare(fit *f, const pp_surface_options *options, pp_memory *memory,
                         pp_error *error)
{
    const pp_mesh *mesh = f->pass.mesh;
    size_t cells = mesh->nx * mesh->ny;
    PP_TAKE(f->solution, &memory->scratch, mesh->dofs);
    PP_TAKE(f->before, &memory->scratch, mesh->dofs);
    PP_TAKE(f->cells, &memory->scratch, cells);
    PP_TAKE(f->weighted.cells, &memory->scratch, cells);
    double shorter = fmin(mesh->width, mesh->height);
    f->problem =
        (pp_smoothing_problem){.n = mesh->dofs,
                               .half_bandwidth = mesh->half_bandwidth,
                               .normal = f->own->normal,
                               .stiffness = f->own->stiffness,
                               .load = f->own->load,
                               .unit = (double)f->plain.count * pow(shorter, 4) / mesh->area,
                               .sigma = known_sigma(options),
                               .near = NAN,
                               .threads = options->threads,
                               .factor = f->own->factor};
    return PP_OK;
}

/* The first choice of smoothing is guided by larger cells; later ones look near it. */
static void ask_larger_cells(fit *f)
{
    pp_smoothing_problem *guide = f->own->guide;
    const pp_coarse_system *c = &f->own->coarse;
    if (!isnan(f->problem.near)) return;
    pp_coarse_system_load(f->pass.mesh, f->own->normal, f->own->load, c);
    *guide = f->problem;
    guide->n = c->n, guide->half_bandwidth = c->half_bandwidth;
    guide->normal = c->normal, guide->stiffness = c->stiffness, guide->load = c->load;
    guide->factor = NULL;
    f->problem.guide = guide;
}

/* Solve with the moments given, then look at what is left. */
static pp_status solve(fit *f, const pp_survey_moments *moments, pp_memory *memory, pp_error *error)
{
    const pp_mesh *mesh = f->pass.mesh;
    const equations *own = f->own;
    memset(own->normal, 0, mesh->dofs * (mesh->half_bandwidth + 1) * sizeof *own->normal);
    memset(own->load, 0, mesh->dofs * sizeof *own->load);
    pp_survey_normal_equations(moments, mesh, own->normal, own->load);
    f->problem.zz = moments->zz;
    f->problem.weight = moments->weight;
    ask_larger_cells(f);
    PP_TRY(pp_smoothing_solve(&f->problem, memory, f->solution, &f->smoothing, error));
    f->problem.near = f->smoothing.mu;
    pp_cell_polynomials(mesh, f->solution, f->cells);
    PP_TRY(pp_survey_residuals(&f->pass, f->cells, memory, &f->residuals, error));

    double count = (double)f->plain.count, spare = count - f->smoothing.degrees_of_freedom;
    double least = fmax(scale_least, scale_share * sqrt(f->plain.zz / count));
    f->robust = fmax(normal_median * f->residuals.median * sqrt(count / fmax(spare, 1)), least);
    f->scale = f->known > f->robust ? f->known : f->robust;
    return PP_OK;
}

/* |e| beyond which a point is an outlier: even one honest point so far off is unlikely. */
static double outlier_threshold(const fit *f)
{
    double k = outlier_least, count = (double)f->plain.count;
    while (count * erfc(k / sqrt(2)) > outlier_chance) k += 0.01;
    return k * f->scale;
}

static bool outliers_possible(const fit *f)
{
    double count = (double)f->plain.count;
    return count >= ROBUST_POINTS && count >= f->smoothing.degrees_of_freedom + ROBUST_SPARE &&
           f->residuals.largest > outlier_threshold(f);
}

static double largest_change(const fit *f)
{
    double largest = 0;
    for (size_t d = 0; d < f->pass.mesh->dofs; d += 4)
        largest = fmax(largest, fabs(f->solution[d] - f->before[d]));
    return largest;
}

static bool robust_refutes(const fit *f) { return f->robust > refuting_ratio * f->known; }

/* Outliers inflate what is left over, so from here on sigma is the one stated or, if the bulk of
 * the residuals refutes it or none was, the robust one. */
static pp_status reweight(fit *f, pp_memory *memory, pp_error *error)
{
    for (int pass = 0; pass < PASSES_MAX && outliers_possible(f); pass++) {
        f->reweighted = f->problem.sigma_trusted = true;
        f->problem.sigma = isnan(f->known) || robust_refutes(f) ? f->robust : f->known;
        memcpy(f->before, f->solution, f->pass.mesh->dofs * sizeof *f->before);
        PP_TRY(pp_survey_gather_weighted(&f->pass, f->cells, f->scale, &f->plain, memory,
                                         &f->weighted, error));
        PP_TRY(solve(f, &f->weighted, memory, error));
        if (largest_change(f) < settled * f->scale) break;
    }
    return PP_OK;
}

/* The field in the plate frame: the solution on the base plane. */
static void add_base(const fit *f, double *field)
{
    const pp_mesh *mesh = f->pass.mesh;
    const pp_base_plane *base = &f->pass.base;
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            size_t d = 4 * pp_mesh_node(mesh, i, j);
            double x = mesh->x0 + (double)i * mesh->hx - mesh->centre_x;
            double y = mesh->y0 + (double)j * mesh->hy - mesh->centre_y;
            field[d] = base->height + base->slope_x * x + base->slope_y * y + f->solution[d];
            field[d + 1] = mesh->hx * base->slope_x + f->solution[d + 1];
            field[d + 2] = mesh->hy * base->slope_y + f->solution[d + 2];
            field[d + 3] = f->solution[d + 3];
        }
}

/* The equations as they were solved, unless points are weighted in them. */
static const pp_surface_system *keep_system(const fit *f)
{
    const pp_smoothing_problem *p = &f->problem;
    if (f->reweighted) return NULL;
    *f->own->system = (pp_surface_system){.mesh = f->pass.mesh,
                                          .base = f->pass.base,
                                          .n = p->n,
                                          .half_bandwidth = p->half_bandwidth,
                                          .normal = f->own->normal,
                                          .stiffness = f->own->stiffness,
                                          .load = f->own->load,
                                          .zz = p->zz,
                                          .weight = p->weight,
                                          .count = f->plain.count,
                                          .guide = f->problem.guide};
    return f->own->system;
}

static pp_status fill(const fit *f, pp_memory *memory, pp_surface *s, pp_error *error)
{
    const pp_mesh *mesh = f->pass.mesh;
    double count = (double)f->plain.count;
    double *field;
    PP_TAKE(field, &memory->keep, mesh->dofs);
    add_base(f, field);
    s->mesh = mesh;
    s->field = field;
    s->rms = sqrt(f->residuals.squares / count);
    s->noise = f->reweighted ? f->robust : f->smoothing.noise;
    if (isnan(s->noise)) s->noise = isnan(f->known) ? 0 : f->known; /* 3 points: nothing to spare */
    s->noisier_than_stated = f->reweighted ? robust_refutes(f) : f->smoothing.sigma_refuted;
    s->degrees_of_freedom = f->smoothing.degrees_of_freedom;
    s->noise_unreliable = isnan(f->known) && s->degrees_of_freedom > unreliable_share * count;
    double used = isnan(f->known) || s->noisier_than_stated ? s->noise : f->known;
    s->standard_error_smoother = used * sqrt(s->degrees_of_freedom / count);
    s->smoothing = f->smoothing.mu;
    /* a survey quieter than stated says so itself, where it has points to spare */
    s->used_noise = s->degrees_of_freedom < count / 2 ? fmin(used, s->noise) : used;
    s->normal = f->own->normal;
    s->factor = f->own->factor;
    s->system = keep_system(f);
    s->condition = f->smoothing.condition;
    s->outside_count = f->plain.outside;
    if (outliers_possible(f))
        PP_TRY(pp_survey_far_points(&f->pass, f->cells, outlier_threshold(f), memory,
                                    &s->outlier_count, &s->outliers, error));
    s->pitch = sqrt(mesh->area / count);
    pp_unseen unseen;
    double far = FAR_SHARE * fmin(mesh->width, mesh->height);
    PP_TRY(pp_unseen_find(mesh, f->plain.seen, seen_reach * s->pitch, far, memory, &unseen, error));
    s->covered_share = 1 - unseen.far_share;
    s->unseen_share = unseen.share;
    s->unseen_x = unseen.x;
    s->unseen_y = unseen.y;
    s->unseen_distance = unseen.distance;
    return PP_OK;
}

/* Whether the points used lie (almost) in one line. */
static bool in_a_line(const fit *f)
{
    const pp_mesh *mesh = f->pass.mesh;
    double x = 0, y = 0, xx = 0, xy = 0, yy = 0, count = (double)f->plain.count;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            const pp_cell_moments *c = &f->plain.cells[j * mesh->nx + i];
            double hx = mesh->hx / 2, hy = mesh->hy / 2, n = c->m[0][0];
            double cx = mesh->hx * ((double)i + 0.5) - mesh->width / 2;
            double cy = mesh->hy * ((double)j + 0.5) - mesh->height / 2;
            double u = hx * c->m[1][0], v = hy * c->m[0][1];
            x += n * cx + u, y += n * cy + v;
            xx += n * cx * cx + 2 * cx * u + hx * hx * c->m[2][0];
            yy += n * cy * cy + 2 * cy * v + hy * hy * c->m[0][2];
            xy += n * cx * cy + cx * v + cy * u + hx * hy * c->m[1][1];
        }
    xx -= x * x / count, yy -= y * y / count, xy -= x * y / count;
    double middle = (xx + yy) / 2, off = hypot((xx - yy) / 2, xy);
    return !(middle - off > line_ratio * line_ratio * (middle + off));
}

static pp_status check_points(const fit *f, pp_error *error)
{
    const pp_survey *survey = f->pass.survey;
    if (f->plain.count < 3)
        return pp_fail_at(error, PP_EINPUT, survey->file, 0, 0,
                          "only %zu of the %zu survey points lie on the plate; check the unit, "
                          "survey_origin, and centre and size of the plate",
                          f->plain.count, survey->count);
    if (in_a_line(f))
        return pp_fail_at(
            error, PP_EINPUT, survey->file, 0, 0,
            "the survey points on the plate lie almost in one line; survey more of it");
    return PP_OK;
}

static pp_status fit_points(const pp_survey *survey, const pp_mesh *mesh, const equations *own,
                            const pp_surface_options *options, pp_memory *memory,
                            pp_surface *surface, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    fit f = {.known = known_sigma(options),
             .own = own,
             .pass = {.survey = survey,
                      .mesh = mesh,
                      .base = pp_survey_base_plane(survey, mesh),
                      .threads = options->threads}};
    PP_TRY(pp_survey_gather(&f.pass, memory, &f.plain, error));
    PP_TRY(check_points(&f, error));
    PP_TRY(prepare(&f, options, memory, error));
    PP_TRY(solve(&f, &f.plain, memory, error));
    PP_TRY(reweight(&f, memory, error));
    pp_surface result = {0};
    PP_TRY(fill(&f, memory, &result, error));
    pp_arena_release(&memory->scratch, mark);
    *surface = result;
    return PP_OK;
}

/* What the surface says of its own points, each left out. */
static pp_status check_fit(const pp_survey *survey, const pp_surface_options *options,
                           pp_memory *memory, pp_surface *s, pp_error *error)
{
    double known = s->noisier_than_stated ? NAN : known_sigma(options);
    PP_TRY(pp_surface_check_make(survey, s, known, s->standard_error_smoother, options->threads,
                                 memory, &s->check, error));
    s->standard_error = fmax(s->standard_error_smoother, s->check.standard_error);
    return PP_OK;
}

/* Points left out ------------------------------------------------------------------------ */

typedef struct selection {
    bool *wild, *alone, *left_out; /* [survey->count] */
    double *off;                   /* mm, of those that are wild */
    size_t *row;                   /* survey index of each point of `kept` */
    double *x, *y, *z;             /* of `kept` */
    pp_survey kept;
} selection;

static pp_status take_selection(const pp_survey *survey, pp_arena *arena, selection *s,
                                pp_error *error)
{
    size_t n = survey->count;
    PP_TAKE_ZERO(s->wild, arena, n);
    PP_TAKE_ZERO(s->alone, arena, n);
    PP_TAKE_ZERO(s->left_out, arena, n);
    PP_TAKE_ZERO(s->off, arena, n);
    PP_TAKE(s->row, arena, n);
    PP_TAKE(s->x, arena, n);
    PP_TAKE(s->y, arena, n);
    PP_TAKE(s->z, arena, n);
    s->kept = *survey;
    s->kept.row = NULL;
    s->kept.x = s->x, s->kept.y = s->y, s->kept.z = s->z;
    return PP_OK;
}

/* Leave out the wild points that stand alone; false when no more than before. */
static pp_status leave_out(const pp_survey *survey, selection *s, pp_memory *memory, bool *more,
                           pp_error *error)
{
    size_t n = 0;
    *more = false;
    PP_TRY(pp_wild_points_alone(survey, s->wild, s->off, memory, s->alone, error));
    for (size_t k = 0; k < survey->count; k++) {
        *more |= s->alone[k] && !s->left_out[k];
        s->left_out[k] |= s->alone[k];
        if (s->left_out[k]) continue;
        s->x[n] = survey->x[k], s->y[n] = survey->y[k], s->z[n] = survey->z[k];
        s->row[n++] = k;
    }
    s->kept.count = n;
    return PP_OK;
}

/* The outliers of this fit among the wild points */
static void mark_outliers(const pp_survey *survey, const pp_surface *surface, selection *s)
{
    for (size_t i = 0; i < surface->outlier_count; i++) {
        size_t k = s->row[surface->outliers[i]];
        double x, y, z;
        pp_survey_to_plate(&survey->frame, survey->x[k], survey->y[k], survey->z[k], &x, &y, &z);
        s->wild[k] = true;
        s->off[k] = z - pp_surface_height(surface, x, y);
    }
}

static pp_status list_outliers(const pp_survey *survey, const selection *s, pp_memory *memory,
                               pp_surface *surface, pp_error *error)
{
    size_t count = 0, *rows;
    bool *left_out;
    for (size_t k = 0; k < survey->count; k++) count += s->wild[k] || s->left_out[k];
    PP_TAKE(rows, &memory->keep, count);
    PP_TAKE(left_out, &memory->keep, count);
    surface->outlier_count = surface->left_out_count = 0;
    for (size_t k = 0; k < survey->count; k++) {
        if (!s->wild[k] && !s->left_out[k]) continue;
        surface->left_out_count += s->left_out[k];
        left_out[surface->outlier_count] = s->left_out[k];
        rows[surface->outlier_count++] = pp_survey_row(survey, k);
    }
    surface->outliers = rows;
    surface->left_out = left_out;
    return PP_OK;
}

static pp_status name_rows(const pp_survey *survey, pp_memory *memory, pp_surface *surface,
                           pp_error *error)
{
    size_t *rows;
    PP_TAKE(rows, &memory->keep, surface->outlier_count);
    for (size_t i = 0; i < surface->outlier_count; i++)
        rows[i] = pp_survey_row(survey, surface->outliers[i]);
    surface->outliers = rows;
    return PP_OK;
}

static pp_status fit_all(const pp_survey *survey, const pp_mesh *mesh, equations *own,
                         const pp_surface_options *options, pp_memory *memory, pp_surface *result,
                         pp_error *error)
{
    PP_TRY(fit_points(survey, mesh, own, options, memory, result, error));
    PP_TRY(check_fit(survey, options, memory, result, error));
    return name_rows(survey, memory, result, error);
}

/* Wild points left out, again and again as long as more come to light */
static pp_status fit_selected(const pp_survey *survey, const pp_mesh *mesh, equations *own,
                              const pp_surface_options *options, pp_memory *memory,
                              pp_surface *result, pp_error *error)
{
    selection s;
    bool more;
    PP_TRY(take_selection(survey, &memory->scratch, &s, error));
    PP_TRY(pp_wild_points_find(survey, options->threads, memory, s.wild, s.off, error));
    for (size_t k = 0; k < survey->count; k++) /* what is within the uncertainty stated is not */
        s.wild[k] = s.wild[k] && !(fabs(s.off[k]) <= options->uncertainty);
    PP_TRY(leave_out(survey, &s, memory, &more, error));
    for (int round = 0; round < LEAVING_OUT_MAX; round++) {
        PP_TRY(fit_points(&s.kept, mesh, own, options, memory, result, error));
        mark_outliers(survey, result, &s);
        PP_TRY(leave_out(survey, &s, memory, &more, error));
        if (!more) break;
    }
    PP_TRY(list_outliers(survey, &s, memory, result, error));
    PP_TRY(check_fit(&s.kept, options, memory, result, error));
    if (result->check.valid) /* from a row of the points kept, which are numbered anew */
        result->check.row = pp_survey_row(survey, s.row[result->check.row - 1]);
    return PP_OK;
}

pp_status pp_surface_fit(const pp_survey *survey, const pp_mesh *mesh,
                         const pp_surface_options *options, pp_memory *memory, pp_surface *surface,
                         pp_error *error)
{
    equations own;
    pp_surface result = {0};
    bool all = survey->count < PP_WILD_POINTS_LEAST || survey->count > PP_WILD_POINTS_MOST;
    PP_TRY(take_equations(mesh, memory, &own, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY((all ? fit_all : fit_selected)(survey, mesh, &own, options, memory, &result, error));
    pp_arena_release(&memory->scratch, mark);
    *surface = result;
    return PP_OK;
}

double pp_surface_height(const pp_surface *surface, double x, double y)
{
    pp_mesh_row row;
    pp_mesh_shape(surface->mesh, pp_mesh_find(surface->mesh, x, y), 0, 0, &row);
    return pp_mesh_value(&row, surface->field);
}

pp_surface_value pp_surface_at(const pp_surface *surface, double x, double y)
{
    const pp_mesh *mesh = surface->mesh;
    pp_mesh_place place = pp_mesh_find(mesh, x, y);
    size_t dof[PP_CELL_DOFS];
    double hs[3][4], ht[3][4], sum[3][3] = {{0}};
    pp_cell_dofs(mesh, place.i, place.j, dof);
    for (int order = 0; order < 3; order++) {
        pp_cell_cubics(place.s, order, hs[order]);
        pp_cell_cubics(place.t, order, ht[order]);
    }
    for (size_t l = 0; l < PP_CELL_DOFS; l++) {
        double value = surface->field[dof[l]];
        for (int a = 0; a < 3; a++)
            for (int b = 0; a + b < 3; b++)
                sum[a][b] += value * hs[a][pp_cell_along_s(l)] * ht[b][pp_cell_along_t(l)];
    }
    double px = 1 / mesh->hx, py = 1 / mesh->hy;
    return (pp_surface_value){.w = sum[0][0],
                              .wx = sum[1][0] * px,
                              .wy = sum[0][1] * py,
                              .wxx = sum[2][0] * px * px,
                              .wxy = sum[1][1] * px * py,
                              .wyy = sum[0][2] * py * py};
}
