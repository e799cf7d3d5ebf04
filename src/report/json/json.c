#include "report/json/json.h"

#include <string.h>

#include "answer/paths.h"
#include "plateproof/version.h"
#include "report/json/json_build.h"

enum { FORMAT_VERSION = 1, REAL_DIGITS = 15, INDENT = 2 };

void pp_json_texts(pp_json_builder *b, json_t *root, const char *key, size_t count,
                   const char *const *texts)
{
    json_t *array = pp_json_array(b, root, key);
    for (size_t i = 0; i < count; i++) pp_json_append_text(b, array, texts[i]);
}

static void put_verdict(pp_json_builder *b, json_t *root)
{
    const pp_judgement *j = b->results->judgement;
    pp_json_text(b, root, "verdict", pp_verdict_words(j->verdict));
    pp_json_text(b, root, "basis", j->basis);
    pp_json_texts(b, root, "judged", j->judged_count, j->judged);
    pp_json_texts(b, root, "not_judged", j->not_judged_count, j->not_judged);
    json_t *left_out = pp_json_array(b, root, "left_out");
    for (size_t i = 0; i < b->results->left_out_count; i++) {
        json_t *item = pp_json_append_object(b, left_out);
        pp_json_text(b, item, "what", b->results->left_out[i].what);
        pp_json_text(b, item, "why", b->results->left_out[i].why);
    }
    bool guarded = b->results->job->rules.decision == PP_GUARDED;
    pp_json_text(b, root, "decision", guarded ? "guarded" : "simple");
    pp_json_text(b, root, "decision_rule", j->decision_rule);
    pp_json_texts(b, root, "cautions", j->caution_count, j->cautions);
}

void pp_json_identification(pp_json_builder *b, const pp_job *job, json_t *root)
{
    const struct {
        const char *key, *value;
    } texts[] = {
        {"title", job->title},
        {"customer", job->customer},
        {"order", job->order},
        {"item", job->item},
        {"plate_id", job->plate_id},
        {"plate_role", job->plate_role},
        {"serial", job->serial},
        {"drawing", job->drawing},
        {"drawing_revision", job->drawing_revision},
        {"material", job->material},
        {"heat_number", job->heat_number},
        {"supplier", job->supplier},
        {"procedure", job->procedure},
        {"inspector", job->inspector},
        {"inspection_date", job->inspection_date},
        {"stage", job->stage},
        {"report_number", job->report_number},
        {"report_revision", job->report_revision},
        {"supersedes", job->supersedes},
        {"date", job->date},
    };
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        if (texts[i].value) pp_json_text(b, object, texts[i].key, texts[i].value);
    if (json_object_size(object))
        pp_json_put(b, root, "job", object);
    else
        json_decref(object);
}

void pp_json_inputs(pp_json_builder *b, const pp_input_file *inputs, size_t count,
                    const char *job_file, json_t *root)
{
    json_t *array = pp_json_array(b, root, "inputs");
    for (size_t i = 0; i < count; i++) {
        const pp_input_file *input = &inputs[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "role", input->role);
        bool is_job = strcmp(input->role, "job") == 0;
        pp_json_text(b, object, "file", is_job ? job_file : input->written);
        pp_json_text(b, object, "sha256", input->sha256);
        pp_json_count(b, object, "rows", input->rows);
        if (input->instrument) pp_json_text(b, object, "instrument", input->instrument->name);
        pp_json_reading(b, object, input);
    }
}

static void put_instruments(pp_json_builder *b, json_t *root)
{
    const pp_job *job = b->results->job;
    if (!job->instrument_count) return;
    json_t *array = pp_json_array(b, root, "instruments");
    for (size_t i = 0; i < job->instrument_count; i++) {
        const pp_instrument *instrument = &job->instruments[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "name", instrument->name);
        pp_json_text(b, object, "kind", instrument->kind);
        pp_json_text(b, object, "serial", instrument->serial);
        pp_json_text(b, object, "certificate", instrument->certificate);
        pp_json_text(b, object, "calibration_due", instrument->calibration_due);
    }
}

static void put_machine(pp_json_builder *b, json_t *root)
{
    const pp_job *job = b->results->job;
    const struct {
        const char *key, *value;
    } texts[] = {{"name", job->machine.name},
                 {"serial", job->machine.serial},
                 {"operator", job->machine.operator_name},
                 {"program", job->machine.program},
                 {"drilled", job->machine.drilled}};
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        if (texts[i].value) pp_json_text(b, object, texts[i].key, texts[i].value);
    if (pp_given(job->machine.drilling_temperature))
        pp_json_real(b, object, "drilling_temperature", job->machine.drilling_temperature);
    if (json_object_size(object))
        pp_json_put(b, root, "machine", object);
    else
        json_decref(object);
}

/* Outlines that are more than a disc or a rectangle; width and height are of the box about them. */
static void put_cut_out(pp_json_builder *b, json_t *plate, const pp_job *job)
{
    static const char *const NAME[] = {[PP_OUTLINE_SEGMENT] = "segment",
                                       [PP_OUTLINE_DOUBLE_SEGMENT] = "double-segment",
                                       [PP_OUTLINE_ANNULUS] = "annulus",
                                       [PP_OUTLINE_POLYGON] = "polygon"};
    pp_outline_spec shape = pp_job_outline(job);
    if (!pp_outline_is_cut_out(&shape)) return;
    pp_box box = pp_outline_box(&shape);
    pp_json_text(b, plate, "outline", NAME[shape.kind]);
    if (shape.kind == PP_OUTLINE_POLYGON) {
        json_t *corners = pp_json_array(b, plate, "corners");
        for (size_t k = 0; k < shape.corner_count; k++) {
            pp_json_append_real(b, corners, shape.centre_x + shape.corner_x[k]);
            pp_json_append_real(b, corners, shape.centre_y + shape.corner_y[k]);
        }
    } else {
        pp_json_real(b, plate, "diameter", shape.diameter);
    }
    if (shape.kind == PP_OUTLINE_ANNULUS)
        pp_json_real(b, plate, "inner_diameter", shape.inner_diameter);
    if (shape.kind == PP_OUTLINE_SEGMENT || shape.kind == PP_OUTLINE_DOUBLE_SEGMENT) {
        pp_json_real(b, plate, "cut_height", shape.cut_height);
        pp_json_real(b, plate, "cut_angle", shape.cut_angle_deg);
    }
    pp_json_real(b, plate, "width", box.x1 - box.x0);
    pp_json_real(b, plate, "height", box.y1 - box.y0);
}

static void put_plate(pp_json_builder *b, json_t *root)
{
    const pp_job *job = b->results->job;
    if (job->plate.outline == PP_OUTLINE_NONE && !pp_given(job->plate.thickness)) return;
    json_t *plate = pp_json_object(b, root, "plate");
    if (job->plate.outline == PP_OUTLINE_DISC) {
        pp_json_text(b, plate, "outline", "disc");
        pp_json_real(b, plate, "diameter", job->plate.diameter);
    } else if (job->plate.outline == PP_OUTLINE_RECTANGLE) {
        pp_json_text(b, plate, "outline", "rectangle");
        pp_json_real(b, plate, "width", job->plate.width);
        pp_json_real(b, plate, "height", job->plate.height);
    }
    put_cut_out(b, plate, job);
    pp_json_real(b, plate, "thickness", job->plate.thickness);
    if (job->plate.outline != PP_OUTLINE_NONE) {
        json_t *centre = pp_json_array(b, plate, "centre");
        pp_json_append_real(b, centre, job->plate.centre_x);
        pp_json_append_real(b, centre, job->plate.centre_y);
    }
}

static void put_rules(pp_json_builder *b, json_t *root)
{
    const pp_limits *limits = b->results->limits;
    if (!limits) return;
    json_t *rules = pp_json_object(b, root, "rules");
    pp_json_text(b, rules, "set", limits->set);
    pp_json_text(b, rules, "table", limits->table == PP_TABLE_METRIC ? "metric" : "inch");
    json_t *array = pp_json_array(b, rules, "limits");
    for (size_t i = 0; i < limits->count; i++) {
        json_t *limit = pp_json_append_object(b, array);
        pp_json_text(b, limit, "name", limits->all[i].name);
        pp_json_real(b, limit, "value", limits->all[i].value);
        pp_json_text(b, limit, "source", limits->all[i].source);
        if (!limits->all[i].by_hand) continue;
        pp_json_flag(b, limit, "by_hand", true);
        pp_json_real(b, limit, "set_gives", limits->all[i].of_set);
    }
    if (limits->note) pp_json_text(b, rules, "note", limits->note);
}

void pp_json_begin(pp_json_builder *b, const char *command, json_t *root)
{
    pp_json_text(b, root, "format", "plateproof-results");
    pp_json_count(b, root, "version", FORMAT_VERSION);
    json_t *tool = pp_json_object(b, root, "tool");
    pp_json_text(b, tool, "name", "plateproof");
    pp_json_text(b, tool, "version", pp_version());
    if (command) pp_json_text(b, root, "command", command);
}

static void put_everything(pp_json_builder *b, json_t *root, const char *job_file)
{
    pp_json_begin(b, b->results->command, root);
    put_verdict(b, root);
    pp_json_identification(b, b->results->job, root);
    pp_json_inputs(b, b->results->inputs, b->results->input_count, job_file, root);
    put_instruments(b, root);
    put_plate(b, root);
    put_machine(b, root);
    pp_json_flatness(b, root);
    pp_json_holddown(b, root);
    pp_json_stack(b, root);
    pp_json_drilled(b, root);
    pp_json_roughing(b, root);
    pp_json_holes(b, root);
    put_rules(b, root);
    pp_json_exceptions(b, root);
}

static int add_to_text(const char *bytes, size_t length, void *context)
{
    pp_text *text = context;
    pp_text_add_bytes(text, bytes, length);
    return text->failed ? -1 : 0;
}

pp_status pp_json_end(pp_json_builder *b, json_t *root, pp_text *text, pp_error *error)
{
    size_t before = text->length;
    if (!b->failed &&
        json_dump_callback(root, add_to_text, text,
                           JSON_INDENT(INDENT) | JSON_REAL_PRECISION(REAL_DIGITS)) != 0)
        b->failed = true;
    json_decref(root);
    pp_text_add(text, "\n");
    if (!b->failed && !text->failed) return PP_OK;
    if (text->length > before) text->length = before;
    return pp_fail_memory(error);
}

static pp_status write_with(const pp_results *results, const char *folder, pp_arena *arena,
                            pp_text *text, pp_error *error)
{
    if (!folder) folder = pp_path_default_report(results->job, arena);
    const char *job_file = folder ? pp_path_relative(results->job->path, folder, arena) : NULL;
    if (!job_file) return pp_fail_memory(error);
    pp_json_builder builder = {.results = results};
    json_t *root = json_object();
    if (!root) return pp_fail_memory(error);
    put_everything(&builder, root, job_file);
    return pp_json_end(&builder, root, text, error);
}

pp_status pp_json_write(const pp_results *results, const char *folder, pp_text *text,
                        pp_error *error)
{
    pp_arena arena = {0};
    pp_status status = write_with(results, folder, &arena, text, error);
    pp_arena_free(&arena);
    return status;
}
