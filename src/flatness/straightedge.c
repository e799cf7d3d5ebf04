#include "flatness/straightedge.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "flatness/straightedge_line.h"

enum {
    STEPS_MIN = 8,    /* samples over one window */
    STEPS_USUAL = 40, /* enough where the surface waves slowly */
    STEPS_REFINED = 128,
    LINES_PER_FEATURE = 3,
    TURNS_PER_FEATURE = 2, /* of the ends of the straightedge */
    EXTRA_DIRECTIONS = 2,  /* diagonals */
    EXTRA_OFFSETS = 2,     /* corners that are not the outermost ones */
    FEW_WINDOWS = 8,       /* next to each other, worth a hull in common */
    KEPT = 8,              /* directions whose best place is refined */
    HALVINGS = 12,         /* of the compass */
    MOVES_MAX = 300        /* of the compass */
};
static const double WORTHWHILE = 1 + 1e-6; /* smaller gains are left to refinement */

/* Where a straightedge lies: on the line at `offset` from the centre (to the left of `angle`),
 * from `start` along it, over `length` of plate. */
typedef struct placement {
    double gap;
    double angle, offset, start, length;
} placement;

/* The top, the underside (the heights turned over), or both in one sweep. */
enum { TOP, UNDERSIDE, SIDES };

typedef struct side_places {
    placement side[SIDES];
} side_places;

typedef struct sweep {
    const pp_relief *relief;
    bool tried[SIDES];
    double length, step;
    size_t window; /* steps of a window */
    size_t directions, offsets;
    size_t room; /* samples of the longest line, and of one window more */
    placement seed[SIDES];
    double floor[SIDES]; /* smaller gaps are of no interest */
    side_places *best;   /* per direction */
    double *work;        /* per worker */
} sweep;

/* ---- one line ---- */

static pp_profile profile_of(const sweep *s, int worker)
{
    double *a = s->work + (size_t)worker * PP_PROFILE_ARRAYS * s->room;
    size_t n = s->room;
    return (pp_profile){a, a + n, a + 2 * n, a + 3 * n, a + 4 * n, a + 5 * n};
}

static void keep_better(placement *best, const placement *other)
{
    if (other->gap > best->gap) *best = *other;
}

/* One window laid on its own, on either side that is tried, as far as it can beat the best. */
static void try_window(const sweep *s, const pp_line *l, placement place, size_t steps,
                       pp_profile *p, side_places *best)
{
    pp_profile_sample(s->relief, l, place.start, place.length / (double)steps, steps + 1, p);
    for (int side = 0; side < SIDES; side++) {
        if (side == UNDERSIDE) pp_profile_turn_over(p, steps + 1);
        if (!s->tried[side]) continue;
        pp_profile_sum_hollows(p, steps + 1);
        if (!pp_profile_may_exceed(p, 0, steps, best->side[side].gap * WORTHWHILE)) continue;
        place.gap = pp_profile_hull_gap(p->height, steps, p->hull);
        keep_better(&best->side[side], &place);
    }
}

/* The windows of one sampled line that begin at samples first to last, as far as they can beat the
 * best so far: all at once, else by halves. Over a longer piece the hull only rises and Green's
 * function only grows, so what the piece under all of them cannot show, none of them does. */
static void try_windows(const sweep *s, const pp_line *l, const placement *place, size_t first,
                        size_t last, pp_profile *p, placement *best)
{
    const size_t steps = last - first + s->window, windows = last - first + 1;
    const double floor = best->gap * WORTHWHILE;
    if (!pp_profile_may_exceed(p, first, steps, floor)) return;
    if (windows == 1) {
        placement laid = *place;
        if (!pp_line_ends_on_plate(l, l->begin + s->step * (double)first, s->length)) return;
        laid.gap = pp_profile_hull_gap(p->height + first, steps, p->hull);
        laid.start = l->begin + s->step * (double)first;
        keep_better(best, &laid);
        return;
    }
    bool few = windows <= FEW_WINDOWS && windows > FEW_WINDOWS / 2; /* once on the way down */
    if (few && pp_profile_hull_gap(p->height + first, steps, p->hull) <= floor) return;
    size_t middle = (first + last) / 2;
    try_windows(s, l, place, first, middle, p, best);
    try_windows(s, l, place, middle + 1, last, p, best);
}

/* Beside openings: each stretch of plate that is shorter than the straightedge, and of the longer
 * ones the windows at their ends. */
static void try_stretches(const sweep *s, const pp_line *l, placement place, pp_profile *p,
                          side_places *best)
{
    for (size_t k = 0; l->stretches > 1 && k < l->stretches; k++) {
        double length = l->stretch[k].end - l->stretch[k].begin;
        if (!(length > PP_LINE_EDGE * s->length)) continue;
        place.length = fmin(length, s->length);
        place.start = l->stretch[k].begin;
        try_window(s, l, place, s->window, p, best);
        place.start = l->stretch[k].end - place.length;
        if (length > s->length) try_window(s, l, place, s->window, p, best);
    }
}

/* The height at the very end of the line, behind those of the samples. */
static void add_end(const pp_relief *r, const pp_line *l, size_t count, pp_profile *p)
{
    double x = r->centre_x + l->ox + l->end * l->ex, y = r->centre_y + l->oy + l->end * l->ey;
    r->heights(r->context, 1, &x, &y, &p->height[count]);
}

/* Every window along one line, from its beginning in steps, and the one at its very end, unless the
 * longer piece from the last of them to the end has no such gap. */
static void try_line(const sweep *s, double angle, double offset, pp_profile *p, side_places *best)
{
    pp_line l;
    if (!pp_line_place(s->relief, angle, offset, &l)) return;
    double chord = l.end - l.begin;
    placement place = {.angle = angle, .offset = offset, .start = l.begin, .length = s->length};
    try_stretches(s, &l, place, p, best);
    if (chord <= s->length) {
        size_t steps = (size_t)ceil(chord / s->step);
        place.length = chord;
        try_window(s, &l, place, steps < STEPS_MIN ? STEPS_MIN : steps, p, best);
        return;
    }
    size_t count = (size_t)floor(chord / s->step) + 1;
    double beyond = chord / s->step - (double)(count - 1); /* the line's end, beyond the last */
    bool try_end = count <= s->window;
    pp_profile_sample(s->relief, &l, l.begin, s->step, count, p);
    add_end(s->relief, &l, count, p);
    for (int side = 0; side < SIDES; side++) {
        if (side == UNDERSIDE) pp_profile_turn_over(p, count + 1);
        if (!s->tried[side] || count <= s->window) continue;
        placement *found = &best->side[side];
        size_t last = count - 1 - s->window;
        pp_profile_sum_hollows(p, count);
        try_windows(s, &l, &place, 0, last, p, found);
        try_end |= pp_profile_end_may_exceed(p, last, count, beyond, found->gap * WORTHWHILE);
    }
    place.start = l.end - s->length;
    if (try_end && pp_line_ends_on_plate(&l, place.start, place.length))
        try_window(s, &l, place, s->window, p, best);
}

/* ---- the search ---- */

/* Direction k: evenly over the half turn, then the diagonals of a rectangle. */
static double direction_of(const sweep *s, size_t k)
{
    if (k < s->directions) return PP_PI * (double)k / (double)s->directions;
    double diagonal = atan2(s->relief->height, s->relief->width);
    return k == s->directions ? diagonal : PP_PI - diagonal;
}

static size_t direction_count(const sweep *s)
{
    return s->directions + (s->relief->outline == PP_OUTLINE_RECTANGLE ? EXTRA_DIRECTIONS : 0);
}

/* Offset k: evenly from edge to edge, then through the corners between. */
static double offset_of(const sweep *s, double angle, size_t k)
{
    if (k < s->offsets) {
        double half = pp_relief_half_across(s->relief, angle);
        return half * (2 * (double)k / (double)(s->offsets - 1) - 1);
    }
    double inner = (s->relief->height * fabs(cos(angle)) - s->relief->width * fabs(sin(angle))) / 2;
    return k == s->offsets ? inner : -inner;
}

static size_t offset_count(const sweep *s)
{
    return s->offsets + (s->relief->outline == PP_OUTLINE_RECTANGLE ? EXTRA_OFFSETS : 0);
}

static pp_status sweep_direction(void *context, size_t part, int worker, pp_error *error)
{
    (void)error;
    const sweep *s = context;
    pp_profile p = profile_of(s, worker);
    double angle = direction_of(s, part);
    side_places best = {{{.gap = s->floor[TOP]}, {.gap = s->floor[UNDERSIDE]}}};
    for (size_t k = 0; k < offset_count(s); k++)
        try_line(s, angle, offset_of(s, angle, k), &p, &best);
    s->best[part] = best;
    return PP_OK;
}

static size_t at_least(double wanted, size_t least)
{
    return wanted > (double)least ? (size_t)ceil(wanted) : least;
}

/* Spacing of lines, directions and samples, as straightedge.h states. */
static sweep plan(const pp_relief *relief, double length)
{
    double extent = pp_relief_extent(relief), c = relief->feature;
    sweep s = {.relief = relief, .length = fmin(length, extent)};
    double steps = fmax(fmin(4 * s.length / c, STEPS_USUAL), 2 * s.length / c);
    s.window = at_least(steps, STEPS_MIN);
    s.step = s.length / (double)s.window;
    s.directions = 2 * at_least(TURNS_PER_FEATURE * s.length / c * PP_PI / 2, 4);
    s.offsets = at_least(LINES_PER_FEATURE * extent / c, 8) + 1;
    s.room = (size_t)(extent / s.step) + s.window + STEPS_REFINED + 8;
    return s;
}

/* How far the nearest place tried may fall short of the best. */
static double shortfall(const sweep *s)
{
    const pp_relief *r = s->relief;
    double dp = pp_relief_extent(r) / (double)(s->offsets - 1) / 2;
    double dr = PP_PI / (double)s->directions / 2 * s->length / 2, ds = s->step;
    return ((r->hollow + r->hump) * ((dp + dr) * (dp + dr) + ds * ds / 2) +
            fmax(r->hollow, r->hump) * dr * dr) /
           2;
}

/* Among openings: a straightedge that had one stretch of plate to itself keeps to one, any other
 * must end on the plate. */
static bool keep_on_plate(const sweep *s, const pp_line *l, const placement *from, placement *place)
{
    double middle = from->start + from->length / 2;
    bool whole = from->length >= s->length * (1 - PP_LINE_EDGE);
    for (size_t k = 0; !whole && k < l->stretches; k++) {
        if (middle < l->stretch[k].begin || middle > l->stretch[k].end) continue;
        place->length = fmin(s->length, l->stretch[k].end - l->stretch[k].begin);
        place->start = l->stretch[k].begin;
        return true;
    }
    return pp_line_ends_on_plate(l, place->start, place->length);
}

/* The gap at a place moved about, across and along; the window is kept on the plate. */
static void try_moved(const sweep *s, int side, const placement *from, const double move[3],
                      pp_profile *p, placement *best)
{
    pp_line l;
    placement place = {.angle = from->angle + move[0], .offset = from->offset + move[1]};
    if (!pp_line_place(s->relief, place.angle, place.offset, &l)) return;
    place.length = fmin(s->length, l.end - l.begin);
    place.start = fmin(fmax(from->start + move[2], l.begin), l.end - place.length);
    if (l.stretches > 1 && !keep_on_plate(s, &l, from, &place)) return;
    pp_profile_sample(s->relief, &l, place.start, place.length / STEPS_REFINED, STEPS_REFINED + 1,
                      p);
    if (side == UNDERSIDE) pp_profile_turn_over(p, STEPS_REFINED + 1);
    place.gap = pp_profile_hull_gap(p->height, STEPS_REFINED, p->hull);
    keep_better(best, &place);
}

/* Compass search: step along each coordinate while that helps, else halve the steps. */
static void refine(const sweep *s, int side, placement *place, pp_profile *p)
{
    double size[3] = {PP_PI / (double)s->directions / 2,
                      pp_relief_extent(s->relief) / (double)(s->offsets - 1) / 2, s->step / 2};
    const double stay[3] = {0};
    try_moved(s, side, place, stay, p, place);
    for (int halving = 0, moves = 0; halving < HALVINGS && moves < MOVES_MAX; moves++) {
        placement best = *place;
        for (int k = 0; k < 3; k++)
            for (int sense = 1; sense >= -1; sense -= 2) {
                double move[3] = {0};
                move[k] = sense * size[k];
                try_moved(s, side, place, move, p, &best);
            }
        if (best.gap > place->gap) {
            *place = best;
            continue;
        }
        for (int k = 0; k < 3; k++) size[k] /= 2;
        halving++;
    }
}

/* Take the largest of a side out (the first of equals); its gap becomes negative. */
static placement take_largest(side_places *best, size_t count, int side)
{
    size_t largest = 0;
    for (size_t k = 1; k < count; k++)
        if (best[k].side[side].gap > best[largest].side[side].gap) largest = k;
    placement taken = best[largest].side[side];
    best[largest].side[side].gap = -1;
    return taken;
}

/* Places to refine: the seed and the best of some directions, of each side. */
typedef struct refinement {
    const sweep *s;
    size_t count;
    struct {
        int side;
        placement place;
    } at[SIDES * (KEPT + 1)];
} refinement;

static pp_status refine_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)error;
    refinement *r = context;
    pp_profile p = profile_of(r->s, worker);
    refine(r->s, r->at[part].side, &r->at[part].place, &p);
    return PP_OK;
}

static void list_place(refinement *r, int side, const placement *place)
{
    r->at[r->count].side = side;
    r->at[r->count++].place = *place;
}

/* Refine the best places of the sides tried; at_most: what the true largest gap is at most. */
static pp_status refine_sides(const sweep *s, int threads, placement found[SIDES],
                              double at_most[SIDES], pp_error *error)
{
    refinement r = {.s = s};
    for (int side = 0; side < SIDES; side++) {
        if (!s->tried[side]) continue;
        placement place = take_largest(s->best, direction_count(s), side);
        at_most[side] = place.gap * WORTHWHILE + shortfall(s);
        found[side] = (placement){0};
        if (s->seed[side].gap > s->floor[side]) list_place(&r, side, &s->seed[side]);
        for (int k = 0; k < KEPT && place.gap > s->floor[side]; k++) {
            list_place(&r, side, &place);
            place = take_largest(s->best, direction_count(s), side);
        }
    }
    PP_TRY(pp_parallel(threads, r.count, refine_part, &r, error));
    for (size_t k = 0; k < r.count; k++) keep_better(&found[r.at[k].side], &r.at[k].place);
    return PP_OK;
}

/* A sweep with few lines and directions: a seed, and a floor that spares the full one most windows.
 * Only the largest gap of all is reported, `known` or above. A window whose gap falls short of that
 * by more than the nearest place tried may fall short of the best is no way to a larger one, on
 * either side. */
static pp_status find_seeds(sweep *s, double known, int threads, pp_error *error)
{
    const double share = 0.95; /* of the seed's gap */
    sweep sparse = *s;
    sparse.directions = 2 * at_least((double)s->directions / 16, 2);
    sparse.offsets = at_least((double)s->offsets / 4, 8);
    size_t directions = direction_count(&sparse);
    PP_TRY(pp_parallel(threads, directions, sweep_direction, &sparse, error));
    for (int side = 0; side < SIDES; side++) {
        s->seed[side] = take_largest(s->best, directions, side);
        if (s->tried[side]) known = fmax(known, s->seed[side].gap);
    }
    for (int side = 0; side < SIDES; side++)
        s->floor[side] =
            fmax(share * s->seed[side].gap, (known - shortfall(s)) / (WORTHWHILE * WORTHWHILE));
    return PP_OK;
}

/* known: a gap that is there for certain */
static pp_status search_sides(sweep *s, double known, int threads, pp_memory *memory,
                              placement found[SIDES], double at_most[SIDES], pp_error *error)
{
    if (threads < 1) threads = 1;
    PP_TAKE(s->best, &memory->scratch, direction_count(s) + EXTRA_DIRECTIONS + 4);
    PP_TAKE(s->work, &memory->scratch, (size_t)threads * PP_PROFILE_ARRAYS * s->room);
    PP_TRY(find_seeds(s, known, threads, error));
    PP_TRY(pp_parallel(threads, direction_count(s), sweep_direction, s, error));
    return refine_sides(s, threads, found, at_most, error);
}

static void fill(const pp_relief *r, const placement *place, double length, double at_most,
                 bool underside, pp_straightedge *out)
{
    double ex = cos(place->angle), ey = sin(place->angle);
    double middle = place->start + place->length / 2;
    double degrees = fmod(place->angle * 180 / PP_PI, 180);
    *out = (pp_straightedge){.length = length,
                             .used_length = place->length,
                             .gap = place->gap,
                             .error_bound = fmax(at_most - place->gap, 0),
                             .underside = underside,
                             .x = r->centre_x - place->offset * ey + middle * ex,
                             .y = r->centre_y + place->offset * ex + middle * ey,
                             .direction_deg = degrees < 0 ? degrees + 180 : degrees};
}

static pp_status search(const pp_relief *top, const pp_relief *underside, double length,
                        int threads, pp_memory *memory, pp_straightedge *out, pp_error *error)
{
    placement found[SIDES] = {{0}};
    double at_most[SIDES] = {0};
    sweep first = plan(top, length), second = first;
    first.tried[TOP] = true, first.tried[UNDERSIDE] = !underside;
    PP_TRY(search_sides(&first, 0, threads, memory, found, at_most, error));
    if (underside) {
        second = plan(underside, length);
        second.tried[UNDERSIDE] = true;
        PP_TRY(search_sides(&second, found[TOP].gap, threads, memory, found, at_most, error));
    }
    int worse = found[UNDERSIDE].gap > found[TOP].gap ? UNDERSIDE : TOP;
    const sweep *s = worse == UNDERSIDE ? &second : &first;
    if (found[worse].gap == 0) {
        found[worse].length = s->length;
        found[worse].start = -s->length / 2;
    }
    fill(s->relief, &found[worse], length, fmax(at_most[TOP], at_most[UNDERSIDE]),
         worse == UNDERSIDE, out);
    return PP_OK;
}

pp_status pp_straightedge_on_relief(const pp_relief *top, const pp_relief *underside, double length,
                                    int threads, pp_memory *memory, pp_straightedge *out,
                                    pp_error *error)
{
    if (!(length > 0))
        return pp_fail(error, PP_EINPUT, "a straightedge has no length; give lengths above zero");
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = search(top, underside, length, threads, memory, out, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}
