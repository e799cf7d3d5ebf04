#include "flatness/interval_noise.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/parallel.h"
#include "base/random.h"
#include "flatness/field_zone.h"
#include "linalg/linalg.h"

enum {
    DRAWS = 99,
    RANK = 95, /* of the quantile: one draw more exceeds it with a chance of (99 + 1 - 95) / 100 */
    PARTS = 3,
    EACH = DRAWS / PARTS,        /* solved side by side: many, for dense blocks */
    FROM_TOP = DRAWS - RANK + 1, /* the quantile is the fifth largest */
    BATCH = 8,                   /* zones sought side by side */
    BIAS_PARTS = 8,
    BIAS_SEED = 200 /* of the first draw on a surface */
};
static const double RIDGE = 1e-12, ROUNDING = 1e-9;

/* Normal numbers in pairs; every draw has a seed of its own, so the threads change nothing. */
typedef struct noise {
    uint64_t state;
    double spare;
    bool has_spare;
} noise;

static noise noise_of(size_t draw) { return (noise){.state = 0x5851F42D4C957F2Du * (draw + 1)}; }

static double normal(noise *n)
{
    n->has_spare = !n->has_spare;
    if (!n->has_spare) return n->spare;
    double u = pp_random_uniform(&n->state), v = pp_random_uniform(&n->state);
    n->spare = sqrt(-2 * log(u)) * sin(PP_TURN * v);
    return pp_random_normal_of(u, v);
}

/* ---- the surface fitted to noise ---- */

/* Of one worker; vectors of the draws of a part lie side by side. */
typedef struct drawing_room {
    double *normals; /* [n or count * EACH] */
    double *load;    /* [n * EACH] */
    pp_memory own;
} drawing_room;

/* A draw with the distance of its highest and lowest heights from their least-squares plane, which
 * its zone is no wider than. */
typedef struct candidate {
    pp_least_squares fit;
    size_t draw;
} candidate;

typedef struct drawing {
    const pp_surface_system *system;
    const double *factor;
    const pp_noise_request *request;
    double *root;            /* lower band factor of A; NULL: noise is drawn at every point */
    const pp_mesh_row *rows; /* [count of the request] */
    drawing_room *rooms;
    double *height;             /* [DRAWS * count] */
    candidate candidate[DRAWS]; /* the widest by its fit first, in the end */
    size_t known;               /* of the first how many the width is known */
    double width[DRAWS];        /* of those, the widest first */
} drawing;

static void draw_normals(const drawing *d, size_t part, size_t count, double *normals)
{
    for (size_t k = 0; k < EACH; k++) {
        noise source = noise_of(part * EACH + k);
        for (size_t j = 0; j < count; j++) normals[j * EACH + k] = d->request->u * normal(&source);
    }
}

/* Noise at every point, summed up into the right-hand side. */
static void draw_at_points(const drawing *d, size_t part, drawing_room *r)
{
    draw_normals(d, part, d->request->count, r->normals);
    for (size_t i = 0; i < d->request->count; i++)
        for (int a = 0; a < 16; a++) {
            double *load = r->load + d->rows[i].dof[a] * EACH, value = d->rows[i].value[a];
            for (size_t k = 0; k < EACH; k++) load[k] += value * r->normals[i * EACH + k];
        }
}

/* A^(1/2) times as many normals as there are unknowns has the same distribution, however many
 * points there are. */
static pp_status draw_loads(const drawing *d, size_t part, drawing_room *r, pp_error *error)
{
    size_t n = d->system->n;
    memset(r->load, 0, n * EACH * sizeof *r->load);
    if (!d->root) {
        draw_at_points(d, part, r);
        return PP_OK;
    }
    draw_normals(d, part, n, r->normals);
    return pp_band_lower_multiply_beside(n, d->system->half_bandwidth, d->root, EACH, r->normals,
                                         r->load, EACH, error);
}

static void heights_of(const drawing *d, size_t part, const drawing_room *r)
{
    size_t count = d->request->count;
    double *height = d->height + part * EACH * count;
    for (size_t i = 0; i < count; i++) {
        double sum[EACH] = {0};
        for (int a = 0; a < 16; a++) {
            const double *field = r->load + d->rows[i].dof[a] * EACH;
            for (size_t k = 0; k < EACH; k++) sum[k] += d->rows[i].value[a] * field[k];
        }
        for (size_t k = 0; k < EACH; k++) height[k * count + i] = sum[k];
    }
}

static pp_points points_of(const drawing *d, size_t draw)
{
    const pp_noise_request *q = d->request;
    return (pp_points){q->count, q->x, q->y, d->height + draw * q->count};
}

static pp_status draw_part(void *context, size_t part, int worker, pp_error *error)
{
    drawing *d = context;
    drawing_room *r = &d->rooms[worker];
    PP_TRY(draw_loads(d, part, r, error));
    PP_TRY(pp_band_solve_beside(d->system->n, d->system->half_bandwidth, d->factor, EACH, r->load,
                                EACH, error));
    heights_of(d, part, r);
    for (size_t k = part * EACH; k < (part + 1) * EACH; k++) {
        pp_points points = points_of(d, k);
        d->candidate[k].draw = k;
        PP_TRY(pp_zone_fit(&points, 1, &r->own, &d->candidate[k].fit, error));
    }
    return PP_OK;
}

static int descending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x < y) - (x > y);
}

static int widest_first(const void *a, const void *b)
{
    const candidate *p = a, *q = b;
    if (p->fit.flatness != q->fit.flatness) return p->fit.flatness < q->fit.flatness ? 1 : -1;
    return p->draw < q->draw ? -1 : p->draw > q->draw;
}

static pp_status narrow_part(void *context, size_t part, int worker, pp_error *error)
{
    drawing *d = context;
    const candidate *c = &d->candidate[d->known + part];
    pp_points points = points_of(d, c->draw);
    pp_zone_weights zone = {0};
    PP_TRY(pp_zone_of_fit(&points, &c->fit, d->request->least_squares, 1, &d->rooms[worker].own,
                          &zone, error));
    d->width[d->known + part] = zone.width;
    return PP_OK;
}

/* The fifth widest zone: those whose fit is narrower than five zones known are not sought. */
static pp_status fifth_widest(drawing *d, int threads, double *width, pp_error *error)
{
    qsort(d->candidate, DRAWS, sizeof *d->candidate, widest_first);
    while (d->known < DRAWS) {
        size_t parts = DRAWS - d->known < BATCH ? DRAWS - d->known : BATCH;
        PP_TRY(pp_parallel(threads, parts, narrow_part, d, error));
        d->known += parts;
        qsort(d->width, d->known, sizeof *d->width, descending);
        if (d->known < DRAWS &&
            d->candidate[d->known].fit.flatness * (1 + ROUNDING) < d->width[FROM_TOP - 1])
            break;
    }
    *width = d->width[FROM_TOP - 1];
    return PP_OK;
}

/* *threads <- as many as there is work for */
static pp_status take_rooms(drawing *d, int *threads, pp_memory *memory, pp_error *error)
{
    if (*threads > PARTS) *threads = PARTS;
    if (*threads < 1) *threads = 1;
    size_t drawn = d->root ? d->system->n : d->request->count;
    PP_TAKE(d->height, &memory->scratch, d->request->count * DRAWS);
    PP_TAKE_ZERO(d->rooms, &memory->scratch, (size_t)*threads);
    for (int t = 0; t < *threads; t++) {
        PP_TAKE(d->rooms[t].normals, &memory->scratch, drawn * EACH);
        PP_TAKE(d->rooms[t].load, &memory->scratch, d->system->n * EACH);
    }
    return PP_OK;
}

/* d->root <- the factor of A, which a little is added to: it may be singular. *there: it has one.
 */
static pp_status take_root(drawing *d, pp_memory *memory, bool *there, pp_error *error)
{
    size_t n = d->system->n, kd = d->system->half_bandwidth, values = n * (kd + 1);
    double trace = 0;
    pp_error ignored;
    PP_TAKE(d->root, &memory->scratch, values);
    memcpy(d->root, d->system->normal, values * sizeof *d->root);
    for (size_t j = 0; j < n; j++) trace += d->root[j * (kd + 1)];
    for (size_t j = 0; j < n; j++) d->root[j * (kd + 1)] += RIDGE * trace;
    *there = pp_band_factor(n, kd, d->root, &ignored) == PP_OK;
    return PP_OK;
}

pp_status pp_noise_surface_quantile(const pp_surface_system *system, const double *factor,
                                    const pp_noise_request *request, pp_memory *memory,
                                    double *quantile, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t count = request->count;
    int threads = request->threads;
    drawing d = {.system = system, .factor = factor, .request = request};
    pp_mesh_row *rows;
    bool there = true;
    PP_TAKE(rows, &memory->scratch, count);
    for (size_t i = 0; i < count; i++)
        pp_surface_row(system->mesh, request->x[i], request->y[i], &rows[i]);
    d.rows = rows;
    if (count < system->count) PP_TRY(take_root(&d, memory, &there, error));
    *quantile = NAN;
    if (there) {
        PP_TRY(take_rooms(&d, &threads, memory, error));
        pp_status drawn = pp_parallel(threads, PARTS, draw_part, &d, error);
        if (drawn == PP_OK) drawn = fifth_widest(&d, threads, quantile, error);
        for (int t = 0; t < threads; t++) pp_memory_free(&d.rooms[t].own);
        PP_TRY(drawn);
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* ---- noise on a surface ---- */

typedef struct roughening {
    const pp_noise_request *request;
    const double *height;
    size_t draws;
    double sum[BIAS_PARTS];
} roughening;

static pp_status roughen_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    roughening *r = context;
    const pp_noise_request *q = r->request;
    pp_memory own = {0};
    double *z = pp_arena_take(&own.keep, q->count, sizeof *z);
    pp_status status = z ? PP_OK : pp_fail_memory(error);
    size_t end = pp_part_begin(r->draws, BIAS_PARTS, part + 1);
    for (size_t k = pp_part_begin(r->draws, BIAS_PARTS, part); k < end && status == PP_OK; k++) {
        noise n = noise_of(BIAS_SEED + k);
        for (size_t i = 0; i < q->count; i++) z[i] = r->height[i] + q->u * normal(&n);
        pp_points points = {q->count, q->x, q->y, z};
        pp_zone_weights zone = {0};
        status = pp_zone_find(&points, q->least_squares, 1, &own, &zone, error);
        r->sum[part] += zone.width;
    }
    pp_memory_free(&own);
    return status;
}

pp_status pp_noise_zone_bias(const pp_noise_request *request, const double *height, double width,
                             size_t draws, double *bias, pp_error *error)
{
    roughening r = {.request = request, .height = height, .draws = draws};
    PP_TRY(pp_parallel(request->threads, BIAS_PARTS, roughen_part, &r, error));
    double sum = 0;
    for (int part = 0; part < BIAS_PARTS; part++) sum += r.sum[part];
    *bias = sum / (double)draws - width;
    return PP_OK;
}
