#include "holddown/support.h"

#include <math.h>

#include "base/constants.h"

enum { RIM_SYMMETRY = 8 }; /* rim points of a disc come in eights: quarter turns and mirrors */

typedef struct lists {
    double *x, *y, *height, *share;
} lists;

static pp_status take_lists(size_t count, pp_memory *memory, lists *l, pp_error *error)
{
    PP_TAKE(l->x, &memory->keep, count);
    PP_TAKE(l->y, &memory->keep, count);
    PP_TAKE_ZERO(l->height, &memory->keep, count);
    PP_TAKE(l->share, &memory->keep, count);
    return PP_OK;
}

static pp_supports as_supports(size_t count, const lists *l)
{
    return (pp_supports){
        .count = count, .x = l->x, .y = l->y, .height = l->height, .share = l->share};
}

/* distance from the plate's edge, positive inside */
static double rim_distance(const pp_mesh *mesh, double x, double y)
{
    return pp_outline_margin(&mesh->shape, x, y);
}

static size_t add_inner_nodes(const pp_mesh *mesh, lists *l)
{
    size_t count = 0;
    double margin = 0.5 * fmax(mesh->hx, mesh->hy);
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            double x = mesh->x0 + (double)i * mesh->hx, y = mesh->y0 + (double)j * mesh->hy;
            if (!(rim_distance(mesh, x, y) > margin)) continue;
            if (l) {
                l->x[count] = x;
                l->y[count] = y;
                l->share[count] = mesh->hx * mesh->hy;
            }
            count++;
        }
    return count;
}

static pp_status table_of_disc(const pp_mesh *mesh, pp_memory *memory, pp_supports *supports,
                               pp_error *error)
{
    double pitch = fmin(mesh->hx, mesh->hy);
    size_t rim = RIM_SYMMETRY *
                 (size_t)fmax(1, round(2 * PP_PI * mesh->radius / pitch / (double)RIM_SYMMETRY));
    size_t inner = add_inner_nodes(mesh, NULL);
    lists l;
    PP_TRY(take_lists(inner + rim, memory, &l, error));
    add_inner_nodes(mesh, &l);
    double rest = PP_PI * mesh->radius * mesh->radius - (double)inner * mesh->hx * mesh->hy;
    for (size_t k = 0; k < rim; k++) {
        double angle = 2 * PP_PI * (double)k / (double)rim;
        l.x[inner + k] = mesh->centre_x + mesh->radius * cos(angle);
        l.y[inner + k] = mesh->centre_y + mesh->radius * sin(angle);
        l.share[inner + k] = fmax(rest / (double)rim, 0.25 * mesh->hx * mesh->hy);
    }
    *supports = as_supports(inner + rim, &l);
    return PP_OK;
}

/* Points along the edges of a cut-out plate, its corners among them, a cell apart and no two closer
 * than a third of that. l: NULL to count them. */
static size_t add_rim_points(const pp_mesh *mesh, size_t first, lists *l)
{
    static const double APART = 0.33;
    double pitch = fmin(mesh->hx, mesh->hy);
    size_t count = first;
    for (size_t k = 0; k < pp_outline_edge_count(&mesh->shape); k++) {
        pp_edge edge = pp_outline_edge(&mesh->shape, k);
        size_t steps = (size_t)fmax(1, round(pp_edge_length(&edge) / pitch));
        for (size_t i = 0; i < steps; i++) {
            pp_edge_place at = pp_edge_at(&edge, (double)i / (double)steps);
            bool near = false;
            for (size_t other = first; l && other < count && !near; other++)
                near = hypot(l->x[other] - at.x, l->y[other] - at.y) < APART * pitch;
            if (near) continue;
            if (l) l->x[count] = at.x, l->y[count] = at.y;
            count++;
        }
    }
    return count - first;
}

static pp_status table_of_cut_out(const pp_mesh *mesh, pp_memory *memory, pp_supports *supports,
                                  pp_error *error)
{
    size_t inner = add_inner_nodes(mesh, NULL);
    lists l;
    PP_TRY(take_lists(inner + add_rim_points(mesh, inner, NULL), memory, &l, error));
    add_inner_nodes(mesh, &l);
    size_t rim = add_rim_points(mesh, inner, &l);
    double cell = mesh->hx * mesh->hy, rest = mesh->area - (double)inner * cell;
    for (size_t k = 0; k < rim; k++) l.share[inner + k] = fmax(rest / (double)rim, 0.25 * cell);
    *supports = as_supports(inner + rim, &l);
    return PP_OK;
}

static pp_status table_of_rectangle(const pp_mesh *mesh, pp_memory *memory, pp_supports *supports,
                                    pp_error *error)
{
    lists l;
    PP_TRY(take_lists(mesh->nodes, memory, &l, error));
    size_t count = 0;
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++, count++) {
            l.x[count] = mesh->x0 + (double)i * mesh->hx;
            l.y[count] = mesh->y0 + (double)j * mesh->hy;
            double across = i == 0 || i == mesh->nx ? 0.5 : 1;
            double along = j == 0 || j == mesh->ny ? 0.5 : 1;
            l.share[count] = across * along * mesh->hx * mesh->hy;
        }
    *supports = as_supports(count, &l);
    return PP_OK;
}

pp_status pp_supports_table(const pp_mesh *mesh, pp_memory *memory, pp_supports *supports,
                            pp_error *error)
{
    if (mesh->outline == PP_OUTLINE_DISC) return table_of_disc(mesh, memory, supports, error);
    return pp_outline_is_cut_out(&mesh->shape) ? table_of_cut_out(mesh, memory, supports, error)
                                               : table_of_rectangle(mesh, memory, supports, error);
}

static long line_of(const pp_place_list *pins, long i) { return pins->line ? pins->line[i] : 0; }

/* A pin so far below the highest that no plate bends down to it is a slip of sign, of unit or of
 * zero. Common practice, no source. */
static pp_status check_heights(const pp_mesh *mesh, size_t count, const double *height,
                               const long *pin, const pp_place_list *pins, const char *file,
                               pp_error *error)
{
    static const double LOW = 20, SHARE = 1.0 / 50; /* mm; of the plate's shorter side */
    double most = fmax(LOW, SHARE * pp_outline_across(&mesh->shape));
    size_t highest = 0, lowest = 0;
    for (size_t i = 1; i < count; i++) {
        if (height[i] > height[highest]) highest = i;
        if (height[i] < height[lowest]) lowest = i;
    }
    double below = height[highest] - height[lowest];
    if (below <= most) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, file, line_of(pins, pin[lowest]), 0,
                      "pin %ld stands %g mm below pin %ld, and a plate of this size is not bent by "
                      "more than %g mm; check z, its sign and its unit, or leave the pin out",
                      pin[lowest] + 1, below, pin[highest] + 1, most);
}

/* As many stand above it as below; between two that are alike in that. */
static double middle_height(size_t count, const double *height)
{
    double low = 0, high = 0;
    size_t least = SIZE_MAX;
    for (size_t i = 0; i < count; i++) {
        size_t below = 0, above = 0;
        for (size_t k = 0; k < count; k++) {
            if (height[k] < height[i]) below++;
            if (height[k] > height[i]) above++;
        }
        size_t apart = below > above ? below - above : above - below;
        if (apart > least) continue;
        low = apart < least ? height[i] : fmin(low, height[i]);
        high = apart < least ? height[i] : fmax(high, height[i]);
        least = apart;
    }
    return 0.5 * (low + high);
}

pp_status pp_supports_pins(const pp_mesh *mesh, const pp_place_list *pins, const char *file,
                           bool about_middle, pp_memory *memory, pp_supports *supports,
                           pp_error *error)
{
    double apart = 1e-3 * fmin(mesh->hx, mesh->hy); /* nearer than that they are one support */
    lists l;
    long *pin;
    PP_TRY(take_lists(pins->count, memory, &l, error));
    PP_TAKE(pin, &memory->keep, pins->count);
    size_t count = 0;
    for (size_t i = 0; i < pins->count; i++) {
        if (!pp_mesh_inside(mesh, pins->x[i], pins->y[i])) continue;
        for (size_t k = 0; k < count; k++)
            if (hypot(pins->x[i] - l.x[k], pins->y[i] - l.y[k]) < apart)
                return pp_fail_at(error, PP_EINPUT, file, line_of(pins, (long)i), 0,
                                  "pins %ld and %zu stand on one spot, (%g, %g); leave one out",
                                  pin[k] + 1, i + 1, pins->x[i], pins->y[i]);
        l.x[count] = pins->x[i];
        l.y[count] = pins->y[i];
        l.height[count] = pins->z ? pins->z[i] : 0;
        l.share[count] = 1;
        pin[count++] = (long)i;
    }
    if (count < 3)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "%zu of the %zu support pins are under the plate, and it needs 3 to lie "
                          "on; check the pins' places, their unit and the plate's centre",
                          count, pins->count);
    PP_TRY(check_heights(mesh, count, l.height, pin, pins, file, error));
    double level = about_middle ? middle_height(count, l.height) : 0;
    for (size_t i = 0; i < count; i++) l.height[i] -= level;
    *supports = as_supports(count, &l);
    supports->pin = pin, supports->level = level;
    return PP_OK;
}
