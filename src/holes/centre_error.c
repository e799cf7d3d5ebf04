#include "holes/centre_error.h"

#include <string.h>

#include "base/parallel.h"

enum { PARTS = 64 };

static double or_zero(double value) { return pp_given(value) ? value : 0; }

static double scale_uncertainty(const pp_job *job)
{
    double alpha = job->holes.expansion;
    double kelvin = or_zero(job->holes.temperature - PP_REFERENCE_TEMPERATURE);
    return hypot(alpha * or_zero(job->holes.uncertainty_temperature) / 2,
                 alpha * kelvin * or_zero(job->holes.uncertainty_expansion) / 2);
}

pp_hole_uncertainty pp_hole_uncertainty_of(const pp_job *job)
{
    return (pp_hole_uncertainty){.position = job->holes.uncertainty_position,
                                 .per_metre = job->holes.uncertainty_per_metre,
                                 .diameter = job->holes.uncertainty_diameter,
                                 .ligament = job->holes.uncertainty_ligament,
                                 .scale = scale_uncertainty(job)};
}

double pp_reading_variance(const pp_centre_errors *e, double x, double y)
{
    double r = hypot(x - e->reference_x, y - e->reference_y);
    double fixed = e->stated.position / 2;
    double growing = or_zero(e->stated.per_metre) * r / 2000;
    return fixed * fixed + growing * growing;
}

static pp_pose_error blank(uint8_t face)
{
    return (pp_pose_error){.datum = {PP_NONE, PP_NONE}, .face = face};
}

/* --- two holes -------------------------------------------------------------------------------- */

static uint32_t find_hole(const pp_nominal *nominal, const char *name)
{
    for (size_t i = 0; i < nominal->count; i++)
        if (strcmp(nominal->name[i], name) == 0) return (uint32_t)i;
    return PP_NONE;
}

/* The shift is the first reading's error; the angle that of both across their line, over its
 * length. */
static pp_pose_error of_two_holes(const pp_centre_errors *e, const pp_align_options *options,
                                  uint8_t face)
{
    pp_pose_error p = blank(face);
    const double *x = e->nominal->x, *y = e->nominal->y;
    for (int k = 0; k < 2; k++) p.datum[k] = find_hole(e->nominal, options->datum_holes[k]);
    uint32_t a = p.datum[0], b = p.datum[1];
    p.x = x[a], p.y = y[a];
    double length = hypot(x[b] - x[a], y[b] - y[a]);
    double across_x = -(y[b] - y[a]) / length, across_y = (x[b] - x[a]) / length;
    double first = pp_reading_variance(e, x[a], y[a]), second = pp_reading_variance(e, x[b], y[b]);
    p.shift = (pp_covariance){first, 0, first};
    p.turn_x = -first * across_x / length;
    p.turn_y = -first * across_y / length;
    p.turn = (first + second) / (length * length);
    return p;
}

/* --- fits ------------------------------------------------------------------------------------- */

/* Sums over the points of a fit; d counts from any place near them. */
typedef struct fit_sums {
    double count, x, y, square;           /* sums of d, |d|^2 */
    double all, all_x, all_y, all_square; /* of u^2, u^2 d, u^2 |d|^2 */
} fit_sums;

static void add_point(fit_sums *s, double dx, double dy, double variance)
{
    double square = dx * dx + dy * dy;
    s->count++;
    s->x += dx, s->y += dy, s->square += square;
    s->all += variance, s->all_square += variance * square;
    s->all_x += variance * dx, s->all_y += variance * dy;
}

static void merge(fit_sums *s, const fit_sums *part)
{
    s->count += part->count;
    s->x += part->x, s->y += part->y, s->square += part->square;
    s->all += part->all, s->all_square += part->all_square;
    s->all_x += part->all_x, s->all_y += part->all_y;
}

/* The shift is the mean of the errors; the angle sum of t_j . e_j / S, t_j = d_j turned by a
 * quarter, S = sum |d|^2 about the centroid. */
static void fill_fit(const fit_sums *s, double x0, double y0, pp_pose_error *p)
{
    double n = s->count, cx = s->x / n, cy = s->y / n;
    double moment = s->square - n * (cx * cx + cy * cy);
    double all_x = s->all_x - s->all * cx, all_y = s->all_y - s->all * cy;
    double all_square =
        s->all_square - 2 * (cx * s->all_x + cy * s->all_y) + s->all * (cx * cx + cy * cy);
    p->x = x0 + cx, p->y = y0 + cy;
    p->shift = (pp_covariance){s->all / (n * n), 0, s->all / (n * n)};
    p->turn_x = -all_y / (n * moment);
    p->turn_y = all_x / (n * moment);
    p->turn = all_square / (moment * moment);
    p->count = n;
    p->moment = moment;
}

typedef struct fitting {
    const pp_centre_errors *errors;
    const pp_gathered *gathered;
    uint8_t face;
    double x0, y0;
    fit_sums parts[PARTS];
} fitting;

static pp_status sum_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    fitting *f = context;
    const pp_nominal *nominal = f->errors->nominal;
    size_t end = pp_part_begin(f->gathered->extra_first, PARTS, part + 1);
    for (size_t b = pp_part_begin(f->gathered->extra_first, PARTS, part); b < end; b++) {
        const pp_bore *bore = &f->gathered->bores[b];
        if (bore->face != f->face || nominal->kind[bore->hole] != PP_TUBE_HOLE) continue;
        double x = nominal->x[bore->hole], y = nominal->y[bore->hole];
        add_point(&f->parts[part], x - f->x0, y - f->y0, pp_reading_variance(f->errors, x, y));
    }
    return PP_OK;
}

static pp_status of_best_fit(const pp_centre_errors *e, const pp_gathered *gathered, uint8_t face,
                             int threads, pp_pose_error *pose, pp_error *error)
{
    pp_pose_error p = blank(face);
    fitting f = {.errors = e, .gathered = gathered, .face = face};
    f.x0 = e->nominal->x[0], f.y0 = e->nominal->y[0];
    PP_TRY(pp_parallel(threads, PARTS, sum_part, &f, error));
    fit_sums all = {0};
    for (size_t part = 0; part < PARTS; part++) merge(&all, &f.parts[part]);
    fill_fit(&all, f.x0, f.y0, &p);
    p.fitted = true;
    *pose = p;
    return PP_OK;
}

static pp_pose_error of_datum_points(const pp_centre_errors *e, const pp_hole_files *files,
                                     uint8_t face)
{
    pp_pose_error p = blank(face);
    const pp_datum_point *d = files->datum;
    fit_sums all = {0};
    for (size_t i = 0; i < files->datum_count; i++)
        add_point(&all, d[i].nominal_x - d[0].nominal_x, d[i].nominal_y - d[0].nominal_y,
                  pp_reading_variance(e, d[i].nominal_x, d[i].nominal_y));
    fill_fit(&all, d[0].nominal_x, d[0].nominal_y, &p);
    return p;
}

/* --- both faces ------------------------------------------------------------------------------- */

pp_status pp_centre_errors_find(const pp_aligned_by *by, const pp_hole_uncertainty *stated,
                                int threads, pp_centre_errors *errors, pp_error *error)
{
    const pp_gathered *gathered = by->gathered;
    const pp_align_options *options = by->options;
    const pp_alignment *alignment = by->alignment;
    pp_centre_errors e = {.stated = *stated,
                          .nominal = &by->files->nominal,
                          .reference_x = alignment->reference_x,
                          .reference_y = alignment->reference_y};
    uint8_t first = gathered->faces[PP_ENTRY] || !gathered->faces[PP_EXIT] ? PP_ENTRY : PP_EXIT;
    pp_pose_error pose = blank(first);
    pose.x = alignment->reference_x, pose.y = alignment->reference_y;
    if (options->align == PP_ALIGN_TWO_HOLES) pose = of_two_holes(&e, options, first);
    if (options->align == PP_ALIGN_BEST_FIT)
        PP_TRY(of_best_fit(&e, gathered, first, threads, &pose, error));
    if (options->align == PP_ALIGN_DATUM_POINTS) pose = of_datum_points(&e, by->files, first);
    e.pose[PP_ENTRY] = e.pose[PP_EXIT] = pose;
    if (alignment->exit_own && options->exit_align == PP_EXIT_ALIGN_TWO_HOLES)
        e.pose[PP_EXIT] = of_two_holes(&e, options, PP_EXIT);
    if (alignment->exit_own && options->exit_align == PP_EXIT_ALIGN_BEST_FIT)
        PP_TRY(of_best_fit(&e, gathered, PP_EXIT, threads, &e.pose[PP_EXIT], error));
    *errors = e;
    return PP_OK;
}

pp_status pp_centre_errors_within(const pp_centre_errors *aligned, const pp_gathered *gathered,
                                  int threads, pp_centre_errors *errors, pp_error *error)
{
    pp_centre_errors e = *aligned;
    pp_pose_error fit;
    PP_TRY(of_best_fit(aligned, gathered, aligned->pose[PP_ENTRY].face, threads, &fit, error));
    e.pose[PP_ENTRY] = e.pose[PP_EXIT] = fit;
    *errors = e;
    return PP_OK;
}

/* --- one centre ------------------------------------------------------------------------------- */

static pp_covariance of_pose(const pp_pose_error *p, double rho_x, double rho_y)
{
    double tx = -rho_y, ty = rho_x;
    return (pp_covariance){p->shift.xx + 2 * tx * p->turn_x + p->turn * tx * tx,
                           p->shift.xy + tx * p->turn_y + ty * p->turn_x + p->turn * tx * ty,
                           p->shift.yy + 2 * ty * p->turn_y + p->turn * ty * ty};
}

/* What a reading that took part in the alignment has in common with it, twice. */
static pp_covariance shared(const pp_centre_errors *e, const pp_pose_error *p, uint32_t hole,
                            double own, double rho_x, double rho_y)
{
    double tx = -rho_y, ty = rho_x;
    if (p->fitted && e->nominal->kind[hole] == PP_TUBE_HOLE)
        return (pp_covariance){2 * own * (1 / p->count + tx * tx / p->moment),
                               2 * own * tx * ty / p->moment,
                               2 * own * (1 / p->count + ty * ty / p->moment)};
    if (hole == p->datum[0]) return (pp_covariance){2 * own, 0, 2 * own};
    if (hole == p->datum[1]) { /* all that lies across the line */
        double square = tx * tx + ty * ty;
        return (pp_covariance){2 * own * tx * tx / square, 2 * own * tx * ty / square,
                               2 * own * ty * ty / square};
    }
    return (pp_covariance){0, 0, 0};
}

pp_covariance pp_centre_covariance(const pp_centre_errors *e, uint8_t face, uint32_t hole,
                                   pp_plate_point at, bool scaled)
{
    double x = at.x, y = at.y;
    const pp_pose_error *p = &e->pose[face];
    if (hole != PP_NONE) x = e->nominal->x[hole], y = e->nominal->y[hole];
    double own = pp_reading_variance(e, x, y), rho_x = x - p->x, rho_y = y - p->y;
    pp_covariance c = of_pose(p, rho_x, rho_y);
    c.xx += own, c.yy += own;
    if (hole != PP_NONE && face == p->face) {
        pp_covariance s = shared(e, p, hole, own, rho_x, rho_y);
        c.xx -= s.xx, c.xy -= s.xy, c.yy -= s.yy;
    }
    if (!scaled) return c;
    double variance = e->stated.scale * e->stated.scale;
    c.xx += variance * rho_x * rho_x;
    c.xy += variance * rho_x * rho_y;
    c.yy += variance * rho_y * rho_y;
    return c;
}

double pp_covariance_along(pp_covariance c, double nx, double ny)
{
    double variance = c.xx * nx * nx + 2 * c.xy * nx * ny + c.yy * ny * ny;
    return variance < 0 ? 0 : sqrt(variance); /* below 0 by rounding only */
}

static double largest_variance(pp_covariance c)
{
    double middle = (c.xx + c.yy) / 2, largest = middle + hypot((c.xx - c.yy) / 2, c.xy);
    return largest < 0 ? 0 : largest; /* by rounding only */
}

double pp_common_share(const pp_centre_errors *e, uint32_t hole, pp_covariance c)
{
    double own = pp_reading_variance(e, e->nominal->x[hole], e->nominal->y[hole]);
    double largest = largest_variance(c);
    if (!(largest > 0)) return NAN;
    return own < largest ? 1 - own / largest : 0;
}

pp_distance_error pp_distance_error_of(pp_covariance c, double dx, double dy, double factor)
{
    double largest = largest_variance(c), length = hypot(dx, dy);
    pp_distance_error out = {.u = factor * sqrt(largest)};
    if (!(length > 0)) {
        out.bias = isnan(largest) ? NAN : 0; /* nothing was measured that a bias could be in */
        return out;
    }
    double nx = dx / length, ny = dy / length;
    double across = c.xx * ny * ny - 2 * c.xy * nx * ny + c.yy * nx * nx;
    double bias = across / (2 * length);
    out.bias = factor * (bias > length / 2 ? length / 2 : bias);
    return out;
}
