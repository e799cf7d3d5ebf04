#include "holddown/setup.h"

static const double GRAVITY = 9.80665;      /* m/s2, standard */
static const double TOUCH_GAP_LEAST = 0.02; /* mm; finer is noise of any survey */

double pp_plate_rigidity(const pp_plate_spec *plate)
{
    double t = plate->thickness, nu = plate->poisson_ratio;
    return plate->elastic_modulus * t * t * t / (12 * (1 - nu * nu));
}

double pp_plate_weight(const pp_plate_spec *plate, double area)
{
    double thickness = plate->measured ? plate->measured->plate_mean : plate->thickness;
    return plate->density * 1e-9 * area * thickness * GRAVITY; /* kg/m3 and mm3 */
}

double pp_foot_radius(const pp_foot *foot)
{
    double outer = foot->outer_diameter, inner = foot->inner_diameter;
    if (!pp_given(outer) && !pp_given(inner)) return 0;
    if (!pp_given(inner)) inner = outer;
    if (!pp_given(outer)) outer = inner;
    return (outer + inner) / 4;
}

pp_plate_spec pp_plate_spec_of(const pp_job *job)
{
    return (pp_plate_spec){.thickness = job->plate.thickness,
                           .elastic_modulus = job->plate.elastic_modulus,
                           .poisson_ratio = job->plate.poisson_ratio,
                           .density = job->plate.density};
}

pp_foot pp_foot_of(const pp_job *job)
{
    return (pp_foot){.force = job->foot.force,
                     .thrust = job->foot.thrust,
                     .outer_diameter = job->foot.outer_diameter,
                     .inner_diameter = job->foot.inner_diameter};
}

pp_support_spec pp_support_spec_of(const pp_job *job, double standard_error,
                                   const pp_place_list *pins, const pp_place_list *three)
{
    double touch_gap = job->support.touch_gap;
    return (pp_support_spec){
        .pins = pins,
        .pins_file = job->support.file.path,
        .seat = job->support.seat,
        .height = job->support.height,
        .touch_gap = pp_given(touch_gap) ? touch_gap : fmax(2 * standard_error, TOUCH_GAP_LEAST),
        .laid = job->survey.laid,
        .three = three,
        .three_file = job->survey.three_points.path};
}

pp_hold_setup pp_hold_setup_of(const pp_job *job, double standard_error, const pp_place_list *pins,
                               const pp_place_list *three)
{
    return (pp_hold_setup){.plate = pp_plate_spec_of(job),
                           .foot = pp_foot_of(job),
                           .supports = pp_support_spec_of(job, standard_error, pins, three)};
}
