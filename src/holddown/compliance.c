#include "holddown/compliance.h"

#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "base/constants.h"
#include "base/parallel.h"
#include "linalg/linalg.h"

static const double SPRING_SHARE = 0.1;  /* spring = share * D / cell^2: any size near it serves */
static const double SPRING_RADIUS = 0.7; /* of the half sides: well spread, clear of cut cells */
static const double SURELY = 1 + 1e-6;   /* radii from the rim: all of the ring is on the plate */
enum { RING_POINTS = 8, SOLVE_BLOCK = 64, ABREAST = 4 };

/* Springs and factor -------------------------------------------------------------------- */

/* The middle of a cell, mostly on the plate, where `far` from the places found so far is the most:
 * from the centre, from the first, and the triangle's area. */
static void spread_out(const pp_mesh *mesh, int k, double at[3][2])
{
    double most = -1;
    for (size_t cell = 0; cell < mesh->nx * mesh->ny; cell++) {
        if (mesh->fraction[cell] < 0.5) continue;
        double x = mesh->x0 + ((double)(cell % mesh->nx) + 0.5) * mesh->hx;
        double y = mesh->y0 + ((double)(cell / mesh->nx) + 0.5) * mesh->hy;
        if (!pp_mesh_inside(mesh, x, y)) continue;
        double far = hypot(x - mesh->centre_x, y - mesh->centre_y);
        if (k == 1) far = hypot(x - at[0][0], y - at[0][1]);
        if (k == 2)
            far = fabs((at[1][0] - at[0][0]) * (y - at[0][1]) -
                       (at[1][1] - at[0][1]) * (x - at[0][0]));
        if (far > most) most = far, at[k][0] = x, at[k][1] = y;
    }
}

static void add_springs(const pp_mesh *mesh, double stiffness, double *band)
{
    size_t ld = mesh->half_bandwidth + 1;
    double at[3][2];
    for (int k = 0; k < 3; k++) {
        double angle = PP_PI / 2 + 2 * PP_PI / 3 * k;
        at[k][0] = mesh->centre_x + SPRING_RADIUS * mesh->width / 2 * cos(angle);
        at[k][1] = mesh->centre_y + SPRING_RADIUS * mesh->height / 2 * sin(angle);
        if (pp_outline_is_cut_out(&mesh->shape)) spread_out(mesh, k, at);
        pp_mesh_row row;
        pp_mesh_shape(mesh, pp_mesh_find(mesh, at[k][0], at[k][1]), 0, 0, &row);
        for (int i = 0; i < 16; i++)
            for (int j = 0; j < 16; j++)
                if (row.dof[i] >= row.dof[j])
                    band[row.dof[j] * ld + row.dof[i] - row.dof[j]] +=
                        stiffness * row.value[i] * row.value[j];
    }
}

/* dofs between the first and the last of two cells whose places are up to `reach` apart */
static size_t band_of_reach(const pp_mesh *mesh, double reach)
{
    size_t fast = (mesh->x_fastest ? mesh->nx : mesh->ny) + 1;
    double h_fast = mesh->x_fastest ? mesh->hx : mesh->hy;
    double h_slow = mesh->x_fastest ? mesh->hy : mesh->hx;
    size_t along = (size_t)ceil(reach / h_fast) + 1, across = (size_t)ceil(reach / h_slow) + 1;
    size_t band = 4 * (across * fast + along) + 3;
    return band < mesh->dofs ? band : mesh->dofs - 1;
}

static pp_status invert_near(double reach, pp_memory *memory, pp_compliance *c, pp_error *error)
{
    size_t n = c->mesh->dofs, kd = c->mesh->half_bandwidth;
    c->near_band = band_of_reach(c->mesh, reach);
    if (c->near_band < kd) c->near_band = kd;
    PP_TRY(pp_sizes_fit(c->near_band, error));
    PP_TAKE(c->near, &memory->keep, n * (c->near_band + 1));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *room;
    PP_TAKE(room, &memory->scratch, pp_band_invert_room(kd, c->near_band));
    pp_band_invert_near(n, kd, c->factor, c->near_band, c->near, room);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

pp_status pp_compliance_make(const pp_mesh *mesh, double *band, double rigidity, double reach,
                             pp_memory *memory, pp_compliance *compliance, pp_error *error)
{
    size_t n = mesh->dofs, kd = mesh->half_bandwidth;
    pp_compliance c = {.mesh = mesh, .rigidity = rigidity, .factor = band, .condition = NAN};
    c.length = 0.5 * fmax(mesh->width, mesh->height);
    /* factored for D = 1: the springs scale with D too */
    add_springs(mesh, SPRING_SHARE / (mesh->hx * mesh->hy), band);
    double norm = NAN, reciprocal = NAN;
    if (reach >= 0) PP_TRY(pp_band_norm(n, kd, band, &norm, error));
    PP_TRY(pp_band_factor(n, kd, band, error));
    if (reach >= 0) PP_TRY(pp_band_condition(n, kd, band, norm, &reciprocal, error));
    c.condition = 1 / reciprocal;
    double root = sqrt(rigidity);
    for (size_t i = 0; i < n * (kd + 1); i++) band[i] *= root;
    if (reach >= 0) PP_TRY(invert_near(reach, memory, &c, error));
    *compliance = c;
    return PP_OK;
}

pp_status pp_compliance_solve(const pp_compliance *c, size_t count, double *x, pp_error *error)
{
    return pp_band_solve(c->mesh->dofs, c->mesh->half_bandwidth, c->factor, count, x, error);
}

pp_status pp_compliance_deflect(const pp_compliance *c, size_t count, const pp_probe *probes,
                                double *beside, double *deflection, pp_error *error)
{
    size_t n = c->mesh->dofs;
    memset(beside, 0, n * count * sizeof *beside);
    for (size_t k = 0; k < count; k++)
        for (size_t i = 0; i < probes[k].count; i++)
            beside[probes[k].dof[i] * count + k] = probes[k].value[i];
    PP_TRY(
        pp_band_solve_beside(n, c->mesh->half_bandwidth, c->factor, count, beside, count, error));
    for (size_t k = 0; k < count; k++)
        for (size_t i = 0; i < n; i++) deflection[k * n + i] = beside[i * count + k];
    return PP_OK;
}

/* Probes -------------------------------------------------------------------------------- */

/* Where the dofs of cells stand in a probe; a cell is told by the first of them. */
typedef struct cells_met {
    size_t count, first[RING_POINTS];
    uint8_t at[RING_POINTS][16];
} cells_met;

static const uint8_t *find_cell(cells_met *met, const pp_mesh_row *row, pp_probe *probe)
{
    for (size_t c = 0; c < met->count; c++)
        if (met->first[c] == row->dof[0]) return met->at[c];
    uint8_t *at = met->at[met->count];
    met->first[met->count++] = row->dof[0];
    for (int i = 0; i < 16; i++) {
        size_t k = 0;
        while (k < probe->count && probe->dof[k] != row->dof[i]) k++;
        if (k == probe->count) {
            probe->dof[probe->count] = (uint32_t)row->dof[i];
            probe->value[probe->count++] = 0;
        }
        at[i] = (uint8_t)k;
    }
    return at;
}

static void add_place(const pp_compliance *c, double x, double y, int dx, int dy, double weight,
                      cells_met *met, pp_probe *probe)
{
    pp_mesh_row row;
    pp_mesh_shape(c->mesh, pp_mesh_find(c->mesh, x, y), dx, dy, &row);
    const uint8_t *at = find_cell(met, &row, probe);
    for (int i = 0; i < 16; i++) probe->value[at[i]] += weight * row.value[i];
    double rx = (x - c->mesh->centre_x) / c->length, ry = (y - c->mesh->centre_y) / c->length;
    probe->rigid[0] += weight * (dx || dy ? 0 : 1);
    probe->rigid[1] += weight * (dx ? 1 / c->length : dy ? 0 : rx);
    probe->rigid[2] += weight * (dy ? 1 / c->length : dx ? 0 : ry);
}

void pp_probe_point(const pp_compliance *c, double x, double y, int dx, int dy, pp_probe *probe)
{
    cells_met met = {0};
    probe->count = 0;
    for (int k = 0; k < 3; k++) probe->rigid[k] = 0;
    add_place(c, x, y, dx, dy, 1, &met, probe);
}

void pp_probe_ring(const pp_compliance *c, double x, double y, double radius, pp_probe *probe)
{
    double px[RING_POINTS], py[RING_POINTS];
    bool all = pp_mesh_within(c->mesh, x, y, SURELY * radius);
    cells_met met = {0};
    int within = 0;
    for (int k = 0; k < RING_POINTS && radius > 0; k++) {
        double angle = 2 * PP_PI * k / RING_POINTS;
        px[within] = x + radius * cos(angle);
        py[within] = y + radius * sin(angle);
        within += all || pp_mesh_inside(c->mesh, px[within], py[within]);
    }
    if (within == 0) {
        pp_probe_point(c, x, y, 0, 0, probe);
        return;
    }
    probe->count = 0;
    for (int k = 0; k < 3; k++) probe->rigid[k] = 0;
    for (int k = 0; k < within; k++) add_place(c, px[k], py[k], 0, 0, 1.0 / within, &met, probe);
}

double pp_probe_field(const pp_probe *probe, const double *field)
{
    double sum = 0;
    for (size_t k = 0; k < probe->count; k++) sum += probe->value[k] * field[probe->dof[k]];
    return sum;
}

double pp_probe_between(const pp_compliance *c, const pp_probe *a, const pp_probe *b)
{
    double sum = 0;
    for (size_t i = 0; i < a->count; i++) {
        double row = 0;
        for (size_t j = 0; j < b->count; j++) {
            size_t p = a->dof[i], q = b->dof[j], low = p < q ? p : q, high = p < q ? q : p;
            row += b->value[j] * c->near[low * (c->near_band + 1) + high - low];
        }
        sum += a->value[i] * row;
    }
    return sum;
}

/* Supports ------------------------------------------------------------------------------ */

typedef struct solving {
    const pp_compliance *compliance;
    const pp_probe *probes; /* one a support */
    size_t count, known;    /* the first of them are solved already */
    size_t stride;
    double *u;
} solving;

/* The answers to some of the supports: these columns of u. */
static pp_status solve_block(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    solving *s = context;
    const pp_mesh *mesh = s->compliance->mesh;
    size_t first = s->known + part * SOLVE_BLOCK, m = s->count;
    size_t columns = m - first < SOLVE_BLOCK ? m - first : SOLVE_BLOCK;
    double *u = s->u + first;
    for (size_t dof = 0; dof < mesh->dofs; dof++)
        memset(u + dof * s->stride, 0, columns * sizeof *u);
    for (size_t c = 0; c < columns; c++) {
        const pp_probe *probe = &s->probes[first + c];
        for (size_t k = 0; k < probe->count; k++)
            u[probe->dof[k] * s->stride + c] = probe->value[k];
    }
    return pp_band_solve_beside(mesh->dofs, mesh->half_bandwidth, s->compliance->factor, columns, u,
                                s->stride, error);
}

/* G between all supports and those solved now */
static void fill_square(const pp_influence *made, const pp_influence *known, const pp_probe *probes,
                        double *g)
{
    size_t m = made->count, before = known ? known->count : 0;
    for (size_t j = 0; j < before; j++)
        memcpy(g + j * m, known->g + j * before, before * sizeof *g);
    for (size_t j = before; j < m; j++) pp_influence_probe(made, &probes[j], g + j * m);
    for (size_t j = before; j < m; j++) {
        for (size_t i = 0; i < before; i++) g[i * m + j] = g[j * m + i];
        for (size_t i = before; i < j; i++)
            g[j * m + i] = g[i * m + j] = 0.5 * (g[j * m + i] + g[i * m + j]);
    }
}

/* Room for the columns of u, with those that are known */
static pp_status take_columns(size_t n, size_t m, const pp_influence_room *room,
                              const pp_influence *known, double **u, size_t *stride,
                              pp_error *error)
{
    if (known && known->stride >= m) {
        *u = known->u, *stride = known->stride;
        return PP_OK;
    }
    *stride = room->count > m ? room->count : m;
    if (n > SIZE_MAX / sizeof **u / (*stride + 1)) return pp_fail_memory(error);
    PP_TAKE(*u, room->arena, n * *stride);
    for (size_t dof = 0; known && dof < n; dof++)
        memcpy(*u + dof * *stride, known->u + dof * known->stride, known->count * sizeof **u);
    return PP_OK;
}

pp_status pp_influence_make(const pp_compliance *compliance, const pp_supports *supports,
                            const pp_influence *known, const pp_influence_room *room, int threads,
                            pp_memory *memory, pp_influence *influence, pp_error *error)
{
    size_t m = supports->count, n = compliance->mesh->dofs, before = known ? known->count : 0;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const pp_influence_room just = {&memory->keep, m};
    double *u, *g, *r;
    pp_probe *probes;
    solving s = {.compliance = compliance, .count = m, .known = before};
    PP_TRY(take_columns(n, m, room ? room : &just, known, &u, &s.stride, error));
    PP_TAKE(g, &memory->keep, m * m);
    PP_TAKE(r, &memory->keep, m * 3);
    PP_TAKE(probes, &memory->scratch, m);
    for (size_t i = 0; i < m; i++) {
        pp_probe_point(compliance, supports->x[i], supports->y[i], 0, 0, &probes[i]);
        for (size_t k = 0; k < 3; k++) r[k * m + i] = probes[i].rigid[k];
    }
    s.probes = probes;
    s.u = u;
    size_t parts = (m - before + SOLVE_BLOCK - 1) / SOLVE_BLOCK;
    PP_TRY(pp_parallel(threads, parts, solve_block, &s, error));
    pp_influence made = {.count = m, .stride = s.stride, .u = u, .g = g, .r = r};
    fill_square(&made, known, probes, g);
    pp_arena_release(&memory->scratch, mark);
    *influence = made;
    return PP_OK;
}

/* The dofs a probe has a share of, ABREAST at a time: g is then read and written once for them. */
PP_VECTOR_CLONES void pp_influence_probe(const pp_influence *influence, const pp_probe *probe,
                                         double *restrict g)
{
    size_t m = influence->count, count = 0;
    const double *rows[PP_PROBE_MAX + ABREAST];
    double values[PP_PROBE_MAX + ABREAST];
    for (size_t k = 0; k < probe->count; k++) {
        if (probe->value[k] == 0) continue;
        rows[count] = influence->u + probe->dof[k] * influence->stride;
        values[count++] = probe->value[k];
    }
    for (size_t k = 0; k < ABREAST; k++) rows[count + k] = influence->u, values[count + k] = 0;
    memset(g, 0, m * sizeof *g);
    for (size_t k = 0; k < count; k += ABREAST) {
        const double *restrict r0 = rows[k], *restrict r1 = rows[k + 1], *restrict r2 = rows[k + 2],
                               *restrict r3 = rows[k + 3];
        double v0 = values[k], v1 = values[k + 1], v2 = values[k + 2], v3 = values[k + 3];
        for (size_t i = 0; i < m; i++)
            g[i] = (((g[i] + v0 * r0[i]) + v1 * r1[i]) + v2 * r2[i]) + v3 * r3[i];
    }
}

void pp_influence_some(const pp_influence *influence, size_t probe_count, const pp_probe *probes,
                       size_t count, const uint32_t *supports, double *g)
{
    for (size_t i = 0; i < probe_count * count; i++) g[i] = 0;
    for (size_t k = 0; k < probes[0].count; k++) {
        const double *row = influence->u + probes[0].dof[k] * influence->stride;
        for (size_t l = 0; l < probe_count; l++)
            for (size_t i = 0; i < count; i++)
                g[l * count + i] += probes[l].value[k] * row[supports[i]];
    }
}

/* Many supports carry nothing, and their terms change no sum: only the others are added up. */
void pp_influence_field(const pp_influence *influence, size_t dofs, const double *force,
                        double *field)
{
    enum { LISTED_MOST = 4096 };
    size_t m = influence->count, ld = influence->stride, count = 0;
    uint32_t list[LISTED_MOST] = {0};
    bool listed = m <= LISTED_MOST;
    for (size_t i = 0; listed && i < m; i++)
        if (force[i] != 0) list[count++] = (uint32_t)i;
    if (!listed) count = m;
    for (size_t dof = 0; dof < dofs; dof += ABREAST) { /* a mesh has 4 dofs a node */
        const double *r0 = influence->u + dof * ld, *r1 = r0 + ld, *r2 = r1 + ld, *r3 = r2 + ld;
        double s0 = 0, s1 = 0, s2 = 0, s3 = 0; /* sums that do not wait for each other */
        for (size_t k = 0; k < count; k++) {
            size_t i = listed ? list[k] : k;
            s0 += r0[i] * force[i];
            s1 += r1[i] * force[i];
            s2 += r2[i] * force[i];
            s3 += r3[i] * force[i];
        }
        field[dof] += s0, field[dof + 1] += s1, field[dof + 2] += s2, field[dof + 3] += s3;
    }
}
