#include "plate/holdholes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/parallel.h"

enum {
    PART = 32,     /* places of one warm-started chain */
    COLUMNS = 4,   /* load of the foot; height and two slopes at its centre */
    CLOSE_MAX = 80 /* forces tried for one gap; 3 to 6 are usual */
};
static const double TOLERANCE = 1e-6;       /* mm, of comparisons */
static const double CLOSE_TOLERANCE = 1e-9; /* mm, of a gap brought to its target */
static const double FORCE_BOUND = 1e12;     /* N: no cap given */

typedef enum column { HEIGHT, SLOPE_X, SLOPE_Y } column; /* the load has any of 0, 1, 3 */

/* Questions asked at each place; neighbouring places have much the same answers, so each starts
 * from the contact set it had at the place before. */
typedef enum chain { FOOT, HELD, THRUST, CLOSE, CHAINS } chain;

/* One worker's arrays */
typedef struct bench {
    pp_contact_work contact;
    bool *start[CHAINS]; /* contact set of the place before for the same question */
    bool started[CHAINS];
    double close_force; /* of the place before */
    double *g, *d, *columns_work;
    double *support_force; /* NULL: not asked for */
    pp_probe load[PART], height[PART], slope_x[PART], slope_y[PART];
} bench;

typedef struct pressing {
    const pp_hold_plate *plate;
    const pp_hold_state *state;
    const pp_hold_question *question;
    const pp_hold_places *places;
    size_t count;
    size_t columns, load;  /* at each place; which of them is the load's */
    const uint32_t *order; /* [count] items in the order of their visit */
    const uint32_t *which;
    pp_hold_answer *answers;
    bench *benches;
} pressing;

/* The foot at one place: its base columns and how the height and slopes there give way */
typedef struct foot {
    const double *load, *d[3];
    double start; /* height without foot */
    double e[3];
} foot;

/* Columns ------------------------------------------------------------------------------- */

/* The probes of one place, in the order of their columns: height, then two slopes unless only gaps
 * are asked for, then the foot's load unless it is a point (and so the same as the height). */
static void place_probes(const pressing *p, bench *b, size_t k, double x, double y,
                         pp_probe *probes[COLUMNS])
{
    const pp_compliance *c = &p->plate->compliance;
    probes[HEIGHT] = &b->height[k];
    probes[SLOPE_X] = &b->slope_x[k];
    probes[SLOPE_Y] = &b->slope_y[k];
    probes[p->load] = p->load == HEIGHT ? &b->height[k] : &b->load[k];
    pp_probe_point(c, x, y, 0, 0, &b->height[k]);
    if (!p->question->only_gap) {
        pp_probe_point(c, x, y, 1, 0, &b->slope_x[k]);
        pp_probe_point(c, x, y, 0, 1, &b->slope_y[k]);
    }
    if (p->load != HEIGHT) pp_probe_ring(c, x, y, p->plate->foot_radius, &b->load[k]);
}

static void prepare(const pressing *p, bench *b, const uint32_t *items, size_t count, foot *feet)
{
    const pp_compliance *c = &p->plate->compliance;
    const pp_contact_base *base = &p->state->base;
    size_t m = base->count, n = p->columns, at_centre = p->question->only_gap ? 1 : 3;
    double rigid[3 * COLUMNS * PART] = {0}, motion[3 * COLUMNS * PART];
    pp_probe *probes[PART][COLUMNS];
    for (size_t k = 0; k < count; k++) {
        size_t at = p->which ? p->which[items[k]] : items[k];
        double *g = b->g + n * k * m;
        place_probes(p, b, k, p->places->x[at], p->places->y[at], probes[k]);
        pp_influence_probes(&p->plate->influence, at_centre, probes[k], g);
        if (p->load != HEIGHT)
            pp_influence_probes(&p->plate->influence, 1, &probes[k][p->load], g + p->load * m);
        for (size_t l = 0; l < n; l++)
            memcpy(rigid + 3 * (n * k + l), probes[k][l]->rigid, sizeof probes[k][l]->rigid);
    }
    pp_contact_columns(base, n * count, b->g, rigid, b->d, motion, b->columns_work);
    for (size_t k = 0; k < count; k++) {
        foot *f = &feet[k];
        const pp_probe *load = probes[k][p->load];
        f->start = pp_probe_field(probes[k][HEIGHT], p->state->field);
        f->load = b->d + (n * k + p->load) * m;
        for (size_t l = 0; l < at_centre; l++) {
            f->d[l] = b->d + (n * k + l) * m;
            f->e[l] = pp_contact_flexibility(base, pp_probe_between(c, probes[k][l], load),
                                             b->g + (n * k + l) * m, probes[k][l]->rigid, f->load,
                                             motion + 3 * (n * k + p->load));
        }
    }
}

/* One place ----------------------------------------------------------------------------- */

/* height under the force for the contact set found */
static double height_at(const pressing *p, const bench *b, const foot *f, double force)
{
    return f->start + force * f->e[HEIGHT] +
           pp_contact_probe(&p->state->base, &b->contact, f->d[HEIGHT]);
}

static double tilt_at(const pressing *p, const bench *b, const foot *f, double force)
{
    const pp_contact_base *base = &p->state->base;
    double x = force * f->e[SLOPE_X] + pp_contact_probe(base, &b->contact, f->d[SLOPE_X]);
    double y = force * f->e[SLOPE_Y] + pp_contact_probe(base, &b->contact, f->d[SLOPE_Y]);
    return hypot(x, y);
}

/* The contact state at one force, in the chain of one question */
static pp_status solve_at(const pressing *p, bench *b, const foot *f, chain which, double force,
                          pp_error *error)
{
    pp_contact_work *w = &b->contact;
    size_t bytes = p->state->base.count * sizeof *w->changed;
    memcpy(w->changed, b->start[b->started[which] ? which : FOOT], bytes);
    PP_TRY(pp_contact_solve(&p->state->base, f->load, force, which == HELD, w, error));
    memcpy(b->start[which], w->changed, bytes);
    b->started[which] = true;
    return PP_OK;
}

/* The force at which the height comes down to `target`, tried first at `from`; NaN when `cap` does
 * not bring it down. Newton's method on a piecewise linear, falling function, within its bracket.
 */
static pp_status find_force(const pressing *p, bench *b, const foot *f, double target, double from,
                            double cap, double *found, pp_error *error)
{
    double low = 0, high = INFINITY, force = fmin(from, cap);
    *found = 0;
    if (f->start <= target + TOLERANCE) return PP_OK;
    for (int i = 0; i < CLOSE_MAX; i++) {
        PP_TRY(solve_at(p, b, f, CLOSE, force, error));
        double height = height_at(p, b, f, force), at_zero, slope, next;
        if (fabs(height - target) < CLOSE_TOLERANCE) break;
        if (height > target)
            low = force;
        else
            high = force;
        if (low >= cap) {
            *found = NAN;
            return PP_OK;
        }
        PP_TRY(pp_contact_line(&p->state->base, f->load, f->d[HEIGHT], f->start, f->e[HEIGHT],
                               &b->contact, &at_zero, &slope, error));
        next = (target - at_zero) / slope;
        if (!(slope < 0) || next > cap) next = cap;
        if (!(next > low && next < high)) next = isinf(high) ? cap : 0.5 * (low + high);
        if (next == force || (isfinite(high) && high - low <= 1e-14 * high)) break;
        force = next;
    }
    *found = force;
    return PP_OK;
}

static void note_support_forces(const pressing *p, bench *b, pp_hold_answer *a)
{
    const pp_contact_base *base = &p->state->base;
    const pp_contact_work *w = &b->contact;
    for (size_t j = 0; j < base->active; j++) {
        if (w->changed[j]) continue;
        a->largest_support = fmax(a->largest_support, w->q[j]);
        if (b->support_force)
            b->support_force[base->order[j]] = fmax(b->support_force[base->order[j]], w->q[j]);
    }
    for (size_t c = 0; c < w->changed_count; c++) {
        size_t j = w->list[c];
        if (j < base->active) continue;
        a->largest_support = fmax(a->largest_support, w->x[c]);
        if (b->support_force)
            b->support_force[base->order[j]] = fmax(b->support_force[base->order[j]], w->x[c]);
    }
}

static bool something_lifted(const pp_contact_base *base, const pp_contact_work *work)
{
    return work->changed_count && work->list[0] < base->active;
}

/* Slope from the released state. On a table the state stays once the gap has closed: the rest of
 * the force goes into the table. */
static pp_status find_tilt(const pressing *p, bench *b, const foot *f, double under_foot,
                           double *tilt, pp_error *error)
{
    double force = p->question->force;
    if (p->plate->table && under_foot < 0) {
        PP_TRY(find_force(p, b, f, 0, force, force, &force, error));
        *tilt = force > 0 ? tilt_at(p, b, f, force) : 0;
    } else {
        *tilt = tilt_at(p, b, f, force);
    }
    return PP_OK;
}

static pp_status answer_place(const pressing *p, bench *b, const foot *f, pp_hold_answer *answer,
                              pp_error *error)
{
    const pp_hold_question *q = p->question;
    pp_hold_answer a = {.gap = f->start, .gap_in_thrust = NAN};
    PP_TRY(solve_at(p, b, f, FOOT, q->force, error));
    a.gap_under_foot = a.held_gap = height_at(p, b, f, q->force);
    if (q->only_gap) {
        *answer = a;
        return PP_OK;
    }
    note_support_forces(p, b, &a);
    bool lifted = something_lifted(&p->state->base, &b->contact);
    PP_TRY(find_tilt(p, b, f, a.gap_under_foot, &a.tilt, error));
    if (lifted) {
        PP_TRY(solve_at(p, b, f, HELD, q->force, error));
        a.held_gap = height_at(p, b, f, q->force);
    }
    if (pp_given(q->thrust)) {
        double both = q->force + q->thrust;
        PP_TRY(solve_at(p, b, f, THRUST, both, error));
        a.gap_in_thrust = height_at(p, b, f, both);
        note_support_forces(p, b, &a);
    }
    if (a.gap > q->gap_limit + TOLERANCE) {
        double cap = pp_given(q->force_cap) ? q->force_cap : FORCE_BOUND;
        PP_TRY(find_force(p, b, f, q->gap_limit, b->close_force, cap, &a.force_to_close, error));
        if (pp_given(a.force_to_close)) b->close_force = a.force_to_close;
    }
    *answer = a;
    return PP_OK;
}

static pp_status press_part(void *context, size_t part, int worker, pp_error *error)
{
    const pressing *p = context;
    bench *b = &p->benches[worker];
    size_t first = part * PART, count = p->count - first < PART ? p->count - first : PART;
    foot feet[PART];
    prepare(p, b, p->order + first, count, feet);
    memset(b->start[FOOT], 0, p->state->base.count * sizeof *b->start[FOOT]);
    memset(b->started, 0, sizeof b->started);
    b->close_force = p->question->force;
    pp_contact_work_begin(&b->contact);
    for (size_t k = 0; k < count; k++)
        PP_TRY(answer_place(p, b, &feet[k], &p->answers[p->order[first + k]], error));
    return PP_OK;
}

/* All places ---------------------------------------------------------------------------- */

typedef struct visit {
    size_t band; /* row of cells: a serpentine up through the mesh */
    double at;
    uint32_t item;
} visit;

static int by_visit(const void *a, const void *b)
{
    const visit *p = a, *q = b;
    if (p->band != q->band) return p->band < q->band ? -1 : 1;
    if (p->at != q->at) return p->at < q->at ? -1 : 1;
    return p->item < q->item ? -1 : p->item > q->item;
}

static pp_status order_places(const pp_mesh *mesh, const pp_hold_places *places, size_t count,
                              const uint32_t *which, pp_memory *memory, uint32_t *order,
                              pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    visit *visits;
    PP_TAKE(visits, &memory->scratch, count);
    for (size_t k = 0; k < count; k++) {
        size_t at = which ? which[k] : k;
        double row = (places->y[at] - mesh->y0) / mesh->hy, x = places->x[at] - mesh->x0;
        size_t band = row > 0 ? (size_t)row : 0;
        visits[k] = (visit){.band = band, .at = band % 2 ? -x : x, .item = (uint32_t)k};
    }
    qsort(visits, count, sizeof *visits, by_visit);
    for (size_t k = 0; k < count; k++) order[k] = visits[k].item;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

static pp_status take_bench(const pp_hold_plate *plate, const pp_contact_base *base,
                            bool want_forces, pp_arena *arena, bench *b, pp_error *error)
{
    size_t m = plate->points.count;
    PP_TRY(pp_contact_work_take(m, arena, &b->contact, error));
    for (int k = 0; k < CHAINS; k++) PP_TAKE(b->start[k], arena, m);
    PP_TAKE(b->g, arena, m * COLUMNS * PART);
    PP_TAKE(b->d, arena, m * COLUMNS * PART);
    PP_TAKE(b->columns_work, arena, (m + base->active) * COLUMNS * PART);
    b->support_force = NULL;
    if (want_forces) PP_TAKE_ZERO(b->support_force, arena, m);
    return PP_OK;
}

pp_status pp_hold_press(const pp_hold_plate *plate, const pp_hold_state *state,
                        const pp_hold_question *question, const pp_hold_places *places,
                        size_t count, const uint32_t *which, pp_memory *memory,
                        pp_hold_answer *answers, double *support_force, pp_error *error)
{
    size_t m = plate->points.count, parts = (count + PART - 1) / PART;
    int threads = plate->threads < 1 ? 1 : plate->threads;
    if ((size_t)threads > parts) threads = parts ? (int)parts : 1;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pressing p = {.plate = plate,
                  .state = state,
                  .question = question,
                  .places = places,
                  .count = count,
                  .which = which,
                  .answers = answers};
    p.load = plate->foot_radius > 0 ? (question->only_gap ? 1 : 3) : HEIGHT;
    p.columns = (question->only_gap ? 1 : 3) + (p.load != HEIGHT);
    uint32_t *order;
    PP_TAKE(order, &memory->scratch, count);
    PP_TRY(order_places(plate->mesh, places, count, which, memory, order, error));
    p.order = order;
    PP_TAKE(p.benches, &memory->scratch, (size_t)threads);
    for (int t = 0; t < threads; t++)
        PP_TRY(take_bench(plate, &state->base, support_force != NULL, &memory->scratch,
                          &p.benches[t], error));
    PP_TRY(pp_parallel(threads, parts, press_part, &p, error));
    for (size_t i = 0; support_force && i < m; i++) {
        support_force[i] = 0;
        for (int t = 0; t < threads; t++)
            support_force[i] = fmax(support_force[i], p.benches[t].support_force[i]);
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
