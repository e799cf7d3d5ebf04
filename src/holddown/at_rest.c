#include "holddown/at_rest.h"

#include <math.h>
#include <string.h>

#include "holddown/reactions.h"
#include "holddown/seat.h"

static const double TOUCH_GAP_GROWTH = 1.3;
static const double TOUCH_GAP_MOST = 5; /* mm: beyond, the survey is not of this seat */
static const double OPEN_LEAST = 1e-6;  /* mm: a point that touches but carries nothing */
enum { SEAT_LEVELS = 3, FINER = 8 };    /* of the points among which a seat on a table is sought */

/* field += height + slopes over the plate */
static void add_plane(const pp_mesh *mesh, double height, double slope_x, double slope_y,
                      double *field)
{
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            double *at = field + 4 * pp_mesh_node(mesh, i, j);
            double x = mesh->x0 + (double)i * mesh->hx - mesh->centre_x;
            double y = mesh->y0 + (double)j * mesh->hy - mesh->centre_y;
            at[0] += height + slope_x * x + slope_y * y;
            at[1] += slope_x * mesh->hx;
            at[2] += slope_y * mesh->hy;
        }
}

void pp_hold_add_motion(const pp_hold_plate *plate, const double motion[3], double *field)
{
    double per_mm = 1 / plate->compliance.length;
    add_plane(plate->mesh, motion[0], motion[1] * per_mm, motion[2] * per_mm, field);
}

void pp_hold_at_supports(const pp_mesh *mesh, const pp_supports *supports, const double *field,
                         double *value)
{
    pp_mesh_row row;
    for (size_t i = 0; i < supports->count; i++) {
        pp_mesh_shape(mesh, pp_mesh_find(mesh, supports->x[i], supports->y[i]), 0, 0, &row);
        value[i] = pp_mesh_value(&row, field);
    }
}

/* What the plate is made of ------------------------------------------------------------- */

/* Stiffness of each cell over that of the nominal thickness: it grows with the cube */
static pp_status cells_stiffness(const pp_plate_spec *spec, const pp_mesh *mesh, pp_memory *memory,
                                 const double **stiffer, pp_error *error)
{
    double *list;
    *stiffer = NULL;
    if (!spec->measured) return PP_OK;
    PP_TAKE(list, &memory->scratch, mesh->nx * mesh->ny);
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            double t[4];
            pp_thickness_at(spec->measured, mesh->x0 + ((double)i + 0.5) * mesh->hx,
                            mesh->y0 + ((double)j + 0.5) * mesh->hy, t);
            list[j * mesh->nx + i] = pow(t[0] / spec->thickness, 3);
        }
    *stiffer = list;
    return PP_OK;
}

static pp_status make_compliance(const pp_plate_spec *spec, const pp_softening *softening,
                                 double reach, pp_hold_plate *plate, pp_memory *memory,
                                 pp_error *error)
{
    const pp_mesh *mesh = plate->mesh;
    double nu = spec->poisson_ratio, *band;
    if (mesh->dofs > SIZE_MAX / sizeof *band / (mesh->half_bandwidth + 1))
        return pp_fail_memory(error);
    PP_TAKE(band, &memory->keep, mesh->dofs * (mesh->half_bandwidth + 1));
    pp_plate_part parts[2] = {{1, nu}};
    if (softening) {
        double soft = softening->poisson_ratio;
        parts[1] =
            (pp_plate_part){softening->modulus_ratio * (1 - nu * nu) / (1 - soft * soft), soft};
    }
    const double *stiffer;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(cells_stiffness(spec, mesh, memory, &stiffer, error));
    PP_TRY(pp_mesh_stiffness_parts(mesh, softening ? softening->region : NULL, softening ? 2 : 1,
                                   parts, stiffer, band, error));
    pp_arena_release(&memory->scratch, mark);
    return pp_compliance_make(mesh, band, pp_plate_rigidity(spec), reach, memory,
                              &plate->compliance, error);
}

/* The plate's own weight as a load, down positive */
static void weight_load(const pp_hold_plate *plate, double *load)
{
    pp_mesh_uniform_load(plate->mesh, load);
    double pressure = plate->weight / plate->mesh->area;
    for (size_t i = 0; i < plate->mesh->dofs; i++) load[i] *= pressure;
}

/* Seat ---------------------------------------------------------------------------------- */

/* A raster around a place: points of it that lie on the plate */
static size_t add_around(const pp_mesh *mesh, const double *shape, double x, double y, double step,
                         double *xs, double *ys, double *zs)
{
    size_t n = 0;
    pp_mesh_row row;
    for (int j = -FINER; j <= FINER; j++)
        for (int i = -FINER; i <= FINER; i++) {
            double u = x + i * step, v = y + j * step;
            if (!pp_mesh_inside(mesh, u, v)) continue;
            pp_mesh_shape(mesh, pp_mesh_find(mesh, u, v), 0, 0, &row);
            xs[n] = u, ys[n] = v, zs[n++] = pp_mesh_value(&row, shape);
        }
    return n;
}

/* A table touches between the contact points, too: seek the plane again among ever finer points
 * around the three it rests on. A bowl would else lean by half a cell. */
static pp_status rest_between(const pp_mesh *mesh, const pp_supports *s, const double *z,
                              const double *shape, pp_rest_plane *plane, pp_memory *memory,
                              pp_error *error)
{
    enum { AROUND = (2 * FINER + 1) * (2 * FINER + 1) };
    double *x, *y, *height, step = fmax(mesh->hx, mesh->hy);
    size_t room = s->count + 3 + 3 * AROUND;
    PP_TAKE(x, &memory->scratch, room);
    PP_TAKE(y, &memory->scratch, room);
    PP_TAKE(height, &memory->scratch, room);
    memcpy(x, s->x, s->count * sizeof *x);
    memcpy(y, s->y, s->count * sizeof *y);
    memcpy(height, z, s->count * sizeof *z);
    for (int level = 0; level < SEAT_LEVELS; level++) {
        double at[3][3];
        size_t n = s->count;
        step /= FINER;
        for (int k = 0; k < 3; k++) {
            size_t p = plane->touching[k];
            at[k][0] = x[p], at[k][1] = y[p], at[k][2] = height[p];
        }
        for (int k = 0; k < 3; k++, n++) x[n] = at[k][0], y[n] = at[k][1], height[n] = at[k][2];
        for (int k = 0; k < 3; k++)
            n += add_around(mesh, shape, at[k][0], at[k][1], step, x + n, y + n, height + n);
        pp_stand stand = pp_stand_on(mesh, n, x, y);
        PP_TRY(pp_seat_rest_plane(&stand, height, plane, error));
    }
    return PP_OK;
}

/* shape := surveyed height above the plane that a dead-flat plate would show */
static pp_status put_on_seat(const pp_mesh *mesh, const pp_support_spec *spec, const pp_supports *s,
                             double *shape, pp_memory *memory, pp_error *error)
{
    if (spec->seat == PP_SEAT_LEVEL) {
        add_plane(mesh, -spec->height, 0, 0, shape);
        return PP_OK;
    }
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *z;
    pp_rest_plane plane;
    PP_TAKE(z, &memory->scratch, s->count);
    pp_hold_at_supports(mesh, s, shape, z);
    for (size_t i = 0; i < s->count; i++) z[i] -= s->height[i];
    pp_stand stand = pp_stand_on(mesh, s->count, s->x, s->y);
    PP_TRY(pp_seat_rest_plane(&stand, z, &plane, error));
    if (!spec->pins) PP_TRY(rest_between(mesh, s, z, shape, &plane, memory, error));
    add_plane(mesh, -plane.height, -plane.slope_x, -plane.slope_y, shape);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

static pp_status find_supports(const pp_mesh *mesh, const pp_support_spec *spec, pp_memory *memory,
                               pp_supports *supports, pp_error *error)
{
    if (!spec->pins) return pp_supports_table(mesh, memory, supports, error);
    return pp_supports_pins(mesh, spec->pins, spec->pins_file, spec->seat == PP_SEAT_REST, memory,
                            supports, error);
}

pp_status pp_hold_seat(const pp_mesh *mesh, const double *shape, const pp_support_spec *spec,
                       pp_memory *memory, double *seated, pp_error *error)
{
    pp_supports supports;
    PP_TRY(find_supports(mesh, spec, memory, &supports, error));
    memcpy(seated, shape, mesh->dofs * sizeof *seated);
    return put_on_seat(mesh, spec, &supports, seated, memory, error);
}

/* How it lay when surveyed -------------------------------------------------------------- */

static bool fix_a_plane(const pp_hold_plate *plate, const bool *touching)
{
    double n = 0, s[5] = {0};
    for (size_t i = 0; i < plate->supports.count; i++) {
        if (!touching[i]) continue;
        double x = plate->points.r[plate->points.count + i];
        double y = plate->points.r[2 * plate->points.count + i];
        n += 1, s[0] += x, s[1] += y, s[2] += x * x, s[3] += y * y, s[4] += x * y;
    }
    if (n < 3) return false;
    double xx = s[2] / n - s[0] * s[0] / n / n, yy = s[3] / n - s[1] * s[1] / n / n;
    double xy = s[4] / n - s[0] * s[1] / n / n;
    return xx * yy - xy * xy > 1e-8 * (xx + yy) * (xx + yy);
}

bool pp_hold_fix_plane(const pp_hold_plate *plate, const double *gap, bool *touching)
{
    while (!fix_a_plane(plate, touching)) {
        size_t nearest = SIZE_MAX;
        for (size_t i = 0; i < plate->supports.count; i++)
            if (!touching[i] && (nearest == SIZE_MAX || gap[i] < gap[nearest])) nearest = i;
        if (nearest == SIZE_MAX) return false;
        touching[nearest] = true;
    }
    return true;
}

/* Reactions at the survey by the footing rule over all supports with gap <= touch_gap */
static bool stand(const pp_hold_plate *plate, const double *gap, double touch_gap, double *work,
                  double *reaction)
{
    const pp_supports *s = &plate->supports;
    double *x = work, *y = x + s->count, *share = y + s->count, *angles = share + s->count;
    double *r = angles + s->count;
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++) {
        if (!(gap[i] <= touch_gap)) continue;
        x[n] = s->x[i], y[n] = s->y[i], share[n++] = s->share[i];
    }
    pp_stand on = pp_stand_on(plate->mesh, n, x, y);
    if (!pp_footing_solve(&on, share, plate->weight, angles, r)) return false;
    n = 0;
    for (size_t i = 0; i < s->count; i++) reaction[i] = gap[i] <= touch_gap ? r[n++] : 0;
    return true;
}

static pp_status laid_on_supports(pp_hold_plate *plate, double *load, pp_memory *memory,
                                  pp_error *error)
{
    size_t m = plate->supports.count;
    double *gap, *work, *reaction;
    bool *touching;
    PP_TAKE(gap, &memory->keep, m);
    PP_TAKE_ZERO(touching, &memory->keep, m);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(work, &memory->scratch, 5 * m);
    PP_TAKE(reaction, &memory->scratch, m);
    pp_hold_at_supports(plate->mesh, &plate->supports, plate->shape, gap);
    for (size_t i = 0; i < m; i++) gap[i] -= plate->supports.height[i];
    plate->touch_gap_asked = plate->touch_gap;
    while (!stand(plate, gap, plate->touch_gap, work, reaction)) {
        plate->touch_gap *= TOUCH_GAP_GROWTH;
        if (plate->touch_gap > TOUCH_GAP_MOST)
            return pp_fail(error, PP_EINPUT,
                           "the surveyed surface does not come within %g mm of supports that could "
                           "carry the plate; check support_height, seat and up, or say how the "
                           "plate lay with `laid`",
                           TOUCH_GAP_MOST);
    }
    plate->touch_gap_grown = plate->touch_gap > plate->touch_gap_asked;
    for (size_t i = 0; i < m; i++) touching[i] = reaction[i] > 0;
    pp_hold_fix_plane(plate, gap, touching); /* the footing rule has made sure that they can */
    for (size_t i = 0; i < m; i++) {
        gap[i] = touching[i] ? -gap[i] : fmax(gap[i], OPEN_LEAST) - gap[i];
        if (reaction[i] == 0) continue;
        pp_probe probe;
        pp_probe_point(&plate->compliance, plate->supports.x[i], plate->supports.y[i], 0, 0,
                       &probe);
        for (size_t k = 0; k < probe.count; k++) load[probe.dof[k]] += reaction[i] * probe.value[k];
    }
    plate->touching = touching;
    plate->survey_lift = gap;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* Three supports: statics */
static pp_status laid_on_three(const pp_hold_plate *plate, const pp_support_spec *spec,
                               double *load, pp_error *error)
{
    static const double equal[3] = {1, 1, 1};
    double angles[3], reaction[3];
    const pp_mesh *mesh = plate->mesh;
    const pp_place_list *three = spec->three;
    if (three->count != 3)
        return pp_fail_at(error, PP_EINPUT, spec->three_file, 0, 0,
                          "%zu places stand where the three survey supports should; give three",
                          three->count);
    for (int k = 0; k < 3; k++)
        if (!pp_mesh_inside(mesh, three->x[k], three->y[k]))
            return pp_fail_at(error, PP_EINPUT, spec->three_file, 0, 0,
                              "survey support %d, (%g, %g), is not under the plate; check its "
                              "place and unit",
                              k + 1, three->x[k], three->y[k]);
    pp_stand stand = pp_stand_on(mesh, 3, three->x, three->y);
    if (!pp_footing_solve(&stand, equal, plate->weight, angles, reaction))
        return pp_fail_at(error, PP_EINPUT, spec->three_file, 0, 0,
                          "the centre of the plate is not over the three survey supports, so it "
                          "would have tipped; check their places");
    for (int k = 0; k < 3; k++) {
        pp_probe probe;
        pp_probe_point(&plate->compliance, three->x[k], three->y[k], 0, 0, &probe);
        for (size_t i = 0; i < probe.count; i++) load[probe.dof[i]] += reaction[k] * probe.value[i];
    }
    return PP_OK;
}

pp_status pp_hold_plate_unload(pp_hold_plate *p, pp_memory *memory, pp_error *error)
{
    size_t n = p->mesh->dofs;
    double *field;
    PP_TAKE(field, &memory->keep, n);
    memcpy(field, p->survey_load, n * sizeof *field);
    PP_TRY(pp_compliance_solve(&p->compliance, 1, field, error));
    for (size_t i = 0; i < n; i++) field[i] = p->shape[i] - field[i];
    p->unloaded = field;
    return PP_OK;
}

/* What held it up when it was surveyed */
static pp_status lay(pp_hold_plate *p, const pp_support_spec *spec, pp_memory *memory,
                     pp_error *error)
{
    double *load;
    PP_TAKE_ZERO(load, &memory->keep, p->mesh->dofs);
    switch (spec->laid) {
    case PP_LAID_ON_SUPPORTS:
        PP_TRY(laid_on_supports(p, load, memory, error));
        break;
    case PP_LAID_ON_THREE_POINTS:
        PP_TRY(laid_on_three(p, spec, load, error));
        break;
    case PP_LAID_FREE:
        weight_load(p, load);
        break;
    }
    p->survey_load = load;
    return pp_hold_plate_unload(p, memory, error);
}

static pp_hold_plate begin_plate(const pp_mesh *mesh, const pp_hold_setup *setup, int threads)
{
    return (pp_hold_plate){.mesh = mesh,
                           .threads = threads,
                           .table = !setup->supports.pins,
                           .weight = pp_plate_weight(&setup->plate, mesh->area),
                           .touch_gap = setup->supports.touch_gap,
                           .foot_radius = pp_foot_radius(&setup->foot)};
}

/* On its seat, as it lay when it was surveyed */
static pp_status seat_and_lay(pp_hold_plate *p, const double *shape, const pp_support_spec *spec,
                              pp_memory *memory, pp_error *error)
{
    double *own;
    PP_TAKE(own, &memory->keep, p->mesh->dofs);
    memcpy(own, shape, p->mesh->dofs * sizeof *own);
    PP_TRY(put_on_seat(p->mesh, spec, &p->supports, own, memory, error));
    p->shape = own;
    return lay(p, spec, memory, error);
}

pp_status pp_hold_plate_make(const pp_mesh *mesh, const double *shape, const pp_hold_setup *setup,
                             const pp_softening *softening, int threads, pp_memory *memory,
                             pp_hold_plate *plate, pp_error *error)
{
    const pp_support_spec *spec = &setup->supports;
    pp_hold_plate p = begin_plate(mesh, setup, threads);
    PP_TRY(make_compliance(&setup->plate, softening, p.foot_radius, &p, memory, error));
    PP_TRY(find_supports(mesh, spec, memory, &p.supports, error));
    PP_TRY(pp_influence_make(&p.compliance, &p.supports, NULL, NULL, threads, memory, &p.influence,
                             error));
    p.points = (pp_contact_points){
        .count = p.influence.count, .rigid = 3, .g = p.influence.g, .r = p.influence.r};
    PP_TRY(seat_and_lay(&p, shape, spec, memory, error));
    *plate = p;
    return PP_OK;
}

pp_status pp_hold_plate_lay(const pp_mesh *mesh, const double *shape, const pp_hold_setup *setup,
                            const pp_softening *softening, int threads, pp_memory *memory,
                            pp_hold_plate *laid, pp_error *error)
{
    const pp_support_spec *spec = &setup->supports;
    pp_hold_plate p = begin_plate(mesh, setup, threads);
    double *r;
    PP_TRY(make_compliance(&setup->plate, softening, -1, &p, memory, error));
    PP_TRY(find_supports(mesh, spec, memory, &p.supports, error));
    size_t m = p.supports.count;
    PP_TAKE(r, &memory->keep, 3 * m);
    for (size_t i = 0; i < m; i++) {
        pp_probe probe;
        pp_probe_point(&p.compliance, p.supports.x[i], p.supports.y[i], 0, 0, &probe);
        for (size_t k = 0; k < 3; k++) r[k * m + i] = probe.rigid[k];
    }
    p.points = (pp_contact_points){.count = m, .rigid = 3, .r = r};
    PP_TRY(seat_and_lay(&p, shape, spec, memory, error));
    *laid = p;
    return PP_OK;
}

/* As surveyed first, then over */
static pp_status reshape_turned(const pp_hold_plate *plate, const pp_support_spec *spec,
                                const double *change, pp_memory *memory, pp_hold_plate *reshaped,
                                pp_error *error)
{
    pp_hold_plate *before;
    PP_TAKE(before, &memory->keep, 1);
    PP_TRY(pp_hold_plate_reshape(plate->as_surveyed, spec, change, memory, before, error));
    return pp_hold_plate_turn(before, memory, reshaped, error);
}

pp_status pp_hold_plate_reshape(const pp_hold_plate *plate, const pp_support_spec *spec,
                                const double *change, pp_memory *memory, pp_hold_plate *reshaped,
                                pp_error *error)
{
    if (plate->as_surveyed) return reshape_turned(plate, spec, change, memory, reshaped, error);
    pp_hold_plate p = *plate;
    size_t n = p.mesh->dofs;
    pp_support_spec seated = *spec;
    double *own;
    seated.height = 0; /* the shape is above its seat already */
    PP_TAKE(own, &memory->keep, n);
    for (size_t i = 0; i < n; i++) own[i] = plate->shape[i] + change[i];
    PP_TRY(put_on_seat(p.mesh, &seated, &p.supports, own, memory, error));
    p.shape = own;
    p.touch_gap = spec->touch_gap;
    PP_TRY(lay(&p, spec, memory, error));
    *reshaped = p;
    return PP_OK;
}
