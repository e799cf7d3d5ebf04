#include "holddown/thickness_readings.h"

#include <math.h>
#include <string.h>

#include "linalg/linalg.h"

enum { PLANE_TERMS = 3, PLANE_READINGS = 6, QUADRIC_READINGS = 12 };
static const double OFF_MOST = 0.2;         /* of the thickness: a slip of unit */
static const double CONDITION_MOST = 1e4;   /* of the normal equations: the readings do not tell */
static const double OVERSHOOT_MOST = 1;     /* of the readings' range, anywhere on the plate */
static const double OVERSHOOT_LEAST = 0.05; /* mm: readings are no better than that */

static void terms_at(double u, double v, double f[PP_THICKNESS_TERMS])
{
    f[0] = 1, f[1] = u, f[2] = v, f[3] = u * u, f[4] = u * v, f[5] = v * v;
}

void pp_thickness_at(const pp_thickness_readings *r, double x, double y, double t[4])
{
    double u = (x - r->centre_x) / r->scale, v = (y - r->centre_y) / r->scale;
    const double *c = r->term;
    t[0] = c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v;
    t[1] = (c[1] + 2 * c[3] * u + c[4] * v) / r->scale;
    t[2] = (c[2] + c[4] * u + 2 * c[5] * v) / r->scale;
    t[3] = c[4] / r->scale / r->scale;
}

/* Read ---------------------------------------------------------------------------------- */

static pp_status check(double thickness, const char *file, const pp_place_list *list,
                       pp_thickness_readings *r, pp_error *error)
{
    double sum = 0;
    r->count = list->count;
    r->low = INFINITY, r->high = -INFINITY;
    for (size_t i = 0; i < list->count; i++) {
        if (!(fabs(list->z[i] - thickness) <= OFF_MOST * thickness))
            return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                              "reading %zu of the thickness is %g mm, of a plate that is %g mm "
                              "thick; is the unit right, or thickness under [plate]?",
                              i + 1, list->z[i], thickness);
        sum += list->z[i];
        r->low = fmin(r->low, list->z[i]);
        r->high = fmax(r->high, list->z[i]);
    }
    r->mean = sum / (double)list->count;
    r->variation = list->count > 1 ? r->high - r->low : NAN;
    return PP_OK;
}

/* The surface through them ---------------------------------------------------------------- */

/* Normal equations a[n * n] c = b[n] of the first n terms */
static void add_up(const pp_thickness_readings *r, const pp_place_list *list, size_t n, double *a,
                   double *b)
{
    memset(a, 0, n * n * sizeof *a);
    memset(b, 0, n * sizeof *b);
    for (size_t i = 0; i < list->count; i++) {
        double f[PP_THICKNESS_TERMS];
        terms_at((list->x[i] - r->centre_x) / r->scale, (list->y[i] - r->centre_y) / r->scale, f);
        for (size_t k = 0; k < n; k++) {
            b[k] += f[k] * list->z[i];
            for (size_t l = 0; l < n; l++) a[k * n + l] += f[k] * f[l];
        }
    }
}

static void scatter_of(pp_thickness_readings *r, const pp_place_list *list)
{
    double low = INFINITY, high = -INFINITY, t[4];
    for (size_t i = 0; i < list->count; i++) {
        pp_thickness_at(r, list->x[i], list->y[i], t);
        low = fmin(low, list->z[i] - t[0]);
        high = fmax(high, list->z[i] - t[0]);
    }
    r->variation = high - low;
}

/* Whether the surface stays near the readings all over the plate; its mean there. */
static bool stays_near(pp_thickness_readings *r, const pp_mesh *mesh)
{
    double reach = fmax(OVERSHOOT_MOST * (r->high - r->low), OVERSHOOT_LEAST), sum = 0, area = 0;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            double share = mesh->fraction[j * mesh->nx + i], t[4];
            if (share == 0) continue;
            pp_thickness_at(r, mesh->x0 + ((double)i + 0.5) * mesh->hx,
                            mesh->y0 + ((double)j + 0.5) * mesh->hy, t);
            if (!(t[0] >= r->low - reach && t[0] <= r->high + reach)) return false;
            sum += share * t[0];
            area += share;
        }
    r->plate_mean = sum / area;
    return true;
}

static pp_status fit(pp_thickness_readings *r, const pp_place_list *list, const pp_mesh *mesh,
                     size_t n, bool *found, pp_error *error)
{
    double a[PP_THICKNESS_TERMS * PP_THICKNESS_TERMS], v[PP_THICKNESS_TERMS * PP_THICKNESS_TERMS];
    double s[PP_THICKNESS_TERMS], c[PP_THICKNESS_TERMS];
    *found = false;
    add_up(r, list, n, a, c);
    PP_TRY(pp_svd_right(n, a, s, v, error));
    if (!(s[0] < CONDITION_MOST * s[n - 1])) return PP_OK;
    add_up(r, list, n, a, c);
    PP_TRY(pp_cholesky_factor(n, a, n, error));
    PP_TRY(pp_cholesky_solve(n, a, n, 1, c, n, error));
    pp_thickness_readings with = *r;
    memset(with.term, 0, sizeof with.term);
    memcpy(with.term, c, n * sizeof *c);
    with.terms = (int)n;
    if (!stays_near(&with, mesh)) return PP_OK;
    scatter_of(&with, list);
    *r = with;
    *found = true;
    return PP_OK;
}

pp_status pp_thickness_read(const pp_job *job, const pp_mesh *mesh, pp_memory *memory,
                            pp_thickness_readings *readings, pp_error *error)
{
    pp_place_list list;
    pp_thickness_readings r = {.variation = NAN,
                               .centre_x = mesh->x0 + mesh->width / 2,
                               .centre_y = mesh->y0 + mesh->height / 2,
                               .scale = fmax(mesh->width, mesh->height) / 2};
    *readings = r;
    const pp_job_file *file = &job->plate.thickness_points;
    if (!file->path) return PP_OK;
    PP_TRY(pp_places_read(job, file, memory, &list, error));
    PP_TRY(check(job->plate.thickness, file->path, &list, &r, error));
    bool found = false;
    if (list.count >= QUADRIC_READINGS)
        PP_TRY(fit(&r, &list, mesh, PP_THICKNESS_TERMS, &found, error));
    if (!found && list.count >= PLANE_READINGS)
        PP_TRY(fit(&r, &list, mesh, PLANE_TERMS, &found, error));
    *readings = r;
    return PP_OK;
}

void pp_thickness_take_off(const pp_thickness_readings *r, const pp_mesh *mesh, double *field)
{
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            double *at = field + 4 * pp_mesh_node(mesh, i, j), t[4];
            pp_thickness_at(r, mesh->x0 + (double)i * mesh->hx, mesh->y0 + (double)j * mesh->hy, t);
            at[0] -= t[0] - r->plate_mean;
            at[1] -= mesh->hx * t[1];
            at[2] -= mesh->hy * t[2];
            at[3] -= mesh->hx * mesh->hy * t[3];
        }
}
