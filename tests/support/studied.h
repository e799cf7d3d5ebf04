/* A hold-down study of a known shape with its judgement and its words, as the tests make it. */
#ifndef PP_TESTS_STUDIED_H
#define PP_TESTS_STUDIED_H

#include "answer/holddown_words.h"
#include "support/holdplates.h"

enum { STUDIED_HOLES_MOST = 24 };

typedef struct studied {
    pp_memory memory;
    pp_mesh mesh;
    pp_flatness flatness;
    pp_nominal nominal; /* of x, y: set by the test before test_study */
    double x[STUDIED_HOLES_MOST], y[STUDIED_HOLES_MOST];
    pp_holddown result;
    pp_holddown_judgement judged;
    pp_holddown_words words;
} studied;

/* Study the holes of s on a mesh of `cells` a side. pitch of the survey: NAN is none stated. */
static inline pp_status test_study(const pp_job *job, test_shape shape, size_t cells, double pitch,
                                   const pp_holddown_options *options, studied *s, pp_error *error)
{
    PP_TRY(pp_mesh_make(pp_job_outline(job), cells, &s->memory, &s->mesh, error));
    s->flatness = test_flatness(&s->mesh, test_field(&s->mesh, shape, &s->memory));
    if (!isnan(pitch)) s->flatness.surface.pitch = pitch;
    PP_TRY(
        pp_holddown_study(job, &s->flatness, &s->nominal, options, &s->memory, &s->result, error));
    PP_TRY(pp_holddown_judge(job, &s->result, &s->memory, &s->judged, error));
    return pp_holddown_say(job, &s->result, &s->judged, &s->memory, &s->words, error);
}

#endif
