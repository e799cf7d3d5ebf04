/* Each plate corrected by the others: the last word on what helps. */
#include <math.h>
#include <string.h>

#include "causes/error_field.h"
#include "correction/parts.h"

static const double GAIN_MIN = 0.01; /* of the mean square, for the field to stay */

/* The coefficients that the other plates give to the terms chosen, as of the next list's radius. */
static void learn_without(const pp_correction *o, size_t without, double c[PP_STATIC_TERMS])
{
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        double value[PP_CORRECTION_PLATES_MAX], error[PP_CORRECTION_PLATES_MAX];
        size_t n = 0;
        c[k] = 0;
        if (o->terms[k].state != PP_TERM_CORRECTED) continue;
        for (size_t p = 0; p < o->plate_count; p++)
            if (p != without)
                value[n] = o->series[k].value[p], error[n++] = o->series[k].standard_error[p];
        c[k] = pp_term_shrink(value, error, n, o->series[k].gauge);
    }
}

/* Mean square of a plate's errors once c and the field (NULL: none) are taken out of them. */
static double mean_square_after(const pp_correcting *w, size_t p, const double c[PP_STATIC_TERMS],
                                const double *field, double *fx, double *fy)
{
    const pp_drilled_plate *plate = &w->out->plates[p];
    double bow = (plate->radius / w->radius) * (plate->radius / w->radius), n = 0, sum = 0;
    for (size_t i = 0; i < plate->count; i++) {
        fx[i] = plate->ex[i], fy[i] = plate->ey[i];
        for (int k = 0; k < PP_STATIC_TERMS; k++) {
            double own = pp_static_is_bow(k) ? c[k] * bow : c[k];
            fx[i] -= own * plate->ax[k][i], fy[i] -= own * plate->ay[k][i];
        }
        uint32_t at = w->at[p][i];
        if (!field || at == PP_NONE) continue;
        fx[i] -= field[at], fy[i] -= field[w->count + at];
    }
    pp_take_rigid_out(plate->holes.nominal_x, plate->holes.nominal_y, plate->good, plate->count, fx,
                      fy);
    for (size_t i = 0; i < plate->count; i++)
        if (plate->good[i]) n++, sum += fx[i] * fx[i] + fy[i] * fy[i];
    return sum / n;
}

typedef struct trial {
    double *before, *terms, *both; /* [plates] mean squares */
} trial;

static pp_status try_plates(pp_correcting *w, trial *t, pp_error *error)
{
    const pp_correction *o = w->out;
    pp_arena *scratch = &w->memory->scratch;
    size_t room = 0;
    double *fx, *fy, *field;
    for (size_t p = 0; p < o->plate_count; p++)
        room = o->plates[p].count > room ? o->plates[p].count : room;
    PP_TAKE(fx, scratch, room);
    PP_TAKE(fy, scratch, room);
    PP_TAKE(field, scratch, 2 * w->count);
    PP_TAKE(t->before, scratch, o->plate_count);
    PP_TAKE(t->terms, scratch, o->plate_count);
    PP_TAKE(t->both, scratch, o->plate_count);
    for (size_t p = 0; p < o->plate_count; p++) {
        double c[PP_STATIC_TERMS];
        pp_field_group groups[PP_FIELD_GROUPS];
        learn_without(o, p, c);
        t->before[p] = o->plates[p].mean_square;
        t->terms[p] = t->both[p] = mean_square_after(w, p, c, NULL, fx, fy);
        if (!w->has_field) continue;
        pp_field_learn(&w->data, p, groups, field);
        t->both[p] = mean_square_after(w, p, c, field, fx, fy);
    }
    return PP_OK;
}

/* The field stays where it gains more than its own standard error over the plates, and 1 %. */
static bool field_helps(const trial *t, size_t plates, double *gain)
{
    double n = (double)plates, mean = 0, square = 0, before = 0;
    for (size_t p = 0; p < plates; p++)
        mean += (t->terms[p] - t->both[p]) / n, before += t->terms[p] / n;
    for (size_t p = 0; p < plates; p++) {
        double left = t->terms[p] - t->both[p] - mean;
        square += left * left;
    }
    *gain = mean;
    return mean > sqrt(square / (n - 1) / n) && mean > GAIN_MIN * before;
}

/* From P - 1 plates to P the weight of what repeats grows. */
static double growth(const pp_correction *o)
{
    double sum = 0, weight = 0, plates = (double)o->plate_count;
    for (int g = 0; g < PP_FIELD_GROUPS; g++)
        if (o->groups[g].weight > 0)
            sum += (double)o->groups[g].coefficients * o->groups[g].weight,
                weight += (double)o->groups[g].coefficients;
    if (!(weight > 0)) return 1;
    double w = sum / weight;
    return w * (1 + plates / (plates - 1) * (1 - w) / w);
}

pp_status pp_correct_leave_out(pp_correcting *w, pp_error *error)
{
    pp_correction *o = w->out;
    trial t;
    pp_left_out_plate *left_out;
    pp_mark mark = pp_arena_mark(&w->memory->scratch);
    PP_TRY(try_plates(w, &t, error));
    double gain = 0;
    o->field_used = w->has_field && field_helps(&t, o->plate_count, &gain);
    if (o->field_used) {
        pp_field_learn(&w->data, o->plate_count, o->groups, w->field);
        w->field_cut = gain * growth(o);
    }
    PP_TAKE(left_out, &w->memory->keep, o->plate_count);
    for (size_t p = 0; p < o->plate_count; p++)
        left_out[p] =
            (pp_left_out_plate){sqrt(t.before[p]), sqrt(o->field_used ? t.both[p] : t.terms[p])};
    o->left_out = left_out, o->left_out_count = o->plate_count;
    pp_arena_release(&w->memory->scratch, mark);
    return PP_OK;
}
