#include "elements/mesh.h"

#include <math.h>
#include <string.h>

#include "elements/cell.h"

enum {
    SHORT_SIDE_MIN = 20, /* cells, on a mesh of at least that many on the long side */
    CELLS_MAX = 512      /* on the long side: the band then takes about 4 GiB */
};
static const double fraction_min = 1e-9;  /* cells covered less are dropped */
static const double rim_tolerance = 1e-9; /* of the radius or side: round-off of a rim point */

static size_t short_cells(double ratio, size_t cells)
{
    size_t least = cells >= SHORT_SIDE_MIN ? SHORT_SIDE_MIN : 2;
    if (least > cells) least = cells;
    double wanted = round(ratio * (double)cells);
    return wanted > (double)least ? (size_t)wanted : least;
}

static pp_status size_grid(const pp_outline_spec *outline, size_t cells, pp_mesh *m,
                           pp_error *error)
{
    m->outline = outline->kind;
    m->shape = *outline;
    if (m->outline == PP_OUTLINE_NONE)
        return pp_fail(error, PP_ENOTHING,
                       "the job gives no outline of the plate; give outline, and diameter or width "
                       "and height, under [plate]");
    pp_box box = pp_outline_box(outline);
    m->width = box.x1 - box.x0;
    m->height = box.y1 - box.y0;
    m->centre_x = (box.x0 + box.x1) / 2;
    m->centre_y = (box.y0 + box.y1) / 2;
    if (m->outline == PP_OUTLINE_DISC) {
        m->width = m->height = outline->diameter;
        m->radius = outline->diameter / 2;
    } else if (m->outline == PP_OUTLINE_RECTANGLE) {
        m->width = outline->width;
        m->height = outline->height;
    }
    if (m->outline == PP_OUTLINE_DISC || m->outline == PP_OUTLINE_RECTANGLE) {
        m->centre_x = outline->centre_x;
        m->centre_y = outline->centre_y;
    }
    if (!(m->width > 0 && m->height > 0 && isfinite(m->width) && isfinite(m->height)))
        return pp_fail(error, PP_EINPUT, "the plate has no size; give %s under [plate], above zero",
                       m->outline == PP_OUTLINE_RECTANGLE ? "width and height" : "diameter");
    if (cells < 1 || cells > CELLS_MAX)
        return pp_fail(error, PP_EINPUT, "a mesh takes 1 to %d cells on the long side, not %zu",
                       CELLS_MAX, cells);
    bool wide = m->width >= m->height;
    size_t less = short_cells(wide ? m->height / m->width : m->width / m->height, cells);
    m->nx = wide ? cells : less;
    m->ny = wide ? less : cells;
    return PP_OK;
}

static void fill_grid(pp_mesh *m)
{
    m->hx = m->width / (double)m->nx;
    m->hy = m->height / (double)m->ny;
    m->x0 = m->centre_x - m->width / 2;
    m->y0 = m->centre_y - m->height / 2;
    m->x_fastest = m->nx <= m->ny;
    m->nodes = (m->nx + 1) * (m->ny + 1);
    m->dofs = 4 * m->nodes;
    m->half_bandwidth = 4 * ((m->x_fastest ? m->nx : m->ny) + 2) + 3;
}

/* The covered share of a cell; moment[2]: that share times its middle, from the cell's corner in
 * cells. */
static double covered_fraction(const pp_mesh *m, size_t i, size_t j, double moment[2])
{
    moment[0] = moment[1] = 0.5;
    if (pp_cell_uncut(m, i, j)) return 1;
    pp_cell_cutting cutting;
    pp_cell_points points;
    double sum = 0;
    moment[0] = moment[1] = 0;
    pp_cell_cut(m, i, j, &cutting);
    while (pp_cell_cut_next(&cutting, &points))
        for (size_t k = 0; k < points.count; k++) {
            sum += points.weight[k];
            moment[0] += points.weight[k] * points.s[k];
            moment[1] += points.weight[k] * points.t[k];
        }
    return sum < fraction_min ? 0 : sum;
}

void pp_mesh_active_nodes(const pp_mesh *m, unsigned char *active)
{
    memset(active, 0, m->nodes);
    for (size_t j = 0; j < m->ny; j++)
        for (size_t i = 0; i < m->nx; i++) {
            if (m->fraction[j * m->nx + i] == 0) continue;
            size_t dof[PP_CELL_DOFS];
            pp_cell_dofs(m, i, j, dof);
            for (size_t l = 0; l < PP_CELL_DOFS; l += 4) active[dof[l] / 4] = 1;
        }
}

static pp_status count_active_dofs(pp_mesh *m, pp_memory *memory, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    unsigned char *active;
    PP_TAKE(active, &memory->scratch, m->nodes);
    pp_mesh_active_nodes(m, active);
    m->active_dofs = 0;
    for (size_t k = 0; k < m->nodes; k++) m->active_dofs += 4 * (size_t)active[k];
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

pp_status pp_mesh_make(pp_outline_spec outline, size_t cells, pp_memory *memory, pp_mesh *mesh,
                       pp_error *error)
{
    pp_mesh m = {0};
    PP_TRY(size_grid(&outline, cells, &m, error));
    fill_grid(&m);
    double *fraction;
    PP_TAKE(fraction, &memory->keep, m.nx * m.ny);
    double covered = 0, x = 0, y = 0;
    for (size_t j = 0; j < m.ny; j++)
        for (size_t i = 0; i < m.nx; i++) {
            double moment[2], share = covered_fraction(&m, i, j, moment);
            covered += fraction[j * m.nx + i] = share;
            x += share * (double)i + moment[0];
            y += share * (double)j + moment[1];
        }
    m.fraction = fraction;
    m.area = covered * m.hx * m.hy;
    if (m.outline != PP_OUTLINE_DISC && m.outline != PP_OUTLINE_RECTANGLE) {
        m.centre_x = m.x0 + x / covered * m.hx;
        m.centre_y = m.y0 + y / covered * m.hy;
    }
    PP_TRY(count_active_dofs(&m, memory, error));
    *mesh = m;
    return PP_OK;
}

bool pp_mesh_inside(const pp_mesh *m, double x, double y)
{
    return pp_outline_holds(&m->shape, x, y);
}

bool pp_mesh_within(const pp_mesh *m, double x, double y, double inset)
{
    double dx = fabs(x - m->centre_x), dy = fabs(y - m->centre_y);
    if (m->outline == PP_OUTLINE_DISC) return hypot(dx, dy) <= m->radius - inset;
    if (m->outline == PP_OUTLINE_RECTANGLE)
        return dx <= m->width / 2 - inset && dy <= m->height / 2 - inset;
    return pp_outline_margin(&m->shape, x, y) >= inset;
}

/* From a place in a dropped cell of a disc step towards the centre, by round-off first, until a
 * cell is active. */
static void step_to_active(const pp_mesh *m, double x, double y, pp_mesh_place *place)
{
    double dx = x - m->centre_x, dy = y - m->centre_y, r = hypot(dx, dy);
    double start = r > m->radius ? m->radius / r : 1;
    for (double step = rim_tolerance; step < 1; step *= 2) {
        double share = start * (1 - step);
        place->i = pp_mesh_clamp_cell((m->centre_x + share * dx - m->x0) / m->hx, m->nx);
        place->j = pp_mesh_clamp_cell((m->centre_y + share * dy - m->y0) / m->hy, m->ny);
        if (m->fraction[place->j * m->nx + place->i] > 0) return;
    }
}

/* How far a place, in cells, lies from cell k along one axis */
static double cells_off(double at, size_t k)
{
    return fmax(0, fmax((double)k - at, at - (double)k - 1));
}

/* The active cell nearest to a place. */
static void nearest_active(const pp_mesh *m, double x, double y, pp_mesh_place *place)
{
    double s = (x - m->x0) / m->hx, t = (y - m->y0) / m->hy, least = INFINITY;
    for (size_t j = 0; j < m->ny; j++)
        for (size_t i = 0; i < m->nx; i++) {
            if (m->fraction[j * m->nx + i] == 0) continue;
            double off = hypot(cells_off(s, i) * m->hx, cells_off(t, j) * m->hy);
            if (off < least) least = off, place->i = i, place->j = j;
        }
}

pp_mesh_place pp_mesh_find_active(const pp_mesh *m, double x, double y)
{
    pp_mesh_place place = {0};
    if (m->outline == PP_OUTLINE_DISC)
        step_to_active(m, x, y, &place);
    else
        nearest_active(m, x, y, &place);
    place.s = (x - m->x0) / m->hx - (double)place.i;
    place.t = (y - m->y0) / m->hy - (double)place.j;
    return place;
}

void pp_mesh_shape(const pp_mesh *m, pp_mesh_place place, int dx, int dy, pp_mesh_row *row)
{
    double along_s[4], along_t[4], scale = 1;
    pp_cell_cubics(place.s, dx, along_s);
    pp_cell_cubics(place.t, dy, along_t);
    for (int k = 0; k < dx; k++) scale /= m->hx;
    for (int k = 0; k < dy; k++) scale /= m->hy;
    pp_cell_dofs(m, place.i, place.j, row->dof);
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        row->value[l] = scale * along_s[pp_cell_along_s(l)] * along_t[pp_cell_along_t(l)];
}

double pp_mesh_value(const pp_mesh_row *row, const double *field)
{
    double sum = 0;
    for (size_t l = 0; l < PP_CELL_DOFS; l++) sum += row->value[l] * field[row->dof[l]];
    return sum;
}
