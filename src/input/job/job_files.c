#include "input/job/job_files.h"

pp_status pp_job_each_file(pp_job *job, pp_job_file_visit visit, void *context, pp_error *error)
{
    pp_job_file *const files[] = {&job->survey.file,         &job->survey.underside,
                                  &job->survey.three_points, &job->support.file,
                                  &job->holes.nominal,       &job->holddown.clamp_candidates,
                                  &job->holes.measured,      &job->holes.ligaments,
                                  &job->holes.checks,        &job->holes.datum_points};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        if (files[i]->path) PP_TRY(visit(context, files[i], error));
    return PP_OK;
}
