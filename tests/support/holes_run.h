/* The hole stages of a job, for tests: from the job file to the judgement. */
#ifndef PP_TESTS_HOLES_RUN_H
#define PP_TESTS_HOLES_RUN_H

#include "answer/results.h"
#include "support/place.h"

typedef struct holes_run {
    pp_memory memory;
    pp_job job;
    pp_hole_files files;
    pp_measures measures;
    pp_limits limits;
    pp_judgement judgement;
    pp_work_list work;
    pp_results results; /* points at the rest */
} holes_run;

/* Zero-initialise *run; free run->memory afterwards. */
static inline pp_status holes_run_judge(holes_run *run, int threads, pp_error *error)
{
    double pitch;
    PP_TRY(pp_pitch_find(run->job.holes.pitch, &run->files.nominal, threads, &run->memory, &pitch,
                         error));
    PP_TRY(pp_limits_resolve(&run->job, pitch, &run->memory, &run->limits, error));
    pp_hole_sizes sizes = pp_judge_sizes(&run->limits);
    PP_TRY(pp_measures_take(&run->job, &run->files, pitch, &sizes, threads, &run->memory,
                            &run->measures, error));
    PP_TRY(pp_judge(
        &(pp_judge_request){&run->job, &run->limits, NULL, &run->measures, &run->files, threads},
        &run->memory, &run->judgement, error));
    PP_TRY(pp_work_list_make(&run->judgement, &run->memory, &run->work, error));
    run->results = (pp_results){.job = &run->job,
                                .command = "holes",
                                .files = &run->files,
                                .measures = &run->measures,
                                .limits = &run->limits,
                                .judgement = &run->judgement,
                                .work = &run->work};
    return PP_OK;
}

static inline pp_status holes_run_file(holes_run *run, const char *path, int threads,
                                       pp_error *error)
{
    PP_TRY(pp_job_read(path, &run->memory, &run->job, error));
    PP_TRY(pp_holelist_read(&run->job, threads, &run->memory, &run->files, error));
    return holes_run_judge(run, threads, error);
}

/* The same from texts: a job file without the lines `nominal =` and `measured =`, and the two
 * lists. `more` (may be NULL) is written to more.csv for the job to name. */
typedef struct holes_texts {
    const char *job, *nominal, *measured, *more;
} holes_texts;

static inline pp_status holes_run_texts(holes_run *run, holes_texts texts, int threads,
                                        pp_error *error)
{
    test_place place = test_place_make();
    test_write(test_path(&place, "job.ini"), texts.job);
    test_write(test_path(&place, "nominal.csv"), texts.nominal);
    if (texts.measured) test_write(test_path(&place, "measured.csv"), texts.measured);
    if (texts.more) test_write(test_path(&place, "more.csv"), texts.more);
    *run = (holes_run){0};
    pp_status status = holes_run_file(run, test_path(&place, "job.ini"), threads, error);
    test_place_remove(&place);
    return status;
}

#endif
