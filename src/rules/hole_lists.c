/* What is listed beside the sections: plugged holes, misdrilled pairs, holes of kind other. */
#include <stdlib.h>

#include "rules/judging.h"

static pp_status list_plugged(pp_judging *j, pp_error *error)
{
    const pp_measures *m = j->measures;
    size_t count = 0;
    for (size_t h = 0; h < m->nominal->count; h++) count += m->plugged[h];
    uint32_t *list;
    PP_TAKE(list, &j->memory->keep, count);
    j->out->plugged = list;
    for (size_t h = 0; h < m->nominal->count; h++)
        if (m->plugged[h]) list[j->out->plugged_count++] = (uint32_t)h;
    return PP_OK;
}

static int by_key(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return (x > y) - (x < y);
}

/* A hole by its nominal index, what the drawing does not have by its bore behind them. */
static uint64_t key_of(const pp_measures *m, uint32_t bore)
{
    uint32_t hole = m->bores[bore].hole;
    return hole == PP_NONE ? m->nominal->count + bore : hole;
}

/* Two holes that are too close on both faces are one pair. */
static pp_status count_close_pairs(pp_judging *j, const pp_close_pair *list, size_t count,
                                   pp_error *error)
{
    uint64_t *keys;
    PP_TAKE(keys, &j->memory->scratch, count);
    for (size_t i = 0; i < count; i++) {
        uint64_t a = key_of(j->measures, list[i].a), b = key_of(j->measures, list[i].b);
        keys[i] = a < b ? a << 32 | b : b << 32 | a;
    }
    if (count) qsort(keys, count, sizeof *keys, by_key);
    for (size_t i = 0; i < count; i++) j->out->misdrilled_pairs += i == 0 || keys[i] != keys[i - 1];
    return PP_OK;
}

static pp_status list_misdrilled(pp_judging *j, pp_error *error)
{
    size_t first = j->out->first[PP_MISDRILLED];
    j->out->misdrilled_count = j->out->first[PP_MISDRILLED + 1] - first;
    pp_close_pair *list;
    PP_TAKE(list, &j->memory->keep, j->out->misdrilled_count);
    for (size_t i = 0; i < j->out->misdrilled_count; i++) {
        const pp_finding *f = &j->findings[first + i];
        list[i] = (pp_close_pair){f->subject, pp_finding_other(j->out, f), f->value};
    }
    j->out->misdrilled = list;
    return count_close_pairs(j, list, j->out->misdrilled_count, error);
}

static pp_verdict finding_verdict(const pp_judging *j, int which, size_t bore)
{
    size_t first = j->out->first[which];
    if (j->out->first[which + 1] == first) return PP_NOT_JUDGED;
    return (pp_verdict)j->findings[first + bore].verdict;
}

static bool has_own_size(const pp_judging *j, uint32_t hole)
{
    pp_diameter_bounds bounds = pp_bounds_of_hole(j->limits, j->measures->nominal, hole);
    return pp_given(bounds.lower) || pp_given(bounds.upper);
}

static pp_other_verdict other_verdict(const pp_judging *j, uint32_t hole)
{
    const pp_measures *m = j->measures;
    pp_other_verdict o = {.hole = hole, .position = NAN, .diameter = NAN};
    double sum = 0, readings = 0;
    bool measured = false;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        uint32_t b = m->bore_of[face][hole];
        if (b == PP_NONE) continue;
        measured = true;
        const pp_bore *bore = &m->bores[b];
        o.position = fmax(o.position, pp_position_of(m, b));
        if (bore->diameter_readings) sum += bore->diameter_mean * bore->diameter_readings;
        readings += bore->diameter_readings;
        for (int which = 0; which < PP_CHARACTERISTICS; which++)
            if (pp_characteristic_of(which)->subject == PP_OF_FACE)
                o.verdict = pp_worse(o.verdict, finding_verdict(j, which, b));
    }
    if (readings > 0) o.diameter = sum / readings;
    bool wanted = pp_given(j->limits->position_limit.value) || pp_given(pp_pattern_limit(j)) ||
                  pp_given(j->limits->other_minimum.value) || has_own_size(j, hole);
    if (!measured && wanted && pp_were_measured(j) && j->job->holes.coverage == PP_EVERY_HOLE)
        o.verdict = PP_NOT_PROVEN;
    return o;
}

static pp_status list_others(pp_judging *j, pp_error *error)
{
    const pp_measures *m = j->measures;
    size_t count = m->nominal->count - m->tube_count;
    pp_other_verdict *list;
    PP_TAKE(list, &j->memory->keep, count);
    j->out->others = list;
    if (count == 0) return PP_OK;
    uint32_t *index; /* nominal index to place in the list */
    PP_TAKE(index, &j->memory->scratch, m->nominal->count);
    for (size_t h = 0; h < m->nominal->count; h++) {
        if (m->nominal->kind[h] == PP_TUBE_HOLE) continue;
        index[h] = (uint32_t)j->out->others_count;
        list[j->out->others_count++] = other_verdict(j, (uint32_t)h);
    }
    for (size_t i = j->out->first[PP_OTHER_LIGAMENT]; i < j->out->first[PP_OTHER_LIGAMENT + 1];
         i++) {
        pp_other_verdict *o = &list[index[j->findings[i].subject]];
        o->verdict = pp_worse(o->verdict, (pp_verdict)j->findings[i].verdict);
    }
    for (size_t i = 0; i < j->out->others_count; i++)
        pp_count_in(&j->out->others_section, list[i].verdict);
    return PP_OK;
}

pp_status pp_list_beside(pp_judging *j, pp_error *error)
{
    PP_TRY(list_plugged(j, error));
    PP_TRY(list_misdrilled(j, error));
    return list_others(j, error);
}
