#include "rules/placement.h"

#include "rules/decide.h"
#include "rules/misdrilled.h"
#include "zone/smallest.h"

static const double DEGREES = 57.29577951308232087680; /* in a radian */

/* Holes of pairs with so little metal between them that one is a blunder; both are left out, the
 * readings do not say which one it was. */
static size_t mark_blunders(const pp_measures *m, const pp_limits *limits, bool *blunder)
{
    size_t count = 0;
    for (size_t k = 0; k < m->close_count; k++) {
        if (!pp_misdrilled(limits, m->close[k].ligament)) continue;
        uint32_t hole[2] = {m->bores[m->close[k].a].hole, m->bores[m->close[k].b].hole};
        for (int i = 0; i < 2; i++) {
            if (hole[i] == PP_NONE || blunder[hole[i]]) continue;
            blunder[hole[i]] = true;
            count++;
        }
    }
    return count;
}

/* Smallest hole its limits allow: the maximum-material size. */
static double maximum_material(const pp_nominal *nominal, const pp_limits *limits, uint32_t hole)
{
    if (nominal->kind[hole] == PP_TUBE_HOLE) return limits->diameter_lower;
    if (!nominal->diameter || !nominal->under) return NAN;
    return nominal->diameter[hole] - nominal->under[hole];
}

static double bonus_of(const pp_nominal *nominal, const pp_limits *limits, const pp_bore *bore)
{
    double bonus = bore->diameter_min - maximum_material(nominal, limits, bore->hole);
    return bonus > 0 ? bonus : 0; /* also where nothing is known of the size */
}

typedef struct entries { /* the bores that take part */
    size_t count;
    double *mx, *my, *nx, *ny, *allowance;
    uint32_t *bore;
} entries;

static pp_status take_entries(size_t room, bool bonuses, pp_arena *scratch, entries *e,
                              pp_error *error)
{
    PP_TAKE(e->mx, scratch, room);
    PP_TAKE(e->my, scratch, room);
    PP_TAKE(e->nx, scratch, room);
    PP_TAKE(e->ny, scratch, room);
    PP_TAKE(e->bore, scratch, room);
    e->allowance = NULL;
    if (bonuses) PP_TAKE(e->allowance, scratch, room);
    e->count = 0;
    return PP_OK;
}

static void fill_entries(const pp_measures *m, const pp_limits *limits, const bool *blunder,
                         entries *e)
{
    for (size_t b = 0; b < m->bore_count; b++) {
        const pp_bore *bore = &m->bores[b];
        if (bore->hole == PP_NONE || m->plugged[bore->hole] || blunder[bore->hole]) continue;
        if (bore->face == PP_EXIT && m->alignment.exit_own) continue; /* placed on its own */
        size_t i = e->count++;
        e->mx[i] = bore->at.x, e->my[i] = bore->at.y;
        e->nx[i] = m->nominal->x[bore->hole], e->ny[i] = m->nominal->y[bore->hole];
        if (e->allowance) e->allowance[i] = 0.5 * bonus_of(m->nominal, limits, bore);
        e->bore[i] = (uint32_t)b;
    }
}

/* Standard uncertainty of one position, 2 u_centre, with that of the bonus where it is used. */
static double position_uncertainty(const pp_job *job, const pp_measures *m, size_t bore,
                                   bool bonuses)
{
    double u = 2 * pp_bore_error_of(m, bore).u_centre;
    return bonuses ? hypot(u, 0.5 * job->holes.uncertainty_diameter) : u;
}

static void judge_saving(const pp_job *job, const pp_limits *limits, pp_placement *p)
{
    double limit = limits->position_limit.value;
    double guard = job->rules.decision == PP_GUARDED ? PP_GUARD * p->u : 0;
    p->saves = !pp_at_most(p->as_aligned, limit) && pp_at_most(p->zone + guard, limit);
}

/* Of the positions as they are judged. */
static double worst_as_aligned(const pp_measures *m, const entries *e)
{
    double worst = -INFINITY;
    for (size_t i = 0; i < e->count; i++) {
        double radius = pp_position_of(m, e->bore[i]) / 2;
        double value = radius - (e->allowance ? e->allowance[i] : 0);
        worst = value > worst ? value : worst;
    }
    return worst;
}

static void write_placement(const pp_job *job, const pp_measures *m, const entries *e,
                            const pp_smallest_zone *zone, pp_placement *p)
{
    p->valid = true;
    p->zone = 2 * zone->radius;
    p->lower_bound = 2 * zone->lower_bound;
    p->angle_deg = zone->angle * DEGREES;
    p->dx = zone->dx, p->dy = zone->dy;
    p->moved = zone->moved;
    p->as_aligned = 2 * worst_as_aligned(m, e);
    p->witnesses_suffice = zone->witnesses_suffice;
    p->u = -INFINITY;
    for (int k = 0; k < zone->witness_count; k++) {
        size_t b = e->bore[zone->witness[k]];
        const pp_bore *bore = &m->bores[b];
        double u = position_uncertainty(job, m, b, e->allowance != NULL);
        if (isnan(u) || u > p->u) p->u = u; /* once NaN, it stays */
        if (p->witness_count > 0 && p->witnesses[p->witness_count - 1] == bore->hole) continue;
        p->witnesses[p->witness_count++] = bore->hole; /* a hole's two faces count once */
    }
}

static pp_status place(const pp_job *job, const pp_measures *m, const pp_limits *limits,
                       int threads, pp_memory *memory, pp_placement *p, pp_error *error)
{
    bool *blunder;
    uint32_t *left_out;
    PP_TAKE_ZERO(blunder, &memory->scratch, m->nominal->count);
    p->left_out_count = mark_blunders(m, limits, blunder);
    PP_TAKE(left_out, &memory->keep, p->left_out_count);
    size_t at = 0;
    for (size_t i = 0; i < m->nominal->count; i++)
        if (blunder[i]) left_out[at++] = (uint32_t)i;
    p->left_out = left_out;

    entries e = {0};
    bool bonuses = job->holes.material_condition == PP_MAXIMUM_MATERIAL;
    PP_TRY(take_entries(m->bore_count, bonuses, &memory->scratch, &e, error));
    fill_entries(m, limits, blunder, &e);
    if (e.count == 0) return PP_OK;
    for (size_t i = 0; i < e.count; i++)
        p->holes += i == 0 || m->bores[e.bore[i]].hole != m->bores[e.bore[i - 1]].hole;

    pp_zone_problem problem = {e.count, e.mx, e.my, e.nx, e.ny, e.allowance};
    pp_smallest_zone zone;
    PP_TRY(pp_smallest_zone_solve(&problem, threads, &memory->scratch, &zone, error));
    write_placement(job, m, &e, &zone, p);
    judge_saving(job, limits, p);
    return PP_OK;
}

pp_status pp_place(const pp_job *job, const pp_measures *measures, const pp_limits *limits,
                   int threads, pp_memory *memory, pp_placement *placement, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_placement p = {.u = NAN};
    pp_status status = place(job, measures, limits, threads, memory, &p, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_ENUMERIC) { /* the holes are displaced by millimetres: that is a result */
        p = (pp_placement){.uncertified = true};
        status = PP_OK;
    }
    if (status == PP_OK) *placement = p;
    return status;
}
