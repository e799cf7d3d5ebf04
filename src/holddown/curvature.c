#include "holddown/curvature.h"

#include <math.h>
#include <string.h>

#include "holddown/ring_stretch.h"

static const double EDGE_SHARE = 0.1;   /* of the shorter side */
static const double NOISE_SHARE = 0.15; /* of the curvature, that noise may reach in the pilot */
static const double VON_KARMAN_DISC = 0.262;
/* times what 20 redraws reach: as wide as nine of ten ranges need to cover the plate's own
 * (tests/simulation/flattening_stress.py) */
static const double RANGE_WIDER = 1.5;
enum { WINDOWS = 7 };
static const int WINDOW[WINDOWS] = {0, 1, 2, 3, 4, 6, 8}; /* cells either side */

typedef struct bend { /* w_xx, w_yy, w_xy */
    double k[3];
} bend;

typedef struct raster {
    const pp_mesh *mesh;
    double poisson;
    size_t count;
    bool *inside; /* [ny * nx] */
} raster;

static void mark_cells(raster *r, double margin)
{
    const pp_mesh *mesh = r->mesh;
    r->count = 0;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            double x = mesh->x0 + ((double)i + 0.5) * mesh->hx;
            double y = mesh->y0 + ((double)j + 0.5) * mesh->hy;
            bool whole = mesh->fraction[j * mesh->nx + i] >= 1 - 1e-12;
            r->inside[j * mesh->nx + i] = whole && pp_mesh_within(mesh, x, y, margin);
            r->count += r->inside[j * mesh->nx + i];
        }
}

static bend bend_in(const pp_mesh *mesh, size_t cell, const double *shape)
{
    static const int order[3][2] = {{2, 0}, {0, 2}, {1, 1}};
    pp_mesh_place middle = {.i = cell % mesh->nx, .j = cell / mesh->nx, .s = 0.5, .t = 0.5};
    bend out;
    for (int d = 0; d < 3; d++) {
        pp_mesh_row row;
        pp_mesh_shape(mesh, middle, order[d][0], order[d][1], &row);
        out.k[d] = pp_mesh_value(&row, shape);
    }
    return out;
}

static void find_bends(const raster *r, const double *shape, bend *out)
{
    for (size_t c = 0; c < r->mesh->nx * r->mesh->ny; c++)
        if (r->inside[c]) out[c] = bend_in(r->mesh, c, shape);
}

/* The larger |k1 + nu k2| of both principal curvatures */
static double bending(const double k[3], double nu)
{
    double mean = 0.5 * (k[0] + k[1]), radius = hypot(0.5 * (k[0] - k[1]), k[2]);
    double k1 = mean + radius, k2 = mean - radius;
    return fmax(fabs(k1 + nu * k2), fabs(k2 + nu * k1));
}

/* Mean over the cells of a window about each */
static void average(const raster *r, int window, const bend *in, bend *out)
{
    long nx = (long)r->mesh->nx, ny = (long)r->mesh->ny;
    for (long j = 0; j < ny; j++)
        for (long i = 0; i < nx; i++) {
            if (!r->inside[j * nx + i]) continue;
            bend sum = {{0}};
            double n = 0;
            for (long b = j - window; b <= j + window; b++)
                for (long a = i - window; a <= i + window; a++) {
                    if (a < 0 || b < 0 || a >= nx || b >= ny || !r->inside[b * nx + a]) continue;
                    for (int d = 0; d < 3; d++) sum.k[d] += in[b * nx + a].k[d];
                    n++;
                }
            for (int d = 0; d < 3; d++) out[j * nx + i].k[d] = sum.k[d] / n;
        }
}

/* Over all cells of a, plus b where that is given */
static double largest(const raster *r, const bend *a, const bend *b)
{
    double worst = 0;
    for (size_t c = 0; c < r->mesh->nx * r->mesh->ny; c++) {
        if (!r->inside[c]) continue;
        double k[3];
        for (int d = 0; d < 3; d++) k[d] = a[c].k[d] + (b ? b[c].k[d] : 0);
        worst = fmax(worst, bending(k, r->poisson));
    }
    return worst;
}

static double mean_gaussian(const raster *r, const bend *a)
{
    double sum = 0;
    for (size_t c = 0; c < r->mesh->nx * r->mesh->ny; c++)
        if (r->inside[c]) sum += a[c].k[0] * a[c].k[1] - a[c].k[2] * a[c].k[2];
    return r->count ? sum / (double)r->count : 0;
}

static double per_curvature(const pp_plate_spec *plate)
{
    double nu = plate->poisson_ratio;
    return plate->elastic_modulus * plate->thickness / (2 * (1 - nu * nu));
}

/* What a dome spans: of a ring the opening too, for it is the whole of it that is flattened. */
static double dome_span(const pp_outline_spec *outline)
{
    return outline->kind == PP_OUTLINE_ANNULUS ? outline->diameter : pp_outline_across(outline);
}

double pp_curvature_stiffening(const pp_plate_spec *plate, const pp_mesh *mesh, double height)
{
    double share = height / plate->thickness, nu = plate->poisson_ratio;
    double c = VON_KARMAN_DISC;
    if (mesh->outline == PP_OUTLINE_ANNULUS) {
        c = pp_ring_stretch(mesh->shape.inner_diameter / mesh->shape.diameter, nu);
    } else if (pp_outline_is_cut_out(&mesh->shape)) {
        return NAN;
    } else if (mesh->outline != PP_OUTLINE_DISC) {
        double a = 1 / (mesh->width * mesh->width), b = 1 / (mesh->height * mesh->height);
        c = 0.75 * (1 - nu * nu) * (a * a + b * b) / ((a + b) * (a + b));
    }
    return 1 + c * share * share;
}

double pp_curvature_on_the_way(double stiffening, double left)
{
    return 1 + (stiffening - 1) * (1 + left) * left;
}

double pp_curvature_peak(double stiffening)
{
    double more = stiffening - 1;
    if (!(more > 1)) return 1;
    double left = sqrt((more - 1) / (3 * more)); /* where the force stands still */
    return (1 - left) * pp_curvature_on_the_way(stiffening, left);
}

typedef struct bends {
    bend *shape, *pilot, *averaged;
    bend *noise; /* [redraws * cells] */
} bends;

static pp_status take_bends(raster *r, size_t redraws, pp_memory *memory, bends *b, pp_error *error)
{
    size_t cells = r->mesh->nx * r->mesh->ny;
    PP_TAKE(r->inside, &memory->scratch, cells);
    PP_TAKE_ZERO(b->shape, &memory->scratch, cells);
    PP_TAKE_ZERO(b->pilot, &memory->scratch, cells);
    PP_TAKE_ZERO(b->averaged, &memory->scratch, cells);
    PP_TAKE_ZERO(b->noise, &memory->scratch, redraws * cells);
    return PP_OK;
}

typedef struct pilot {
    double largest;     /* of the curvatures averaged */
    double bias, noise; /* mean of what noise adds to that, and the most that noise reaches */
} pilot;

static pilot pilot_of(const raster *r, int window, size_t redraws, const bends *b)
{
    size_t cells = r->mesh->nx * r->mesh->ny;
    pilot p = {0};
    average(r, window, b->shape, b->pilot);
    p.largest = largest(r, b->pilot, NULL);
    for (size_t k = 0; k < redraws; k++) {
        average(r, window, b->noise + k * cells, b->averaged);
        p.noise = fmax(p.noise, largest(r, b->averaged, NULL));
        p.bias += (largest(r, b->pilot, b->averaged) - p.largest) / (double)redraws;
    }
    return p;
}

/* The least averaging after which noise is small beside the shape */
static pilot make_pilot(const raster *r, size_t redraws, const bends *b)
{
    pilot p = {0};
    for (int w = 0; w < WINDOWS; w++) {
        p = pilot_of(r, WINDOW[w], redraws, b);
        if (p.noise <= NOISE_SHARE * p.largest) break;
    }
    return p;
}

pp_status pp_curvature_of(const pp_plate_spec *plate, const pp_mesh *mesh, const double *shape,
                          size_t redraws, const double *redraw, pp_memory *memory,
                          pp_curvature *curvature, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t cells = mesh->nx * mesh->ny;
    double side = pp_outline_across(&mesh->shape), scale = per_curvature(plate);
    double span = dome_span(&mesh->shape);
    raster r = {.mesh = mesh, .poisson = plate->poisson_ratio};
    bends b;
    PP_TRY(take_bends(&r, redraws, memory, &b, error));
    mark_cells(&r, EDGE_SHARE * side);
    find_bends(&r, shape, b.shape);
    for (size_t k = 0; k < redraws; k++)
        find_bends(&r, redraw + k * mesh->dofs, b.noise + k * cells);
    pilot p = make_pilot(&r, redraws, &b);
    double found = largest(&r, b.shape, NULL), least = redraws ? INFINITY : 0, most = 0;
    for (size_t k = 0; k < redraws; k++) {
        double more = largest(&r, b.pilot, b.noise + k * cells) - p.largest;
        least = fmin(least, more);
        most = fmax(most, more);
    }
    double gaussian = mean_gaussian(&r, b.pilot);
    pp_arena_release(&memory->scratch, mark);
    double middle = p.largest - p.bias, wide = RANGE_WIDER;
    *curvature = (pp_curvature){
        .flattening_stress = scale * fmax(middle, found - most),
        .stress_low = scale * fmax(fmax(middle - wide * p.noise, found - wide * most), 0),
        .stress_high = scale * fmax(middle + wide * p.noise, found - least),
        .as_fitted = scale * found,
        .double_height = sqrt(fabs(gaussian)) * span * span / 8};
    curvature->stiffening = pp_curvature_stiffening(plate, mesh, curvature->double_height);
    return PP_OK;
}

double pp_curvature_stress(const pp_plate_spec *plate, const pp_mesh *mesh, const double *change)
{
    double worst = 0;
    for (size_t c = 0; c < mesh->nx * mesh->ny; c++) {
        if (mesh->fraction[c] < 1 - 1e-12) continue;
        bend b = bend_in(mesh, c, change);
        worst = fmax(worst, bending(b.k, plate->poisson_ratio));
    }
    return per_curvature(plate) * worst;
}
