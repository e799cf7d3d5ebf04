/* How far a hole may be reamed: inside its limits by the uncertainty of the diameter, and no
 * ligament beside it may fall below the limit that it keeps now. */
#include "rules/decide.h"
#include "rules/judging.h"
#include "rules/work_parts.h"

typedef struct reaming {
    const pp_judgement *j;
    pp_work_row *rows;
    uint32_t *row_of; /* [nominal index]: row + 1; 0: not to be reamed */
    double step;      /* both ends are rounded inwards to it, the digits that people read */
} reaming;

static double guard_of(double u) { return u > 0 ? PP_GUARD * u : 0; }

/* --- one bound after the other ---------------------------------------------------------------- */

static bool wants_reaming(const pp_work_row *row)
{
    for (size_t i = 0; i < row->fault_count; i++)
        if (row->faults[i].todo == PP_TODO_REAM) return true;
    return false;
}

/* The smaller of the two counts; a NaN is no bound. True: it is the new one. */
static bool tighten(pp_ream *ream, double upper)
{
    if (isnan(upper) || upper >= ream->upper) return false;
    ream->upper = upper;
    return true;
}

/* The metal that must stay: no limit that is kept now may be broken, nor its proof lost; what is
 * too thin already must not become thinner. NaN: nothing to keep. */
static double metal_to_keep(double value, double u, double standard, double minimum)
{
    double guard = guard_of(u);
    if (!pp_given(standard) && !pp_given(minimum)) return NAN;
    if (pp_at_least(value, standard + guard)) return standard + guard;
    if (pp_at_least(value, standard)) return standard;
    if (pp_at_least(value, minimum + guard)) return minimum + guard;
    return pp_at_least(value, minimum) ? minimum : value;
}

/* One ligament from the hole of `row` to `other`, with `spare` metal in it. Where the other is to
 * be reamed too, both share it: to one size if they are of one kind, else half each. */
static void keep_metal(const reaming *r, pp_work_row *row, uint32_t other, uint8_t face,
                       double spare)
{
    const pp_measures *m = r->j->measures;
    uint32_t bore = m->bore_of[face][row->hole], beside = m->bore_of[face][other];
    if (bore == PP_NONE || isnan(spare)) return;
    double now = m->bores[bore].diameter_max, upper = now + 2 * spare;
    if (r->row_of[other]) {
        bool alike = m->nominal->kind[other] == m->nominal->kind[row->hole];
        double its = alike && beside != PP_NONE ? m->bores[beside].diameter_max : now;
        upper = (now + its) / 2 + spare;
    }
    if (tighten(&row->ream, upper)) row->ream.keeps = other;
}

static void keep_between(const reaming *r, uint32_t a, uint32_t b, uint8_t face, double spare)
{
    if (r->row_of[a]) keep_metal(r, &r->rows[r->row_of[a] - 1], b, face, spare);
    if (r->row_of[b]) keep_metal(r, &r->rows[r->row_of[b] - 1], a, face, spare);
}

static void keep_ligaments(const reaming *r)
{
    const pp_measures *m = r->j->measures;
    const pp_judging view = {.job = r->j->job, .measures = m};
    pp_ligament_bounds limit = pp_ligament_limits(r->j->limits);
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_ligament *l = &m->ligaments[i];
        if (!r->row_of[l->a] && !r->row_of[l->b]) continue;
        if (pp_passed_over(&view, i)) continue;
        double keep = metal_to_keep(l->value, (double)l->u, limit.standard, limit.minimum);
        keep_between(r, l->a, l->b, l->face, l->value - keep);
    }
    double minimum = r->j->limits->other_minimum.value;
    for (size_t i = 0; i < m->other_ligament_count; i++) {
        const pp_other_ligament *l = &m->other_ligaments[i];
        if (m->plugged[l->other]) continue;
        double keep = metal_to_keep(l->value, l->u, NAN, minimum);
        keep_between(r, l->other, l->tube, l->face, l->value - keep);
    }
}

static void keep_edge(const reaming *r, pp_work_row *row)
{
    const pp_measures *m = r->j->measures;
    double limit = r->j->limits->edge_minimum.value;
    for (int face = PP_ENTRY; m->edge && face <= PP_EXIT; face++) {
        uint32_t b = m->bore_of[face][row->hole];
        if (b == PP_NONE) continue;
        double keep = metal_to_keep(m->edge[b], pp_edge_u_of(m, b), NAN, limit);
        if (!tighten(&row->ream, m->bores[b].diameter_max + 2 * (m->edge[b] - keep))) continue;
        row->ream.edge = true;
        row->ream.keeps = PP_NONE;
    }
}

/* --- a hole ----------------------------------------------------------------------------------- */

/* Its own limits, drawn in by the uncertainty; a reamer takes away and never puts back. */
static void begin_window(const reaming *r, pp_work_row *row)
{
    const pp_measures *m = r->j->measures;
    pp_diameter_bounds own = pp_bounds_of_hole(r->j->limits, m->nominal, row->hole);
    double guard = guard_of(r->j->job->holes.uncertainty_diameter / 2);
    row->ream = (pp_ream){.target = NAN,
                          .lower = own.lower + guard,
                          .upper = pp_given(own.upper) ? own.upper - guard : INFINITY,
                          .keeps = PP_NONE};
}

static double largest_reading(const pp_measures *m, uint32_t hole)
{
    double largest = NAN;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++)
        if (m->bore_of[face][hole] != PP_NONE)
            largest = fmax(largest, m->bores[m->bore_of[face][hole]].diameter_max);
    return largest;
}

/* Why there is no room between the ends; PP_REASON_PLAIN: there is. */
static pp_todo_reason close_window(const reaming *r, pp_work_row *row, pp_ream own)
{
    double nominal = r->j->limits->hole_nominal.value, rounding = 1e-6;
    pp_ream *ream = &row->ream;
    if (own.lower > own.upper) return PP_REASON_UNPROVABLE;
    double largest = largest_reading(r->j->measures, row->hole);
    if (pp_more_than(largest, own.upper)) return PP_REASON_LARGE_BESIDE;
    ream->lower = fmax(ream->lower, largest); /* NaN: nothing but gauges */
    ream->lower = ceil(ream->lower / r->step - rounding) * r->step;
    if (isinf(ream->upper)) {
        ream->upper = NAN;
        ream->target = r->j->measures->nominal->kind[row->hole] == PP_TUBE_HOLE
                           ? fmax(ream->lower, nominal)
                           : ream->lower;
        return PP_REASON_PLAIN;
    }
    ream->upper = floor(ream->upper / r->step + rounding) * r->step;
    if (ream->lower > ream->upper + r->step * rounding)
        return ream->edge               ? PP_REASON_EDGE
               : ream->keeps != PP_NONE ? PP_REASON_METAL
                                        : PP_REASON_UNPROVABLE;
    ream->target = round((ream->lower + ream->upper) / 2 / r->step) * r->step;
    return PP_REASON_PLAIN;
}

/* No reaming: what instead. */
static void refuse(const reaming *r, pp_work_row *row, pp_fault *faults, pp_todo_reason reason)
{
    pp_diameter_bounds own = pp_bounds_of_hole(r->j->limits, r->j->measures->nominal, row->hole);
    for (size_t i = 0; i < row->fault_count; i++) {
        if (faults[i].todo != PP_TODO_REAM) continue;
        faults[i].reason = (uint8_t)reason;
        faults[i].todo = reason == PP_REASON_UNPROVABLE ? PP_TODO_REMEASURE : PP_TODO_DECIDE;
        /* a guard band of a quarter of the tolerance at either end leaves half of it to ream to */
        if (reason == PP_REASON_UNPROVABLE)
            faults[i].needed = 2 * (own.upper - own.lower) / 4 / PP_GUARD;
    }
    row->ream.target = NAN;
}

pp_status pp_work_ream(const pp_judgement *judgement, pp_work_row *rows, size_t count,
                       pp_fault *faults, pp_memory *memory, pp_error *error)
{
    reaming r = {.j = judgement, .rows = rows, .step = 0.001};
    if (judgement->job->units == PP_INCH) r.step = 0.0001 * pp_unit_mm(PP_INCH);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t any = 0;
    PP_TAKE_ZERO(r.row_of, &memory->scratch, judgement->measures->nominal->count);
    for (size_t i = 0; i < count; i++) {
        if (rows[i].hole == PP_NONE || !wants_reaming(&rows[i])) continue;
        r.row_of[rows[i].hole] = (uint32_t)i + 1;
        begin_window(&r, &rows[i]);
        any++;
    }
    if (any) keep_ligaments(&r);
    for (size_t i = 0; any && i < count; i++) {
        if (rows[i].hole == PP_NONE || !r.row_of[rows[i].hole]) continue;
        pp_work_row own = rows[i];
        begin_window(&r, &own);
        keep_edge(&r, &rows[i]);
        pp_todo_reason reason = close_window(&r, &rows[i], own.ream);
        if (reason != PP_REASON_PLAIN)
            refuse(&r, &rows[i], faults + (rows[i].faults - faults), reason);
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
