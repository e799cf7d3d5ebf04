#include "holddown/mesh_check.h"

#include <math.h>
#include <string.h>

#include "holddown/few_supports.h"

enum { STEPS = 2 }; /* finer meshes, at most: 44 cells for 32, then 55 */
static const size_t FINER[STEPS] = {11, 5}, COARSER[STEPS] = {8, 4};
enum { LARGEST = 4 };                      /* of the holes solved, those of the largest forces */
static const double POOLED = 2;            /* root mean squares: expanded, k = 2 */
static const double FORCE_NEAR = 2;        /* times the foot's force, or that part of it */
static const double GAP_NEAR = 0.25;       /* of gap_limit */
static const double GAP_NEAR_LEAST = 0.02; /* mm */

typedef struct checking {
    const pp_mesh_check_request *r;
    pp_mesh_check out;
    bool *near;      /* [holes] */
    double *off;     /* [holes] how far from the limit, in its own measure */
    uint32_t *which; /* [PP_MESH_CHECK_HOLES] */
    double *gap_u, *force_u;
    double most_gap, most_share; /* of the holes solved; of a force to close */
} checking;

static double force_of(const pp_mesh_check_request *r, size_t i)
{
    return r->answers[i].force_to_close;
}

/* Which holes are near a limit, and how near */
static size_t find_near(checking *c)
{
    const pp_mesh_check_request *r = c->r;
    double foot = r->question->force, limit = r->question->gap_limit;
    size_t count = 0;
    for (size_t i = 0; i < r->holes->count; i++) {
        double force = force_of(r, i);
        double by_force = force > 0 ? fabs(log(force / foot)) / log(FORCE_NEAR) : INFINITY;
        double by_gap =
            fabs(r->answers[i].gap_under_foot - limit) / fmax(GAP_NEAR * limit, GAP_NEAR_LEAST);
        c->off[i] = fmin(by_force, by_gap);
        c->near[i] = c->off[i] <= 1;
        count += c->near[i];
    }
    return count;
}

/* Add the hole for which `value` is least among those not yet taken; false if there is none. */
static bool take_least(checking *c, const double *value, bool *taken)
{
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < c->r->holes->count; i++)
        if (!taken[i] && isfinite(value[i]) && (best == SIZE_MAX || value[i] < value[best]))
            best = i;
    if (best == SIZE_MAX) return false;
    taken[best] = true;
    c->which[c->out.solved++] = (uint32_t)best;
    return true;
}

static pp_status choose(checking *c, pp_memory *memory, pp_error *error)
{
    size_t n = c->r->holes->count;
    bool *taken;
    double *least;
    PP_TAKE_ZERO(taken, &memory->scratch, n);
    PP_TAKE(least, &memory->scratch, n);
    for (size_t i = 0; i < n; i++) least[i] = force_of(c->r, i) > 0 ? -force_of(c->r, i) : NAN;
    for (int k = 0; k < LARGEST && take_least(c, least, taken); k++) {}
    for (size_t i = 0; i < n; i++) least[i] = c->near[i] ? c->off[i] : NAN;
    while (c->out.solved < PP_MESH_CHECK_HOLES && take_least(c, least, taken)) {}
    return PP_OK;
}

/* The surface of one mesh in the degrees of freedom of another: value, slopes and twist at its
 * nodes. */
static void carry_over(const pp_mesh *from, const double *field, const pp_mesh *to, double *out)
{
    for (size_t j = 0; j <= to->ny; j++)
        for (size_t i = 0; i <= to->nx; i++) {
            double x = to->x0 + (double)i * to->hx, y = to->y0 + (double)j * to->hy;
            double *at = out + 4 * pp_mesh_node(to, i, j);
            pp_mesh_place place = pp_mesh_find(from, x, y);
            for (int k = 0; k < 4; k++) {
                pp_mesh_row row;
                pp_mesh_shape(from, place, k & 1, k >> 1, &row);
                at[k] = pp_mesh_value(&row, field) * (k & 1 ? to->hx : 1) * (k >> 1 ? to->hy : 1);
            }
        }
}

/* The chosen holes on the finer mesh, answers[solved] */
static pp_status solve_finer(const checking *c, pp_memory *memory, pp_hold_answer *answers,
                             pp_error *error)
{
    const pp_mesh_check_request *r = c->r;
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_question question = *r->question;
    pp_softening softening;
    double *shape;
    PP_TRY(pp_mesh_make(r->mesh->shape, c->out.cells, memory, &mesh, error));
    PP_TAKE(shape, &memory->keep, mesh.dofs);
    carry_over(r->mesh, r->shape, &mesh, shape);
    if (r->drilling) PP_TRY(pp_softening_find(&mesh, r->drilling, memory, &softening, error));
    PP_TRY(pp_hold_plate_lay(&mesh, shape, r->setup, r->drilling ? &softening : NULL, r->threads,
                             memory, &plate, error));
    question.only_close = !question.only_gap;
    const pp_hold_visit visit = {
        .question = &question, .places = r->holes, .count = c->out.solved, .which = c->which};
    return pp_few_press(&plate, &visit, memory, answers, error);
}

static size_t cells_of(const pp_mesh *mesh) { return mesh->nx > mesh->ny ? mesh->nx : mesh->ny; }

/* Beyond the finer of two meshes, as a multiple of the change between them: with the square of the
 * cell that is one over the ratio's square less one. */
static double beyond(size_t coarse, size_t fine)
{
    double ratio = (double)fine / (double)coarse;
    return 1 / (ratio * ratio - 1);
}

/* As a share of the larger; none is needed on one of both meshes: a class, and no share */
static double share_of(double before, double after)
{
    if (!(before > 0 && after > 0)) return 0;
    return fabs(after - before) / fmax(after, before);
}

/* What the finest mesh says, the one before it, and what lies `beyond` */
static void compare(checking *c, const pp_hold_answer *before, const pp_hold_answer *finest,
                    double rest)
{
    const pp_mesh_check_request *r = c->r;
    c->out.moves = c->out.unsettled = c->most_gap = c->most_share = 0;
    for (size_t k = 0; k < c->out.solved; k++) {
        const pp_hold_answer *now = &finest[k], *last = &before[k],
                             *first = &r->answers[c->which[k]];
        size_t i = c->which[k];
        c->gap_u[i] = fabs(now->gap_under_foot - first->gap_under_foot) +
                      rest * fabs(now->gap_under_foot - last->gap_under_foot);
        c->force_u[i] = fabs(now->force_to_close - first->force_to_close) +
                        rest * fabs(now->force_to_close - last->force_to_close);
        c->most_gap = fmax(c->most_gap, c->gap_u[i]);
        double share = share_of(first->force_to_close, now->force_to_close);
        c->out.unsettled =
            fmax(c->out.unsettled, share_of(last->force_to_close, now->force_to_close));
        if (share > 0) c->most_share = fmax(c->most_share, c->force_u[i] / first->force_to_close);
        if (!(share > c->out.moves)) continue;
        c->out.moves = share, c->out.worst = i;
        c->out.force = first->force_to_close, c->out.finer_force = now->force_to_close;
    }
}

/* Near contact points a figure does not come nearer step by step, and two meshes may agree by
 * chance: no hole gets less than twice the root mean square of all that were solved. */
static void pool(checking *c, const pp_hold_answer *finest)
{
    const pp_mesh_check_request *r = c->r;
    double gaps = 0, shares = 0, count = 0;
    for (size_t k = 0; k < c->out.solved; k++) {
        size_t i = c->which[k];
        double force = force_of(r, i);
        gaps += c->gap_u[i] * c->gap_u[i] / (double)c->out.solved;
        if (!(share_of(force, finest[k].force_to_close) > 0)) continue;
        shares += c->force_u[i] / force * (c->force_u[i] / force);
        count++;
    }
    double gap = POOLED * sqrt(gaps), share = count > 0 ? POOLED * sqrt(shares / count) : 0;
    c->most_gap = fmax(c->most_gap, gap), c->most_share = fmax(c->most_share, share);
    for (size_t k = 0; k < c->out.solved; k++) {
        size_t i = c->which[k];
        c->gap_u[i] = fmax(c->gap_u[i], gap);
        if (force_of(r, i) > 0) c->force_u[i] = fmax(c->force_u[i], share * force_of(r, i));
    }
}

/* Holes that were not solved, near a limit or no farther from it than the mesh moves the gap of
 * those that were: on a rough mesh the limit reaches far. */
static void spread(checking *c)
{
    double limit = c->r->question->gap_limit;
    for (size_t i = 0; i < c->r->holes->count; i++) {
        bool reached = fabs(c->r->answers[i].gap_under_foot - limit) <= c->most_gap;
        if (!(c->near[i] || reached) || !isnan(c->gap_u[i])) continue;
        c->gap_u[i] = c->most_gap;
        c->force_u[i] = c->most_share * force_of(c->r, i);
    }
}

static pp_status check_near(checking *c, pp_memory *memory, pp_error *error)
{
    const pp_mesh_check_request *r = c->r;
    size_t coarse = cells_of(r->mesh), steps = r->cells ? 1 : STEPS;
    pp_hold_answer *before, *finer;
    PP_TRY(choose(c, memory, error));
    PP_TAKE(before, &memory->scratch, c->out.solved);
    PP_TAKE(finer, &memory->scratch, c->out.solved);
    for (size_t k = 0; k < c->out.solved; k++) finer[k] = r->answers[c->which[k]];
    c->out.unsettled = INFINITY;
    for (size_t step = 0; step < steps && c->out.unsettled > PP_MESH_MOVES; step++) {
        pp_memory own = {0}; /* a hundred megabytes that nobody needs later */
        size_t cells = r->cells ? r->cells : coarse * FINER[step] / COARSER[step];
        memcpy(before, finer, c->out.solved * sizeof *before);
        c->out.cells = cells;
        pp_status status = solve_finer(c, &own, finer, error);
        pp_memory_free(&own);
        PP_TRY(status);
        compare(c, before, finer, beyond(coarse, cells));
        coarse = cells;
    }
    pool(c, finer);
    spread(c);
    return PP_OK;
}

pp_status pp_mesh_check_make(const pp_mesh_check_request *request, pp_memory *memory,
                             pp_mesh_check *check, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t n = request->holes->count;
    checking c = {.r = request};
    PP_TAKE(c.gap_u, &memory->keep, n);
    PP_TAKE(c.force_u, &memory->keep, n);
    PP_TAKE(c.near, &memory->scratch, n);
    PP_TAKE(c.off, &memory->scratch, n);
    PP_TAKE(c.which, &memory->scratch, PP_MESH_CHECK_HOLES);
    for (size_t i = 0; i < n; i++) c.gap_u[i] = c.force_u[i] = NAN;
    if (find_near(&c) > 0) PP_TRY(check_near(&c, memory, error));
    c.out.gap_u = c.gap_u;
    c.out.force_u = c.force_u;
    pp_arena_release(&memory->scratch, mark);
    *check = c.out;
    return PP_OK;
}
