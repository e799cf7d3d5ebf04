#include "holes/unknown_frame.h"

#include <stdlib.h>
#include <string.h>

#include "base/constants.h"

enum {
    EXTREMES = 64,        /* directions whose outermost hole joins the sample */
    SAMPLE_MOST = 256,    /* measured holes tried for each pose */
    CANDIDATES_MOST = 96, /* poses kept for refining */
    REFINED_ON = 20000,   /* holes at most that a refining fit uses */
    REFINEMENTS = 4,      /* the first half of them with what lies within half a pitch */
    ANCHORS = 7, /* measured holes, or pairs of them, tried one after the other as lying on nominal
                    ones */
    PAIRS_NOMINAL_MOST = 4000, /* a pattern without common directions is tried up to this size */
    PAIRS_ALSO_MOST = 1000     /* with them, where the directions lead nowhere */
};

static const double MATCH_RADIUS = 0.25;    /* pitches: a measured hole finds its nominal one */
static const double COMMON_DIRECTION = 0.9; /* order parameter of a lattice's directions */
static const double STILL_COMMON = 0.4;     /* of the measured ones, holes never drawn among them */
static const double DIRECTION_SPREAD = PP_TURN / 36; /* about a lattice's direction */
static const double ENOUGH = 0.6; /* share of the measured holes that must match */
static const double CLOSE = 0.1;  /* pitches, root mean square of those; by chance it is 0.18 */

typedef struct candidate {
    pp_pose pose;
    bool turned_over;
    size_t misses;  /* of the sample */
    size_t matched; /* of all, once refined */
} candidate;

typedef struct hunt {
    const pp_align_options *options;
    const pp_hole_files *files;
    const pp_grid *grid;
    const pp_nominal *nominal;
    double pitch;
    size_t count; /* measured holes looked at: entry, or the only face */
    double *x, *y;
    bool turned_over;                   /* x changed in sign at the moment */
    size_t sample_count, extreme_count; /* the extremes come first, each once */
    uint32_t sample[SAMPLE_MOST];
    size_t anchor_count;
    uint32_t anchor[ANCHORS]; /* nearest to the centroid first */
    size_t candidate_count;
    candidate candidates[CANDIDATES_MOST];
} hunt;

/* --- the measured holes ----------------------------------------------------------------------- */

static pp_status pick_holes(hunt *h, const pp_view *view, pp_arena *arena, pp_error *error)
{
    const pp_readings *r = &h->files->measured;
    bool entry = false;
    for (size_t i = 0; i < r->count; i++) entry = entry || r->face[i] == PP_ENTRY;
    uint8_t face = entry ? PP_ENTRY : PP_EXIT;
    PP_TAKE(h->x, arena, r->count);
    PP_TAKE(h->y, arena, r->count);
    for (size_t i = 0; i < r->count; i++) {
        if (r->face[i] != face) continue;
        pp_measured_point at = pp_view_point(view, face, r->x[i], r->y[i]);
        h->x[h->count] = at.x;
        h->y[h->count++] = at.y;
    }
    return PP_OK;
}

static pp_measured_point measured_at(const hunt *h, size_t i)
{
    return (pp_measured_point){h->x[i], h->y[i]};
}

static void turn_over(hunt *h)
{
    for (size_t i = 0; i < h->count; i++) h->x[i] = -h->x[i];
    h->turned_over = !h->turned_over;
}

/* The outermost hole in each of many directions, then holes spread over the list. */
static void pick_sample(hunt *h)
{
    h->sample_count = 0;
    for (int k = 0; k < EXTREMES; k++) {
        double c = cos(PP_TURN * k / EXTREMES), s = sin(PP_TURN * k / EXTREMES), best = -INFINITY;
        uint32_t outermost = 0;
        for (size_t i = 0; i < h->count; i++) {
            double along = c * h->x[i] + s * h->y[i];
            if (along <= best) continue;
            best = along;
            outermost = (uint32_t)i;
        }
        bool known = false;
        for (size_t i = 0; i < h->sample_count; i++) known = known || h->sample[i] == outermost;
        if (!known) h->sample[h->sample_count++] = outermost;
    }
    h->extreme_count = h->sample_count;
    size_t rest = SAMPLE_MOST - h->sample_count;
    if (rest > h->count) rest = h->count;
    for (size_t k = 0; k < rest; k++)
        h->sample[h->sample_count++] = (uint32_t)(k * h->count / rest);
}

/* --- poses tried ------------------------------------------------------------------------------ */

static bool finds_hole(const hunt *h, pp_pose pose, size_t i)
{
    pp_plate_point at = pp_pose_apply(pose, measured_at(h, i));
    return pp_grid_nearest(h->grid, at.x, at.y, MATCH_RADIUS * h->pitch, NULL) != UINT32_MAX;
}

/* Keep the pose if its sample misses less than the worst kept. */
static void try_pose(hunt *h, pp_pose pose)
{
    size_t worst = 0, most = h->sample_count;
    bool full = h->candidate_count == CANDIDATES_MOST;
    for (size_t k = 0; full && k < h->candidate_count; k++)
        if (h->candidates[k].misses > h->candidates[worst].misses) worst = k;
    if (full) most = h->candidates[worst].misses;
    size_t misses = 0;
    for (size_t k = 0; k < h->sample_count; k++) {
        misses += !finds_hole(h, pose, h->sample[k]);
        if (misses >= most) return;
    }
    size_t place = full ? worst : h->candidate_count++;
    h->candidates[place] = (candidate){pose, h->turned_over, misses, 0};
}

typedef struct middle {
    double x, y, extent; /* centroid, and the farthest point from it */
} middle;

static middle middle_of(size_t count, const double *x, const double *y)
{
    pp_sum sx = {0}, sy = {0};
    for (size_t i = 0; i < count; i++) {
        pp_sum_add(&sx, x[i]);
        pp_sum_add(&sy, y[i]);
    }
    middle m = {pp_sum_value(sx) / (double)count, pp_sum_value(sy) / (double)count, 0};
    for (size_t i = 0; i < count; i++) m.extent = fmax(m.extent, hypot(x[i] - m.x, y[i] - m.y));
    return m;
}

/* The measured holes nearest to the centroid. */
static void pick_anchors(hunt *h, middle measured)
{
    double off[ANCHORS];
    h->anchor_count = 0;
    for (size_t i = 0; i < h->count; i++) {
        double here = hypot(h->x[i] - measured.x, h->y[i] - measured.y);
        size_t at = h->anchor_count < ANCHORS ? h->anchor_count++ : ANCHORS;
        if (at == ANCHORS) {
            if (here >= off[ANCHORS - 1]) continue;
            at = ANCHORS - 1;
        }
        for (; at > 0 && off[at - 1] > here; at--) {
            off[at] = off[at - 1];
            h->anchor[at] = h->anchor[at - 1];
        }
        off[at] = here;
        h->anchor[at] = (uint32_t)i;
    }
}

/* Every shift that brings one measured hole near the centroid onto a nominal hole, as far about as
 * the holes left unmeasured can have moved the centroid. */
static void try_shifts(hunt *h, uint32_t centre, middle measured, middle nominal, double angle)
{
    double share = fmin(1, (double)h->count / (double)h->nominal->count);
    double reach = 2 * h->pitch + 2 * (1 - share) * nominal.extent;
    pp_pose pose = {cos(angle), sin(angle), 0, 0};
    pp_plate_point anchor = pp_pose_apply(pose, measured_at(h, centre));
    pp_plate_point centroid = pp_pose_apply(pose, (pp_measured_point){measured.x, measured.y});
    double tx = nominal.x + (anchor.x - centroid.x), ty = nominal.y + (anchor.y - centroid.y);
    pp_grid_window w = pp_grid_around(h->grid, tx, ty, reach);
    for (size_t row = w.row_first; row <= w.row_last; row++) {
        size_t end = pp_grid_end(h->grid, w, row);
        for (size_t k = pp_grid_first(h->grid, w, row); k < end; k++) {
            pose.dx = h->grid->x[k] - anchor.x;
            pose.dy = h->grid->y[k] - anchor.y;
            try_pose(h, pose);
        }
    }
}

/* --- directions ------------------------------------------------------------------------------- */

typedef struct directions {
    double order[3]; /* order parameters of 2, 4 and 6 equal directions a turn */
    double angle[3]; /* the first direction of each */
} directions;

static const int FOLDS[3] = {2, 4, 6};

/* Off the nearest of `fold` equal directions a turn, the first of which is `first` */
static double off_direction(double angle, double first, int fold)
{
    return remainder(angle - first, PP_TURN / fold);
}

/* Sums of unit vectors over directions from holes to their neighbours, from a part of a large list;
 * with `about` only what lies near its directions. */
static void sum_directions(const pp_grid *grid, const double *x, const double *y, double reach,
                           const directions *about, directions *out)
{
    double re[3] = {0}, im[3] = {0}, found[3] = {0};
    size_t step = grid->count / REFINED_ON + 1;
    for (size_t i = 0; i < grid->count; i += step) {
        pp_grid_window w = pp_grid_around(grid, x[i], y[i], reach);
        for (size_t row = w.row_first; row <= w.row_last; row++) {
            size_t end = pp_grid_end(grid, w, row);
            for (size_t k = pp_grid_first(grid, w, row); k < end; k++) {
                double dx = grid->x[k] - x[i], dy = grid->y[k] - y[i], angle = atan2(dy, dx);
                if (grid->item[k] == i || dx * dx + dy * dy > reach * reach) continue;
                for (int f = 0; f < 3; f++) {
                    if (about &&
                        fabs(off_direction(angle, about->angle[f], FOLDS[f])) > DIRECTION_SPREAD)
                        continue;
                    re[f] += cos(FOLDS[f] * angle);
                    im[f] += sin(FOLDS[f] * angle);
                    found[f]++;
                }
            }
        }
    }
    for (int f = 0; f < 3; f++) {
        if (!about) out->order[f] = found[f] > 0 ? hypot(re[f], im[f]) / found[f] : 0;
        out->angle[f] = atan2(im[f], re[f]) / FOLDS[f];
    }
}

/* What belongs to no lattice, a hole never drawn, is left out of its directions. */
static pp_status find_directions(size_t count, const double *x, const double *y, double pitch,
                                 pp_arena *arena, directions *out, pp_error *error)
{
    pp_grid grid;
    double reach = 1.25 * pitch;
    PP_TRY(pp_grid_build(count, x, y, reach, arena, &grid, error));
    sum_directions(&grid, x, y, reach, NULL, out);
    directions all = *out;
    sum_directions(&grid, x, y, reach, &all, out);
    return PP_OK;
}

/* Rotations that bring the measured directions onto the nominal ones. False: there are none. */
static bool try_rotations(hunt *h, uint32_t centre, middle measured, middle nominal,
                          const directions *m, const directions *n)
{
    static const int PREFERRED[3] = {0, 2, 1}; /* one direction only, triangular, square */
    for (int k = 0; k < 3; k++) {
        int f = PREFERRED[k];
        if (n->order[f] < COMMON_DIRECTION || m->order[f] < STILL_COMMON) continue;
        for (int turn = 0; turn < FOLDS[f]; turn++)
            try_shifts(h, centre, measured, nominal,
                       n->angle[f] - m->angle[f] + PP_TURN * turn / FOLDS[f]);
        return true;
    }
    return false;
}

/* The farthest of the measured holes from (x, y) that is not taken; takes it. */
static size_t take_farthest(const hunt *h, double x, double y, const size_t *taken, size_t count)
{
    size_t best = 0;
    double far = -1;
    for (size_t i = 0; i < h->count; i++) {
        double off = hypot(h->x[i] - x, h->y[i] - y);
        if (off <= far) continue;
        bool free = true;
        for (size_t k = 0; k < count; k++) free = free && taken[k] != i;
        if (free) far = off, best = i;
    }
    return best;
}

/* Without common directions: two far-apart measured holes onto any two nominal ones as far apart.
 * Each round takes another pair, for a hole may be one that was never drawn. */
static void try_pairs(hunt *h, size_t round, middle measured)
{
    size_t taken[2 * ANCHORS];
    if (2 * round + 2 > h->count) return;
    for (size_t k = 0; k <= round; k++) {
        size_t a = take_farthest(h, measured.x, measured.y, taken, 2 * k);
        taken[2 * k] = a;
        taken[2 * k + 1] = take_farthest(h, h->x[a], h->y[a], taken, 2 * k + 1);
    }
    size_t a = taken[2 * round], b = taken[2 * round + 1];
    double far = hypot(h->x[b] - h->x[a], h->y[b] - h->y[a]);
    if (!(far > 0)) return;
    const double *nx = h->nominal->x, *ny = h->nominal->y;
    double ux = h->x[b] - h->x[a], uy = h->y[b] - h->y[a], slack = MATCH_RADIUS * h->pitch;
    for (size_t i = 0; i < h->nominal->count; i++)
        for (size_t k = 0; k < h->nominal->count; k++) {
            double vx = nx[k] - nx[i], vy = ny[k] - ny[i], length = hypot(vx, vy);
            if (fabs(length - far) > slack || !(length > 0)) continue;
            double c = (ux * vx + uy * vy) / (far * length),
                   s = (ux * vy - uy * vx) / (far * length);
            pp_pose pose = {.c = c, .s = s};
            pose.dx = 0.5 * (nx[i] + nx[k] - c * (h->x[a] + h->x[b]) + s * (h->y[a] + h->y[b]));
            pose.dy = 0.5 * (ny[i] + ny[k] - s * (h->x[a] + h->x[b]) - c * (h->y[a] + h->y[b]));
            try_pose(h, pose);
        }
}

/* --- refining and choosing -------------------------------------------------------------------- */

/* At last by what counts as matched: a stray hole half a pitch off pulls no more. */
static pp_pose refine(const hunt *h, pp_pose pose)
{
    size_t step = h->count / REFINED_ON + 1;
    for (int round = 0; round < REFINEMENTS; round++) {
        double reach = round < REFINEMENTS / 2 ? 0.5 : MATCH_RADIUS;
        pp_fit_sums sums = pp_fit_about(measured_at(h, 0), (pp_nominal_point){0, 0});
        for (size_t i = 0; i < h->count; i += step) {
            pp_plate_point at = pp_pose_apply(pose, measured_at(h, i));
            uint32_t hole = pp_grid_nearest(h->grid, at.x, at.y, reach * h->pitch, NULL);
            if (hole != UINT32_MAX)
                pp_fit_add(&sums, measured_at(h, i), pp_nominal_at(h->nominal, hole));
        }
        if (!pp_fit_pose(&sums, &pose)) break;
    }
    return pose;
}

/* Measured holes that find a nominal one; 0 when it is sure to be fewer than `least`. The sample
 * goes first: a wrong pose is found out by the outermost holes. */
static size_t count_matched(const hunt *h, pp_pose pose, size_t least)
{
    size_t missed = 0, most = h->count - least;
    for (size_t k = 0; k < h->extreme_count; k++) missed += !finds_hole(h, pose, h->sample[k]);
    if (missed > most) return 0;
    missed = 0;
    for (size_t i = 0; i < h->count; i++) {
        missed += !finds_hole(h, pose, i);
        if (missed > most) return 0;
    }
    return h->count - missed;
}

/* How far those are off that find a nominal one: root mean square. */
static double rms_matched(const hunt *h, pp_pose pose)
{
    double squares = 0, count = 0;
    for (size_t i = 0; i < h->count; i++) {
        double off;
        pp_plate_point at = pp_pose_apply(pose, measured_at(h, i));
        if (pp_grid_nearest(h->grid, at.x, at.y, MATCH_RADIUS * h->pitch, &off) == UINT32_MAX)
            continue;
        squares += off * off;
        count++;
    }
    return count > 0 ? sqrt(squares / count) : 0;
}

/* Two poses that put the pattern in the same place. */
static bool same_pose(const hunt *h, const candidate *a, const candidate *b, middle measured)
{
    if (a->turned_over != b->turned_over) return false;
    double slack = 0.5 * h->pitch;
    pp_measured_point centre = {a->turned_over ? -measured.x : measured.x, measured.y};
    pp_plate_point pa = pp_pose_apply(a->pose, centre), pb = pp_pose_apply(b->pose, centre);
    double turn = hypot(a->pose.c - b->pose.c, a->pose.s - b->pose.s);
    return hypot(pa.x - pb.x, pa.y - pb.y) < slack && turn * measured.extent < slack;
}

static bool prefer(const candidate *a, const candidate *b)
{
    if (a->matched != b->matched) return a->matched > b->matched;
    if (a->turned_over != b->turned_over) return !a->turned_over;
    double turn_a = fabs(pp_pose_angle_deg(a->pose)), turn_b = fabs(pp_pose_angle_deg(b->pose));
    if (fabs(turn_a - turn_b) > 1e-3) return turn_a < turn_b;
    return a->pose.s > b->pose.s; /* of +60 and -60 degrees the first */
}

static int fewest_misses(const void *a, const void *b)
{
    const candidate *p = a, *q = b;
    if (p->misses != q->misses) return p->misses < q->misses ? -1 : 1;
    if (p->turned_over != q->turned_over) return p->turned_over ? 1 : -1;
    if (p->pose.c != q->pose.c) return p->pose.c > q->pose.c ? -1 : 1;
    if (p->pose.s != q->pose.s) return p->pose.s > q->pose.s ? -1 : 1;
    if (p->pose.dx != q->pose.dx) return p->pose.dx < q->pose.dx ? -1 : 1;
    return p->pose.dy < q->pose.dy ? -1 : p->pose.dy > q->pose.dy;
}

/* `best`: NULL if there is none */
static pp_status check_fit(hunt *h, const candidate *best, pp_error *error)
{
    const char *file = h->files->measured.file;
    size_t matched = best ? best->matched : 0;
    if (!best || (double)matched < ENOUGH * (double)h->count)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "the measured holes fit the nominal pattern in no position (at best %zu "
                          "of %zu find their hole); check the unit and the nominal list, or give "
                          "names",
                          matched, h->count);
    if (best->turned_over != h->turned_over) turn_over(h);
    double rms = rms_matched(h, best->pose);
    if (rms <= CLOSE * h->pitch) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                      "the measured holes fit the nominal pattern in no position (%zu of %zu come "
                      "near a hole, but %.2f mm off, root mean square); check the unit and the "
                      "nominal list, or give names",
                      matched, h->count, rms);
}

/* Refine the candidates, each place once, and choose. `measured`: of the holes not turned over. */
static pp_status choose(hunt *h, middle measured, candidate *best, size_t *symmetries,
                        pp_error *error)
{
    enum { SLACK = 8 }; /* sample misses above the fewest that are still looked at */
    qsort(h->candidates, h->candidate_count, sizeof *h->candidates, fewest_misses);
    size_t kept = 0, most = 0;
    for (size_t k = 0; k < h->candidate_count; k++) {
        candidate c = h->candidates[k];
        if (c.misses > h->candidates[0].misses + SLACK) break;
        bool known = false;
        if (c.turned_over != h->turned_over) turn_over(h);
        for (size_t i = 0; i < kept; i++)
            known = known || same_pose(h, &c, &h->candidates[i], measured);
        if (known) continue;
        c.pose = refine(h, c.pose);
        for (size_t i = 0; i < kept; i++)
            known = known || same_pose(h, &c, &h->candidates[i], measured);
        if (known) continue;
        c.matched = count_matched(h, c.pose, most);
        if (c.matched > most) most = c.matched;
        h->candidates[kept++] = c;
    }
    *symmetries = 0;
    for (size_t k = 0; k < kept; k++)
        if (k == 0 || prefer(&h->candidates[k], best)) *best = h->candidates[k];
    for (size_t k = 0; k < kept; k++) *symmetries += h->candidates[k].matched == best->matched;
    return check_fit(h, kept > 0 ? best : NULL, error);
}

/* --- ways to candidates ----------------------------------------------------------------------- */

/* As it lies and turned over: by the directions, with the anchor of this round taken to lie on some
 * nominal hole, or by a pair of this round. */
static pp_status hunt_once(hunt *h, size_t round, bool pairs, middle measured, middle nominal,
                           const directions *n, pp_arena *arena, pp_error *error)
{
    directions m;
    for (int side = 0; side < 2; side++) {
        middle here = measured;
        if (h->turned_over) here.x = -here.x;
        PP_TRY(find_directions(h->count, h->x, h->y, h->pitch, arena, &m, error));
        pick_sample(h);
        if (pairs)
            try_pairs(h, round, here);
        else if (!try_rotations(h, h->anchor[round], here, nominal, &m, n)) {
            if (h->nominal->count > PAIRS_NOMINAL_MOST)
                return pp_fail_at(error, PP_EINPUT, h->options->job_file, h->options->match_line, 0,
                                  "the pattern has no rows to tell its direction by; give hole "
                                  "names or align = datum-points");
            try_pairs(h, round, here);
        }
        turn_over(h);
    }
    return PP_OK;
}

static bool some_pose_fits(const hunt *h)
{
    for (size_t k = 0; k < h->candidate_count; k++)
        if ((double)h->candidates[k].misses < (1 - ENOUGH) * (double)h->sample_count) return true;
    return false;
}

/* The hole in the middle, or one of a pair, may itself be the misdrilled or the extra one: then the
 * next is tried. */
static pp_status hunt_pattern(hunt *h, middle measured, pp_arena *arena, pp_error *error)
{
    middle nominal = middle_of(h->nominal->count, h->nominal->x, h->nominal->y);
    directions n;
    PP_TRY(find_directions(h->nominal->count, h->nominal->x, h->nominal->y, h->pitch, arena, &n,
                           error));
    pick_anchors(h, measured);
    int ways = h->nominal->count <= PAIRS_ALSO_MOST ? 2 : 1;
    for (int pairs = 0; pairs < ways; pairs++)
        for (size_t k = 0; k < h->anchor_count && !some_pose_fits(h); k++) {
            h->candidate_count = 0;
            PP_TRY(hunt_once(h, k, pairs > 0, measured, nominal, &n, arena, error));
        }
    return PP_OK;
}

/* From datum points: as they are, and turned over. */
static pp_status hunt_datum(hunt *h, const pp_view *view, pp_error *error)
{
    pick_sample(h);
    for (int side = 0; side < 2; side++) {
        pp_view seen = h->turned_over ? pp_view_turned_over(*view) : *view;
        pp_fit_sums sums = pp_fit_datum(h->files, &seen);
        pp_pose pose;
        if (pp_fit_pose(&sums, &pose))
            h->candidates[h->candidate_count++] = (candidate){pose, h->turned_over, 0, 0};
        turn_over(h);
    }
    if (h->candidate_count == 0)
        return pp_fail_at(error, PP_EINPUT, h->options->job_file, h->options->datum_points_line, 0,
                          "the datum points give no direction; use at least 2 that are apart");
    return PP_OK;
}

pp_status pp_frame_find(const pp_frame_question *question, pp_memory *memory, pp_frame *frame,
                        pp_error *error)
{
    const pp_align_options *options = question->options;
    const pp_view *view = question->view;
    double pitch = question->pitch;
    if (options->align == PP_ALIGN_AS_MEASURED)
        return pp_fail_at(
            error, PP_EINPUT, options->job_file, options->match_line, 0,
            "match = pattern is for an unknown frame, align = as-measured for a known "
            "one; say align = best-fit, two-holes or datum-points");
    if (!pp_given(pitch))
        return pp_fail_at(error, PP_EINPUT, options->job_file, options->match_line, 0,
                          "match = pattern needs a pitch, and the nominal list gives none; give "
                          "pitch under [holes]");
    pp_mark mark = pp_arena_mark(&memory->scratch);
    hunt *h;
    PP_TAKE_ZERO(h, &memory->scratch, 1);
    h->options = options;
    h->files = question->files;
    h->grid = question->nominal_grid;
    h->nominal = &question->files->nominal;
    h->pitch = pitch;
    PP_TRY(pick_holes(h, view, &memory->scratch, error));
    middle measured = middle_of(h->count, h->x, h->y);
    candidate best = {0};
    size_t symmetries;
    if (options->align == PP_ALIGN_DATUM_POINTS)
        PP_TRY(hunt_datum(h, view, error));
    else
        PP_TRY(hunt_pattern(h, measured, &memory->scratch, error));
    PP_TRY(choose(h, measured, &best, &symmetries, error));
    pp_arena_release(&memory->scratch, mark);

    frame->view = best.turned_over ? pp_view_turned_over(*view) : *view;
    frame->pose = best.pose;
    frame->turned_over = best.turned_over;
    frame->symmetries = symmetries;
    return PP_OK;
}
