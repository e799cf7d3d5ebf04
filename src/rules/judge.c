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

pp_status pp_judge(const pp_judge_request *request, pp_memory *memory, pp_judgement *judgement,
                   pp_error *error)
{
    const pp_measures *measures = request->measures;
    pp_judgement out = {.job = request->job,
                        .limits = request->limits,
                        .measures = measures,
                        .files = request->files};
    pp_judging j = {.job = request->job,
                    .limits = request->limits,
                    .flatness = request->flatness,
                    .measures = measures,
                    .files = request->files,
                    .memory = memory,
                    .threads = request->threads,
                    .guard = request->job->rules.decision == PP_GUARDED ? PP_GUARD : 0,
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
