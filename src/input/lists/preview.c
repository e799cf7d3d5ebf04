#include "input/lists/preview.h"

#include <string.h>

#include "input/lists/commanded.h"

typedef struct preview {
    const pp_job *job;
    const pp_job_file *file;
    int threads;
    pp_memory *memory;
    pp_table_note *note;
} preview;

/* The nominal list for the names it holds; `none` where there is none to be had. */
static const pp_nominal *known_holes(const preview *p, pp_nominal *none)
{
    pp_table_note unused = {0};
    pp_error why;
    if (!p->job->holes.nominal.path) return NULL;
    pp_status status = pp_nominal_read_noted(p->job, p->threads, p->memory, &unused, none, &why);
    return status == PP_OK ? none : NULL;
}

static pp_status read_survey(const preview *p, pp_error *error)
{
    pp_survey survey;
    return pp_survey_read_noted(p->job, p->file, p->threads, p->memory, p->note, &survey, error);
}

static pp_status read_nominal(const preview *p, pp_error *error)
{
    pp_nominal nominal;
    return pp_nominal_read_noted(p->job, p->threads, p->memory, p->note, &nominal, error);
}

static pp_status read_commanded(const preview *p, pp_error *error)
{
    pp_nominal nominal;
    if (!known_holes(p, &nominal)) /* what is wrong with that list is told beside it */
        return pp_fail(error, PP_EINPUT, "the nominal list cannot be read; put it right first");
    return pp_commanded_read_noted(p->job, p->threads, p->memory, p->note, &nominal, error);
}

static pp_status read_measured(const preview *p, pp_error *error)
{
    pp_nominal nominal;
    pp_readings readings;
    return pp_measured_read_noted(p->job, p->file, known_holes(p, &nominal), p->threads, p->memory,
                                  p->note, &readings, error);
}

static pp_status read_ligaments(const preview *p, pp_error *error)
{
    pp_nominal nominal;
    pp_hole_files files;
    const pp_nominal *known = known_holes(p, &nominal);
    return pp_ligaments_read_noted(p->job, known ? &known->names : NULL, p->threads, p->memory,
                                   p->note, &files, error);
}

static pp_status read_checks(const preview *p, pp_error *error)
{
    pp_nominal nominal;
    pp_hole_files files;
    const pp_nominal *known = known_holes(p, &nominal);
    return pp_checks_read_noted(p->job, known ? &known->names : NULL, p->threads, p->memory,
                                p->note, &files, error);
}

static pp_status read_datum(const preview *p, pp_error *error)
{
    pp_hole_files files;
    return pp_datum_read_noted(p->job, p->threads, p->memory, p->note, &files, error);
}

static pp_status read_places(const preview *p, pp_error *error)
{
    pp_place_list places;
    return pp_places_read_noted(p->job, p->file, p->memory, p->note, &places, error);
}

typedef struct role_reader {
    const char *role;
    size_t file; /* in pp_job */
    pp_status (*read)(const preview *p, pp_error *error);
} role_reader;

#define FILE_AT(member) offsetof(pp_job, member)

static const role_reader READERS[] = {
    {"survey", FILE_AT(survey.file), read_survey},
    {"underside", FILE_AT(survey.underside), read_survey},
    {"nominal", FILE_AT(holes.nominal), read_nominal},
    {"commanded", FILE_AT(holes.commanded), read_commanded},
    {"measured", FILE_AT(holes.measured), read_measured},
    {"ligaments", FILE_AT(holes.ligaments), read_ligaments},
    {"checks", FILE_AT(holes.checks), read_checks},
    {"datum_points", FILE_AT(holes.datum_points), read_datum},
    {"pins", FILE_AT(support.file), read_places},
    {"three_points", FILE_AT(survey.three_points), read_places},
    {"thickness_points", FILE_AT(plate.thickness_points), read_places},
    {"outline", FILE_AT(plate.outline_file), read_places},
    {"clamp_candidates", FILE_AT(holddown.clamp_candidates), read_places},
};

static const role_reader *find_reader(const char *role)
{
    for (size_t i = 0; i < COUNT_OF(READERS); i++)
        if (strcmp(READERS[i].role, role) == 0) return &READERS[i];
    return NULL;
}

const char *pp_list_preview_role(size_t index)
{
    return index < COUNT_OF(READERS) ? READERS[index].role : NULL;
}

const pp_job_file *pp_list_preview_file(const pp_job *job, const char *role)
{
    const role_reader *reader = find_reader(role);
    return reader ? (const pp_job_file *)(const void *)((const char *)job + reader->file) : NULL;
}

/* What the file was refused for is in the note already, or is put there now. */
static pp_status settle(const preview *p, pp_status status, pp_error *why, pp_error *error)
{
    if (status == PP_EINPUT && p->note->problem_count == 0) {
        const char *text = pp_arena_text(&p->memory->keep, why->message, strlen(why->message));
        if (!text) return pp_fail_memory(error);
        p->note->problems[p->note->problem_count++] = (pp_problem){why->line, why->column, text};
    }
    if (status == PP_OK || status == PP_EINPUT) return PP_OK;
    return pp_fail_at(error, status, why->file, why->line, why->column, "%s", why->message);
}

pp_status pp_list_preview(const pp_job *job, const char *role, int threads, pp_memory *memory,
                          pp_table_note *note, pp_error *error)
{
    const role_reader *reader = find_reader(role);
    if (!reader)
        return pp_fail(error, PP_EINPUT, "'%s' is no file that a job has; name a role of the job",
                       role);
    pp_table_note found = {0};
    preview p = {.job = job,
                 .file = pp_list_preview_file(job, role),
                 .threads = threads,
                 .memory = memory,
                 .note = &found};
    if (!p.file->path)
        return pp_fail(error, PP_ENOTHING, "the job names no file for %s; add it", role);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_error why = {0};
    pp_status status = settle(&p, reader->read(&p, &why), &why, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *note = found;
    return status;
}
