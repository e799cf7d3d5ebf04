/* Whose fault a finding is, and what it asks for. */
#include "rules/decide.h"
#include "rules/judging.h"
#include "rules/work_parts.h"

/* --- blame ------------------------------------------------------------------------------------ */

/* One of two holes with too little metal, or the wrong distance, between them. */
typedef struct side {
    uint32_t key, bore; /* PP_NONE: not measured on that face */
    uint32_t hole;      /* PP_NONE: an extra hole */
    double x, y;        /* where it should be; an extra hole: where it is */
} side;

static side side_of_hole(const pp_measures *m, uint32_t hole, uint8_t face)
{
    pp_nominal_point at = pp_nominal_at(m->nominal, hole);
    return (side){hole, m->bore_of[face][hole], hole, at.x, at.y};
}

static side side_of_bore(const pp_measures *m, uint32_t bore)
{
    const pp_bore *b = &m->bores[bore];
    if (b->hole != PP_NONE) return side_of_hole(m, b->hole, b->face);
    return (side){pp_key_of_bore(m, bore), bore, PP_NONE, b->at.x, b->at.y};
}

/* By how much the hole has moved towards the other one, mm. */
static double moved_towards(const pp_measures *m, const side *of, const side *other)
{
    double dx = other->x - of->x, dy = other->y - of->y, apart = hypot(dx, dy);
    if (of->bore == PP_NONE || apart == 0) return 0;
    pp_plate_point at = m->bores[of->bore].at;
    return ((at.x - of->x) * dx + (at.y - of->y) * dy) / apart;
}

/* What it took from the metal between the two: by its place and by its size. */
static double metal_taken(const pp_judgement *j, const side *of, const side *other)
{
    const pp_measures *m = j->measures;
    if (of->hole == PP_NONE) return INFINITY; /* it should not be there at all */
    double taken = moved_towards(m, of, other);
    if (of->bore == PP_NONE) return taken;
    bool tube = m->nominal->kind[of->hole] == PP_TUBE_HOLE;
    double size = tube                   ? j->limits->hole_nominal.value
                  : m->nominal->diameter ? m->nominal->diameter[of->hole]
                                         : NAN;
    double larger = (m->bores[of->bore].diameter_max - size) / 2;
    return isnan(larger) ? taken : taken + larger;
}

/* Would the limit be broken still, had the worse of the two done nothing? */
static bool broken_by_other(const pp_judgement *j, const pp_finding *f, double worse, double other)
{
    if (f->verdict != PP_DOES_NOT_CONFORM || !(other > 0)) return false;
    double lower = pp_finding_lower(j, f), upper = pp_finding_upper(j, f);
    return pp_given(upper) ? pp_more_than(f->value - worse, upper)
                           : pp_less_than(f->value + worse, lower);
}

static int blame_two(const pp_judgement *j, const pp_finding *f, side a, side b, uint32_t keys[2])
{
    double of_a, of_b;
    if (pp_characteristic_of(f->characteristic)->by_distance) {
        of_a = moved_towards(j->measures, &a, &b);
        of_b = moved_towards(j->measures, &b, &a);
        if (of_a + of_b < 0) of_a = -of_a, of_b = -of_b; /* too far apart */
    } else {
        of_a = metal_taken(j, &a, &b);
        of_b = metal_taken(j, &b, &a);
    }
    bool first = !(of_b > of_a);
    keys[0] = first ? a.key : b.key;
    keys[1] = first ? b.key : a.key;
    return broken_by_other(j, f, fmax(of_a, of_b), fmin(of_a, of_b)) ? 2 : 1;
}

int pp_work_blame(const pp_judgement *judgement, const pp_finding *f, uint32_t keys[2])
{
    const pp_measures *m = judgement->measures;
    switch (pp_characteristic_of(f->characteristic)->subject) {
    case PP_OF_PLATE:
    case PP_OF_STRAIGHTEDGE:
        return 0;
    case PP_OF_HOLE:
    case PP_OF_FACE:
        keys[0] = f->subject;
        return 1;
    case PP_OF_CHECK:
        keys[0] = pp_finding_other(judgement, f);
        return 1;
    case PP_OF_BORE:
        keys[0] = pp_key_of_bore(m, f->subject);
        return 1;
    case PP_OF_TWO_HOLES:
        return blame_two(judgement, f, side_of_hole(m, f->subject, f->face),
                         side_of_hole(m, pp_finding_other(judgement, f), f->face), keys);
    case PP_OF_TWO_BORES:
        return blame_two(judgement, f, side_of_bore(m, f->subject),
                         side_of_bore(m, pp_finding_other(judgement, f)), keys);
    }
    return 0;
}

/* --- what it asks for ------------------------------------------------------------------------- */

/* Plug gauges against the reading, and against each other. */
static bool gauge_contradicts(const pp_judgement *j, const pp_finding *f)
{
    const pp_measures *m = j->measures;
    uint32_t at = m->bore_of[f->face][f->subject];
    if (at == PP_NONE) return false;
    const pp_bore *b = &m->bores[at];
    if (b->go == 0 && (b->no_go == 1 || b->no_go_max == 1)) return true;
    if (b->no_go == 0 && b->no_go_max == 1) return true;
    if (b->gauged) return false;
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, m->nominal, f->subject);
    double least = b->diameter_min, most = b->diameter_max;
    return (b->go == 0 && pp_at_least(least, limit.lower)) ||
           (b->go == 1 && pp_less_than(most, limit.lower)) ||
           (b->no_go == 1 && pp_at_most(most, limit.upper)) ||
           (b->no_go == 0 && pp_more_than(least, limit.upper)) ||
           (b->no_go_max == 1 && pp_at_most(most, limit.outer)) ||
           (b->no_go_max == 0 && pp_more_than(least, limit.outer));
}

/* By how much noise lengthens a distance; 0 of what is none. */
static double bias_of(const pp_measures *m, const pp_finding *f)
{
    double bias = 0;
    if (f->characteristic == PP_DRIFT) {
        bias = m->drift_error ? m->drift_error[f->subject].bias : 0;
    } else if (f->characteristic == PP_POSITION || f->characteristic == PP_PATTERN_POSITION) {
        uint32_t bore = m->bore_of[f->face][f->subject];
        if (bore == PP_NONE) return 0;
        bias = f->characteristic == PP_POSITION ? pp_position_error_of(m, bore).bias
                                                : pp_bore_error_of(m, bore).position.bias;
    }
    return isnan(bias) ? 0 : bias;
}

/* The limit that it could not be proven against: of the outermost ones the nearer, or the standard
 * one. *upper: it bounds from above. */
static double open_limit(const pp_judgement *j, const pp_finding *f, bool *upper)
{
    double lower = pp_finding_lower(j, f), most = pp_finding_upper(j, f);
    if (f->verdict == PP_CONFORMS) {
        *upper = pp_given(most);
        return pp_finding_standard(j, f);
    }
    *upper = isnan(lower) || fabs(f->value - most) <= fabs(f->value - lower);
    return *upper ? most : lower;
}

/* The expanded uncertainty with which the same value would be proven, on the side where it lies. A
 * distance outside its limit is proven so when twice its bias and the guard band are taken off; the
 * bias goes with the square of the uncertainty. */
static double uncertainty_needed(const pp_judgement *j, const pp_finding *f)
{
    bool upper;
    double u = (double)pp_finding_u(j, f), limit = open_limit(j, f, &upper),
           margin = fabs(f->value - limit);
    bool outside = upper ? f->value > limit : f->value < limit;
    if (!(u > 0) || isnan(margin)) return NAN;
    if (outside) margin = fmax(margin - PP_ALLOWANCE, 0); /* that of pp_more_than */
    double bias = bias_of(j->measures, f), guard = PP_GUARD * u, share = margin / guard;
    if (bias > 0 && outside) share = (sqrt(guard * guard + 8 * bias * margin) - guard) / (4 * bias);
    return 2 * share * u;
}

pp_fault pp_work_fault_of(const pp_judgement *j, uint32_t finding)
{
    const pp_finding *f = &j->findings[finding];
    pp_fault fault = {.finding = finding, .todo = PP_TODO_DECIDE, .needed = NAN};
    bool size = f->characteristic == PP_DIAMETER;
    if (size && gauge_contradicts(j, f)) {
        fault.todo = PP_TODO_SECOND_OPINION;
    } else if (f->characteristic == PP_DOUBLY_CLAIMED) {
        fault.todo = PP_TODO_REMEASURE;
    } else if (pp_exception_verdict(j, f) == PP_NOT_PROVEN) {
        fault.todo = PP_TODO_REMEASURE;
        fault.needed = uncertainty_needed(j, f);
    } else if (size && f->class_ == PP_CLASS_UNDER) {
        fault.todo = PP_TODO_REAM;
    }
    return fault;
}
