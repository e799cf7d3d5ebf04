/* What stands where in the files of a job: drawn by the page, placed by the stages of a run. */
#include <math.h>
#include <string.h>

#include "answer/reading_words.h"
#include "holes/measures.h"
#include "holes/pitch.h"
#include "input/lists/outline.h"
#include "input/lists/survey.h"
#include "rules/findings.h"
#include "rules/limits.h"
#include "serve/form.h"

enum { ROWS_MAX = 200000 }; /* measured rows that are matched for a picture: a second of work */

typedef struct picture {
    const pp_job *job;
    pp_memory *memory;
    json_t *told;
} picture;

/* ---- places ---- */

typedef struct places { /* of a kind; every step-th is shown */
    json_t *at;
    size_t count, step;
} places;

static places places_of(size_t most)
{
    return (places){json_array(), 0, 1 + most / (PP_PICTURE_PLACES_MAX + 1)};
}

static void add_number(json_t *at, double mm)
{
    json_array_append_new(at, json_integer((json_int_t)llround(100 * mm)));
}

static void add_place(places *p, double x, double y)
{
    if (p->count++ % p->step || !isfinite(x) || !isfinite(y)) return;
    add_number(p->at, x);
    add_number(p->at, y);
}

static void tell_places(const picture *p, const char *name, places *shown)
{
    json_object_set_new(
        p->told, name, json_pack("{s:o, s:I}", "at", shown->at, "count", (json_int_t)shown->count));
}

/* ---- the plate ---- */

static void follow_outline(void *context, double x, double y, bool begins)
{
    json_t *loops = context;
    if (begins) json_array_append_new(loops, json_array());
    json_t *loop = json_array_get(loops, json_array_size(loops) - 1);
    add_number(loop, x);
    add_number(loop, y);
}

static void tell_outline(const picture *p)
{
    json_t *loops = json_array();
    pp_outline_spec outline = pp_job_outline(p->job);
    if (outline.kind != PP_OUTLINE_NONE) pp_outline_trace(&outline, follow_outline, loops);
    json_object_set_new(p->told, "outline", loops);
}

static void tell_survey(const picture *p)
{
    pp_survey survey;
    const pp_job_file *file = &p->job->survey.file;
    pp_error why; /* is told where the files are */
    if (!file->path || pp_survey_read(p->job, file, 1, p->memory, &survey, &why) != PP_OK) return;
    places shown = places_of(survey.count);
    for (size_t i = 0; i < survey.count; i++) {
        double x, y, z;
        pp_survey_to_plate(&survey.frame, survey.x[i], survey.y[i], survey.z[i], &x, &y, &z);
        add_place(&shown, x, y);
    }
    tell_places(p, "survey", &shown);
}

/* ---- the holes ---- */

static void tell_drawn(const picture *p, const pp_nominal *nominal)
{
    places shown = places_of(nominal->count);
    for (size_t i = 0; i < nominal->count; i++) add_place(&shown, nominal->x[i], nominal->y[i]);
    tell_places(p, "drawn", &shown);
}

static void tell_unplaced(const picture *p, const pp_readings *readings, const char *why)
{
    places shown = places_of(readings->count);
    for (size_t i = 0; i < readings->count; i++) add_place(&shown, readings->x[i], readings->y[i]);
    tell_places(p, "unplaced", &shown);
    json_object_set_new(p->told, "why", json_string(why));
}

/* How the two lists met: in words as in the report, and how far the measured one was moved. */
static void tell_frame(const picture *p, const pp_hole_files *files, const pp_measures *m)
{
    const pp_alignment *a = &m->alignment;
    pp_results results = {.job = p->job, .files = files, .measures = m};
    pp_text words = {0};
    pp_matching_words(&words, &results);
    json_t *frame =
        json_pack("{s:s, s:f, s:f, s:f, s:b}", "words", words.length ? words.data : "", "angle_deg",
                  a->angle_deg, "dx", a->dx, "dy", a->dy, "turned_over", a->turned_over);
    if (isfinite(a->rms)) json_object_set_new(frame, "rms", json_real(a->rms));
    json_object_set_new(p->told, "frame", frame);
    pp_text_free(&words);
}

static void tell_matched(const picture *p, const pp_hole_files *files, const pp_measures *m)
{
    places found = places_of(m->bore_count), strange = places_of(m->bore_count - m->extra_first);
    places missing = places_of(m->unmeasured_count);
    for (size_t b = 0; b < m->bore_count; b++) {
        const pp_bore *bore = &m->bores[b];
        add_place(bore->hole == PP_NONE ? &strange : &found, bore->at.x, bore->at.y);
    }
    for (size_t i = 0; i < m->unmeasured_count; i++) {
        uint32_t hole = m->unmeasured[i];
        add_place(&missing, m->nominal->x[hole], m->nominal->y[hole]);
    }
    tell_places(p, "found", &found);
    tell_places(p, "strange", &strange);
    tell_places(p, "missing", &missing);
    tell_frame(p, files, m);
}

/* Measured holes laid on those of the drawing. */
static pp_status match(const picture *p, const pp_hole_files *files, pp_measures *measures,
                       pp_error *error)
{
    double pitch;
    pp_limits limits;
    PP_TRY(pp_pitch_find(p->job->holes.pitch, &files->nominal, 1, p->memory, &pitch, error));
    PP_TRY(pp_limits_resolve_unjudged(p->job, pitch, p->memory, &limits, error));
    pp_hole_sizes sizes = pp_judge_sizes(&limits);
    return pp_measures_take(p->job, files, pitch, &sizes, 1, p->memory, measures, error);
}

static void tell_holes(const picture *p)
{
    pp_hole_files files = {0};
    pp_measures measures;
    pp_error why = {0}, unread;
    bool drawn = p->job->holes.nominal.path, measured = p->job->holes.measured.path;
    bool both = drawn && measured;
    pp_status status = both ? pp_holelist_read(p->job, 1, p->memory, &files, &why) : PP_ENOTHING;
    bool whole = status == PP_OK;
    if (whole && files.measured.count > ROWS_MAX)
        status =
            pp_fail(&why, PP_ENOTHING, "the list is long; the report of a run shows the holes");
    else if (whole)
        status = match(p, &files, &measures, &why);
    if (!whole && drawn)
        drawn = pp_nominal_read(p->job, 1, p->memory, &files.nominal, &unread) == PP_OK;
    if (!whole && measured)
        measured = pp_readings_read(p->job, 1, p->memory, &files.measured, &unread) == PP_OK;
    if (drawn) tell_drawn(p, &files.nominal);
    if (status == PP_OK)
        tell_matched(p, &files, &measures);
    else if (measured)
        tell_unplaced(p, &files.measured, both ? why.message : "no list of the holes as drawn yet");
}

pp_status pp_form_picture(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    pp_memory memory = {0};
    pp_job job;
    pp_status status = pp_form_job(server, asked, &memory, &job, error);
    if (status == PP_OK) status = pp_outline_read(&job, &memory, NULL, error);
    if (status == PP_OK) {
        picture p = {&job, &memory, json_object()};
        tell_outline(&p);
        tell_survey(&p);
        tell_holes(&p);
        *answer = p.told;
    }
    if (status == PP_EINPUT) { /* pp_form_check tells what is wrong */
        *answer = json_pack("{s:[]}", "outline");
        status = PP_OK;
    }
    pp_memory_free(&memory);
    return status;
}
