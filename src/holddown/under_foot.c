#include "holddown/under_foot.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "base/parallel.h"
#include "holddown/closing.h"
#include "holddown/visit_order.h"

enum {
    BLOCK = 32,        /* places whose columns are made at once */
    PART_PLACES = 128, /* of a warm-started chain, at least, within these numbers of chains */
    PARTS_LEAST = 8,
    PARTS_MOST = 64,
    CENTRE = 3,            /* height and two slopes */
    NEAR_FROM = 96,        /* changes of contact that make a nearer base pay */
    FIRST_STEPS = 3,       /* of a factor of 4, at the first place of a part */
    WORK_BYTES = 256 << 20 /* of all workers together */
};
static const double FAR_FROM = 2;  /* times a force solved: farther away another base may pay */
static const double FAR_SETS = 10; /* that the search goes through on the way, about */

typedef enum column { HEIGHT, SLOPE_X, SLOPE_Y } column; /* at the foot's centre */

/* Questions asked at each place; neighbouring places have much the same answers, so each starts
 * from the contact set it had at the place before. */
typedef enum chain { FOOT, HELD, THRUST, CLOSE, TILT, CHAINS } chain;

/* The contact problem about one base, for the places of a part */
typedef struct view {
    const pp_contact_base *base;
    pp_contact_work work;
    double *load; /* columns of the foot's load, [BLOCK * m] */
    /* columns of the height and slopes at its centre, [BLOCK * CENTRE * m]: what the plate there
       does is made up of a few entries, which are found when they are asked for */
    double *centre, *centre_g;
    bool *known;         /* [BLOCK * m] which of them are */
    bool *start[CHAINS]; /* contact set of the place before for the same question */
    bool started[CHAINS];
    double force;        /* solved at last */
    size_t foot_changes; /* size of the set under the foot at the place before */
} view;

/* One worker's arrays. The usual view is about the plate at rest. Where the foot changes the
 * contact of a thin plate almost everywhere, places are seen from a base nearer to their own: the
 * contact under the foot at the place before. */
typedef struct bench {
    view rest, near, far; /* far: one place under a force well beyond the foot's */
    pp_contact_base near_base, far_base;
    bool is_near, near_failed;      /* in use; its active set did not settle */
    double close_force, tilt_force; /* of the place before */
    double *g, *columns_work, *base_work;
    int *pivots;
    bool *touching;
    double *support_force; /* NULL: not asked for */
    double rigid[3 * BLOCK];
    pp_probe load[BLOCK], centre[BLOCK][CENTRE];
} bench;

typedef struct pressing {
    const pp_hold_plate *plate;
    const pp_hold_state *state;
    const pp_hold_question *question;
    const pp_hold_places *places;
    size_t count, parts;
    size_t at_centre;      /* height, or height and two slopes */
    const uint32_t *order; /* [count] items in the order of their visit */
    const uint32_t *which;
    const double *deflection;
    pp_hold_contact *contact;
    pp_hold_answer *answers;
    bench *benches;
} pressing;

/* The foot at one place in one view: its columns, and what height and slopes there are without it
 * and how they give way, nothing changing contact */
typedef struct foot {
    const double *load;
    double *d[CENTRE]; /* [m], where known */
    double *g[CENTRE]; /* [active] of the base's touching places */
    bool *known;       /* [m] */
    double start[CENTRE], e[CENTRE], motion[3];
} foot;

typedef struct place {
    size_t item, column; /* column: where it stands in its block */
    const pp_probe *centre;
    double released[CENTRE]; /* height and slopes of the plate at rest */
    foot rest, near, far;
} place;

/* Columns ------------------------------------------------------------------------------ */

/* The foot's load, and what is asked at its centre: the height, and two slopes unless only gaps
 * are asked for */
static void make_probes(const pressing *p, bench *b, size_t k, double x, double y)
{
    const pp_compliance *c = &p->plate->compliance;
    pp_probe_ring(c, x, y, p->plate->foot_radius, &b->load[k]);
    pp_probe_point(c, x, y, 0, 0, &b->centre[k][HEIGHT]);
    if (p->at_centre == 1) return;
    pp_probe_point(c, x, y, 1, 0, &b->centre[k][SLOPE_X]);
    pp_probe_point(c, x, y, 0, 1, &b->centre[k][SLOPE_Y]);
}

static void prepare(const pressing *p, bench *b, const uint32_t *items, size_t count, place *places)
{
    size_t m = p->state->base.count;
    for (size_t k = 0; k < count; k++) {
        size_t at = p->which ? p->which[items[k]] : items[k];
        places[k].item = items[k];
        places[k].column = k;
        places[k].centre = b->centre[k];
        make_probes(p, b, k, p->places->x[at], p->places->y[at]);
        pp_influence_probe(&p->plate->influence, &b->load[k], b->g + k * m);
        memcpy(b->rigid + 3 * k, b->load[k].rigid, sizeof b->load[k].rigid);
        for (size_t l = 0; l < p->at_centre; l++)
            places[k].released[l] =
                p->state->field_left_out ? NAN : pp_probe_field(&b->centre[k][l], p->state->field);
    }
}

/* What a centre's probe gives in the base: with a force's reactions d (v: without foot) and motion,
 * beside what the free plate does. g: of the touching places */
static double in_base(const pp_contact_base *base, const pp_probe *probe, const double *g,
                      const double *d, const double *motion)
{
    double value = 0;
    for (size_t j = 0; j < base->active; j++) value += g[j] * d[j];
    for (int k = 0; k < 3; k++) value += probe->rigid[k] * motion[k];
    return value;
}

/* What gives way at a probe of the free plate per newton of the foot there */
static double direct_at(const pressing *p, const place *at, const pp_probe *probe,
                        const pp_probe *load)
{
    if (p->deflection)
        return pp_probe_field(probe, p->deflection + at->item * p->plate->mesh->dofs);
    return pp_probe_between(&p->plate->compliance, probe, load);
}

static foot *foot_in(const bench *b, const view *v, place *at)
{
    return v == &b->rest ? &at->rest : v == &b->near ? &at->near : &at->far;
}

/* See some places of the block, one after the other there, from this view's base */
static void look(const pressing *p, bench *b, view *v, size_t count, place *places)
{
    size_t m = v->base->count, first = places->column;
    double motion[3 * BLOCK];
    pp_contact_columns(v->base, count, b->g + first * m, b->rigid + 3 * first, v->load, motion,
                       b->columns_work);
    memset(v->known, 0, m * count * sizeof *v->known);
    for (size_t k = 0; k < count; k++) {
        foot *f = foot_in(b, v, &places[k]);
        const pp_probe *centre = places[k].centre;
        f->load = v->load + k * m;
        f->known = v->known + k * m;
        memcpy(f->motion, motion + 3 * k, sizeof f->motion);
        double *g = v->centre_g + CENTRE * k * m;
        pp_influence_some(&p->plate->influence, p->at_centre, centre, v->base->active,
                          v->base->order, g);
        for (size_t l = 0; l < p->at_centre; l++) {
            const pp_probe *probe = &centre[l];
            double direct = direct_at(p, &places[k], probe, &b->load[first + k]);
            f->d[l] = v->centre + (CENTRE * k + l) * m;
            f->g[l] = g + l * v->base->active;
            f->e[l] = in_base(v->base, probe, f->g[l], f->load, f->motion) - direct;
            f->start[l] = places[k].released[l];
            if (v != &b->rest || p->state->field_left_out)
                f->start[l] = pp_probe_field(probe, p->state->free_field) +
                              in_base(v->base, probe, f->g[l], v->base->v, v->base->motion);
        }
    }
}

/* Begin a chain at rest, or at the near base: nothing else has changed contact. */
static void begin_chain(view *v)
{
    pp_contact_work_begin(&v->work);
    memcpy(v->start[FOOT], v->work.changed, v->base->count * sizeof *v->start[FOOT]);
    memset(v->started, 0, sizeof v->started);
}

/* One place ---------------------------------------------------------------------------- */

/* One place in one view, under way */
typedef struct step {
    const pressing *p;
    bench *b;
    place *at;
    view *v;
    const foot *f;
} step;

/* What the centre's columns have at the places that changed contact */
static void find_entries(const step *s)
{
    const pp_contact_base *base = s->v->base;
    const pp_contact_work *w = &s->v->work;
    for (size_t c = 0; c < w->changed_count; c++) {
        size_t j = w->list[c];
        if (s->f->known[j]) continue;
        s->f->known[j] = true;
        double g[CENTRE];
        pp_influence_some(&s->p->plate->influence, s->p->at_centre, s->at->centre, 1,
                          &base->order[j], g);
        for (size_t l = 0; l < s->p->at_centre; l++)
            s->f->d[l][j] = pp_contact_column_at(base, j, s->f->g[l], g[l], s->at->centre[l].rigid);
    }
}

/* height or slope under the force, for the contact set found */
static double value_at(const step *s, column which, double force)
{
    return s->f->start[which] + force * s->f->e[which] +
           pp_contact_probe(s->v->base, &s->v->work, s->f->d[which]);
}

static double tilt_at(const step *s, double force)
{
    return hypot(value_at(s, SLOPE_X, force) - s->at->released[SLOPE_X],
                 value_at(s, SLOPE_Y, force) - s->at->released[SLOPE_Y]);
}

/* Make a base of what touches where these places of v have changed; false where it does not fix a
 * plane. */
static bool base_around(const pressing *p, bench *b, const view *v, const bool *changed,
                        pp_contact_base *base)
{
    const pp_contact_base *rest = &p->state->base;
    size_t touching = 0;
    memset(b->touching, 0, rest->count * sizeof *b->touching);
    for (size_t j = 0; j < rest->count; j++) {
        bool touches = (j < v->base->active) != changed[j];
        b->touching[v->base->order[j]] = touches;
        touching += touches;
    }
    if (touching < 3) return false;
    double eps = rest->eps * (double)rest->active / (double)touching;
    pp_error ignored;
    const pp_contact_start start = {b->touching, p->state->gap, p->state->load, eps};
    if (pp_contact_base_make(&p->plate->points, &start, b->base_work, b->pivots, base, &ignored) !=
        PP_OK)
        return false;
    base->tiny_force = rest->tiny_force;
    base->tiny_gap = rest->tiny_gap;
    return true;
}

/* Whether a base of what touches now costs less than the sets that another force far away will go
 * through: products of the base's blocks against factors of the changes. */
static bool far_base_pays(const view *v)
{
    double m = (double)v->base->count, changed = (double)v->work.changed_count, touching = 0;
    if (v->work.changed_count < NEAR_FROM) return false;
    for (size_t j = 0; j < v->base->count; j++)
        touching += (j < v->base->active) != v->work.changed[j];
    double base = 2 * (m - touching) * (m - touching) * touching + 3 * pow(touching, 3);
    return base < FAR_SETS * 2 / 3 * pow(changed, 3);
}

/* Go on from the contact just found: under a force well beyond the foot's few points touch that do
 * so at rest, and sets about the base there grow to all of them. */
static void come_far(step *s)
{
    bench *b = s->b;
    if (!b->far.load || !far_base_pays(s->v)) return;
    if (!base_around(s->p, b, s->v, s->v->work.changed, &b->far_base)) return;
    s->v = &b->far;
    s->f = &s->at->far;
    begin_chain(s->v);
    look(s->p, b, s->v, 1, s->at);
}

/* The set that the chain of this question begins with */
static void begin_with(view *v, chain which)
{
    const bool *start = v->start[v->started[which] ? which : FOOT];
    memcpy(v->work.changed, start, v->base->count * sizeof *v->work.changed);
}

static void note_solved(const step *s, chain which, double force)
{
    view *v = s->v;
    memcpy(v->start[which], v->work.changed, v->base->count * sizeof *v->work.changed);
    v->started[which] = true;
    v->force = force;
    if (which == FOOT) v->foot_changes = v->work.changed_count;
    find_entries(s);
}

/* The contact state at one force, in the chain of one question */
static pp_status solve_at(const step *s, chain which, double force, pp_error *error)
{
    view *v = s->v;
    begin_with(v, which);
    if (v == &s->b->near) {
        bool found;
        PP_TRY(pp_contact_try(v->base, s->f->load, force, &v->work, &found, error));
        if (!found) s->b->near_failed = true;
    } else {
        PP_TRY(pp_contact_solve(v->base, s->f->load, force, which == HELD, &v->work, error));
    }
    note_solved(s, which, force);
    return PP_OK;
}

static pp_status find_line(const step *s, pp_contact_straight *line, pp_error *error)
{
    const pp_contact_probed probe = {s->f->d[HEIGHT], s->f->start[HEIGHT], s->f->e[HEIGHT]};
    return pp_contact_line(s->v->base, s->f->load, &probe, &s->v->work, line, error);
}

/* Where to try first: to where the set leads that the chain begins with, unless that is far from
 * the force at the place before. If it stays, the first set that is proved is the last. */
static double first_force(const step *s, chain which, double target, double from)
{
    pp_contact_straight line;
    pp_error ignored;
    begin_with(s->v, which);
    pp_contact_list(&s->v->work);
    find_entries(s);
    if (find_line(s, &line, &ignored) != PP_OK || !(line.slope < 0)) return from;
    double force = (target - line.at_zero) / line.slope;
    return force > from / PP_CLOSING_STEP && force < from * PP_CLOSING_STEP ? force : from;
}

/* The first force of a search, with the contact it had at the place before. Where that is far off
 * from the one here, a force well beyond the foot's is come to by steps from the foot. */
static pp_status solve_first(const step *s, chain which, double *force, pp_error *error)
{
    double asked = s->p->question->force;
    if (which == CLOSE && *force > PP_CLOSING_STEP * asked) {
        bool found;
        begin_with(s->v, CLOSE);
        PP_TRY(pp_contact_try(s->v->base, s->f->load, *force, &s->v->work, &found, error));
        if (found) {
            note_solved(s, CLOSE, *force);
            return PP_OK;
        }
        s->v->started[CLOSE] = false;
        *force = asked;
    }
    return solve_at(s, which, *force, error);
}

/* The next force of a search */
static pp_status solve_next(const step *from, step *s, chain which, double force, pp_error *error)
{
    if (which == CLOSE && force > FAR_FROM * s->v->force) come_far(s);
    if (s->v == &s->b->far) {
        bool found;
        begin_with(s->v, which);
        PP_TRY(pp_contact_roam(s->v->base, s->f->load, force, &s->v->work, &found, error));
        if (found) {
            note_solved(s, which, force);
            return PP_OK;
        }
        *s = *from; /* it stands where it was left */
    }
    return solve_at(s, which, force, error);
}

/* The force at which the height comes down to `target`, tried first about `from`; NaN when `cap`
 * does not bring it down. Where it had to be sought far away the next place does not begin there.
 * s: in the end seen from where it was found */
static pp_status find_force(step *s, chain which, double target, double from, double cap,
                            double *found, pp_error *error)
{
    const step begun = *s;
    pp_closing c = {.high = INFINITY, .cap = cap, .risen = NAN};
    c.step = which == CLOSE ? PP_CLOSING_STEP : INFINITY;
    c.steady = which == CLOSE ? PP_CLOSING_WEIGHTS * s->p->plate->weight : INFINITY;
    *found = 0;
    if (pp_at_most(s->at->released[HEIGHT], target)) return PP_OK;
    c.force = fmin(first_force(s, which, target, from), cap);
    PP_TRY(solve_first(s, which, &c.force, error));
    while (!s->b->near_failed) {
        double over = value_at(s, HEIGHT, c.force) - target;
        if (!pp_closing_open(&c, over)) break;
        pp_contact_straight line;
        PP_TRY(find_line(s, &line, error));
        line.at_zero -= target;
        if (!pp_closing_next(&c, over, &line)) break;
        PP_TRY(solve_next(&begun, s, which, c.force, error));
    }
    if (which == CLOSE && (c.far || s->v != begun.v)) begun.v->started[CLOSE] = false;
    *found = c.force;
    return PP_OK;
}

static void note_force(bench *b, size_t support, double force, pp_hold_answer *a)
{
    a->largest_support = fmax(a->largest_support, force);
    if (b->support_force) b->support_force[support] = fmax(b->support_force[support], force);
}

static void note_support_forces(const step *s, pp_hold_answer *a)
{
    const pp_contact_base *base = s->v->base;
    const pp_contact_work *w = &s->v->work;
    for (size_t j = 0; j < base->active; j++)
        if (!w->changed[j]) note_force(s->b, base->order[j], w->q[j], a);
    for (size_t c = 0; c < w->changed_count; c++)
        if (w->list[c] >= base->active) note_force(s->b, base->order[w->list[c]], w->x[c], a);
}

static void note_contact(const step *s, bool closing)
{
    if (!s->p->contact) return;
    pp_hold_contact *c = &s->p->contact[2 * s->at->item + closing];
    c->force = s->v->force;
    pp_contact_state(s->v->base, &s->v->work, c->force, s->f->motion, c->reaction, NULL, c->motion);
}

/* Whether a support touched at rest has let go. */
static bool something_lifted(const step *s)
{
    const pp_contact_work *w = &s->v->work;
    return s->v == &s->b->near || (w->changed_count && w->list[0] < s->v->base->active);
}

/* Slope from the released state. On a table the state stays once the gap has closed: the rest of
 * the force goes into the table. */
static pp_status find_tilt(const step *s, double under_foot, double *tilt, pp_error *error)
{
    double force = s->p->question->force;
    if (!s->p->plate->table || under_foot >= 0) {
        *tilt = tilt_at(s, force);
        return PP_OK;
    }
    /* its own chain: full force is far from where the gap closes on a thin plate */
    step own = *s;
    PP_TRY(find_force(&own, TILT, 0, s->b->tilt_force, force, &force, error));
    *tilt = force > 0 ? tilt_at(s, force) : 0;
    if (force > 0) s->b->tilt_force = force;
    return PP_OK;
}

static pp_status find_held(const step *s, double *held, pp_error *error)
{
    step rest = {s->p, s->b, s->at, &s->b->rest, &s->at->rest}; /* what touches is as at rest */
    PP_TRY(solve_at(&rest, HELD, s->p->question->force, error));
    *held = value_at(&rest, HEIGHT, s->p->question->force);
    return PP_OK;
}

/* Tilt, and what there is under foot and thrust */
static pp_status answer_more(const step *s, pp_hold_answer *a, pp_error *error)
{
    const pp_hold_question *q = s->p->question;
    bool lifted = something_lifted(s);
    PP_TRY(find_tilt(s, a->gap_under_foot, &a->tilt, error));
    if (lifted) PP_TRY(find_held(s, &a->held_gap, error));
    if (!pp_given(q->thrust) || s->b->near_failed) return PP_OK;
    double both = q->force + q->thrust;
    PP_TRY(solve_at(s, THRUST, both, error));
    a->gap_in_thrust = value_at(s, HEIGHT, both);
    if (!s->b->near_failed) note_support_forces(s, a);
    return PP_OK;
}

static pp_status answer_close(const step *s, pp_hold_answer *a, pp_error *error)
{
    const pp_hold_question *q = s->p->question;
    double cap = pp_given(q->force_cap) ? q->force_cap : PP_CLOSING_BOUND;
    step under = *s;
    PP_TRY(
        find_force(&under, CLOSE, q->gap_limit, s->b->close_force, cap, &a->force_to_close, error));
    if (s->b->near_failed) return PP_OK;
    if (!s->v->started[CLOSE])
        s->b->close_force = q->force;
    else if (pp_given(a->force_to_close))
        s->b->close_force = a->force_to_close;
    note_contact(&under, true);
    return PP_OK;
}

static pp_status answer_place(const step *s, pp_hold_answer *answer, pp_error *error)
{
    const pp_hold_question *q = s->p->question;
    pp_hold_answer a = {.gap = s->at->released[HEIGHT], .gap_in_thrust = NAN};
    PP_TRY(solve_at(s, FOOT, q->force, error));
    a.gap_under_foot = a.held_gap = value_at(s, HEIGHT, q->force);
    if (s->b->near_failed) {
        *answer = a;
        return PP_OK;
    }
    note_contact(s, false);
    if (!q->only_gap || s->b->support_force) note_support_forces(s, &a);
    if (q->only_gap) {
        *answer = a;
        return PP_OK;
    }
    if (!q->only_close) PP_TRY(answer_more(s, &a, error));
    if (pp_more_than(a.gap, q->gap_limit)) PP_TRY(answer_close(s, &a, error));
    *answer = a;
    return PP_OK;
}

/* One part ------------------------------------------------------------------------------ */

/* Make the near base from the contact under the foot at the place before, seen in v. Where that
 * does not fix a plane, stay. */
static void come_near(const pressing *p, bench *b, const view *v, size_t count, place *places)
{
    b->is_near = base_around(p, b, v, v->start[FOOT], &b->near_base);
    if (!b->is_near) return;
    b->near.foot_changes = 0;
    begin_chain(&b->near);
    look(p, b, &b->near, count, places);
}

static pp_status answer_block(const pressing *p, bench *b, const uint32_t *items, size_t count,
                              place *places, pp_error *error)
{
    prepare(p, b, items, count, places);
    look(p, b, &b->rest, count, places);
    if (b->is_near) look(p, b, &b->near, count, places);
    for (size_t k = 0; k < count; k++) {
        view *v = b->is_near ? &b->near : &b->rest;
        step s = {p, b, &places[k], v, b->is_near ? &places[k].near : &places[k].rest};
        PP_TRY(answer_place(&s, &p->answers[items[k]], error));
        if (b->near_failed) { /* from the plate at rest the exact path can be followed */
            b->near_failed = b->is_near = false;
            s.v = v = &b->rest;
            s.f = &places[k].rest;
            begin_chain(v);
            PP_TRY(answer_place(&s, &p->answers[items[k]], error));
        }
        if (b->near.load && v->foot_changes >= NEAR_FROM) come_near(p, b, v, count, places);
    }
    return PP_OK;
}

/* From rest the contact under the foot is found in fewer rounds when the force comes on in steps,
 * and sooner when a step that changes much brings the base along. */
static pp_status put_foot_down(const pressing *p, bench *b, const uint32_t *items, pp_error *error)
{
    place first;
    prepare(p, b, items, 1, &first);
    look(p, b, &b->rest, 1, &first);
    for (int k = FIRST_STEPS; k >= 0; k--) {
        view *v = b->is_near ? &b->near : &b->rest;
        step s = {p, b, &first, v, b->is_near ? &first.near : &first.rest};
        PP_TRY(solve_at(&s, FOOT, ldexp(p->question->force, -2 * k), error));
        if (b->near_failed) break; /* the first place will be answered from rest */
        if (b->near.load && v->foot_changes >= NEAR_FROM) come_near(p, b, v, 1, &first);
    }
    if (b->near_failed) b->is_near = b->near_failed = false;
    return PP_OK;
}

static pp_status press_part(void *context, size_t part, int worker, pp_error *error)
{
    const pressing *p = context;
    bench *b = &p->benches[worker];
    place places[BLOCK];
    size_t first = pp_part_begin(p->count, p->parts, part);
    size_t end = pp_part_begin(p->count, p->parts, part + 1);
    b->is_near = b->near_failed = false;
    b->close_force = b->tilt_force = p->question->force;
    begin_chain(&b->rest);
    PP_TRY(put_foot_down(p, b, p->order + first, error));
    for (size_t k = first; k < end; k += BLOCK)
        PP_TRY(answer_block(p, b, p->order + k, end - k < BLOCK ? end - k : BLOCK, places, error));
    return PP_OK;
}

/* All places ---------------------------------------------------------------------------- */

static pp_status take_view(size_t m, size_t places, pp_arena *arena, view *v, pp_error *error)
{
    PP_TRY(pp_contact_work_take(m, arena, &v->work, error));
    for (int k = 0; k < CHAINS; k++) PP_TAKE(v->start[k], arena, m);
    PP_TAKE(v->load, arena, m * places);
    PP_TAKE(v->centre, arena, m * CENTRE * places);
    PP_TAKE(v->centre_g, arena, m * CENTRE * places);
    PP_TAKE(v->known, arena, m * places);
    return PP_OK;
}

static pp_status take_bench(const pp_hold_plate *plate, const pp_hold_state *state,
                            bool want_forces, pp_arena *arena, bench *b, pp_error *error)
{
    size_t m = plate->points.count;
    *b = (bench){.rest = {.base = &state->base},
                 .near = {.base = &b->near_base},
                 .far = {.base = &b->far_base}};
    PP_TRY(take_view(m, BLOCK, arena, &b->rest, error));
    if (state->changed_count) b->rest.work.rest = state->changed;
    PP_TAKE(b->g, arena, m * BLOCK);
    PP_TAKE(b->columns_work, arena, 2 * m * BLOCK);
    if (want_forces) PP_TAKE_ZERO(b->support_force, arena, m);
    if (m < NEAR_FROM) return PP_OK; /* so many changes cannot be */
    PP_TRY(take_view(m, BLOCK, arena, &b->near, error));
    PP_TRY(pp_contact_base_take(m, 3, arena, &b->near_base, error));
    PP_TRY(take_view(m, 1, arena, &b->far, error));
    PP_TRY(pp_contact_base_take(m, 3, arena, &b->far_base, error));
    PP_TAKE(b->base_work, arena, pp_contact_base_work(m, m, 3));
    PP_TAKE(b->pivots, arena, m + 3);
    PP_TAKE(b->touching, arena, m);
    return PP_OK;
}

/* Few long chains: each begins from the plate at rest. Not a matter of threads. */
static size_t parts_of(size_t count)
{
    size_t parts = count / PART_PLACES, blocks = (count + BLOCK - 1) / BLOCK;
    if (parts < PARTS_LEAST) parts = PARTS_LEAST;
    if (parts > PARTS_MOST) parts = PARTS_MOST;
    return parts < blocks ? parts : blocks;
}

/* As many as asked for, while there is work and their benches stay within WORK_BYTES. */
static int workers(int threads, size_t parts, size_t m)
{
    size_t bench_bytes = sizeof(double) * (5 * m * m + pp_contact_base_work(m, m, 3));
    size_t most = WORK_BYTES / (bench_bytes + 1);
    if (most > parts) most = parts;
    if (most < 1 || threads < 1) return 1;
    return (size_t)threads < most ? threads : (int)most;
}

pp_status pp_hold_press(const pp_hold_plate *plate, const pp_hold_state *state,
                        const pp_hold_visit *visit, pp_memory *memory, pp_hold_answer *answers,
                        double *support_force, pp_error *error)
{
    const pp_hold_places *places = visit->places;
    size_t m = plate->points.count, count = visit->count, parts = parts_of(count);
    int threads = workers(plate->threads, parts, m);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pressing p = {.plate = plate,
                  .state = state,
                  .question = visit->question,
                  .places = places,
                  .count = count,
                  .parts = parts,
                  .which = visit->which,
                  .deflection = visit->deflection,
                  .contact = visit->contact,
                  .answers = answers};
    p.at_centre = visit->question->only_gap || visit->question->only_close ? 1 : 3;
    uint32_t *order;
    PP_TAKE(order, &memory->scratch, count);
    PP_TRY(pp_visit_order(plate->mesh, places->x, places->y, count, visit->which, &memory->scratch,
                          order, error));
    p.order = order;
    PP_TAKE(p.benches, &memory->scratch, (size_t)threads);
    for (int t = 0; t < threads; t++)
        PP_TRY(take_bench(plate, state, support_force != NULL, &memory->scratch, &p.benches[t],
                          error));
    PP_TRY(pp_parallel(threads, parts, press_part, &p, error));
    for (size_t i = 0; support_force && i < m; i++) {
        support_force[i] = 0;
        for (int t = 0; t < threads; t++)
            support_force[i] = fmax(support_force[i], p.benches[t].support_force[i]);
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
