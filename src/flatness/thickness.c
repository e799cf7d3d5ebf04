#include "flatness/thickness.h"

#include <math.h>

#include "base/parallel.h"
#include "flatness/areas.h"

enum {
    SAMPLES = 4, /* along a mesh cell: where the search for the extremes begins */
    PART_POINTS = 65536,
    PARTS_MAX = 32
};

static double field_at(const pp_mesh *mesh, const double *field, double x, double y)
{
    pp_mesh_row row;
    pp_mesh_shape(mesh, pp_mesh_find(mesh, x, y), 0, 0, &row);
    return pp_mesh_value(&row, field);
}

static void find_extremes(const pp_mesh *mesh, const double *field, pp_thickness_map *t)
{
    double step_x = mesh->hx / SAMPLES, step_y = mesh->hy / SAMPLES;
    t->smallest = INFINITY, t->largest = -INFINITY;
    for (size_t j = 0; j <= SAMPLES * mesh->ny; j++)
        for (size_t i = 0; i <= SAMPLES * mesh->nx; i++) {
            double x = mesh->x0 + (double)i * step_x, y = mesh->y0 + (double)j * step_y;
            if (!pp_mesh_inside(mesh, x, y)) continue;
            double value = field_at(mesh, field, x, y);
            if (value < t->smallest) t->smallest = value, t->smallest_x = x, t->smallest_y = y;
            if (value > t->largest) t->largest = value, t->largest_x = x, t->largest_y = y;
        }
    double step = fmin(step_x, step_y);
    t->smallest = pp_field_peak(mesh, field, -1, step, &t->smallest_x, &t->smallest_y);
    t->largest = pp_field_peak(mesh, field, 1, step, &t->largest_x, &t->largest_y);
    t->variation = t->largest - t->smallest;
}

pp_status pp_thickness_measure(const pp_surface *top, const pp_surface *underside,
                               const double normal[3], pp_memory *memory, pp_thickness_map *result,
                               pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const pp_mesh *mesh = top->mesh;
    double *field, *load, sum = 0;
    PP_TAKE(field, &memory->scratch, mesh->dofs);
    PP_TAKE(load, &memory->scratch, mesh->dofs);
    pp_mesh_uniform_load(mesh, load);
    for (size_t d = 0; d < mesh->dofs; d++) {
        field[d] = normal[2] * (top->field[d] - underside->field[d]);
        sum += load[d] * field[d];
    }
    result->mean = sum / mesh->area;
    find_extremes(mesh, field, result);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

typedef struct range {
    double low, high;
} range;

typedef struct ranging {
    const pp_survey *survey;
    const pp_plane *datum;
    size_t parts;
    range *part;
} ranging;

static pp_status range_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const ranging *r = context;
    const pp_survey *s = r->survey;
    const double *n = r->datum->normal, *p = r->datum->point;
    size_t end = pp_part_begin(s->count, r->parts, part + 1);
    range found = {INFINITY, -INFINITY};
    for (size_t k = pp_part_begin(s->count, r->parts, part); k < end; k++) {
        double at = n[0] * (s->x[k] - p[0]) + n[1] * (s->y[k] - p[1]) + n[2] * (s->z[k] - p[2]);
        if (at < found.low) found.low = at;
        if (at > found.high) found.high = at;
    }
    r->part[part] = found;
    return PP_OK;
}

pp_status pp_parallelism_measure(const pp_survey *survey, const pp_plane *datum, int threads,
                                 pp_memory *memory, double *parallelism, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    ranging r = {.survey = survey, .datum = datum, .parts = survey->count / PART_POINTS};
    if (r.parts < 1) r.parts = 1;
    if (r.parts > PARTS_MAX) r.parts = PARTS_MAX;
    PP_TAKE(r.part, &memory->scratch, r.parts);
    PP_TRY(pp_parallel(threads, r.parts, range_part, &r, error));
    range all = r.part[0];
    for (size_t k = 1; k < r.parts; k++) {
        all.low = fmin(all.low, r.part[k].low);
        all.high = fmax(all.high, r.part[k].high);
    }
    pp_arena_release(&memory->scratch, mark);
    *parallelism = all.high - all.low;
    return PP_OK;
}
