/* Processor time of `plateproof flatness`, part by part, in the order in which the program does
 * them.
 *
 *     bench_flatness_parts JOB [THREADS]    a line a part: milliseconds, of these in the kernel,
 * page faults
 *
 * One process does each part once, as the program does: what is slow the first time is slow here.
 * Areas and straightedges are sought on the heights themselves, not above the least-squares plane,
 * and what is read and fitted is done again before the pages, which need all results: that line is
 * no part of a run.
 */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>

#include "flatness/areas.h"
#include "flatness/flatness_interval.h"
#include "flatness/straightedge.h"
#include "linalg/linalg.h"
#include "planes/plane.h"
#include "report/certificate/fonts.h"
#include "report/folder/write.h"
#include "run/run.h"

typedef struct moment {
    double all, kernel;
    long faults;
} moment;

static moment now(void)
{
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    double kernel = 1e3 * (double)u.ru_stime.tv_sec + 1e-3 * (double)u.ru_stime.tv_usec;
    return (moment){1e3 * (double)u.ru_utime.tv_sec + 1e-3 * (double)u.ru_utime.tv_usec + kernel,
                    kernel, u.ru_minflt};
}

static void tell(const char *part, moment *since)
{
    moment m = now();
    printf("%-22s %8.2f %8.2f %8ld\n", part, m.all - since->all, m.kernel - since->kernel,
           m.faults - since->faults);
    *since = now();
}

typedef struct parts {
    pp_job job;
    pp_survey survey;
    pp_least_squares plane;
    pp_minimum_zone zone;
    pp_mesh mesh;
    pp_surface surface;
    int threads;
    pp_memory memory;
    moment at;
} parts;

static pp_status fit(parts *p, pp_error *error)
{
    static const double up[3] = {0, 0, 1};
    const pp_job *job = &p->job;
    PP_TRY(pp_survey_read(job, &job->survey.file, p->threads, &p->memory, &p->survey, error));
    tell("reading", &p->at);
    pp_points points = {p->survey.count, p->survey.x, p->survey.y, p->survey.z};
    PP_TRY(pp_plane_least_squares(&points, up, p->threads, &p->memory, &p->plane, error));
    PP_TRY(pp_plane_minimum_zone(&points, &p->plane, up, p->threads, &p->memory, &p->zone, error));
    tell("planes and zone", &p->at);
    pp_surface_options options = {.uncertainty = job->survey.uncertainty, .threads = p->threads};
    PP_TRY(pp_mesh_make(pp_job_outline(job), 32, &p->memory, &p->mesh, error));
    PP_TRY(pp_surface_fit(&p->survey, &p->mesh, &options, &p->memory, &p->surface, error));
    tell("surface and its check", &p->at);
    return PP_OK;
}

static pp_status study(parts *p, pp_error *error)
{
    const pp_job *job = &p->job;
    const pp_area *areas;
    size_t count;
    pp_area_request request = {
        .mesh = &p->mesh, .field = p->surface.field, .threshold = job->survey.area_threshold};
    for (int low = 0; low < 2; low++) {
        request.side = low ? PP_AREA_LOW : PP_AREA_HIGH;
        PP_TRY(pp_areas_find(&request, &p->memory, &count, &areas, error));
    }
    tell("areas", &p->at);
    const pp_job_list *lengths = &job->survey.straightedge;
    pp_straightedge *found = pp_arena_take(&p->memory.keep, lengths->count, sizeof *found);
    if (!found) return pp_fail_memory(error);
    PP_TRY(pp_straightedge_search(&p->surface, NULL, lengths->count, lengths->values, p->threads,
                                  &p->memory, found, error));
    tell("straightedges", &p->at);
    pp_interval_options interval = {.uncertainty = job->survey.uncertainty,
                                    .uncertainty_form = job->survey.uncertainty_form,
                                    .smallest_feature = job->survey.smallest_feature,
                                    .threads = p->threads};
    pp_flatness_interval range;
    PP_TRY(pp_flatness_interval_find(&p->survey, &p->plane, &p->zone, &p->surface, &interval,
                                     &p->memory, &range, error));
    tell("range of the flatness", &p->at);
    return PP_OK;
}

static pp_status make_pages(parts *p, pp_error *error)
{
    pp_results results;
    pp_run_options run = {.scope = PP_SCOPE_FLATNESS, .threads = p->threads};
    PP_TRY(pp_run(&p->job, &run, &p->memory, &results, error));
    tell("(all of it again)", &p->at);
    pp_report_options options = {.threads = p->threads};
    for (int page = 0; page < PP_PAGE_COUNT; page++) {
        pp_text text = {0};
        if (!pp_report_page_is_due(&results, (pp_report_page)page)) continue;
        PP_TRY(pp_report_page_make(&results, (pp_report_page)page, "/tmp", &options, &text, error));
        pp_text_free(&text);
        tell(pp_report_page_name((pp_report_page)page), &p->at);
    }
    return PP_OK;
}

int main(int argc, char **argv)
{
    parts p = {.threads = argc > 2 ? atoi(argv[2]) : 1};
    pp_error error = {0};
    if (argc < 2) return 2;
    tell("start", &p.at);
    pp_blas_single_thread();
    pp_fonts_expect_no_others();
    pp_status status = pp_job_read(argv[1], &p.memory, &p.job, &error);
    tell("job file", &p.at);
    if (status == PP_OK) status = fit(&p, &error);
    if (status == PP_OK) status = study(&p, &error);
    if (status == PP_OK) status = make_pages(&p, &error);
    if (status != PP_OK) fprintf(stderr, "%s\n", error.message);
    pp_memory_free(&p.memory);
    return status != PP_OK;
}
