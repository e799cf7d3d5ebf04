#include "stack/pile.h"

#include <math.h>
#include <string.h>

/* The table's points and behind them the pins, as one list. */
static pp_status join_points(const pp_supports *table, const pp_supports *pins, pp_memory *memory,
                             pp_supports *all, pp_error *error)
{
    size_t t = table->count, p = pins ? pins->count : 0;
    double *x, *y, *height, *share;
    PP_TAKE(x, &memory->keep, t + p);
    PP_TAKE(y, &memory->keep, t + p);
    PP_TAKE(height, &memory->keep, t + p);
    PP_TAKE(share, &memory->keep, t + p);
    for (int part = 0; part < (pins ? 2 : 1); part++) {
        const pp_supports *from = part ? pins : table;
        size_t at = part ? t : 0;
        memcpy(x + at, from->x, from->count * sizeof *x);
        memcpy(y + at, from->y, from->count * sizeof *y);
        memcpy(height + at, from->height, from->count * sizeof *height);
        memcpy(share + at, from->share, from->count * sizeof *share);
    }
    *all = (pp_supports){.count = t + p, .x = x, .y = y, .height = height, .share = share};
    return PP_OK;
}

static pp_status find_points(pp_stack_ground *g, const pp_place_list *pins, pp_memory *memory,
                             pp_error *error)
{
    pp_supports table, under;
    PP_TRY(pp_supports_table(g->mesh, memory, &table, error));
    if (pins)
        PP_TRY(pp_supports_pins(g->mesh, pins, g->spec.pins_file, true, memory, &under, error));
    g->table = !pins;
    g->table_points = table.count;
    return join_points(&table, pins ? &under : NULL, memory, &g->points, error);
}

static pp_status find_sag(pp_stack_ground *g, pp_memory *memory, pp_error *error)
{
    double *sag, *at;
    pp_probe probe;
    PP_TAKE(sag, &memory->keep, g->mesh->dofs);
    PP_TAKE(at, &memory->keep, g->points.count);
    pp_mesh_uniform_load(g->mesh, sag);
    PP_TRY(pp_compliance_solve(&g->compliance, 1, sag, error));
    for (size_t i = 0; i < g->points.count; i++) {
        pp_probe_point(&g->compliance, g->points.x[i], g->points.y[i], 0, 0, &probe);
        at[i] = pp_probe_field(&probe, sag);
    }
    g->sag = sag;
    g->sag_at = at;
    return PP_OK;
}

pp_status pp_stack_stiffness(const pp_stack_ground *g, double *band, pp_error *error)
{
    const pp_softening *soft = &g->softening;
    double nu = g->spec.poisson_ratio, other = soft->poisson_ratio;
    pp_plate_part parts[2] = {{1, nu}};
    bool softened = soft->share > 0;
    if (softened)
        parts[1] =
            (pp_plate_part){soft->modulus_ratio * (1 - nu * nu) / (1 - other * other), other};
    return pp_mesh_stiffness_parts(g->mesh, softened ? soft->region : NULL, softened ? 2 : 1, parts,
                                   NULL, band, error);
}

pp_status pp_stack_ground_make(const pp_stack_ground_request *request, pp_memory *memory,
                               pp_stack_ground *ground, pp_error *error)
{
    const pp_stack_spec *spec = &request->spec;
    pp_stack_ground g = {.spec = *spec, .shapes = spec->shapes, .layers = spec->shapes->count};
    pp_mesh *mesh;
    double *band;
    PP_TAKE(mesh, &memory->keep, 1);
    PP_TRY(pp_mesh_make(spec->outline, request->cells, memory, mesh, error));
    g.mesh = mesh;
    PP_TAKE(band, &memory->keep, mesh->dofs * (mesh->half_bandwidth + 1));
    if (spec->drilling)
        PP_TRY(pp_softening_find(mesh, spec->drilling, memory, &g.softening, error));
    PP_TRY(pp_stack_stiffness(&g, band, error));
    PP_TRY(pp_compliance_make(mesh, band, 1, spec->foot_radius, memory, &g.compliance, error));
    PP_TRY(find_points(&g, request->pins, memory, error));
    PP_TRY(pp_influence_make(&g.compliance, &g.points, NULL, NULL, request->threads, memory,
                             &g.influence, error));
    PP_TRY(find_sag(&g, memory, error));
    *ground = g;
    return PP_OK;
}

/* One arrangement ------------------------------------------------------------------------ */

double pp_stack_free_gap(const pp_stack_pile *pile, size_t k, double x, double y)
{
    const pp_stack_ground *g = pile->ground;
    pp_probe probe;
    pp_probe_point(&g->compliance, x, y, 0, 0, &probe);
    double sag = pp_probe_field(&probe, g->sag) / g->mesh->area;
    double gap = pp_stack_shape_height(g->shapes, &pile->way[k], true, x, y) -
                 pile->weight[k] * sag / pile->rigidity[k];
    if (pile->pressed && k + 1 == pile->layers)
        gap -= pp_probe_field(&probe, pile->pressed->field) / pile->rigidity[k];
    if (k == 0) return gap;
    return gap - pp_stack_shape_height(g->shapes, &pile->way[k - 1], false, x, y) +
           pile->weight[k - 1] * sag / pile->rigidity[k - 1];
}

double pp_stack_coupling(const pp_stack_pile *pile, size_t k, size_t l)
{
    if (k == l) return 1 / pile->rigidity[k] + (k > 0 ? 1 / pile->rigidity[k - 1] : 0);
    if (k + 1 == l) return -1 / pile->rigidity[k];
    if (l + 1 == k) return -1 / pile->rigidity[l];
    return 0;
}

static double entry(const void *context, size_t i, size_t j)
{
    const pp_stack_pile *pile = context;
    size_t k = pile->interface[i], l = pile->interface[j];
    if (k + 1 < l || l + 1 < k) return 0;
    const pp_influence *f = &pile->ground->influence;
    return pp_stack_coupling(pile, k, l) * f->g[pile->point[j] * f->count + pile->point[i]];
}

static void number_contacts(pp_stack_pile *p)
{
    const pp_stack_ground *g = p->ground;
    p->count = 0;
    for (size_t k = 0; k < p->layers; k++) {
        bool pins = k == 0 && !g->table;
        p->begin[k] = p->count;
        p->first_point[k] = pins ? g->table_points : 0;
        p->count += pins ? g->points.count - g->table_points : g->table_points;
    }
    p->begin[p->layers] = p->count;
}

static void weigh(pp_stack_pile *p)
{
    for (size_t k = 0; k < p->layers; k++) {
        const pp_stack_shape *shape = &p->ground->shapes->shape[p->way[k].layer];
        p->rigidity[k] = shape->rigidity;
        p->weight[k] = shape->weight;
    }
    for (size_t k = p->layers; k-- > 0;)
        p->carried[k] = p->weight[k] + (k + 1 < p->layers ? p->carried[k + 1] : 0);
    p->total_weight = p->carried[0] + (p->pressed ? p->pressed->force : 0);
}

pp_status pp_stack_pile_make(const pp_stack_ground *ground, const pp_stack_way *way,
                             const pp_stack_pressed *pressed, pp_arena *arena, pp_stack_pile *pile,
                             pp_error *error)
{
    pp_stack_pile p = {.ground = ground, .layers = ground->layers, .pressed = pressed};
    const pp_supports *points = &ground->points;
    uint8_t *interface;
    uint32_t *point;
    double *gap, *r;
    memcpy(p.way, way, p.layers * sizeof *way);
    weigh(&p);
    number_contacts(&p);
    size_t n = p.count, rigid = 3 * p.layers;
    PP_TAKE(interface, arena, n);
    PP_TAKE(point, arena, n);
    PP_TAKE(gap, arena, n);
    PP_TAKE_ZERO(r, arena, n * rigid);
    for (size_t k = 0; k < p.layers; k++)
        for (size_t i = p.begin[k]; i < p.begin[k + 1]; i++) {
            size_t at = p.first_point[k] + i - p.begin[k];
            interface[i] = (uint8_t)k;
            point[i] = (uint32_t)at;
            gap[i] = pp_stack_free_gap(&p, k, points->x[at], points->y[at]) -
                     (k == 0 ? points->height[at] : 0);
            for (size_t l = 0; l < 3; l++)
                r[(3 * k + l) * n + i] = ground->influence.r[l * points->count + at];
        }
    p.interface = interface;
    p.point = point;
    p.gap = gap;
    p.contact = (pp_contact_points){.count = n, .rigid = rigid, .r = r, .entry = entry};
    *pile = p;
    pile->contact.context = pile;
    return PP_OK;
}
