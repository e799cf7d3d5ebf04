#include "holddown/candidates.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "base/grid.h"
#include "base/parallel.h"

enum {
    RIM_PLACES = 64,   /* around the plate, at most */
    LANE_PLACES = 192, /* within it, about */
    FINE = 240,        /* places looked at along the longer side */
    TOGETHER = 32      /* deflections solved for at once */
};

typedef struct place_list {
    double *x, *y;
    size_t count, room;
} place_list;

static void add(place_list *list, double x, double y)
{
    if (list->count == list->room) return;
    list->x[list->count] = x;
    list->y[list->count++] = y;
}

/* Places -------------------------------------------------------------------------------- */

/* Pads that just stay on a cut-out plate, evenly along its edges */
static void edge_places(const pp_mesh *mesh, const pp_grid *grid, double inset, double reach,
                        bool over, place_list *list)
{
    const pp_outline_spec *shape = &mesh->shape;
    double whole = 0, inside = inset * (1 - 1e-9);
    for (size_t k = 0; k < pp_outline_edge_count(shape); k++) {
        pp_edge edge = pp_outline_edge(shape, k);
        whole += pp_edge_length(&edge);
    }
    for (size_t k = 0; k < pp_outline_edge_count(shape); k++) {
        pp_edge edge = pp_outline_edge(shape, k);
        size_t n = (size_t)ceil(RIM_PLACES * pp_edge_length(&edge) / whole);
        for (size_t i = 0; i < n; i++) {
            pp_edge_place at = pp_edge_at(&edge, ((double)i + 0.5) / (double)n);
            double x = at.x + inset * at.inward_x, y = at.y + inset * at.inward_y;
            if (!pp_mesh_within(mesh, x, y, inside)) continue;
            if (over || pp_grid_near(grid, x, y, reach, 0, NULL) == 0) add(list, x, y);
        }
    }
}

/* Pads that just stay on the plate, evenly along its rim */
static void rim_places(const pp_mesh *mesh, const pp_grid *grid, double inset, double reach,
                       bool over, place_list *list)
{
    double half_w = mesh->width / 2 - inset, half_h = mesh->height / 2 - inset;
    if (half_w <= 0 || half_h <= 0) return;
    double round_trip =
        mesh->outline == PP_OUTLINE_DISC ? 2 * PP_PI * half_w : 4 * (half_w + half_h);
    for (size_t k = 0; k < RIM_PLACES; k++) {
        double share = (double)k / RIM_PLACES, x, y;
        if (mesh->outline == PP_OUTLINE_DISC) {
            x = half_w * cos(2 * PP_PI * share);
            y = half_w * sin(2 * PP_PI * share);
        } else { /* from the middle of the right side, anticlockwise */
            double s = share * round_trip;
            if (s < half_h)
                x = half_w, y = s;
            else if ((s -= half_h) < 2 * half_w)
                x = half_w - s, y = half_h;
            else if ((s -= 2 * half_w) < 2 * half_h)
                x = -half_w, y = half_h - s;
            else if ((s -= 2 * half_h) < 2 * half_w)
                x = -half_w + s, y = -half_h;
            else
                x = half_w, y = -half_h + (s - 2 * half_w);
        }
        x += mesh->centre_x;
        y += mesh->centre_y;
        if (over || pp_grid_near(grid, x, y, reach, 0, NULL) == 0) add(list, x, y);
    }
}

/* Within the plate: of each square of a coarse raster the place farthest from any hole, where that
 * is free, or wherever it is when a clamp may stand over holes. So a lane is found however narrow
 * it is and wherever it runs. */
static void lane_places(const pp_mesh *mesh, const pp_grid *grid, double inset, double reach,
                        bool over, place_list *list)
{
    double square = sqrt(mesh->area / LANE_PLACES);
    double step = fmax(mesh->width, mesh->height) / FINE;
    long across = (long)ceil(mesh->width / square), along = (long)ceil(mesh->height / square);
    for (long j = 0; j < along; j++)
        for (long i = 0; i < across; i++) {
            double x0 = mesh->x0 + square * (double)i, y0 = mesh->y0 + square * (double)j;
            double best = over ? -1 : reach, best_x = 0, best_y = 0;
            bool found = false;
            for (double y = y0 + step / 2; y < y0 + square; y += step)
                for (double x = x0 + step / 2, next = x; x < x0 + square; x += step) {
                    if (x < next || !pp_mesh_within(mesh, x, y, 2 * inset)) continue;
                    double far = fmin(pp_grid_distance(grid, x, y, 3 * reach), 3 * reach);
                    /* in the middle of a square among places alike */
                    double clear =
                        far - 1e-3 * hypot(x - x0 - square / 2, y - y0 - square / 2) / square;
                    next = x + 0.999 * (best - far); /* no hole gets out of the way sooner */
                    if (!(clear > best)) continue;
                    best = clear, best_x = x, best_y = y;
                    found = true;
                }
            if (found) add(list, best_x, best_y);
        }
}

/* Leave only places with support beneath: on pins within reach of one. */
static void keep_supported(const pp_hold_plate *plate, double reach, place_list *list)
{
    if (plate->table || !pp_given(reach)) return;
    size_t n = 0;
    for (size_t k = 0; k < list->count; k++) {
        bool near = false;
        for (size_t i = 0; i < plate->supports.count && !near; i++)
            near = hypot(plate->supports.x[i] - list->x[k], plate->supports.y[i] - list->y[k]) <=
                   reach;
        if (near) list->x[n] = list->x[k], list->y[n++] = list->y[k];
    }
    list->count = n;
}

static pp_status find_places(const pp_hold_plate *plate, const pp_plan_request *request,
                             const pp_grid *grid, double pad, double reach, pp_arena *arena,
                             place_list *list, pp_error *error)
{
    const pp_mesh *mesh = plate->mesh;
    const pp_place_list *given = request->candidates;
    list->count = 0;
    list->room = given ? given->count : 2 * RIM_PLACES + 4 * LANE_PLACES + plate->supports.count;
    PP_TAKE(list->x, arena, list->room);
    PP_TAKE(list->y, arena, list->room);
    if (given) {
        for (size_t k = 0; k < given->count; k++)
            if (pp_mesh_inside(mesh, given->x[k], given->y[k])) add(list, given->x[k], given->y[k]);
        keep_supported(plate, request->support_reach, list);
        return PP_OK;
    }
    double inset = fmax(pad / 2, 1e-3 * fmin(mesh->width, mesh->height));
    bool over = request->over_holes;
    if (pp_outline_is_cut_out(&mesh->shape))
        edge_places(mesh, grid, inset, reach, over, list);
    else
        rim_places(mesh, grid, inset, reach, over, list);
    lane_places(mesh, grid, inset, reach, over, list);
    keep_supported(plate, request->support_reach, list);
    for (size_t i = 0; i < plate->supports.count && !plate->table; i++)
        if (over || !pp_grid_near(grid, plate->supports.x[i], plate->supports.y[i], reach, 0, NULL))
            add(list, plate->supports.x[i], plate->supports.y[i]);
    return PP_OK;
}

/* What each does to the plate ----------------------------------------------------------- */

typedef struct deflecting {
    const pp_hold_plate *plate;
    size_t count;
    const double *x, *y;
    double *deflection, *g;
    double (*rigid)[3];
    pp_probe *probes; /* [workers * TOGETHER] */
    double *beside;   /* [workers * TOGETHER * dofs] */
} deflecting;

/* Of some candidates: the factor is read once for all of them. */
static pp_status deflect(void *context, size_t part, int worker, pp_error *error)
{
    deflecting *d = context;
    const pp_compliance *c = &d->plate->compliance;
    size_t first = part * TOGETHER, left = d->count - first, n = d->plate->mesh->dofs;
    size_t count = left < TOGETHER ? left : TOGETHER, at = (size_t)worker * TOGETHER;
    pp_probe *probes = d->probes + at;
    for (size_t k = 0; k < count; k++) {
        pp_probe_point(c, d->x[first + k], d->y[first + k], 0, 0, &probes[k]);
        memcpy(d->rigid[first + k], probes[k].rigid, sizeof probes[k].rigid);
        pp_influence_probe(&d->plate->influence, &probes[k],
                           d->g + (first + k) * d->plate->points.count);
    }
    return pp_compliance_deflect(c, count, probes, d->beside + at * n, d->deflection + first * n,
                                 error);
}

static pp_status deflect_all(deflecting *d, pp_arena *arena, pp_error *error)
{
    size_t n = d->plate->mesh->dofs, parts = (d->count + TOGETHER - 1) / TOGETHER;
    size_t workers = d->plate->threads > 1 ? (size_t)d->plate->threads : 1;
    PP_TAKE(d->deflection, arena, d->count * n);
    PP_TAKE(d->g, arena, d->count * d->plate->points.count);
    PP_TAKE(d->rigid, arena, d->count);
    pp_mark mark = pp_arena_mark(arena);
    PP_TAKE(d->probes, arena, workers * TOGETHER);
    PP_TAKE(d->beside, arena, workers * TOGETHER * n);
    PP_TRY(pp_parallel(d->plate->threads, parts, deflect, d, error));
    pp_arena_release(arena, mark);
    return PP_OK;
}

static pp_status list_blocks(const pp_grid *grid, const place_list *list, double reach,
                             pp_arena *arena, pp_candidates *c, pp_error *error)
{
    size_t *begin;
    uint32_t *blocks;
    PP_TAKE(begin, arena, list->count + 1);
    begin[0] = 0;
    for (size_t k = 0; k < list->count; k++)
        begin[k + 1] = begin[k] + pp_grid_near(grid, list->x[k], list->y[k], reach, 0, NULL);
    PP_TAKE(blocks, arena, begin[list->count]);
    for (size_t k = 0; k < list->count; k++) {
        size_t n = begin[k + 1] - begin[k];
        pp_grid_near(grid, list->x[k], list->y[k], reach, n, blocks + begin[k]);
        for (uint32_t *b = blocks + begin[k], i = 1; i < n; i++) /* few: sort by insertion */
            for (uint32_t j = i; j > 0 && b[j - 1] > b[j]; j--) {
                uint32_t swap = b[j];
                b[j] = b[j - 1];
                b[j - 1] = swap;
            }
    }
    c->block_begin = begin;
    c->blocks = blocks;
    return PP_OK;
}

pp_status pp_candidates_make(const pp_hold_plate *plate, const pp_plan_request *request,
                             pp_memory *memory, pp_candidates *candidates, pp_error *error)
{
    pp_arena *arena = &memory->scratch;
    double pad = pp_given(request->pad) ? request->pad : 0;
    double hole = pp_given(request->hole_diameter) ? request->hole_diameter : 0;
    double reach = (pad + hole) / 2;
    pp_grid grid;
    place_list list;
    PP_TRY(pp_grid_build(request->holes->count, request->holes->x, request->holes->y, reach, arena,
                         &grid, error));
    PP_TRY(find_places(plate, request, &grid, pad, reach, arena, &list, error));
    pp_candidates c = {.count = list.count, .x = list.x, .y = list.y};
    PP_TRY(list_blocks(&grid, &list, reach, arena, &c, error));
    deflecting d = {.plate = plate, .count = list.count, .x = list.x, .y = list.y};
    PP_TRY(deflect_all(&d, arena, error));
    c.deflection = d.deflection;
    c.g = d.g;
    c.rigid = (const double(*)[3])d.rigid;
    *candidates = c;
    return PP_OK;
}
