/* A pile coming to rest: from three points each layer would stand on, were it rigid, to whatever
 * touches. */
#include <math.h>
#include <string.h>

#include "holddown/seat.h"
#include "stack/pile.h"

static const double PULL_BACK = 1e-4; /* of a contact's weight share, per mm of lift */
static const double IDLE_FORCE = 1e-9, IDLE_GAP = 1e-9; /* share of the weight; mm */
static const double PLANE_FIXED = 1e-8; /* of the squared spread: a narrower strip fixes no plane */
enum { ROUNDS = 40 };

typedef struct settling {
    const pp_stack_pile *pile;
    bool *touching;
    double *gap;
    double load[3 * PP_LAYERS_MAX];
    pp_contact_work work;
    pp_arena *scratch;
} settling;

/* Whether the touching points of interface k fix its rigid motion: they are not in one line. */
static bool fix_a_plane(const settling *s, size_t k)
{
    const pp_stack_pile *p = s->pile;
    const pp_influence *f = &p->ground->influence;
    double n = 0, m[5] = {0};
    for (size_t i = p->begin[k]; i < p->begin[k + 1]; i++) {
        if (!s->touching[i]) continue;
        double x = f->r[f->count + p->point[i]], y = f->r[2 * f->count + p->point[i]];
        n += 1, m[0] += x, m[1] += y, m[2] += x * x, m[3] += y * y, m[4] += x * y;
    }
    if (n < 3) return false;
    double xx = m[2] / n - m[0] * m[0] / n / n, yy = m[3] / n - m[1] * m[1] / n / n;
    double xy = m[4] / n - m[0] * m[1] / n / n;
    return xx * yy - xy * xy > PLANE_FIXED * (xx + yy) * (xx + yy);
}

/* Add the points of least gap until every interface has some that fix its plane. */
static pp_status complete(settling *s, pp_error *error)
{
    const pp_stack_pile *p = s->pile;
    for (size_t k = 0; k < p->layers; k++)
        while (!fix_a_plane(s, k)) {
            size_t nearest = SIZE_MAX;
            for (size_t i = p->begin[k]; i < p->begin[k + 1]; i++)
                if (!s->touching[i] && (nearest == SIZE_MAX || s->gap[i] < s->gap[nearest]))
                    nearest = i;
            if (nearest == SIZE_MAX)
                return pp_fail(error, PP_ENUMERIC,
                               "the supports of the stack lie in one line; give more of them");
            s->touching[nearest] = true;
        }
    return PP_OK;
}

/* Three points of every interface: what the layer would rest on if both were rigid. */
static pp_status start_on_three(settling *s, pp_error *error)
{
    const pp_stack_pile *p = s->pile;
    const pp_supports *points = &p->ground->points;
    const pp_mesh *mesh = p->ground->mesh;
    for (size_t k = 0; k < p->layers; k++) {
        size_t first = p->first_point[k], count = p->begin[k + 1] - p->begin[k];
        double *z = s->gap + p->begin[k];
        pp_rest_plane plane;
        for (size_t i = 0; i < count; i++) {
            double x = points->x[first + i], y = points->y[first + i];
            const pp_stack_shapes *shapes = p->ground->shapes;
            z[i] = pp_stack_shape_height(shapes, &p->way[k], true, x, y);
            z[i] -= k ? pp_stack_shape_height(shapes, &p->way[k - 1], false, x, y)
                      : points->height[first + i];
        }
        pp_stand stand = pp_stand_on(mesh, count, points->x + first, points->y + first);
        PP_TRY(pp_seat_rest_plane(&stand, z, &plane, error));
        for (int t = 0; t < 3; t++) s->touching[p->begin[k] + plane.touching[t]] = true;
    }
    return PP_OK;
}

static pp_status make_base(settling *s, pp_contact_base *base, pp_error *error)
{
    const pp_stack_pile *p = s->pile;
    size_t active = 0, rigid = 3 * p->layers;
    for (size_t i = 0; i < p->count; i++) active += s->touching[i];
    pp_mark mark = pp_arena_mark(s->scratch);
    double *work, eps = PULL_BACK * p->total_weight / (double)(active ? active : 1);
    int *pivots;
    PP_TAKE(work, s->scratch, pp_contact_base_work(p->count, active, rigid));
    PP_TAKE(pivots, s->scratch, active + rigid);
    const pp_contact_start start = {s->touching, p->gap, s->load, eps};
    PP_TRY(pp_contact_base_make(&p->contact, &start, work, pivots, base, error));
    base->tiny_force = IDLE_FORCE * p->total_weight;
    base->tiny_gap = IDLE_GAP;
    pp_arena_release(s->scratch, mark);
    return PP_OK;
}

static pp_status take(settling *s, pp_error *error)
{
    size_t n = s->pile->count;
    PP_TAKE_ZERO(s->touching, s->scratch, n);
    PP_TAKE(s->gap, s->scratch, n);
    for (size_t k = 0; k < s->pile->layers; k++) {
        s->load[3 * k] = s->pile->carried[k];
        s->load[3 * k + 1] = s->load[3 * k + 2] = 0;
        for (size_t l = 0; s->pile->pressed && l < 3; l++)
            s->load[3 * k + l] += s->pile->pressed->rigid[l];
    }
    return pp_contact_work_take(n, s->scratch, &s->work, error);
}

pp_status pp_stack_settle(const pp_stack_pile *pile, pp_arena *arena, pp_arena *scratch,
                          pp_stack_rest *rest, pp_error *error)
{
    settling s = {.pile = pile, .scratch = scratch};
    pp_stack_rest r = {0};
    PP_TRY(pp_contact_base_take(pile->count, 3 * pile->layers, arena, &r.base, error));
    pp_mark mark = pp_arena_mark(scratch);
    PP_TRY(take(&s, error));
    PP_TRY(start_on_three(&s, error));
    PP_TRY(complete(&s, error));
    for (;; r.rounds++) {
        PP_TRY(make_base(&s, &r.base, error));
        if (pp_contact_base_rests(&r.base, r.rounds < ROUNDS ? 1 : 1e3)) break;
        if (r.rounds > ROUNDS)
            return pp_fail(error, PP_ENUMERIC,
                           "the stack did not come to rest; move supports that lie in one line "
                           "with the centre of the plate");
        PP_TRY(pp_contact_settle(&r.base, &s.work, error));
        for (size_t c = 0; c < s.work.changed_count; c++) {
            size_t i = r.base.order[s.work.list[c]];
            s.touching[i] = !s.touching[i];
        }
        pp_contact_state(&r.base, &s.work, 0, NULL, NULL, s.gap, NULL);
        PP_TRY(complete(&s, error));
    }
    r.iterations = s.work.iterations;
    pp_arena_release(scratch, mark);
    *rest = r;
    return PP_OK;
}
