#include "flatness/flatness.h"

#include <math.h>
#include <string.h>

#include "flatness/areas.h"
#include "flatness/map.h"
#include "flatness/straightedge.h"
#include "flatness/survey_size.h"
#include "flatness/thickness.h"

enum { CELLS = 32 /* of the mesh on the long side */ };
static const double slope_normal_min = 0.5; /* cos 60 degrees */

/* ---- frames ---- */

/* Unit vector of the survey axis that points away from the supports, in the survey's own frame. */
static void up_of(const pp_survey_frame *frame, double up[3])
{
    static const double axes[][3] = {
        [PP_UP_Z] = {0, 0, 1},        [PP_UP_X] = {1, 0, 0},        [PP_UP_Y] = {0, 1, 0},
        [PP_UP_MINUS_X] = {-1, 0, 0}, [PP_UP_MINUS_Y] = {0, -1, 0}, [PP_UP_MINUS_Z] = {0, 0, -1},
    };
    memcpy(up, axes[frame->up], 3 * sizeof *up);
}

pp_plane pp_plane_in_plate(const pp_survey_frame *frame, const pp_plane *plane)
{
    pp_survey_frame turn = *frame; /* directions are turned, not shifted */
    turn.origin_x = turn.origin_y = 0;
    pp_plane out;
    pp_survey_to_plate(frame, plane->point[0], plane->point[1], plane->point[2], &out.point[0],
                       &out.point[1], &out.point[2]);
    pp_survey_to_plate(&turn, plane->normal[0], plane->normal[1], plane->normal[2], &out.normal[0],
                       &out.normal[1], &out.normal[2]);
    return out;
}

pp_slope_form pp_plane_slopes(const pp_plane *plane)
{
    const double *n = plane->normal, *p = plane->point;
    if (!(n[2] >= slope_normal_min))
        return (pp_slope_form){.valid = false, .slope_x = NAN, .slope_y = NAN, .height = NAN};
    pp_slope_form out = {.valid = true, .slope_x = -n[0] / n[2], .slope_y = -n[1] / n[2]};
    out.height = p[2] - out.slope_x * p[0] - out.slope_y * p[1];
    return out;
}

/* Perpendicular distance of a surface above a plane of the plate frame, as a field[mesh->dofs]. */
static void deviation_field(const pp_surface *surface, const pp_plane *plane, double *field)
{
    const pp_mesh *mesh = surface->mesh;
    const double *n = plane->normal, *p = plane->point;
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            size_t d = 4 * pp_mesh_node(mesh, i, j);
            const double *w = surface->field + d;
            double x = mesh->x0 + (double)i * mesh->hx, y = mesh->y0 + (double)j * mesh->hy;
            field[d] = n[0] * (x - p[0]) + n[1] * (y - p[1]) + n[2] * (w[0] - p[2]);
            field[d + 1] = mesh->hx * n[0] + n[2] * w[1];
            field[d + 2] = mesh->hy * n[1] + n[2] * w[2];
            field[d + 3] = n[2] * w[3];
        }
}

/* ---- the study ---- */

typedef struct study {
    const pp_job *job;
    const pp_survey *survey, *underside;
    const pp_nominal *nominal;
    int threads;
    pp_memory *memory;
    pp_plane plane; /* least squares, plate frame */
    pp_flatness out;
} study;

static pp_status find_planes(study *s, pp_error *error)
{
    const pp_survey *survey = s->survey;
    pp_points points = {survey->count, survey->x, survey->y, survey->z};
    double up[3];
    up_of(&survey->frame, up);
    pp_flatness *out = &s->out;
    PP_TRY(pp_plane_least_squares(&points, up, s->threads, s->memory, &out->least_squares, error));
    PP_TRY(pp_plane_minimum_zone(&points, &out->least_squares, up, s->threads, s->memory,
                                 &out->minimum_zone, error));
    s->plane = pp_plane_in_plate(&survey->frame, &out->least_squares.plane);
    out->least_squares_slope = pp_plane_slopes(&s->plane);
    pp_plane zone = pp_plane_in_plate(&survey->frame, &out->minimum_zone.plane);
    out->minimum_zone_slope = pp_plane_slopes(&zone);
    return PP_OK;
}

static pp_status fit_surfaces(study *s, pp_error *error)
{
    pp_mesh *mesh;
    PP_TAKE(mesh, &s->memory->keep, 1);
    PP_TRY(pp_mesh_make(pp_job_outline(s->job), CELLS, s->memory, mesh, error));
    pp_surface_options options = {.uncertainty = s->job->survey.uncertainty, .threads = s->threads};
    PP_TRY(pp_surface_fit(s->survey, mesh, &options, s->memory, &s->out.surface, error));
    s->out.surface_valid = true;
    if (!s->underside) return PP_OK;
    pp_surface *underside;
    PP_TAKE(underside, &s->memory->keep, 1);
    PP_TRY(pp_surface_fit(s->underside, mesh, &options, s->memory, underside, error));
    s->out.underside = underside;
    return PP_OK;
}

/* What the readings prove of the flatness that the job has judged. */
static pp_status find_interval(study *s, pp_error *error)
{
    const pp_job *job = s->job;
    pp_interval_options options = {.uncertainty = job->survey.uncertainty,
                                   .uncertainty_form = job->survey.uncertainty_form,
                                   .smallest_feature = job->survey.smallest_feature,
                                   .least_squares =
                                       job->survey.flatness_zone == PP_ZONE_LEAST_SQUARES,
                                   .threads = s->threads};
    return pp_flatness_interval_find(s->survey, &s->out.least_squares, &s->out.minimum_zone,
                                     s->out.surface_valid ? &s->out.surface : NULL, &options,
                                     s->memory, &s->out.interval, error);
}

/* High areas, then low ones. */
static pp_status find_areas(study *s, const double *deviation, pp_error *error)
{
    double threshold = s->job->survey.area_threshold;
    if (!pp_given(threshold)) return PP_OK;
    pp_area_request request = {.mesh = s->out.surface.mesh,
                               .field = deviation,
                               .threshold = threshold,
                               .nominal = s->nominal};
    const pp_area *found[2];
    size_t count[2];
    for (int low = 0; low < 2; low++) {
        request.side = low ? PP_AREA_LOW : PP_AREA_HIGH;
        PP_TRY(pp_areas_find(&request, s->memory, &count[low], &found[low], error));
    }
    pp_area *areas;
    PP_TAKE(areas, &s->memory->keep, count[0] + count[1]);
    memcpy(areas, found[0], count[0] * sizeof *areas);
    memcpy(areas + count[0], found[1], count[1] * sizeof *areas);
    s->out.areas = areas;
    s->out.area_count = count[0] + count[1];
    return PP_OK;
}

/* Refuse what would take for ever: the search goes along the whole plate in parts of the length. */
static pp_status check_lengths(const study *s, const pp_mesh *mesh, pp_error *error)
{
    const double most = 1e4; /* some 10 s */
    const pp_job_list *lengths = &s->job->survey.straightedge;
    double extent = hypot(mesh->width, mesh->height);
    for (size_t i = 0; i < lengths->count; i++)
        if (lengths->values[i] * most < extent)
            return pp_fail_at(error, PP_EINPUT, *s->job->path ? s->job->path : NULL,
                              pp_job_key_line(s->job, "survey", "straightedge"), 0,
                              "a straightedge of %.9g mm is less than 1/%g of the plate, which is "
                              "%.9g mm across; is a unit wrong?",
                              lengths->values[i], most, extent);
    return PP_OK;
}

/* Gaps are measured square to the least-squares plane: the search runs over the deviations. */
static pp_status lay_straightedges(study *s, const double *deviation, pp_error *error)
{
    const pp_job_list *lengths = &s->job->survey.straightedge;
    if (lengths->count == 0) return PP_OK;
    pp_surface top = s->out.surface, underside;
    PP_TRY(check_lengths(s, top.mesh, error));
    top.field = deviation;
    if (s->out.underside) {
        double *below;
        PP_TAKE(below, &s->memory->scratch, top.mesh->dofs);
        deviation_field(s->out.underside, &s->plane, below);
        underside = *s->out.underside;
        underside.field = below;
    }
    pp_straightedge *found;
    PP_TAKE(found, &s->memory->keep, lengths->count);
    PP_TRY(pp_straightedge_search(&top, s->out.underside ? &underside : NULL, lengths->count,
                                  lengths->values, s->threads, s->memory, found, error));
    s->out.straightedge = found;
    s->out.straightedge_count = lengths->count;
    return PP_OK;
}

static pp_status study_surface(study *s, pp_error *error)
{
    const pp_mesh *mesh = s->out.surface.mesh;
    double *deviation;
    PP_TAKE(deviation, &s->memory->scratch, mesh->dofs);
    deviation_field(&s->out.surface, &s->plane, deviation);
    PP_TRY(find_areas(s, deviation, error));
    PP_TRY(lay_straightedges(s, deviation, error));
    pp_map map = pp_map_grid(mesh);
    PP_TRY(pp_map_sample(&map, mesh, s->out.surface.field, s->memory, &map.height, error));
    PP_TRY(pp_map_sample(&map, mesh, deviation, s->memory, &map.deviation, error));
    s->out.map = map;
    return PP_OK;
}

static pp_status study_underside(study *s, pp_error *error)
{
    pp_thickness_map t = {.valid = true,
                          .mean = NAN,
                          .smallest = NAN,
                          .largest = NAN,
                          .variation = NAN,
                          .smallest_x = NAN,
                          .smallest_y = NAN,
                          .largest_x = NAN,
                          .largest_y = NAN};
    if (s->out.underside)
        PP_TRY(pp_thickness_measure(&s->out.surface, s->out.underside, s->plane.normal, s->memory,
                                    &t, error));
    PP_TRY(pp_parallelism_measure(s->underside, &s->out.least_squares.plane, s->threads, s->memory,
                                  &t.parallelism, error));
    s->out.thickness = t;
    return PP_OK;
}

pp_status pp_flatness_study(const pp_job *job, const pp_survey *survey, const pp_survey *underside,
                            const pp_nominal *nominal, int threads, pp_memory *memory,
                            pp_flatness *result, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    study s = {.job = job,
               .survey = survey,
               .underside = underside,
               .nominal = nominal,
               .threads = threads,
               .memory = memory,
               .out = {.points = survey->count, .reading = survey->reading}};
    PP_TRY(pp_survey_check_size(job, survey, job->survey.file.path, error));
    if (underside) PP_TRY(pp_survey_check_size(job, underside, job->survey.underside.path, error));
    PP_TRY(find_planes(&s, error));
    if (job->plate.outline != PP_OUTLINE_NONE) {
        PP_TRY(fit_surfaces(&s, error));
        PP_TRY(study_surface(&s, error));
    }
    PP_TRY(find_interval(&s, error));
    if (underside) PP_TRY(study_underside(&s, error));
    pp_arena_release(&memory->scratch, mark);
    *result = s.out;
    return PP_OK;
}
