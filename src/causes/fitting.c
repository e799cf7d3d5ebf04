#include "causes/fitting.h"

#include <math.h>
#include <string.h>

#include "holes/repeats.h"

static uint32_t readings_of(const pp_measures *m, const pp_error_field *f, size_t i)
{
    return m->bores[m->bore_of[PP_ENTRY][f->hole[i]]].readings;
}

static bool repeats_differ(const pp_measures *m, const pp_error_field *f)
{
    for (size_t i = 1; i < f->count; i++)
        if (readings_of(m, f, i) != readings_of(m, f, 0)) return true;
    return false;
}

/* A hole read n times is worth n / (n s_b^2 + s_r^2): its own scatter s_b, that of reading s_r. */
static pp_status weigh_repeats(const pp_measures *m, const double scale[2], pp_arena *arena,
                               pp_error_field *f, pp_error *error)
{
    double reading;
    PP_TRY(pp_repeats_scatter(m->readings, arena, &reading, error));
    if (reading == 0) return PP_OK;
    size_t n = f->count;
    double *root, total = 0.5 * (scale[0] * scale[0] + scale[1] * scale[1]);
    PP_TAKE(root, arena, n);
    double inverse = 0, sum = 0;
    for (size_t i = 0; i < n; i++) inverse += 1.0 / readings_of(m, f, i);
    double own = fmax(total - reading * reading * inverse / (double)n, 0);
    for (size_t i = 0; i < n; i++) {
        double readings = readings_of(m, f, i);
        root[i] = readings / (readings * own + reading * reading);
        sum += root[i];
    }
    for (size_t i = 0; i < n; i++) root[i] = sqrt(root[i] * (double)n / sum);
    f->root_weight = root;
    return PP_OK;
}

static pp_status weigh_scale(const pp_local_scale *scale, pp_arena *arena, pp_error_field *f,
                             pp_error *error)
{
    double *root, l2 = f->radius * f->radius;
    PP_TAKE(root, arena, f->count);
    for (size_t i = 0; i < f->count; i++) {
        double r2 = l2 > 0 ? (f->x[i] * f->x[i] + f->y[i] * f->y[i]) / l2 : 0;
        root[i] = (f->root_weight ? f->root_weight[i] : 1) / pp_local_scale_at(scale, r2, f->s[i]);
    }
    f->root_weight = root;
    return PP_OK;
}

static void lay_extras(const pp_fitting_request *r, pp_fitting *fitting)
{
    int count = fitting->label_columns = r->label_columns;
    if (count > 0) memcpy(fitting->extra, r->labels, (size_t)count * sizeof *r->labels);
    fitting->component_count = r->component_count;
    for (int k = 0; k < r->component_count; k++) {
        fitting->component[k] = r->components[k];
        fitting->extra_of[k] = count;
        for (int part = 0; part < pp_family_parts(r->components[k].family); part++)
            for (int axis = 0; axis < 2; axis++)
                fitting->extra[count++] = (pp_extra_column){.way = axis ? PP_EXTRA_Y : PP_EXTRA_X,
                                                            .component = &fitting->component[k],
                                                            .part = part};
    }
    r->field->extra = fitting->extra;
    r->field->extra_count = count;
}

pp_status pp_fitting_solve(const pp_fitting_request *r, pp_arena *arena, pp_fitting *fitting,
                           pp_error *error)
{
    pp_error_field *f = r->field;
    lay_extras(r, fitting);
    f->root_weight = NULL;
    PP_TRY(pp_screen_terms(f, r->kept_out, r->threads, arena, &fitting->screen, error));
    PP_TAKE(fitting->fit.weight, arena, f->count);
    PP_TAKE(fitting->fit.residual[0], arena, f->count);
    PP_TAKE(fitting->fit.residual[1], arena, f->count);
    pp_robust_problem problem = pp_field_model_problem(&fitting->screen.model, r->threads);
    PP_TRY(pp_serial_solve(&problem, false, arena, &fitting->fit, &fitting->serial, error));
    if (repeats_differ(r->measures, f)) {
        PP_TRY(weigh_repeats(r->measures, fitting->fit.scale, arena, f, error));
        PP_TRY(pp_serial_solve(&problem, false, arena, &fitting->fit, &fitting->serial, error));
    }
    PP_TRY(pp_local_scale_find(f, &fitting->fit, arena, &fitting->scale, error));
    fitting->weighed = fitting->scale.p < PP_UNEVEN_WEIGHED;
    if (fitting->weighed) PP_TRY(weigh_scale(&fitting->scale, arena, f, error));
    if (fitting->scale.p < PP_UNEVEN_SANDWICH)
        PP_TRY(pp_serial_solve(&problem, true, arena, &fitting->fit, &fitting->serial, error));
    return PP_OK;
}
