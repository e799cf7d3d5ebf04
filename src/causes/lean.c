#include "causes/lean.h"

#include <math.h>

#include "base/stats.h"
#include "causes/serial_correlation.h"

typedef struct steps { /* exit - entry */
    size_t count;
    double *x, *y;
} steps;

static void fill_step(const void *context, size_t item, pp_robust_row *row)
{
    const steps *s = context;
    row->a[0][0] = row->a[1][1] = 1;
    row->value[0] = s->x[item], row->value[1] = s->y[item];
}

static void list_steps(const pp_measures *m, size_t count, const uint32_t *order, steps *s)
{
    for (size_t k = 0; k < count; k++) {
        uint32_t entry = m->bore_of[PP_ENTRY][order[k]], exit = m->bore_of[PP_EXIT][order[k]];
        if (entry == PP_NONE || exit == PP_NONE) continue;
        s->x[s->count] = m->bores[exit].at.x - m->bores[entry].at.x;
        s->y[s->count++] = m->bores[exit].at.y - m->bores[entry].at.y;
    }
}

/* T^2 = b' V^-1 b; T^2 / 2 is Fisher's F with 2 and df degrees of freedom. */
static void test_vector(const pp_robust_fit *f, pp_lean *lean)
{
    double x = lean->x = f->beta[0], y = lean->y = f->beta[1];
    double a = f->covariance[0], b = f->covariance[1], c = f->covariance[3], det = a * c - b * b;
    double t2 = (c * x * x - 2 * b * x * y + a * y * y) / det, length = x * x + y * y;
    lean->p = pp_fisher_upper(0.5 * t2, 2, f->df);
    lean->standard_error =
        sqrt(length > 0 ? (a * x * x + 2 * b * x * y + c * y * y) / length : fmax(a, c));
}

static pp_status find(const pp_measures *m, size_t count, const uint32_t *order, int threads,
                      pp_arena *scratch, pp_lean *lean, pp_error *error)
{
    steps s = {0};
    PP_TAKE(s.x, scratch, count);
    PP_TAKE(s.y, scratch, count);
    list_steps(m, count, order, &s);
    lean->holes = s.count;
    if (s.count < PP_LEAN_HOLES_MIN) {
        lean->why_not = "too few holes were read on both faces";
        return PP_OK;
    }
    if (m->alignment.exit_own) {
        lean->why_not = "the exit face was aligned on its own";
        return PP_OK;
    }
    pp_robust_problem problem = {.count = s.count,
                                 .terms = 2,
                                 .has = {{true, false}, {false, true}},
                                 .fill = fill_step,
                                 .context = &s,
                                 .threads = threads};
    pp_robust_fit fit;
    pp_serial serial;
    PP_TAKE(fit.weight, scratch, s.count);
    PP_TAKE(fit.residual[0], scratch, s.count);
    PP_TAKE(fit.residual[1], scratch, s.count);
    PP_TRY(pp_serial_solve(&problem, false, scratch, &fit, &serial, error));
    lean->tested = true;
    test_vector(&fit, lean);
    return PP_OK;
}

pp_status pp_lean_find(const pp_measures *measures, size_t count, const uint32_t *order,
                       int threads, pp_arena *scratch, pp_lean *lean, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_lean result = {.p = NAN, .x = NAN, .y = NAN, .standard_error = NAN};
    pp_status status = find(measures, count, order, threads, scratch, &result, error);
    pp_arena_release(scratch, mark);
    if (status == PP_OK) *lean = result;
    return status;
}
