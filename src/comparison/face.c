#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "comparison/parts.h"

static const double SAME = 1e-6;      /* mm: of grid lines that two reports have in common */
static const double COVERAGE = 2;     /* of expanded uncertainties */
static const double TURNED_MAX = 0.5; /* of the rms as laid: then another way lies far better */

/* z without a + b x + c y by least squares, about the middle of the places. */
static void take_plane_out(size_t n, const double *x, const double *y, double *z)
{
    double mx = 0, my = 0, mz = 0, xx = 0, xy = 0, yy = 0, xz = 0, yz = 0, count = (double)n;
    for (size_t i = 0; i < n; i++) mx += x[i] / count, my += y[i] / count, mz += z[i] / count;
    for (size_t i = 0; i < n; i++) {
        double dx = x[i] - mx, dy = y[i] - my, dz = z[i] - mz;
        xx += dx * dx, xy += dx * dy, yy += dy * dy, xz += dx * dz, yz += dy * dz;
    }
    double det = xx * yy - xy * xy;
    double b = det > 0 ? (xz * yy - yz * xy) / det : 0, c = det > 0 ? (yz * xx - xz * xy) / det : 0;
    for (size_t i = 0; i < n; i++) z[i] -= mz + b * (x[i] - mx) + c * (y[i] - my);
}

static double rms_of(size_t n, const double *z)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) sum += z[i] * z[i];
    return n ? sqrt(sum / (double)n) : 0;
}

/* The place of `side` at px, py from row `from` on, which lie in rows of y, then x; SIZE_MAX:
 * none. */
static size_t find_place(const pp_side *side, double px, double py, size_t *from)
{
    size_t k = *from;
    while (k < side->place_count &&
           (side->y[k] < py - SAME || (fabs(side->y[k] - py) <= SAME && side->x[k] < px - SAME)))
        k++;
    *from = k;
    bool there =
        k < side->place_count && fabs(side->x[k] - px) <= SAME && fabs(side->y[k] - py) <= SAME;
    return there ? k : SIZE_MAX;
}

typedef struct place_list {
    size_t count;
    double *x, *y, *before, *now, *moved;
} place_list;

static pp_status take_room(size_t count, pp_arena *arena, place_list *p, pp_error *error)
{
    p->count = 0;
    PP_TAKE(p->x, arena, count);
    PP_TAKE(p->y, arena, count);
    PP_TAKE(p->before, arena, count);
    PP_TAKE(p->now, arena, count);
    PP_TAKE(p->moved, arena, count);
    return PP_OK;
}

/* Both maps lie on the same grid where plate and settings are the same; other places do not count.
 */
static void match_places(const pp_side *before, const pp_side *now, place_list *p)
{
    size_t from = 0;
    for (size_t i = 0; i < now->place_count; i++) {
        size_t k = find_place(before, now->x[i], now->y[i], &from);
        if (k == SIZE_MAX) continue;
        p->x[p->count] = now->x[i], p->y[p->count] = now->y[i];
        p->before[p->count] = before->height[k], p->now[p->count] = now->height[i];
        p->moved[p->count] = now->height[i] - before->height[k];
        p->count++;
    }
    take_plane_out(p->count, p->x, p->y, p->moved);
}

/* ---- was the plate surveyed the other way round? ---- */

typedef struct turn {
    const char *words;
    double xx, xy, yx, yy; /* of x, y about the middle */
} turn;

static const turn TURNS[] = {{"turned by 180 degrees", -1, 0, 0, -1},
                             {"turned by 90 degrees", 0, -1, 1, 0},
                             {"turned by 270 degrees", 0, 1, -1, 0},
                             {"mirrored left to right", -1, 0, 0, 1},
                             {"mirrored top to bottom", 1, 0, 0, -1}};

typedef struct grid_place {
    double x, y, height;
} grid_place;

static int by_place(const void *left, const void *right)
{
    const grid_place *a = left, *b = right;
    if (fabs(a->y - b->y) > SAME) return a->y < b->y ? -1 : 1;
    return a->x + SAME < b->x ? -1 : a->x > b->x + SAME;
}

/* rms between the maps with the second one turned; NaN where too few places meet. */
static double rms_turned(const turn *t, const place_list *p, grid_place *turned, place_list *room)
{
    double cx = 0, cy = 0, n = (double)p->count;
    size_t met = 0;
    double low_x = p->x[0], high_x = p->x[0], low_y = p->y[0], high_y = p->y[0];
    for (size_t i = 0; i < p->count; i++) {
        low_x = fmin(low_x, p->x[i]), high_x = fmax(high_x, p->x[i]);
        low_y = fmin(low_y, p->y[i]), high_y = fmax(high_y, p->y[i]);
    }
    cx = 0.5 * (low_x + high_x), cy = 0.5 * (low_y + high_y);
    for (size_t i = 0; i < p->count; i++) {
        double dx = p->x[i] - cx, dy = p->y[i] - cy;
        turned[i] =
            (grid_place){cx + t->xx * dx + t->xy * dy, cy + t->yx * dx + t->yy * dy, p->now[i]};
    }
    qsort(turned, p->count, sizeof *turned, by_place);
    for (size_t i = 0, k = 0; i < p->count && k < p->count;) {
        const grid_place here = {p->x[i], p->y[i], 0};
        int order = by_place(&here, &turned[k]);
        if (order == 0) {
            room->x[met] = here.x, room->y[met] = here.y;
            room->moved[met++] = turned[k].height - p->before[i];
        }
        i += order <= 0, k += order >= 0;
    }
    if ((double)met < 0.8 * n) return NAN;
    take_plane_out(met, room->x, room->y, room->moved);
    return rms_of(met, room->moved);
}

/* A movement that a turn of the survey would explain is most likely no movement. */
static pp_status find_turn(const place_list *p, pp_arena *scratch, pp_moved_face *f,
                           pp_error *error)
{
    grid_place *turned;
    place_list room;
    double least = TURNED_MAX * f->rms;
    PP_TAKE(turned, scratch, p->count);
    PP_TRY(take_room(p->count, scratch, &room, error));
    for (size_t i = 0; i < sizeof TURNS / sizeof *TURNS; i++) {
        double rms = rms_turned(&TURNS[i], p, turned, &room);
        if (rms < least) least = rms, f->turned = TURNS[i].words;
    }
    return PP_OK;
}

static void find_extremes(const place_list *p, pp_moved_face *f)
{
    for (size_t i = 0; i < p->count; i++) {
        double z = p->moved[i];
        if (z > f->rise) f->rise = z, f->rise_x = p->x[i], f->rise_y = p->y[i];
        if (z < f->fall) f->fall = z, f->fall_x = p->x[i], f->fall_y = p->y[i];
    }
    bool up = f->rise >= -f->fall;
    f->largest = up ? f->rise : f->fall;
    f->at_x = up ? f->rise_x : f->fall_x, f->at_y = up ? f->rise_y : f->fall_y;
}

pp_status pp_compare_faces(const pp_side *before, const pp_side *now, pp_memory *memory,
                           pp_moved_face *face, pp_error *error)
{
    place_list p;
    face->uncertainty = COVERAGE * hypot(before->u_height, now->u_height);
    if (!before->place_count || !now->place_count) return PP_OK;
    PP_TRY(take_room(now->place_count, &memory->keep, &p, error));
    match_places(before, now, &p);
    face->places = p.count;
    face->x = p.x, face->y = p.y, face->before = p.before, face->now = p.now, face->moved = p.moved;
    face->rms = rms_of(p.count, p.moved);
    if (!p.count) return PP_OK;
    find_extremes(&p, face);
    if (!(fabs(face->largest) > face->uncertainty) && !isnan(face->uncertainty)) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = find_turn(&p, &memory->scratch, face, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}
