#include "rules/drilled_rules.h"

#include <math.h>
#include <string.h>

#include "base/text.h"
#include "rules/decide.h"

/* A hole between is decided guarded, whatever the job's decision rule; without an uncertainty it is
 * not judged. */
static pp_verdict decide_between(const pp_drilled_row *row, double limit)
{
    if (!pp_given(row->u)) return PP_NOT_JUDGED;
    return pp_decide_upper(row->position, limit, PP_GUARD * row->u);
}

static pp_verdict decide_measured(const pp_job *job, const pp_drilled_row *row, double limit)
{
    bool guarded = job->rules.decision == PP_GUARDED;
    return pp_decide_upper(row->position, limit, guarded ? PP_GUARD * row->u : 0);
}

static void judge_rows(const pp_job *job, const pp_limits *limits, const pp_drilled *d,
                       uint8_t *verdict)
{
    double limit = limits->position_limit.value;
    for (size_t i = 0; i < d->count; i++) {
        bool between = d->how[d->rows[i].place] == PP_LAYER_BETWEEN;
        verdict[i] = (uint8_t)(between ? decide_between(&d->rows[i], limit)
                                       : decide_measured(job, &d->rows[i], limit));
    }
}

/* Of a layer between: both faces of a hole, the worse counts. */
static pp_drilled_layer judge_between(const pp_drilled *d, size_t place, double limit,
                                      size_t tube_holes, const uint8_t *verdict)
{
    pp_drilled_layer l = {.limit = limit, .largest = NAN, .mean = NAN, .largest_hole = PP_NONE};
    double sum = 0, largest = -INFINITY;
    bool judged = pp_given(d->wander) && pp_given(limit);
    for (size_t i = 0; i < d->count;) {
        if (d->rows[i].place != place) {
            i++;
            continue;
        }
        uint32_t hole = d->rows[i].hole;
        double position = 0;
        pp_verdict worst = PP_NOT_JUDGED;
        for (; i < d->count && d->rows[i].hole == hole && d->rows[i].place == place; i++) {
            position = fmax(position, d->rows[i].position);
            worst = pp_worse(worst, (pp_verdict)verdict[i]);
        }
        l.holes++, sum += position;
        l.out += worst == PP_DOES_NOT_CONFORM;
        l.not_proven += worst == PP_NOT_PROVEN;
        judged = judged && worst != PP_NOT_JUDGED;
        if (position > largest) largest = position, l.largest_hole = hole;
    }
    if (l.holes) l.largest = largest, l.mean = sum / (double)l.holes;
    if (!judged || !l.holes)
        l.position = PP_NOT_JUDGED;
    else if (l.out)
        l.position = PP_DOES_NOT_CONFORM;
    else
        l.position = l.not_proven || l.holes < tube_holes ? PP_NOT_PROVEN : PP_CONFORMS;
    l.verdict = l.position;
    return l;
}

static pp_drilled_layer judge_measured(const pp_judgement *own, const pp_measures *measures,
                                       double limit)
{
    return (pp_drilled_layer){.holes = measures->measured,
                              .limit = limit,
                              .largest = own->position_fold.largest,
                              .mean = own->position_fold.mean,
                              .largest_hole = own->position_fold.largest_hole,
                              .out = own->position_fold.out,
                              .not_proven = own->position_fold.not_proven,
                              .position = own->section[PP_POSITION].verdict,
                              .verdict = own->verdict,
                              .own = own};
}

static const char *basis_of(const pp_job *job, const pp_drilled *d, pp_memory *memory)
{
    pp_text t = {0};
    pp_text_print(&t, "%zu of %zu layers measured", d->measured_count, d->layer_count);
    if (d->measured_count < d->layer_count && pp_given(d->wander)) {
        pp_text_add(&t, "; between them straight holes within ");
        pp_text_add_fixed(&t, 2 * d->wander, 3);
        pp_text_add(&t, " mm (from ");
        if (d->wander_source == PP_WANDER_LAYERS)
            pp_text_print(&t, "layer %s)", job->layers[d->layer[d->wander_layer]].name);
        else
            pp_text_add(&t, "the job file)");
    } else if (d->measured_count < d->layer_count) {
        pp_text_add(&t, "; nothing tells how straight the holes are between them");
    }
    const char *kept = t.failed ? NULL : pp_arena_text(&memory->keep, t.data, t.length);
    pp_text_free(&t);
    return kept;
}

pp_status pp_drilled_judge(const pp_job *job, const pp_limits *limits, const pp_drilled *drilled,
                           const pp_judgement *const *own, pp_memory *memory,
                           pp_drilled_judgement *judgement, pp_error *error)
{
    pp_drilled_layer *layers;
    uint8_t *verdict;
    size_t n = drilled->layer_count, tubes = drilled->measures[drilled->bottom]->tube_count;
    double limit = limits->position_limit.value;
    pp_drilled_judgement j = {.verdict = PP_CONFORMS};
    PP_TAKE(layers, &memory->keep, n);
    PP_TAKE(verdict, &memory->keep, drilled->count);
    judge_rows(job, limits, drilled, verdict);
    for (size_t k = 0; k < n; k++) {
        layers[k] = own[k] ? judge_measured(own[k], drilled->measures[k], limit)
                           : judge_between(drilled, k, limit, tubes, verdict);
        pp_verdict here = layers[k].verdict;
        j.verdict = pp_worse(j.verdict, here == PP_NOT_JUDGED ? PP_NOT_PROVEN : here);
    }
    j.basis = basis_of(job, drilled, memory);
    if (!j.basis) return pp_fail_memory(error);
    j.layers = layers;
    j.row_verdict = verdict;
    *judgement = j;
    return PP_OK;
}
