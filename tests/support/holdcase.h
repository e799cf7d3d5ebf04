/* The jobs of data/reference/holddown: read, solved, and what is expected of them. */
#ifndef PP_TESTS_HOLDCASE_H
#define PP_TESTS_HOLDCASE_H

#include <jansson.h>

#include "rules/holddown_rules.h"
#include "support/check.h"

typedef struct holdcase {
    pp_memory memory;
    pp_job job;
    pp_nominal nominal;
    pp_survey survey;
    pp_mesh mesh;
    pp_flatness flatness;
    pp_holddown holddown;
    json_t *expected;
} holdcase;

static inline void holdcase_read(const char *name, holdcase *s)
{
    char path[1000];
    pp_error error = {0};
    *s = (holdcase){0};
    snprintf(path, sizeof path, PP_SOURCE_DIR "/data/reference/holddown/%s/job.ini", name);
    assert_ok(pp_job_read(path, &s->memory, &s->job, &error), &error);
    assert_ok(pp_nominal_read(&s->job, 1, &s->memory, &s->nominal, &error), &error);
    assert_ok(pp_survey_read(&s->job, &s->job.survey.file, 1, &s->memory, &s->survey, &error),
              &error);
    snprintf(path, sizeof path, PP_SOURCE_DIR "/data/reference/holddown/%s/expected.json", name);
    s->expected = json_load_file(path, 0, NULL);
    assert_non_null(s->expected);
}

static inline void holdcase_solve(holdcase *s, size_t cells, int threads)
{
    pp_error error = {0};
    pp_surface_options options = {s->job.survey.uncertainty, threads};
    assert_ok(pp_mesh_make(pp_job_outline(&s->job), cells, &s->memory, &s->mesh, &error), &error);
    s->flatness.surface_valid = true;
    assert_ok(
        pp_surface_fit(&s->survey, &s->mesh, &options, &s->memory, &s->flatness.surface, &error),
        &error);
    pp_holddown_options study = {.threads = threads, .remedies = pp_hold_remedies_of};
    assert_ok(pp_holddown_study(&s->job, &s->flatness, &s->nominal, &study, &s->memory,
                                &s->holddown, &error),
              &error);
}

static inline void holdcase_release(holdcase *s)
{
    json_decref(s->expected);
    pp_memory_free(&s->memory);
}

static inline double holdcase_expected(const holdcase *s, const char *object, const char *key)
{
    return json_number_value(json_object_get(json_object_get(s->expected, object), key));
}

typedef enum column { GAP, GAP_UNDER_FOOT, FORCE, TILT, COLUMNS } column;

static inline double holdcase_value(const pp_hold *h, column which)
{
    switch (which) {
    case GAP:
        return h->gap;
    case GAP_UNDER_FOOT:
        return h->gap_under_foot;
    case FORCE:
        return h->force_to_close / 1000;
    default:
        return h->tilt;
    }
}

#endif
