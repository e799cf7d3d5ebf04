#include "stack/section.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "linalg/linalg.h"
#include "stack/bench.h"

enum { DIRECTIONS = 12 };

typedef struct cutting {
    const pp_stack_pile *pile;
    pp_memory *memory;
    size_t layers;
    double *reaction, *gap;           /* [N + layers] of one state */
    double *net;                      /* [points] forces up on one layer, at D = 1 */
    double *field;                    /* [layers * dofs] what bends each layer, times D */
    double *hole, *foot;              /* [dofs] answers to a force at the hole, under the foot */
    double motion[3 * PP_LAYERS_MAX]; /* of each layer, absolute */
    double force;
} cutting;

/* The force on each point of the shared list that pushes layer k up. */
static void net_forces(const cutting *c, size_t k)
{
    const pp_stack_pile *p = c->pile;
    memset(c->net, 0, p->ground->points.count * sizeof *c->net);
    for (size_t i = p->begin[k]; i < p->begin[k + 1]; i++) c->net[p->point[i]] += c->reaction[i];
    if (k + 1 == c->layers) return;
    for (size_t i = p->begin[k + 1]; i < p->begin[k + 2]; i++)
        c->net[p->point[i]] -= c->reaction[i];
}

/* How all forces bend layer k, times its rigidity. */
static void bend_layer(cutting *c, size_t k)
{
    const pp_stack_ground *g = c->pile->ground;
    size_t n = g->mesh->dofs, at = c->pile->count + k;
    double *field = c->field + k * n, pressure = c->pile->weight[k] / g->mesh->area;
    double here = c->reaction[at] - (k + 1 < c->layers ? c->reaction[at + 1] : 0);
    double down = k + 1 == c->layers ? c->force : 0;
    for (size_t i = 0; i < n; i++)
        field[i] = here * c->hole[i] - down * c->foot[i] - pressure * g->sag[i];
    net_forces(c, k);
    pp_influence_field(&g->influence, n, c->net, field);
}

static double bent(const cutting *c, size_t k, const pp_probe *probe)
{
    size_t n = c->pile->ground->mesh->dofs;
    return pp_probe_field(probe, c->field + k * n) / c->pile->rigidity[k];
}

/* Gap of interface k at a place, but for the rigid motion */
static double rigid_gap(const cutting *c, size_t k, double x, double y, const pp_probe *probe)
{
    const pp_stack_pile *p = c->pile;
    const pp_stack_shapes *shapes = p->ground->shapes;
    double gap = pp_stack_shape_height(shapes, &p->way[k], true, x, y) + bent(c, k, probe);
    if (k == 0) return gap;
    return gap - pp_stack_shape_height(shapes, &p->way[k - 1], false, x, y) - bent(c, k - 1, probe);
}

/* The rigid motion that brings the gaps of interface k to what they are, from all of its points;
 * layer k moves with the one below it, too. */
static pp_status find_motion(cutting *c, size_t k, pp_error *error)
{
    const pp_stack_pile *p = c->pile;
    const pp_supports *points = &p->ground->points;
    double normal[9] = {0}, sum[3] = {0};
    for (size_t i = p->begin[k]; i < p->begin[k + 1]; i++) {
        size_t at = p->point[i];
        pp_probe probe;
        pp_probe_point(&p->ground->compliance, points->x[at], points->y[at], 0, 0, &probe);
        double off = c->gap[i] - rigid_gap(c, k, points->x[at], points->y[at], &probe) +
                     (k == 0 ? points->height[at] : 0);
        for (int a = 0; a < 3; a++) {
            sum[a] += probe.rigid[a] * off;
            for (int b = 0; b < 3; b++) normal[3 * a + b] += probe.rigid[a] * probe.rigid[b];
        }
    }
    PP_TRY(pp_cholesky_factor(3, normal, 3, error));
    PP_TRY(pp_cholesky_solve(3, normal, 3, 1, sum, 3, error));
    for (int a = 0; a < 3; a++)
        c->motion[3 * k + (size_t)a] = sum[a] + (k ? c->motion[3 * (k - 1) + (size_t)a] : 0);
    return PP_OK;
}

static pp_status find_state(cutting *c, const pp_contact_base *base, const pp_contact_work *work,
                            double force, pp_error *error)
{
    c->force = force;
    memset(c->reaction, 0, (c->pile->count + c->layers) * sizeof *c->reaction);
    pp_contact_state(base, work, force, NULL, c->reaction, c->gap, NULL);
    for (size_t k = 0; k < c->layers; k++) bend_layer(c, k);
    for (size_t k = 0; k < c->layers; k++) PP_TRY(find_motion(c, k, error));
    return PP_OK;
}

/* The line ------------------------------------------------------------------------------ */

/* Ends of the line through (x, y), measured from there; the outline is convex. */
static void find_ends(const pp_mesh *mesh, double x, double y, double angle, double ends[2])
{
    double far = hypot(mesh->width, mesh->height);
    for (int side = 0; side < 2; side++) {
        double sign = side ? 1 : -1, in = 0, out = far;
        for (int i = 0; i < 50; i++) {
            double middle = 0.5 * (in + out);
            bool inside = pp_mesh_inside(mesh, x + sign * middle * cos(angle),
                                         y + sign * middle * sin(angle));
            if (inside)
                in = middle;
            else
                out = middle;
        }
        ends[side] = sign * in;
    }
}

static double along(const pp_stack_section *s, size_t i)
{
    return s->from + (s->to - s->from) * (double)i / (PP_SECTION_POINTS - 1);
}

/* Largest distance of the layer's face from the chord of the line */
static double bow_along(const pp_stack_pile *pile, size_t k, const pp_stack_section *s)
{
    double angle = s->direction_deg * PP_PI / 180, h[PP_SECTION_POINTS], bow = 0;
    for (size_t i = 0; i < PP_SECTION_POINTS; i++)
        h[i] =
            pp_stack_shape_height(pile->ground->shapes, &pile->way[k], true,
                                  s->x + along(s, i) * cos(angle), s->y + along(s, i) * sin(angle));
    for (size_t i = 0; i < PP_SECTION_POINTS; i++) {
        double share = (double)i / (PP_SECTION_POINTS - 1);
        bow = fmax(bow, fabs(h[i] - (1 - share) * h[0] - share * h[PP_SECTION_POINTS - 1]));
    }
    return bow;
}

static void choose_direction(const pp_stack_pile *pile, size_t interface, pp_stack_section *s)
{
    double best = -1;
    pp_stack_section chosen = *s;
    for (int d = 0; d < DIRECTIONS; d++) {
        pp_stack_section now = *s;
        double ends[2];
        now.direction_deg = 180.0 / DIRECTIONS * d;
        find_ends(pile->ground->mesh, s->x, s->y, now.direction_deg * PP_PI / 180, ends);
        now.from = ends[0], now.to = ends[1];
        double bow = bow_along(pile, interface, &now);
        if (bow > best * (1 + 1e-9)) best = bow, chosen = now;
    }
    *s = chosen;
}

static void fill_heights(const cutting *c, const pp_stack_section *s, double *height)
{
    const pp_stack_pile *p = c->pile;
    double angle = s->direction_deg * PP_PI / 180;
    for (size_t i = 0; i < PP_SECTION_POINTS; i++) {
        double x = s->x + along(s, i) * cos(angle), y = s->y + along(s, i) * sin(angle);
        pp_probe probe;
        pp_probe_point(&p->ground->compliance, x, y, 0, 0, &probe);
        for (size_t k = 0; k < c->layers; k++) {
            double z = pp_stack_shape_height(p->ground->shapes, &p->way[k], true, x, y) +
                       bent(c, k, &probe);
            for (size_t a = 0; a < 3; a++) z += probe.rigid[a] * c->motion[3 * k + a];
            height[k * PP_SECTION_POINTS + i] = z;
        }
    }
}

/* Equilibrium ---------------------------------------------------------------------------- */

static void add_load(double force, const pp_probe *probe, double *load)
{
    for (size_t i = 0; i < probe->count; i++) load[probe->dof[i]] += force * probe->value[i];
}

/* K w - loads of every layer: what is left over, which only the springs could have taken. */
static pp_status find_residual(cutting *c, double x, double y, double *worst, pp_error *error)
{
    const pp_stack_ground *g = c->pile->ground;
    const pp_mesh *mesh = g->mesh;
    size_t n = mesh->dofs;
    double *band, *load, *left;
    pp_probe probe;
    PP_TAKE(band, &c->memory->scratch, n * (mesh->half_bandwidth + 1));
    PP_TAKE(load, &c->memory->scratch, n);
    PP_TAKE(left, &c->memory->scratch, n);
    PP_TRY(pp_stack_stiffness(g, band, error));
    *worst = 0;
    for (size_t k = 0; k < c->layers; k++) {
        size_t at = c->pile->count + k;
        pp_mesh_uniform_load(mesh, load);
        for (size_t i = 0; i < n; i++) load[i] *= -c->pile->weight[k] / mesh->area;
        net_forces(c, k);
        for (size_t i = 0; i < g->points.count; i++) {
            if (c->net[i] == 0) continue;
            pp_probe_point(&g->compliance, g->points.x[i], g->points.y[i], 0, 0, &probe);
            add_load(c->net[i], &probe, load);
        }
        pp_probe_point(&g->compliance, x, y, 0, 0, &probe);
        add_load(c->reaction[at] - (k + 1 < c->layers ? c->reaction[at + 1] : 0), &probe, load);
        pp_probe_ring(&g->compliance, x, y, g->spec.foot_radius, &probe);
        add_load(k + 1 == c->layers ? -c->force : 0, &probe, load);
        pp_band_multiply(n, mesh->half_bandwidth, band, c->field + k * n, left);
        for (size_t i = 0; i < n; i++) *worst = fmax(*worst, fabs(left[i] - load[i]));
    }
    return PP_OK;
}

/* Whole ---------------------------------------------------------------------------------- */

static pp_status answer_to(const cutting *c, const pp_probe *probe, double *field, pp_error *error)
{
    const pp_stack_ground *g = c->pile->ground;
    memset(field, 0, g->mesh->dofs * sizeof *field);
    for (size_t i = 0; i < probe->count; i++) field[probe->dof[i]] = probe->value[i];
    return pp_compliance_solve(&g->compliance, 1, field, error);
}

static pp_status take(cutting *c, double x, double y, pp_error *error)
{
    const pp_stack_ground *g = c->pile->ground;
    pp_arena *scratch = &c->memory->scratch;
    size_t n = g->mesh->dofs, contacts = c->pile->count + c->layers;
    pp_probe probe;
    PP_TAKE(c->reaction, scratch, contacts);
    PP_TAKE(c->gap, scratch, contacts);
    PP_TAKE(c->net, scratch, g->points.count);
    PP_TAKE(c->field, scratch, c->layers * n);
    PP_TAKE(c->hole, scratch, n);
    PP_TAKE(c->foot, scratch, n);
    pp_probe_point(&g->compliance, x, y, 0, 0, &probe);
    PP_TRY(answer_to(c, &probe, c->hole, error));
    pp_probe_ring(&g->compliance, x, y, g->spec.foot_radius, &probe);
    return answer_to(c, &probe, c->foot, error);
}

pp_status pp_stack_section_cut(const pp_stack_pile *pile, const pp_stack_rest *rest,
                               const pp_stack_cut *cut, pp_memory *memory,
                               pp_stack_section *section, pp_error *error)
{
    double x = cut->x, y = cut->y;
    cutting c = {.pile = pile, .memory = memory, .layers = pile->layers};
    pp_stack_section s = {.x = x, .y = y};
    double *at_rest, *under_foot;
    pp_bench *bench;
    pp_probe *probes;
    PP_TAKE(at_rest, &memory->keep, PP_SECTION_POINTS * pile->layers);
    PP_TAKE(under_foot, &memory->keep, PP_SECTION_POINTS * pile->layers);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(bench, &memory->scratch, 1);
    PP_TAKE(probes, &memory->scratch, 4);
    PP_TRY(take(&c, x, y, error));
    PP_TRY(pp_bench_take(pile, rest, &memory->scratch, bench, error));
    choose_direction(pile, cut->interface, &s);
    pp_bench_look(bench, 1, &x, &y, probes);
    pp_bench_enter(bench, 0, x, y, probes);
    PP_TRY(pp_bench_solve(bench, 0, PP_BENCH_REST, error));
    PP_TRY(find_state(&c, &bench->base, &bench->work, 0, error));
    fill_heights(&c, &s, at_rest);
    PP_TRY(pp_bench_solve(bench, cut->force, PP_BENCH_FOOT, error));
    PP_TRY(find_state(&c, &bench->base, &bench->work, cut->force, error));
    fill_heights(&c, &s, under_foot);
    PP_TRY(find_residual(&c, x, y, &s.equilibrium, error));
    s.at_rest = at_rest;
    s.under_foot = under_foot;
    pp_arena_release(&memory->scratch, mark);
    *section = s;
    return PP_OK;
}
