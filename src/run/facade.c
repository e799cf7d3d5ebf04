/* The installed interface over the stages. */
#include "plateproof/plateproof.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/lists/spacing.h"
#include "planes/plane.h"
#include "report/folder/write.h"
#include "report/json/json.h"
#include "run/run.h"

static pp_outcome outcome_of(pp_verdict verdict)
{
    switch (verdict) {
    case PP_NOT_JUDGED:
        return PP_OUTCOME_NOT_JUDGED;
    case PP_CONFORMS:
        return PP_OUTCOME_CONFORMS;
    case PP_NOT_PROVEN:
        return PP_OUTCOME_NOT_PROVEN;
    case PP_DOES_NOT_CONFORM:
        break;
    }
    return PP_OUTCOME_DOES_NOT_CONFORM;
}

/* ---- planes ---- */

static pp_status all_finite(size_t count, const double *values, const char *name, pp_error *error)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(values[i]))
            return pp_fail(error, PP_EINPUT, "%s[%zu] is not a finite number; leave it out", name,
                           i);
    return PP_OK;
}

static pp_status fit_planes(const pp_points *points, pp_memory *memory, pp_plane_fit *fit,
                            pp_error *error)
{
    static const double up[3] = {0, 0, 1};
    pp_least_squares ls;
    pp_minimum_zone zone;
    PP_TRY(all_finite(points->count, points->x, "x", error));
    PP_TRY(all_finite(points->count, points->y, "y", error));
    PP_TRY(all_finite(points->count, points->z, "z", error));
    PP_TRY(pp_plane_least_squares(points, up, 1, memory, &ls, error));
    PP_TRY(pp_plane_minimum_zone(points, &ls, up, 1, memory, &zone, error));
    *fit = (pp_plane_fit){.flatness = ls.flatness,
                          .peak = ls.peak,
                          .valley = ls.valley,
                          .rms = ls.rms,
                          .zone_flatness = zone.flatness,
                          .zone_exact = zone.exact};
    memcpy(fit->normal, ls.plane.normal, sizeof fit->normal);
    memcpy(fit->point, ls.plane.point, sizeof fit->point);
    memcpy(fit->zone_normal, zone.plane.normal, sizeof fit->zone_normal);
    memcpy(fit->zone_point, zone.plane.point, sizeof fit->zone_point);
    return PP_OK;
}

pp_status pp_fit_planes(size_t count, const double *x, const double *y, const double *z,
                        pp_plane_fit *fit, pp_error *error)
{
    pp_memory memory = {0};
    pp_status status = fit_planes(&(pp_points){count, x, y, z}, &memory, fit, error);
    pp_memory_free(&memory);
    return status;
}

/* ---- ligaments ---- */

/* The caller's array as the two lists that the stages take: holes named 1, 2, 3, ... */
static pp_status list_holes(size_t count, const pp_drilled_hole *holes, pp_arena *keep,
                            pp_hole_files *files, pp_error *error)
{
    enum { NAME_ROOM = 24 };
    double *column[5];
    const char **names;
    char *text;
    uint8_t *kind, *face;
    uint32_t *round;
    long *line;
    for (int c = 0; c < 5; c++) PP_TAKE(column[c], keep, count);
    PP_TAKE(names, keep, count);
    PP_TAKE(text, keep, count * NAME_ROOM);
    PP_TAKE_ZERO(kind, keep, count);
    PP_TAKE_ZERO(face, keep, count);
    PP_TAKE(round, keep, count);
    PP_TAKE(line, keep, count);
    if (count == 0) return pp_fail(error, PP_EINPUT, "no hole was given; give at least one");
    for (size_t i = 0; i < count; i++) {
        const double values[5] = {holes[i].nominal_x, holes[i].nominal_y, holes[i].x, holes[i].y,
                                  holes[i].diameter};
        for (int c = 0; c < 5; c++) column[c][i] = values[c];
        PP_TRY(all_finite(5, values, "a hole's value", error));
        if (!(holes[i].diameter > 0))
            return pp_fail(error, PP_EINPUT,
                           "the diameter of hole %zu is not above zero; leave the hole out", i);
        snprintf(text + i * NAME_ROOM, NAME_ROOM, "%zu", i + 1);
        names[i] = text + i * NAME_ROOM;
        round[i] = 1;
        line[i] = (long)i + 1;
    }
    *files = (pp_hole_files){
        .nominal = {.count = count, .name = names, .x = column[0], .y = column[1], .kind = kind},
        .measured_given = true,
        .measured = {.count = count,
                     .name = names,
                     .x = column[2],
                     .y = column[3],
                     .diameter = column[4],
                     .face = face,
                     .round = round,
                     .line = line}};
    return PP_OK;
}

static pp_status check_apart(const pp_nominal *nominal, pp_memory *memory, pp_error *error)
{
    pp_spacing_pair pair;
    PP_TRY(pp_spacing_find_close(nominal->x, nominal->y, nominal->count, &memory->scratch, &pair,
                                 error));
    if (!pair.found) return PP_OK;
    return pp_fail(error, PP_EINPUT,
                   "holes %zu and %zu have the same nominal centre; leave one out", pair.first,
                   pair.second);
}

static pp_status check_rule(const pp_ligament_rule *rule, pp_error *error)
{
    const double values[] = {rule->pitch, rule->standard, rule->minimum, rule->remainder_share};
    PP_TRY(all_finite(4, values, "a value of the rule", error));
    if (rule->pitch < 0 || rule->standard < rule->minimum || !(rule->minimum > 0))
        return pp_fail(
            error, PP_EINPUT,
            "the ligament rule is wrong; give a minimum above zero, a standard not below "
            "it and a pitch not below zero");
    if (rule->remainder_share < 0 || rule->remainder_share > 1)
        return pp_fail(error, PP_EINPUT,
                       "the remainder share is not between 0 and 1; give 0.04 for 4 %%");
    return PP_OK;
}

static pp_status judge_ligaments(size_t count, const pp_drilled_hole *holes,
                                 const pp_ligament_rule *rule, pp_memory *memory,
                                 pp_ligament_count *result, pp_error *error)
{
    pp_job job;
    pp_hole_files files;
    pp_limits limits;
    pp_measures measures;
    pp_judgement judgement;
    double pitch;
    PP_TRY(check_rule(rule, error));
    PP_TRY(pp_job_blank(memory, &job, error));
    PP_TRY(list_holes(count, holes, &memory->keep, &files, error));
    PP_TRY(check_apart(&files.nominal, memory, error));
    if (rule->pitch > 0) job.holes.pitch = rule->pitch;
    job.rules.ligament_standard.value = rule->standard;
    job.rules.ligament_minimum.value = rule->minimum;
    job.rules.remainder_share = rule->remainder_share;
    PP_TRY(pp_pitch_find(job.holes.pitch, &files.nominal, 1, memory, &pitch, error));
    PP_TRY(pp_limits_resolve(&job, pitch, memory, &limits, error));
    pp_hole_sizes sizes = pp_judge_sizes(&limits);
    PP_TRY(pp_measures_take(&job, &files, pitch, &sizes, 1, memory, &measures, error));
    const pp_judge_request request = {
        .job = &job, .limits = &limits, .measures = &measures, .files = &files, .threads = 1};
    PP_TRY(pp_judge(&request, memory, &judgement, error));
    const pp_count_rule *counts = &judgement.ligament_fold.rule;
    *result = (pp_ligament_count){.pairs = counts->in + counts->remainder + counts->out,
                                  .standard = counts->in,
                                  .in_remainder = counts->remainder,
                                  .thin = counts->out,
                                  .remainder_allowed = counts->remainder_allowed,
                                  .smallest = judgement.ligament_fold.smallest,
                                  .mean = judgement.ligament_fold.mean,
                                  .smallest_a = judgement.ligament_fold.smallest_a,
                                  .smallest_b = judgement.ligament_fold.smallest_b,
                                  .outcome = outcome_of(judgement.section[PP_LIGAMENT].verdict)};
    return PP_OK;
}

pp_status pp_judge_ligaments(size_t count, const pp_drilled_hole *holes,
                             const pp_ligament_rule *rule, pp_ligament_count *result,
                             pp_error *error)
{
    pp_memory memory = {0};
    pp_status status = judge_ligaments(count, holes, rule, &memory, result, error);
    pp_memory_free(&memory);
    return status;
}

/* ---- whole jobs ---- */

static pp_status inspect_job(const char *job_path, const char *folder, int threads,
                             pp_memory *memory, pp_outcome *outcome, pp_text *json, pp_error *error)
{
    pp_job job;
    pp_results results;
    pp_run_options options = {.scope = PP_SCOPE_ALL, .threads = threads};
    pp_report_options report = {.threads = threads};
    PP_TRY(pp_job_read(job_path, memory, &job, error));
    PP_TRY(pp_run(&job, &options, memory, &results, error));
    results.date = job.date;
    if (json) PP_TRY(pp_json_write(&results, folder, json, error));
    if (folder) PP_TRY(pp_report_write(&results, folder, &report, memory, error));
    *outcome = outcome_of(results.judgement->verdict);
    return PP_OK;
}

pp_status pp_inspect_job(const char *job_path, const char *folder, int threads, pp_outcome *outcome,
                         char **json, pp_error *error)
{
    pp_memory memory = {0};
    pp_text text = {0};
    if (threads < 1 || threads > 256)
        return pp_fail(error, PP_EINPUT,
                       "threads is not from 1 to 256; give the number of processors");
    pp_status status =
        inspect_job(job_path, folder, threads, &memory, outcome, json ? &text : NULL, error);
    if (status == PP_OK && json)
        *json = text.data;
    else
        pp_text_free(&text);
    pp_memory_free(&memory);
    return status;
}

void pp_release(char *json) { free(json); }
