#include "report/holdmaps/hold_map.h"

#include <math.h>

#include "base/grid.h"

enum { LONG_SIDE = 81, NEAR_MAX = 128 };
static const double REACH = 2.5;   /* pitches: farther from any hole nothing is drawn */
static const double WIDTH = 0.9;   /* pitches: of the window that smooths between holes */
static const double FLATTER = 0.1; /* of the window's square: slopes where holes lie on one side */
static const double BEYOND = 1.5;  /* of the last step: where a force above the cap is drawn */

/* ColorBrewer: Blues within the limit, Oranges beyond, a purple below the pins */
static const unsigned WITHIN[] = {0xeff3ff, 0xbdd7e7}, OUT[] = {0xfdd0a2, 0xfd8d3c, 0xd94701};
static const unsigned BELOW = 0x9e9ac8;

bool pp_hold_map_due(const pp_results *results, pp_hold_map_kind kind)
{
    const pp_holddown *h = results->holddown;
    if (!h || !h->count || !results->files) return false;
    switch (kind) {
    case PP_MAP_UNDER_FOOT:
    case PP_MAP_FORCE:
        return true;
    case PP_MAP_AFTER_PLAN:
        return h->clamp_count > 0 && h->gap_after;
    case PP_MAP_SHIMS:
        return h->shim_count > 0;
    case PP_MAP_TURNED:
        return h->turned_over.gaps && results->holddown_judgement->counts.needs_holddown > 0;
    case PP_HOLD_MAPS:
        break;
    }
    return false;
}

/* Values and classes ---------------------------------------------------------------------- */

static void add_class(pp_hold_map *m, double from, unsigned colour)
{
    m->from[m->class_count] = from;
    m->colour[m->class_count++] = colour;
}

static void gap_classes(const pp_holddown *h, pp_hold_map *m)
{
    double limit = h->gap_limit, first = -INFINITY;
    if (h->support == PP_SUPPORT_PINS) {
        add_class(m, -INFINITY, BELOW);
        first = -limit;
    }
    add_class(m, first, WITHIN[0]);
    add_class(m, limit / 2, WITHIN[1]);
    add_class(m, limit, OUT[0]);
    add_class(m, 2 * limit, OUT[1]);
    add_class(m, 4 * limit, OUT[2]);
}

static void force_classes(const pp_holddown *h, pp_hold_map *m)
{
    m->force = true;
    add_class(m, -INFINITY, WITHIN[0]);
    add_class(m, h->foot_force / 4, WITHIN[1]);
    add_class(m, h->foot_force, OUT[0]);
    add_class(m, 2 * h->foot_force, OUT[1]);
    add_class(m, 4 * h->foot_force, OUT[2]);
}

static double force_drawn(const pp_results *r, double force, const pp_hold_map *m)
{
    if (!isnan(force)) return force;
    double cap = r->job->holddown.force_cap, last = m->from[m->class_count - 1];
    return BEYOND * (cap > last ? cap : last);
}

static double value_of(const pp_results *r, const pp_hold_map *m, size_t i)
{
    const pp_holddown *h = r->holddown;
    switch (m->kind) {
    case PP_MAP_UNDER_FOOT:
        return h->holes[i].gap_under_foot;
    case PP_MAP_FORCE:
        return force_drawn(r, h->holes[i].force_to_close, m);
    case PP_MAP_AFTER_PLAN:
        return h->gap_after[i];
    case PP_MAP_SHIMS:
        return h->holes[i].gap;
    case PP_MAP_TURNED:
        return h->turned_over.gap_after ? h->turned_over.gap_after[i]
                                        : h->turned_over.gaps[i].under_foot;
    case PP_HOLD_MAPS:
        break;
    }
    return NAN;
}

static bool is_failing(const pp_holddown_judgement *j, pp_hold_map_kind kind, size_t i)
{
    const uint8_t *class_ = kind == PP_MAP_AFTER_PLAN ? j->class_after
                            : kind == PP_MAP_TURNED   ? j->class_turned
                                                      : j->class_;
    return kind != PP_MAP_SHIMS && class_ && class_[i] >= PP_NEEDS_HOLDDOWN;
}

/* A value that rounding has left just below a step belongs to it no less than one just above: the
 * class below ends with its upper bound, as limits do. */
static size_t class_of(const pp_hold_map *m, double value)
{
    size_t k = m->class_count - 1;
    while (k > 0 && !(value > m->from[k] * (1 + 1e-9))) k--;
    return k;
}

/* Between the holes ------------------------------------------------------------------------ */

static double pitch_of(const pp_results *r, const pp_plate_view *view)
{
    double pitch = r->job->holes.pitch;
    if (pitch > 0) return pitch;
    double area = (view->xmax - view->xmin) * (view->ymax - view->ymin);
    return sqrt(area / (double)r->holddown->count);
}

/* Local plane through the holes around, weighted by their nearness */
static double smooth_at(const pp_nominal *n, const pp_grid *grid, const double *value, double x,
                        double y, double pitch)
{
    uint32_t near[NEAR_MAX];
    double from = pp_grid_distance(grid, x, y, REACH * pitch);
    if (isinf(from)) return NAN;
    double h = fmax(WIDTH * pitch, from), s = 0, sx = 0, sy = 0, sz = 0, xx = 0, xy = 0, yy = 0,
           xz = 0, yz = 0;
    size_t count = pp_grid_near(grid, x, y, fmax(2 * h, from), NEAR_MAX, near);
    if (count > NEAR_MAX) count = NEAR_MAX;
    for (size_t k = 0; k < count; k++) {
        double u = n->x[near[k]] - x, v = n->y[near[k]] - y, z = value[near[k]];
        double w = exp(-(u * u + v * v) / (h * h));
        s += w, sx += w * u, sy += w * v, sz += w * z;
        xx += w * u * u, xy += w * u * v, yy += w * v * v, xz += w * u * z, yz += w * v * z;
    }
    double mx = sx / s, my = sy / s, mz = sz / s;
    double a = xx / s - mx * mx + FLATTER * h * h, b = xy / s - mx * my,
           c = yy / s - my * my + FLATTER * h * h, p = xz / s - mx * mz, q = yz / s - my * mz;
    double along_x = (p * c - q * b) / (a * c - b * b), along_y = (q * a - p * b) / (a * c - b * b);
    return mz - along_x * mx - along_y * my;
}

static pp_status make_raster(const pp_results *r, const pp_plate_view *view, pp_memory *memory,
                             pp_hold_map *m, pp_error *error)
{
    const pp_nominal *n = &r->files->nominal;
    double width = view->xmax - view->xmin, height = view->ymax - view->ymin;
    double step = fmax(width, height) / (LONG_SIDE - 1), pitch = pitch_of(r, view), *value;
    pp_grid grid;
    m->raster = (pp_raster){.columns = (size_t)ceil(width / step - 1e-9) + 1,
                            .rows = (size_t)ceil(height / step - 1e-9) + 1,
                            .x0 = view->xmin,
                            .y0 = view->ymin,
                            .dx = step,
                            .dy = step};
    PP_TAKE(value, &memory->keep, m->raster.columns * m->raster.rows);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(pp_grid_build(n->count, n->x, n->y, pitch, &memory->scratch, &grid, error));
    for (size_t j = 0; j < m->raster.rows; j++)
        for (size_t i = 0; i < m->raster.columns; i++)
            value[j * m->raster.columns + i] =
                smooth_at(n, &grid, m->value, view->xmin + (double)i * step,
                          view->ymin + (double)j * step, pitch);
    m->raster.value = value;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* All together ------------------------------------------------------------------------------ */

static void give_words(const pp_results *r, pp_hold_map *m)
{
    const pp_holddown *h = r->holddown;
    bool planned = h->turned_over.gap_after != NULL;
    const struct {
        const char *title, *caption;
    } words[PP_HOLD_MAPS] = {
        [PP_MAP_UNDER_FOOT] = {"Gap under the foot, without clamps",
                               "Dark dots are holes that need more than the foot."},
        [PP_MAP_FORCE] = {"Force that closes the gap",
                          "Blue: the foot is strong enough. Dark dots are holes where it is not."},
        [PP_MAP_AFTER_PLAN] =
            {h->plan_given ? "Gap left with the clamps given" : "Gap left with the planned clamps",
             "Squares: clamps, numbered, with their force. Each hole as its set-up "
             "holds it; dark dots are not held."},
        [PP_MAP_SHIMS] = {"A second plan: shims in the gap at rest",
                          "Triangles: shims, numbered as in their table, instead of clamps."},
        [PP_MAP_TURNED] = {planned ? "The other face up, with its own clamps"
                                   : "The other face up, without clamps",
                           "The plate turned over, seen from above; holes and supports stay where "
                           "they are on the machine. Dark dots are not held."}};
    m->title = words[m->kind].title;
    m->caption = words[m->kind].caption;
}

pp_status pp_hold_map_make(const pp_results *results, pp_hold_map_kind kind, pp_memory *memory,
                           pp_hold_map *map, pp_error *error)
{
    const pp_holddown *h = results->holddown;
    pp_hold_map m = {.kind = kind};
    pp_plate_view view;
    double *value;
    bool *fails;
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    PP_TAKE(value, &memory->keep, h->count);
    PP_TAKE(fails, &memory->keep, h->count);
    give_words(results, &m);
    if (kind == PP_MAP_FORCE)
        force_classes(h, &m);
    else
        gap_classes(h, &m);
    for (size_t i = 0; i < h->count; i++) {
        value[i] = value_of(results, &m, i);
        fails[i] = is_failing(results->holddown_judgement, kind, i);
        m.failing += fails[i];
        m.holes[class_of(&m, value[i])]++;
    }
    m.value = value;
    m.fails = fails;
    if (kind == PP_MAP_AFTER_PLAN) m.clamp_count = h->clamp_count, m.clamps = h->plan;
    if (kind == PP_MAP_TURNED) {
        m.clamp_count = h->turned_over.plan.clamp_count;
        m.clamps = h->turned_over.plan.clamps;
    }
    PP_TRY(make_raster(results, &view, memory, &m, error));
    *map = m;
    return PP_OK;
}
