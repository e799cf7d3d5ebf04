#include "stack/shapes.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "flatness/surface.h"
#include "flatness/survey_size.h"
#include "holddown/compliance.h"
#include "holddown/curvature.h"

#include "holddown/reactions.h"
#include "holddown/seat.h"
#include "holddown/setup.h"
#include "holddown/support.h"
#include "input/lists/survey.h"

enum { CELLS = 32 }; /* as for a single plate */

static const double TOUCH_GAP_LEAST = 0.02; /* mm; finer is noise of any survey */
static const double TOUCH_GAP_GROWTH = 1.3;
static const double TOUCH_GAP_MOST = 5; /* mm: beyond, the survey is not of this seat */

/* What all layers have in common. */
typedef struct freeing {
    const pp_job *job;
    const pp_mesh *mesh;
    pp_compliance compliance; /* for D = 1 */
    pp_supports supports;     /* what a layer surveyed on the supports lay on */
    const double *uniform;    /* load of 1 N/mm2 */
    pp_memory *memory;
    int threads;
} freeing;

static pp_status prepare(freeing *f, const pp_place_list *pins, pp_error *error)
{
    pp_mesh *mesh;
    double *band, *uniform;
    PP_TAKE(mesh, &f->memory->keep, 1);
    PP_TRY(pp_mesh_make(pp_job_outline(f->job), CELLS, f->memory, mesh, error));
    f->mesh = mesh;
    PP_TAKE(band, &f->memory->keep, mesh->dofs * (mesh->half_bandwidth + 1));
    PP_TAKE(uniform, &f->memory->keep, mesh->dofs);
    PP_TRY(pp_mesh_stiffness(mesh, f->job->plate.poisson_ratio, band, error));
    PP_TRY(pp_compliance_make(mesh, band, 1, 0, f->memory, &f->compliance, error));
    pp_mesh_uniform_load(mesh, uniform);
    f->uniform = uniform;
    if (pins)
        return pp_supports_pins(mesh, pins, f->job->support.file.path, false, f->memory,
                                &f->supports, error);
    return pp_supports_table(mesh, f->memory, &f->supports, error);
}

/* What held it -------------------------------------------------------------------------- */

static void add_force(const freeing *f, double x, double y, double force, double *load)
{
    pp_probe probe;
    pp_probe_point(&f->compliance, x, y, 0, 0, &probe);
    for (size_t k = 0; k < probe.count; k++) load[probe.dof[k]] += force * probe.value[k];
}

static pp_status held_by_three(const freeing *f, const pp_layer *layer, double weight, double *load,
                               pp_error *error)
{
    static const double equal[3] = {1, 1, 1};
    pp_place_list three;
    const char *file = layer->three_points.path;
    double angles[3], reaction[3];
    PP_TRY(pp_places_read(f->job, &layer->three_points, f->memory, &three, error));
    if (three.count != 3)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "%zu places stand where the three survey supports of layer %s should; "
                          "give three",
                          three.count, layer->name);
    for (int k = 0; k < 3; k++)
        if (!pp_mesh_inside(f->mesh, three.x[k], three.y[k]))
            return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                              "survey support %d, (%g, %g), is not under the plate; check its "
                              "place and unit",
                              k + 1, three.x[k], three.y[k]);
    pp_stand stand = pp_stand_on(f->mesh, 3, three.x, three.y);
    if (!pp_footing_solve(&stand, equal, weight, angles, reaction))
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "the centre of layer %s is not over its three survey supports, so it "
                          "would have tipped; check their places",
                          layer->name);
    for (int k = 0; k < 3; k++) add_force(f, three.x[k], three.y[k], reaction[k], load);
    return PP_OK;
}

/* Height of the lower face above the supports, on the plane the stiff plate would rest on. */
static pp_status gaps_on_supports(const freeing *f, const double *face, double *gap,
                                  pp_error *error)
{
    const pp_supports *s = &f->supports;
    pp_probe probe;
    for (size_t i = 0; i < s->count; i++) {
        pp_probe_point(&f->compliance, s->x[i], s->y[i], 0, 0, &probe);
        gap[i] = pp_probe_field(&probe, face) - s->height[i];
    }
    if (f->job->support.seat == PP_SEAT_LEVEL) {
        for (size_t i = 0; i < s->count; i++) gap[i] -= f->job->support.height;
        return PP_OK;
    }
    pp_rest_plane plane;
    pp_stand stand = pp_stand_on(f->mesh, s->count, s->x, s->y);
    PP_TRY(pp_seat_rest_plane(&stand, gap, &plane, error));
    for (size_t i = 0; i < s->count; i++) gap[i] -= pp_seat_height(&plane, s->x[i], s->y[i]);
    return PP_OK;
}

/* Reactions by even footing over all supports within the touching tolerance. */
static bool foot_within(const freeing *f, const double *gap, double touch_gap, double weight,
                        double *work, double *load)
{
    const pp_supports *s = &f->supports;
    double *x = work, *y = x + s->count, *share = y + s->count, *angles = share + s->count;
    double *r = angles + s->count;
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++)
        if (gap[i] <= touch_gap) x[n] = s->x[i], y[n] = s->y[i], share[n++] = s->share[i];
    pp_stand stand = pp_stand_on(f->mesh, n, x, y);
    if (!pp_footing_solve(&stand, share, weight, angles, r)) return false;
    for (size_t i = 0; i < n; i++)
        if (r[i] > 0) add_force(f, x[i], y[i], r[i], load);
    return true;
}

static pp_status held_by_supports(const freeing *f, const pp_layer *layer, const double *face,
                                  double weight, pp_stack_shape *shape, double *load,
                                  pp_error *error)
{
    double *gap, *work, touch = f->job->support.touch_gap;
    size_t m = f->supports.count;
    PP_TAKE(gap, &f->memory->scratch, m);
    PP_TAKE(work, &f->memory->scratch, 5 * m);
    PP_TRY(gaps_on_supports(f, face, gap, error));
    if (!pp_given(touch)) touch = fmax(2 * shape->standard_error, TOUCH_GAP_LEAST);
    while (!foot_within(f, gap, touch, weight, work, load)) {
        touch *= TOUCH_GAP_GROWTH;
        shape->touch_gap_grown = true;
        if (touch > TOUCH_GAP_MOST)
            return pp_fail_at(error, PP_EINPUT, layer->survey.path, 0, 0,
                              "the surveyed surface of layer %s does not come within %g mm of "
                              "supports that could carry it; check support_height, seat and up, or "
                              "say how it lay with `laid`",
                              layer->name, TOUCH_GAP_MOST);
    }
    return PP_OK;
}

/* Free of load -------------------------------------------------------------------------- */

/* relief[dofs] = Ks^-1 (what held it - its weight), per layer: a load set in balance */
static pp_status find_relief(const freeing *f, const pp_layer *layer, const double *face,
                             pp_stack_shape *shape, double *relief, pp_error *error)
{
    size_t n = f->mesh->dofs;
    memset(relief, 0, n * sizeof *relief);
    if (layer->laid == PP_LAID_FREE) return PP_OK;
    if (layer->laid == PP_LAID_ON_THREE_POINTS)
        PP_TRY(held_by_three(f, layer, shape->weight, relief, error));
    else
        PP_TRY(held_by_supports(f, layer, face, shape->weight, shape, relief, error));
    double pressure = shape->weight / f->mesh->area;
    for (size_t i = 0; i < n; i++)
        relief[i] = (relief[i] - pressure * f->uniform[i]) / shape->rigidity;
    return pp_compliance_solve(&f->compliance, 1, relief, error);
}

static pp_status fit(const freeing *f, const pp_layer *layer, const pp_job_file *file,
                     double *field, const pp_table_reading **reading, pp_stack_shape *shape,
                     pp_error *error)
{
    pp_survey survey;
    pp_surface surface;
    pp_surface_options options = {.uncertainty = layer->uncertainty, .threads = f->threads};
    PP_TRY(pp_survey_read_turned(f->job, file, layer->survey_angle_deg, f->threads, f->memory,
                                 &survey, error));
    PP_TRY(pp_survey_check_size(f->job, &survey, file->path, error));
    pp_mark mark = pp_arena_mark(&f->memory->keep); /* of the fit only the field is needed */
    PP_TRY(pp_surface_fit(&survey, f->mesh, &options, f->memory, &surface, error));
    memcpy(field, surface.field, f->mesh->dofs * sizeof *field);
    pp_arena_release(&f->memory->keep, mark);
    *reading = survey.reading;
    shape->standard_error = fmax(surface.standard_error, shape->standard_error); /* skips NaN */
    shape->unseen_share = fmax(surface.unseen_share, shape->unseen_share);
    shape->noisier |= surface.noisier_than_stated;
    shape->left_out += surface.left_out_count;
    return PP_OK;
}

/* Largest less smallest height of the nodes above their least-squares plane */
static double bow_of(const pp_mesh *m, const double *field)
{
    double s[9] = {0}, low = INFINITY, high = -INFINITY, c[3];
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i <= m->nx; i++)
            for (size_t j = 0; j <= m->ny; j++) {
                double x = m->x0 + (double)i * m->hx, y = m->y0 + (double)j * m->hy;
                if (!pp_mesh_inside(m, x, y)) continue;
                size_t node = m->x_fastest ? j * (m->nx + 1) + i : i * (m->ny + 1) + j;
                double z = field[4 * node];
                x -= m->centre_x, y -= m->centre_y;
                if (pass == 0) {
                    s[0] += 1, s[1] += z, s[2] += x * x, s[3] += y * y, s[4] += x * z,
                        s[5] += y * z;
                } else {
                    double above = z - c[0] - c[1] * x - c[2] * y;
                    low = fmin(low, above), high = fmax(high, above);
                }
            }
        /* the nodes lie symmetrically about the centre */
        c[0] = s[1] / s[0], c[1] = s[4] / s[2], c[2] = s[5] / s[3];
    }
    return high - low;
}

/* A dome lying on its rim sags by this much under its own weight: flat on a table it may hide it
 * (Timoshenko and Woinowsky-Krieger, simply supported disc under uniform load). */
static double hidden_bow(const pp_mesh *mesh, const pp_plate_spec *plate,
                         const pp_stack_shape *shape)
{
    double nu = plate->poisson_ratio, radius = 0.5 * fmin(mesh->width, mesh->height);
    double pressure = shape->weight / mesh->area;
    return pressure * pow(radius, 4) * (5 + nu) / (64 * (1 + nu) * shape->rigidity);
}

static pp_status free_layer(const freeing *f, const pp_layer *layer, const pp_plate_spec *plate,
                            pp_stack_shape *shape, pp_error *error)
{
    size_t n = f->mesh->dofs;
    double *top, *under, *relief;
    PP_TAKE(top, &f->memory->keep, n);
    under = top;
    if (layer->underside.path) PP_TAKE(under, &f->memory->keep, n);
    pp_mark mark = pp_arena_mark(&f->memory->scratch);
    PP_TAKE(relief, &f->memory->scratch, n);
    PP_TRY(fit(f, layer, &layer->survey, top, &shape->reading, shape, error));
    shape->both_faces = under != top;
    if (shape->both_faces)
        PP_TRY(fit(f, layer, &layer->underside, under, &shape->underside_reading, shape, error));
    if (shape->both_faces) /* heights less the nominal thickness */
        for (size_t i = 0; i < n; i += 4) top[i] -= layer->thickness;
    PP_TRY(find_relief(f, layer, under, shape, relief, error));
    for (size_t i = 0; i < n; i++) top[i] -= relief[i];
    for (size_t i = 0; under != top && i < n; i++) under[i] -= relief[i];
    shape->top = top;
    shape->under = under;
    shape->bow = bow_of(f->mesh, top);
    if (layer->laid == PP_LAID_ON_SUPPORTS) shape->hidden_bow = hidden_bow(f->mesh, plate, shape);
    pp_curvature curvature;
    PP_TRY(pp_curvature_of(plate, f->mesh, top, 0, NULL, f->memory, &curvature, error));
    double dome = curvature.double_height / layer->thickness;
    shape->forces_low = dome > 0.5;
    if (shape->forces_low) shape->stiffer = pp_curvature_on_the_way(curvature.stiffening, 1) - 1;
    pp_arena_release(&f->memory->scratch, mark);
    return PP_OK;
}

pp_status pp_stack_shapes_make(const pp_job *job, int threads, pp_memory *memory,
                               pp_stack_shapes *shapes, pp_error *error)
{
    freeing f = {.job = job, .memory = memory, .threads = threads};
    pp_place_list pins;
    pp_stack_shape *shape;
    bool on_pins = job->support.kind == PP_SUPPORT_PINS;
    if (on_pins) PP_TRY(pp_places_read(job, &job->support.file, memory, &pins, error));
    PP_TRY(prepare(&f, on_pins ? &pins : NULL, error));
    PP_TAKE_ZERO(shape, &memory->keep, job->layer_count);
    for (size_t i = 0; i < job->layer_count; i++) {
        const pp_layer *layer = &job->layers[i];
        pp_plate_spec plate = pp_plate_spec_of(job);
        plate.thickness = layer->thickness;
        shape[i].standard_error = NAN;
        shape[i].rigidity = pp_plate_rigidity(&plate);
        shape[i].weight = pp_plate_weight(&plate, f.mesh->area);
        shape[i].surveyed = layer->survey.path != NULL;
        if (!shape[i].surveyed) continue;
        PP_TRY(free_layer(&f, layer, &plate, &shape[i], error));
    }
    *shapes = (pp_stack_shapes){f.mesh, job->layer_count, shape};
    return PP_OK;
}

double pp_stack_shape_height(const pp_stack_shapes *shapes, const pp_stack_way *way, bool under,
                             double x, double y)
{
    const pp_stack_shape *shape = &shapes->shape[way->layer];
    const pp_mesh *mesh = shapes->mesh;
    /* the face that looks this way when the layer lies so */
    const double *face = under != way->over ? shape->under : shape->top;
    if (!face) return 0;
    x -= mesh->centre_x, y -= mesh->centre_y;
    double c = cos(way->turn_deg * PP_PI / 180), s = sin(way->turn_deg * PP_PI / 180);
    if (way->turn_deg == 180) c = -1, s = 0;
    if (way->turn_deg == 90 || way->turn_deg == 270) c = 0, s = way->turn_deg == 90 ? 1 : -1;
    double px = c * x + s * y, py = c * y - s * x; /* R(-turn) x */
    if (way->over) py = -py;
    pp_mesh_row row;
    px += mesh->centre_x, py += mesh->centre_y;
    pp_mesh_shape(mesh, pp_mesh_find(mesh, px, py), 0, 0, &row);
    double height = pp_mesh_value(&row, face);
    return way->over ? -height : height;
}
