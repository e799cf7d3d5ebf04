/* What the survey says of the plate: the `flatness` section of the results. Numbers only; the
 * verdicts are made in rules/findings. */
#ifndef PP_FLATNESS_FLATNESS_H
#define PP_FLATNESS_FLATNESS_H

#include "flatness/areas.h"
#include "flatness/flatness_interval.h"
#include "flatness/map.h"
#include "flatness/straightedge.h"
#include "flatness/thickness.h"
#include "input/lists/holelist.h"
#include "planes/plane.h"

typedef struct pp_slope_form { /* z = slope_x x + slope_y y + height, plate frame */
    bool valid;                /* normal within 60 degrees of up */
    double slope_x, slope_y, height;
} pp_slope_form;

typedef struct pp_flatness {
    size_t points;
    pp_least_squares least_squares; /* survey's own frame */
    pp_slope_form least_squares_slope;
    pp_minimum_zone minimum_zone; /* survey's own frame */
    pp_slope_form minimum_zone_slope;
    pp_flatness_interval interval; /* of the flatness judged: the job's flatness_zone */
    bool surface_valid; /* false: no outline given, so no surface, straightedge, areas or map */
    pp_surface surface;
    size_t straightedge_count;
    const pp_straightedge *straightedge;
    size_t area_count; /* high and low */
    const pp_area *areas;
    pp_map map;
    pp_thickness_map thickness;
    const pp_table_reading *reading; /* of the survey */
    const pp_surface *underside;     /* NULL without a second survey or an outline */
} pp_flatness;

/* The flatness study of a survey.
 *
 * given    job        outline, uncertainty, area_threshold, straightedge lengths
 *          survey     of the top; needs 3 points not in a line
 *          underside  a second survey, in the same frame; NULL: none
 *          nominal    holes counted in areas; NULL: none
 *          threads    the results are the same bits for any number
 * memory   keep       everything the result points to
 * errors   those of the planes, the mesh and the surface fit
 *
 * Without an outline the planes (and the parallelism) are all there is. Areas need area_threshold.
 * The gap beneath belongs to whoever knows the supports (pp_holddown_map_gap).
 */
pp_status pp_flatness_study(const pp_job *job, const pp_survey *survey, const pp_survey *underside,
                            const pp_nominal *nominal, int threads, pp_memory *memory,
                            pp_flatness *result, pp_error *error);

/* A plane of the survey's own frame in the plate frame. */
pp_plane pp_plane_in_plate(const pp_survey_frame *frame, const pp_plane *plane);
/* Of a plane in the plate frame. */
pp_slope_form pp_plane_slopes(const pp_plane *plane);

#endif
