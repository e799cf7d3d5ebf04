#include "stack/evaluate.h"

#include <math.h>
#include <string.h>

static const double FORCE_SAME = 1e-3, GAP_SAME = 1e-6; /* N, mm: no better by less */

pp_status pp_stack_evaluate(const pp_stack_ground *ground, const pp_stack_way *way,
                            const pp_stack_visit *visit, pp_arena *arena, pp_arena *scratch,
                            pp_stack_state *state, pp_error *error)
{
    pp_stack_state *s = state;
    size_t layers = ground->layers;
    s->count = visit->count;
    PP_TRY(pp_stack_pile_make(ground, way, visit->question->pressed, arena, &s->pile, error));
    PP_TAKE(s->at.answers, arena, s->count);
    PP_TAKE(s->at.gap, arena, s->count * layers);
    PP_TAKE(s->at.gap_under_foot, arena, s->count * layers);
    PP_TRY(pp_stack_settle(&s->pile, arena, scratch, &s->rest, error));
    return pp_stack_press(&s->pile, &s->rest, visit, scratch, &s->at, error);
}

static double larger_force(double a, double b) { return isnan(a) || isnan(b) ? NAN : fmax(a, b); }

void pp_stack_fold(const pp_stack_state *s, pp_stack_arranged *arranged)
{
    size_t layers = s->pile.layers;
    pp_stack_arranged a = {.largest_gap_under_foot = 0};
    memcpy(a.way, s->pile.way, layers * sizeof *a.way);
    for (size_t i = 0; i < s->count; i++) {
        for (size_t k = 1; k < layers; k++)
            a.largest_gap_under_foot =
                fmax(a.largest_gap_under_foot, s->at.gap_under_foot[i * layers + k]);
        a.largest_force_to_close =
            larger_force(a.largest_force_to_close, s->at.answers[i].force_to_close);
        a.largest_force_to_close_all =
            larger_force(a.largest_force_to_close_all, s->at.answers[i].force_to_close_all);
    }
    *arranged = a;
}

bool pp_stack_better(pp_stack_aim aim, const pp_stack_arranged *a, const pp_stack_arranged *b)
{
    bool all = aim == PP_AIM_ALL;
    double fa = all ? a->largest_force_to_close_all : a->largest_force_to_close;
    double fb = all ? b->largest_force_to_close_all : b->largest_force_to_close;
    if (isnan(fa) != isnan(fb)) return isnan(fb);
    if (!isnan(fa) && fabs(fa - fb) > FORCE_SAME) return fa < fb;
    return a->largest_gap_under_foot < b->largest_gap_under_foot - GAP_SAME;
}
