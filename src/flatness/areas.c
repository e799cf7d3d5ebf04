#include "flatness/areas.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/clones.h"
#include "flatness/moments.h"

enum {
    PARTS = 8,         /* of a mesh cell, each way */
    TRIANGLES = 4,     /* of a part */
    VERTICES_MAX = 5,  /* of a triangle cut by two lines */
    PEAK_HALVINGS = 20 /* of the compass search's step */
};
static const uint32_t no_area = UINT32_MAX;

typedef struct sampling {
    const pp_area_request *request;
    const pp_mesh *mesh;
    double sign;
    size_t columns, rows; /* parts */
    double step_x, step_y;
    double *corner, *middle; /* field * sign - threshold: (columns + 1)(rows + 1), columns * rows */
    double *corner_inside, *middle_inside; /* by how much within the outline */
    uint32_t *parent; /* [parts * TRIANGLES]: a forest of joined triangles; no_area: outside */
} sampling;

typedef struct vertex {
    double x, y;
    double above;  /* the threshold */
    double inside; /* the outline */
} vertex;

typedef struct polygon {
    size_t count;
    vertex at[VERTICES_MAX];
} polygon;

/* ---- samples ---- */

/* Every other place along a row of a cell, from `first` sixteenths on */
PP_VECTOR_CLONES
static void sample_row(const pp_cell_polynomial *p, double v, double sign, double threshold,
                       int32_t first, size_t count, double *restrict w)
{
    double row[4];
    for (int k = 0; k < 4; k++)
        row[k] = p->c[k][0] + v * (p->c[k][1] + v * (p->c[k][2] + v * p->c[k][3]));
    for (int32_t a = 0; a < (int32_t)count; a++) {
        double u = (double)(first + 2 * a) / PARTS - 1;
        double sum = ((row[3] * u + row[2]) * u + row[1]) * u + row[0];
        w[a] = sign * sum - threshold;
    }
}

static void sample_cell(sampling *s, const pp_cell_polynomial *p, size_t i, size_t j)
{
    for (size_t b = 0; b <= 2 * PARTS; b++) { /* corners, then middles */
        double v = (double)b / PARTS - 1;
        size_t row = PARTS * j + b / 2;
        bool middles = b % 2 == 1;
        double *at = middles ? s->middle + row * s->columns : s->corner + row * (s->columns + 1);
        sample_row(p, v, s->sign, s->request->threshold, middles, PARTS + !middles, at + PARTS * i);
    }
}

static double inside_by(const pp_mesh *mesh, double x, double y)
{
    if (mesh->outline == PP_OUTLINE_RECTANGLE) return 1;
    return pp_outline_margin(&mesh->shape, x, y);
}

/* `shift` parts from the lower side: 0 for corners, a half for middles; `count` of them in a cell.
 */
static void measure_cell(const sampling *s, size_t i, size_t j, size_t count, double shift,
                         double *inside)
{
    size_t columns = s->columns + (count - PARTS);
    for (size_t row = PARTS * j; row < PARTS * j + count; row++)
        for (size_t column = PARTS * i; column < PARTS * i + count; column++)
            inside[row * columns + column] =
                inside_by(s->mesh, s->mesh->x0 + ((double)column + shift) * s->step_x,
                          s->mesh->y0 + ((double)row + shift) * s->step_y);
}

/* How far inside counts only in cells that the outline cuts. */
static void measure_inside(const sampling *s)
{
    const pp_mesh *mesh = s->mesh;
    size_t parts = s->columns * s->rows, corners = (s->columns + 1) * (s->rows + 1);
    for (size_t k = 0; k < corners; k++) s->corner_inside[k] = 1;
    for (size_t k = 0; k < parts; k++) s->middle_inside[k] = 1;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            if (pp_cell_uncut(mesh, i, j)) continue;
            measure_cell(s, i, j, PARTS + 1, 0, s->corner_inside);
            measure_cell(s, i, j, PARTS, 0.5, s->middle_inside);
        }
}

static pp_status take_samples(sampling *s, pp_memory *memory, pp_error *error)
{
    const pp_mesh *mesh = s->mesh;
    size_t parts = s->columns * s->rows, corners = (s->columns + 1) * (s->rows + 1);
    pp_cell_polynomial *cells;
    PP_TAKE(s->corner, &memory->scratch, corners);
    PP_TAKE(s->middle, &memory->scratch, parts);
    PP_TAKE(s->corner_inside, &memory->scratch, corners);
    PP_TAKE(s->middle_inside, &memory->scratch, parts);
    PP_TAKE(s->parent, &memory->scratch, parts * TRIANGLES);
    PP_TAKE(cells, &memory->scratch, mesh->nx * mesh->ny);
    for (size_t k = 0; k < corners; k++) s->corner[k] = NAN;
    memset(s->parent, 0xff, parts * TRIANGLES * sizeof *s->parent);
    pp_cell_polynomials(mesh, s->request->field, cells);
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++)
            if (mesh->fraction[j * mesh->nx + i] > 0)
                sample_cell(s, &cells[j * mesh->nx + i], i, j);
    measure_inside(s);
    return PP_OK;
}

/* ---- triangles ---- */

/* fmin and fmax are calls of the library */
static double least(double a, double b) { return a < b ? a : b; }
static double most(double a, double b) { return a > b ? a : b; }

static vertex corner_at(const sampling *s, size_t column, size_t row)
{
    size_t k = row * (s->columns + 1) + column;
    return (vertex){.x = s->mesh->x0 + (double)column * s->step_x,
                    .y = s->mesh->y0 + (double)row * s->step_y,
                    .above = s->corner[k],
                    .inside = s->corner_inside[k]};
}

static vertex middle_at(const sampling *s, size_t column, size_t row)
{
    size_t k = row * s->columns + column;
    return (vertex){.x = s->mesh->x0 + ((double)column + 0.5) * s->step_x,
                    .y = s->mesh->y0 + ((double)row + 0.5) * s->step_y,
                    .above = s->middle[k],
                    .inside = s->middle_inside[k]};
}

/* The outer edge of triangle `side` of a part: 0 below, 1 right, 2 above, 3 left, anticlockwise. */
static void outer_edge(const sampling *s, size_t column, size_t row, int side, vertex edge[2])
{
    static const size_t along[4] = {0, 1, 1, 0}, across[4] = {0, 0, 1, 1};
    int next = (side + 1) % 4;
    edge[0] = corner_at(s, column + along[side], row + across[side]);
    edge[1] = corner_at(s, column + along[next], row + across[next]);
}

static vertex between(const vertex *a, const vertex *b, double share)
{
    return (vertex){a->x + share * (b->x - a->x), a->y + share * (b->y - a->y),
                    a->above + share * (b->above - a->above),
                    a->inside + share * (b->inside - a->inside)};
}

static double keep_value(const vertex *v, bool outline) { return outline ? v->inside : v->above; }

/* Keep what is above zero (Sutherland and Hodgman). */
static polygon clip(const polygon *from, bool outline)
{
    polygon to = {0};
    for (size_t k = 0; k < from->count; k++) {
        const vertex *a = &from->at[k], *b = &from->at[(k + 1) % from->count];
        double at_a = keep_value(a, outline), at_b = keep_value(b, outline);
        if (at_a > 0) to.at[to.count++] = *a;
        if ((at_a > 0) != (at_b > 0)) to.at[to.count++] = between(a, b, at_a / (at_a - at_b));
    }
    return to;
}

static double polygon_area(const polygon *p)
{
    double twice = 0;
    for (size_t k = 2; k < p->count; k++)
        twice += (p->at[k - 1].x - p->at[0].x) * (p->at[k].y - p->at[0].y) -
                 (p->at[k].x - p->at[0].x) * (p->at[k - 1].y - p->at[0].y);
    return twice / 2;
}

static bool is_inside(const vertex *v) { return v->above > 0 && v->inside > 0; }

/* The corners of a part, anticlockwise from the lower left, and its middle; whether all of them are
 * in the area, and so all of the part. */
static bool whole_part(const sampling *s, size_t column, size_t row, vertex at[TRIANGLES + 1])
{
    at[0] = corner_at(s, column, row), at[1] = corner_at(s, column + 1, row);
    at[2] = corner_at(s, column + 1, row + 1), at[3] = corner_at(s, column, row + 1);
    at[4] = middle_at(s, column, row);
    bool whole = true;
    for (int k = 0; k <= TRIANGLES; k++) whole = whole && is_inside(&at[k]);
    return whole;
}

static bool whole_triangle(const polygon *p, bool outline)
{
    return keep_value(&p->at[0], outline) > 0 && keep_value(&p->at[1], outline) > 0 &&
           keep_value(&p->at[2], outline) > 0;
}

/* What of a triangle is in the area. */
static void triangle_part(const sampling *s, size_t column, size_t row, int side, polygon *p)
{
    p->count = 3;
    outer_edge(s, column, row, side, p->at);
    p->at[2] = middle_at(s, column, row);
    for (int outline = 0; outline < 2; outline++)
        if (p->count != 3 || !whole_triangle(p, outline)) *p = clip(p, outline);
}

/* Whether some length of the edge lies in the area. */
static bool edge_joins(const vertex edge[2])
{
    double low = 0, high = 1;
    for (int outline = 0; outline < 2; outline++) {
        double a = keep_value(&edge[0], outline), b = keep_value(&edge[1], outline);
        if (!(a > 0) && !(b > 0)) return false;
        if (!(a > 0)) low = fmax(low, a / (a - b));
        if (!(b > 0)) high = fmin(high, a / (a - b));
    }
    return high > low;
}

/* ---- joining ---- */

static uint32_t root_of(uint32_t *parent, uint32_t k)
{
    while (parent[k] != k) k = parent[k] = parent[parent[k]];
    return k;
}

static void join(uint32_t *parent, uint32_t a, uint32_t b)
{
    if (parent[a] == no_area || parent[b] == no_area) return;
    a = root_of(parent, a), b = root_of(parent, b);
    if (a < b) /* the first triangle stays the root */
        parent[b] = a;
    else
        parent[a] = b;
}

static bool part_reaches(const sampling *s, size_t column, size_t row)
{
    const double *low = &s->corner[row * (s->columns + 1) + column], *high = low + s->columns + 1;
    return low[0] > 0 || low[1] > 0 || high[0] > 0 || high[1] > 0 ||
           s->middle[row * s->columns + column] > 0;
}

static bool part_active(const sampling *s, size_t column, size_t row)
{
    return s->mesh->fraction[row / PARTS * s->mesh->nx + column / PARTS] > 0;
}

static uint32_t triangle_number(const sampling *s, size_t column, size_t row, int side)
{
    return (uint32_t)((row * s->columns + column) * TRIANGLES + (size_t)side);
}

/* A part that is in the area altogether: its triangles belong together, and to what is joined to
 * its lower and its left side. */
static void join_whole(sampling *s, size_t column, size_t row, uint32_t first)
{
    for (uint32_t side = 0; side < TRIANGLES; side++) s->parent[first + side] = first;
    if (row > 0) join(s->parent, first, triangle_number(s, column, row - 1, 2));
    if (column > 0) join(s->parent, first + 3, triangle_number(s, column - 1, row, 1));
}

static void join_part(sampling *s, size_t column, size_t row)
{
    uint32_t first = triangle_number(s, column, row, 0);
    vertex at[TRIANGLES + 1];
    if (whole_part(s, column, row, at)) {
        join_whole(s, column, row, first);
        return;
    }
    for (int side = 0; side < TRIANGLES; side++) {
        polygon p;
        triangle_part(s, column, row, side, &p);
        if (polygon_area(&p) > 0) s->parent[first + (uint32_t)side] = first + (uint32_t)side;
    }
    vertex edge[2] = {{0}, middle_at(s, column, row)}, outer[2];
    for (int side = 0; side < TRIANGLES; side++) { /* spoke between this side and the one before */
        outer_edge(s, column, row, side, outer);
        edge[0] = outer[0];
        if (edge_joins(edge))
            join(s->parent, first + (uint32_t)side, first + (uint32_t)((side + 3) % 4));
    }
    outer_edge(s, column, row, 0, outer);
    if (row > 0 && edge_joins(outer))
        join(s->parent, first, triangle_number(s, column, row - 1, 2));
    outer_edge(s, column, row, 3, outer);
    if (column > 0 && edge_joins(outer))
        join(s->parent, first + 3, triangle_number(s, column - 1, row, 1));
}

/* Number the roots in the order of their first triangles: into `number` by triangle. */
static size_t number_areas(sampling *s, uint32_t *number)
{
    size_t count = 0, triangles = s->columns * s->rows * TRIANGLES;
    for (size_t k = 0; k < triangles; k++) {
        number[k] = no_area;
        if (s->parent[k] == no_area) continue;
        uint32_t root = root_of(s->parent, (uint32_t)k);
        number[k] = root == k ? (uint32_t)count++ : number[root];
    }
    return count;
}

/* ---- measuring ---- */

static void add_vertex(const vertex *v, pp_area *area)
{
    area->xmin = least(area->xmin, v->x), area->xmax = most(area->xmax, v->x);
    area->ymin = least(area->ymin, v->y), area->ymax = most(area->ymax, v->y);
    if (v->above > area->peak) area->peak = v->above, area->x = v->x, area->y = v->y;
}

static void add_polygon(const polygon *p, pp_area *area)
{
    area->area += polygon_area(p);
    for (size_t k = 0; k < p->count; k++) add_vertex(&p->at[k], area);
}

/* The same triangles as of any part, without cutting them. */
static void add_whole(const vertex at[TRIANGLES + 1], pp_area *area)
{
    for (int side = 0; side < TRIANGLES; side++) {
        const polygon p = {.count = 3, .at = {at[side], at[(side + 1) % TRIANGLES], at[TRIANGLES]}};
        area->area += polygon_area(&p);
    }
    add_vertex(&at[0], area);
    add_vertex(&at[1], area);
    add_vertex(&at[TRIANGLES], area);
    add_vertex(&at[2], area);
    add_vertex(&at[3], area);
}

static void measure_part(const sampling *s, const uint32_t *number, size_t column, size_t row,
                         pp_area *areas)
{
    const uint32_t *of = number + triangle_number(s, column, row, 0);
    vertex at[TRIANGLES + 1];
    bool any = false;
    for (int side = 0; side < TRIANGLES; side++) any = any || of[side] != no_area;
    if (!any) return;
    if (whole_part(s, column, row, at)) {
        add_whole(at, &areas[of[0]]);
        return;
    }
    for (int side = 0; side < TRIANGLES; side++) {
        if (of[side] == no_area) continue;
        polygon p;
        triangle_part(s, column, row, side, &p);
        add_polygon(&p, &areas[of[side]]);
    }
}

static void measure(const sampling *s, const uint32_t *number, pp_area *areas)
{
    for (size_t row = 0; row < s->rows; row++)
        for (size_t column = 0; column < s->columns; column++)
            measure_part(s, number, column, row, areas);
}

static double field_at(const pp_mesh *mesh, const double *field, double x, double y)
{
    pp_mesh_row row;
    pp_mesh_shape(mesh, pp_mesh_find(mesh, x, y), 0, 0, &row);
    return pp_mesh_value(&row, field);
}

static void into_outline(const pp_mesh *mesh, double *x, double *y)
{
    if (pp_outline_is_cut_out(&mesh->shape)) {
        if (pp_mesh_inside(mesh, *x, *y)) return;
        pp_edge_place at = pp_outline_nearest(&mesh->shape, *x, *y);
        *x = at.x, *y = at.y;
        return;
    }
    double dx = *x - mesh->centre_x, dy = *y - mesh->centre_y;
    if (mesh->outline == PP_OUTLINE_DISC) {
        double r = hypot(dx, dy), share = r > mesh->radius ? mesh->radius / r : 1;
        dx *= share, dy *= share;
    } else {
        dx = fmax(-mesh->width / 2, fmin(mesh->width / 2, dx));
        dy = fmax(-mesh->height / 2, fmin(mesh->height / 2, dy));
    }
    *x = mesh->centre_x + dx, *y = mesh->centre_y + dy;
}

double pp_field_peak(const pp_mesh *mesh, const double *field, double sign, double step, double *x,
                     double *y)
{
    into_outline(mesh, x, y);
    double best = sign * field_at(mesh, field, *x, *y);
    for (int halving = 0; halving < PEAK_HALVINGS; step /= 2, halving++) {
        for (bool better = true; better;) {
            better = false;
            double from_x = *x, from_y = *y;
            for (int k = 0; k < 9; k++) {
                double px = from_x + (k % 3 - 1) * step, py = from_y + (k / 3 - 1) * step;
                into_outline(mesh, &px, &py);
                double value = sign * field_at(mesh, field, px, py);
                if (value > best) best = value, *x = px, *y = py, better = true;
            }
        }
    }
    return sign * best;
}

static void count_holes(const sampling *s, const uint32_t *number, pp_area *areas)
{
    const pp_nominal *nominal = s->request->nominal;
    for (size_t h = 0; nominal && h < nominal->count; h++) {
        double x = nominal->x[h], y = nominal->y[h];
        if (!pp_mesh_inside(s->mesh, x, y)) continue;
        if (s->sign * field_at(s->mesh, s->request->field, x, y) <= s->request->threshold) continue;
        double p = (x - s->mesh->x0) / s->step_x, q = (y - s->mesh->y0) / s->step_y;
        size_t column = p > 0 ? (size_t)p : 0, row = q > 0 ? (size_t)q : 0;
        if (column >= s->columns) column = s->columns - 1;
        if (row >= s->rows) row = s->rows - 1;
        double a = p - (double)column - 0.5, b = q - (double)row - 0.5;
        int side = fabs(b) >= fabs(a) ? (b < 0 ? 0 : 2) : (a > 0 ? 1 : 3);
        /* on the very border the straight-sided triangle may just miss what the field reaches */
        for (int k = 0; k < TRIANGLES; k++) {
            uint32_t area = number[triangle_number(s, column, row, (side + k) % TRIANGLES)];
            if (area == no_area) continue;
            areas[area].holes++;
            break;
        }
    }
}

static int by_size(const void *a, const void *b)
{
    const pp_area *p = a, *q = b;
    if (p->area != q->area) return p->area > q->area ? -1 : 1;
    if (p->xmin != q->xmin) return p->xmin < q->xmin ? -1 : 1;
    return (p->ymin > q->ymin) - (p->ymin < q->ymin);
}

/* Find the peaks; drop what passes the threshold on the straight-sided triangles alone. */
static size_t find_peaks(const sampling *s, size_t count, pp_area *areas)
{
    double step = fmin(s->step_x, s->step_y);
    size_t kept = 0;
    for (size_t k = 0; k < count; k++) {
        pp_area *a = &areas[k];
        a->peak = s->sign * pp_field_peak(s->mesh, s->request->field, s->sign, step, &a->x, &a->y);
        if (a->peak > s->request->threshold) areas[kept++] = *a;
    }
    return kept;
}

pp_status pp_areas_find(const pp_area_request *request, pp_memory *memory, size_t *count,
                        const pp_area **areas, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const pp_mesh *mesh = request->mesh;
    sampling s = {.request = request,
                  .mesh = mesh,
                  .sign = request->side == PP_AREA_LOW ? -1 : 1,
                  .columns = PARTS * mesh->nx,
                  .rows = PARTS * mesh->ny,
                  .step_x = mesh->hx / PARTS,
                  .step_y = mesh->hy / PARTS};
    PP_TRY(take_samples(&s, memory, error));
    for (size_t row = 0; row < s.rows; row++)
        for (size_t column = 0; column < s.columns; column++)
            if (part_active(&s, column, row) && part_reaches(&s, column, row))
                join_part(&s, column, row);
    uint32_t *number;
    PP_TAKE(number, &memory->scratch, s.columns * s.rows * TRIANGLES);
    size_t found = number_areas(&s, number);
    pp_area *list;
    PP_TAKE(list, &memory->keep, found);
    for (size_t k = 0; k < found; k++)
        list[k] = (pp_area){.side = request->side,
                            .xmin = INFINITY,
                            .ymin = INFINITY,
                            .xmax = -INFINITY,
                            .ymax = -INFINITY};
    measure(&s, number, list);
    count_holes(&s, number, list);
    found = find_peaks(&s, found, list);
    qsort(list, found, sizeof *list, by_size);
    pp_arena_release(&memory->scratch, mark);
    *count = found;
    *areas = list;
    return PP_OK;
}
