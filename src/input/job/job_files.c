#include "input/job/job_files.h"

#include <stdint.h>

/* The layers are the job's own, const to everybody but who may change the job. */
static pp_status each_file_of_layers(pp_job *job, pp_job_file_visit visit, void *context,
                                     pp_error *error)
{
    pp_layer *layers = (pp_layer *)(uintptr_t)job->layers;
    for (size_t i = 0; i < job->layer_count; i++) {
        pp_job_file *const files[] = {&layers[i].survey, &layers[i].underside,
                                      &layers[i].three_points, &layers[i].measured};
        for (size_t k = 0; k < sizeof files / sizeof files[0]; k++)
            if (files[k]->path) PP_TRY(visit(context, files[k], error));
    }
    return PP_OK;
}

pp_status pp_job_each_file(pp_job *job, pp_job_file_visit visit, void *context, pp_error *error)
{
    pp_job_file *const files[] = {
        &job->survey.file,           &job->survey.underside,  &job->survey.three_points,
        &job->support.file,          &job->holes.nominal,     &job->holddown.clamp_candidates,
        &job->holes.measured,        &job->holes.ligaments,   &job->holes.checks,
        &job->holes.datum_points,    &job->roughing.measured, &job->holes.commanded,
        &job->holes.promise,         &job->holes.sample_list, &job->plate.outline_file,
        &job->plate.thickness_points};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        if (files[i]->path) PP_TRY(visit(context, files[i], error));
    return each_file_of_layers(job, visit, context, error);
}
