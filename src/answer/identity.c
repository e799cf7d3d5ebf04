#include "answer/identity.h"

#include <stdio.h>
#include <string.h>

#include "answer/for_people.h"
#include "answer/left_out.h"
#include "answer/summary.h"

enum { HASH_SHOWN = 12 };

static const char *sha256_of(const pp_results *results, const char *role)
{
    for (size_t i = 0; i < results->input_count; i++)
        if (strcmp(results->inputs[i].role, role) == 0) return results->inputs[i].sha256;
    return NULL;
}

/* A plate that is more than a disc or a rectangle. */
static void add_cut_out(pp_text *text, const pp_job *job)
{
    pp_length_unit units = job->units;
    pp_outline_spec outline = pp_job_outline(job);
    pp_box box = pp_outline_box(&outline);
    if (outline.kind == PP_OUTLINE_POLYGON) {
        pp_text_print(text, "polygon of %zu corners, ", outline.corner_count);
        pp_people_size(text, units, box.x1 - box.x0);
        pp_text_add(text, " by ");
        pp_people_size(text, units, box.y1 - box.y0);
        return;
    }
    bool ring = outline.kind == PP_OUTLINE_ANNULUS;
    pp_text_add(text, ring ? "ring, diameter " : "disc, diameter ");
    pp_people_size(text, units, outline.diameter);
    pp_text_add(text, ring ? ", opening " : ", cut ");
    pp_people_size(text, units, ring ? outline.inner_diameter : outline.cut_height);
    if (outline.kind == PP_OUTLINE_DOUBLE_SEGMENT) pp_text_add(text, " off two sides");
    if (outline.kind == PP_OUTLINE_SEGMENT) pp_text_add(text, " off one side");
}

static void add_plate(pp_text *text, const pp_results *r)
{
    const pp_job *job = r->job;
    pp_length_unit units = job->units;
    if (job->plate.outline == PP_OUTLINE_DISC) {
        pp_text_add(text, "disc, diameter ");
        pp_people_size(text, units, job->plate.diameter);
    } else if (job->plate.outline == PP_OUTLINE_RECTANGLE) {
        pp_people_size(text, units, job->plate.width);
        pp_text_add(text, " by ");
        pp_people_size(text, units, job->plate.height);
    } else if (job->plate.outline != PP_OUTLINE_NONE) {
        add_cut_out(text, job);
    }
}

static void add_given(pp_text *text, const pp_results *r, double mm)
{
    if (pp_given(mm)) pp_people_size(text, r->job->units, mm);
}

static void add_thickness(pp_text *text, const pp_results *r)
{
    add_given(text, r, r->job->plate.thickness);
}

static void add_tube(pp_text *text, const pp_results *r)
{
    add_given(text, r, r->job->holes.tube_diameter);
}

static void add_pitch(pp_text *text, const pp_results *r)
{
    const pp_measures *m = r->measures;
    add_given(text, r, m ? m->pitch : r->job->holes.pitch);
    if (m && m->pitch_found && pp_given(m->pitch)) pp_text_add(text, ", found in the nominal list");
}

static void add_span(pp_text *text, const pp_results *r)
{
    add_given(text, r, r->job->rules.unsupported_span);
}

/* Without a number from the drawing nobody but the list says how many holes there should be. */
static void add_tube_holes(pp_text *text, const pp_results *r)
{
    const char *hash = sha256_of(r, "nominal");
    if (!r->measures) return;
    if (pp_given(r->job->holes.tube_holes)) {
        pp_text_print(text, "%g by the job file", r->job->holes.tube_holes);
        return;
    }
    pp_text_print(text, "%zu: as many as the nominal list has", r->measures->tube_count);
    if (hash) pp_text_print(text, " (SHA-256 %.*s...)", HASH_SHOWN, hash);
}

static const char *keep_size(pp_identity *identity, int i, const pp_text *text)
{
    snprintf(identity->size[i], PP_IDENTITY_ROOM, "%.*s", (int)text->length,
             text->data ? text->data : "");
    return identity->size[i];
}

static void list_texts(const pp_results *results, pp_named_text *list)
{
    const pp_job *j = results->job;
    bool whole = pp_is_whole(results) && !pp_is_plan(results);
    const pp_named_text texts[PP_IDENTITY_COUNT - PP_IDENTITY_SIZES] = {
        {"Customer", j->customer},
        {"Order", j->order},
        {"Item", j->item},
        {"Plate", j->plate_id},
        {"Role", j->plate_role},
        {"Serial number", j->serial},
        {"Drawing", j->drawing},
        {"Drawing revision", j->drawing_revision},
        {"Material", j->material},
        {"Heat number", j->heat_number},
        {"Supplier", j->supplier},
        {"Machine", j->machine.name},
        {"Machine's serial number", j->machine.serial},
        {"Drilling program", j->machine.program},
        {"Drilled on", j->machine.drilled},
        {"Procedure", j->procedure},
        {"Stage", j->stage},
        {"Inspector", j->inspector},
        {"Inspection date", j->inspection_date},
        {"Report number", j->report_number},
        {"Report revision", j->report_revision},
        {"Covers", whole ? NULL : pp_paper_title(results)},
        {"Supersedes", j->supersedes},
        {"Report date", results->date},
        {PP_DATE_SOURCE_NAME, results->date_from_epoch ? "SOURCE_DATE_EPOCH, no clock" : NULL},
        {"Entry face is", j->holes.entry_face_is},
    };
    memcpy(list, texts, sizeof texts);
}

pp_status pp_identity_make(const pp_results *results, pp_identity *identity, pp_error *error)
{
    static const struct {
        const char *name;
        void (*add)(pp_text *text, const pp_results *results);
    } SIZES[PP_IDENTITY_SIZES] = {{"Plate's size", add_plate},
                                  {"Thickness", add_thickness},
                                  {"Tube", add_tube},
                                  {"Pitch", add_pitch},
                                  {"Unsupported span", add_span},
                                  {"Tube holes", add_tube_holes}};
    list_texts(results, identity->texts);
    pp_text text = {0};
    for (int i = 0; i < PP_IDENTITY_SIZES; i++) {
        text.length = 0;
        SIZES[i].add(&text, results);
        identity->texts[PP_IDENTITY_COUNT - PP_IDENTITY_SIZES + i] =
            (pp_named_text){SIZES[i].name, keep_size(identity, i, &text)};
    }
    bool failed = text.failed;
    pp_text_free(&text);
    return failed ? pp_fail_memory(error) : PP_OK;
}
