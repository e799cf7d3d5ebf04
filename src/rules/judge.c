#include "rules/counts.h"
#include "rules/misdrilled.h"

pp_hole_sizes pp_judge_sizes(const pp_limits *limits)
{
    double half = pp_misdrilled_below(limits);
    pp_diameter_bounds bounds = pp_bounds_of_hole(limits, NULL, PP_NONE);
    return (pp_hole_sizes){.go = bounds.lower,
                           .no_go = bounds.upper,
                           .no_go_max = bounds.outer,
                           .close_below = half > 0 ? half : 0};
}

pp_status pp_judge(const pp_job *job, const pp_limits *limits, const pp_flatness *flatness,
                   const pp_measures *measures, const pp_hole_files *files, int threads,
                   pp_memory *memory, pp_judgement *judgement, pp_error *error)
{
    pp_judgement out = {.limits = limits, .measures = measures, .files = files};
    out.job = job;
    pp_judging j = {.job = job,
                    .limits = limits,
                    .flatness = flatness,
                    .measures = measures,
                    .files = files,
                    .memory = memory,
                    .threads = threads,
                    .guard = job->rules.decision == PP_GUARDED ? PP_GUARD : 0,
                    .out = &out};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(pp_require_uncertainties(&j, error));
    PP_TRY(pp_find_all(&j, error));
    PP_TRY(pp_fold_all(&j, error));
    pp_hole_counts counts;
    if (measures) PP_TRY(pp_count_holes(&j, &counts, error));
    PP_TRY(pp_write_basis(&j, measures ? &counts : NULL, error));
    PP_TRY(pp_list_exceptions(&j, error));
    PP_TRY(pp_state_cautions(&j, measures ? &counts : NULL, error));
    pp_arena_release(&memory->scratch, mark);
    *judgement = out;
    return PP_OK;
}
