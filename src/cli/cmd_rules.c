/* plateproof rules [SET]: the rule sets, and every limit that one gives. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/number.h"
#include "base/text.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "rules/flatness_rules.h"
#include "rules/hole_rules.h"
#include "rules/limits.h"

static const pp_rule_place NOWHERE = {0}; /* sets are named on the command line */

static const pp_command_help help = {
    "plateproof rules [SET] [--tube D] [--pitch P] [--thickness T] ...",
    "Without SET: lists the rule sets. With SET, the name of one or the path of a rule file: what\n"
    "it holds. With a tube, a pitch and a thickness: every limit it gives, each with its source.\n"
    "\n"
    "  --tube D                   outside diameter; its unit picks the table\n"
    "  --pitch P                  of the pattern\n"
    "  --thickness T              of the plate\n"
    "  --part tube-plate|baffle   (tube-plate)\n"
    "  --fit standard|close       (standard)\n"
    "  --table inch|metric        another table than that of the tube's unit\n"
    "  --span L                   baffle: longest unsupported span of its tubes\n"
    "  --ligament-minimum L       where the set has no row for the pitch\n"
    "  --width W, --length L      flatness: shorter and longer side of the plate\n"
    "\n"
    "Lengths are in mm unless they say otherwise: 25.4, 1in, \"1-1/4 in\".\n"
    "\n"
    "Examples\n"
    "  plateproof rules\n"
    "  plateproof rules tema-style --tube 25.4 --pitch 31.75 --thickness 40\n"
    "  plateproof rules tema-style --part baffle --tube \"3/4 in\" --span 900\n"
    "  plateproof rules flatness-en10029-n-l --thickness 40 --width 2400\n",
    .json = true,
};

typedef struct rules_request {
    const char *tube, *pitch, *thickness, *part, *fit, *table, *span, *ligament_minimum, *width,
        *length;
} rules_request;

/* ---- reading the request ---- */

static pp_status read_length(const char *name, const char *text, double *mm, pp_value_unit *written,
                             pp_error *error)
{
    if (!text) return PP_OK;
    pp_value_place place = {NULL, 0, name};
    pp_value_kind kind = {.quantity = PP_LENGTH, .range = {0, INFINITY, true, false}};
    return pp_value_read(&place, text, strlen(text), &kind, mm, written, error);
}

static pp_status read_choice(const char *name, const char *text, const char *first,
                             const char *second, unsigned *choice, pp_error *error)
{
    if (!text || strcasecmp(text, first) == 0) return PP_OK;
    if (strcasecmp(text, second) != 0)
        return pp_fail(error, PP_EINPUT, "%s %s is not among its choices; write %s or %s", name,
                       text, first, second);
    *choice = 1;
    return PP_OK;
}

/* The request as a job, so that limits are resolved as for any job. */
static pp_status request_job(const rules_request *q, const char *set, pp_memory *memory,
                             pp_job *job, pp_error *error)
{
    unsigned part = PP_TUBE_PLATE, fit = PP_FIT_STANDARD, table = PP_TABLE_INCH;
    pp_value_unit tube_unit = {false, PP_MM};
    PP_TRY(pp_job_blank(memory, job, error));
    job->rules.set = set;
    PP_TRY(read_length("--tube", q->tube, &job->holes.tube_diameter, &tube_unit, error));
    PP_TRY(read_length("--pitch", q->pitch, &job->holes.pitch, NULL, error));
    PP_TRY(read_length("--thickness", q->thickness, &job->plate.thickness, NULL, error));
    PP_TRY(read_length("--span", q->span, &job->rules.unsupported_span, NULL, error));
    PP_TRY(read_length("--ligament-minimum", q->ligament_minimum,
                       &job->rules.ligament_minimum.value, NULL, error));
    const char *part_text = q->part && strcasecmp(q->part, "tubesheet") == 0 ? NULL : q->part;
    PP_TRY(read_choice("--part", part_text, "tube-plate", "baffle", &part, error));
    PP_TRY(read_choice("--fit", q->fit, "standard", "close", &fit, error));
    PP_TRY(read_choice("--table", q->table, "inch", "metric", &table, error));
    if (!q->table) table = tube_unit.length == PP_INCH ? PP_TABLE_INCH : PP_TABLE_METRIC;
    job->rules.part = (pp_part)part;
    job->rules.fit = (pp_fit)fit;
    job->rules.table = (pp_table)table;
    return PP_OK;
}

/* ---- printing ---- */

static int write_text(pp_text *text)
{
    pp_error error;
    if (text->failed) {
        pp_fail_memory(&error);
        return pp_exit_error(&error);
    }
    return pp_write_out(text->data, text->length);
}

static int write_json(json_t *root)
{
    char *data = json_dumps(root, JSON_INDENT(2) | JSON_REAL_PRECISION(15));
    json_decref(root);
    if (!data) {
        pp_error error;
        pp_fail_memory(&error);
        return pp_exit_error(&error);
    }
    pp_text text = {0};
    pp_text_print(&text, "%s\n", data);
    free(data);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

/* NaN as null; text that is not there too */
static json_t *real(double value) { return isnan(value) ? json_null() : json_real(value); }
static json_t *words(const char *text) { return text ? json_string(text) : json_null(); }

static json_t *file_json(const pp_rule_file *file)
{
    return json_pack("{s:s, s:s, s:s, s:o}", "set", file->name, "kind", file->kind, "title",
                     file->title, "note", words(file->note));
}

static void add_head(const pp_rule_file *file, pp_text *text)
{
    pp_text_print(text, "%s: %s\n", file->name, file->title);
    if (file->note) pp_text_print(text, "%s\n", file->note);
    pp_text_add(text, "\n");
}

/* Sources are long and most limits share one: each is printed once, below, under its number. */
enum { SOURCES_MAX = 64 };
typedef struct source_list {
    size_t count;
    const char *source[SOURCES_MAX];
} source_list;

static size_t source_number(source_list *list, const char *source)
{
    size_t i = 0;
    while (i < list->count && strcmp(list->source[i], source) != 0) i++;
    if (i == list->count && i < SOURCES_MAX) list->source[list->count++] = source;
    return i + 1;
}

static void add_sources(const source_list *list, pp_text *text)
{
    pp_text_add(text, "\nsources\n");
    for (size_t i = 0; i < list->count; i++)
        pp_text_print(text, "  [%zu] %s\n", i + 1, list->source[i]);
}

static void add_amount(pp_text *text, int width, double value, int decimals, const char *unit)
{
    char digits[PP_NUMBER_TEXT_MAX];
    size_t length = pp_number_write_fixed(digits, value, decimals);
    pp_text_print(text, "%*.*s %s", width, (int)length, digits, unit);
}

static void add_length(const char *name, double mm, pp_text *text)
{
    pp_text_print(text, "  %-24s", name);
    add_amount(text, 10, mm, 4, "mm");
    add_amount(text, 11, mm / pp_unit_mm(PP_INCH), 5, "in");
}

static void add_limit(const char *name, double mm, const char *source, source_list *sources,
                      pp_text *text)
{
    add_length(name, mm, text);
    pp_text_print(text, "   [%zu]\n", source_number(sources, source));
}

static void add_derived(const char *name, double mm, const char *how, pp_text *text)
{
    add_length(name, mm, text);
    pp_text_print(text, "   %s\n", how);
}

/* ---- lists ---- */

static int list_sets(bool json, pp_memory *memory, pp_error *error)
{
    json_t *root = json_array();
    pp_text text = {0};
    for (size_t i = 0; i < pp_rule_built_in_count(); i++) {
        char name[PP_RULE_NAME_MAX];
        pp_rule_file file;
        pp_status status =
            pp_rule_file_open(pp_rule_built_in_name(i, name), NULL, &NOWHERE, memory, &file, error);
        if (status != PP_OK) {
            json_decref(root);
            pp_text_free(&text);
            return pp_exit_error(error);
        }
        json_array_append_new(root, file_json(&file));
        pp_text_print(&text, "%-28s %-9s %s\n", file.name, file.kind, file.title);
    }
    pp_text_add(&text, "\nplateproof rules SET shows what a set holds; --help says how to ask for "
                       "its limits.\n");
    if (json) {
        pp_text_free(&text);
        return write_json(json_pack("{s:o}", "sets", root));
    }
    json_decref(root);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

static const char *selector_words(int selector, const char *first, const char *second)
{
    return selector == PP_RULE_ANY ? "any" : selector == 0 ? first : second;
}

static void add_hole_table(const pp_rule_table *t, pp_text *text)
{
    static const char *const topics[] = {"holes", "ligaments", "ligament formula"};
    pp_text_print(text, "%s, part %s, fit %s, table %s: %zu row%s", topics[t->topic],
                  selector_words(t->part, "tube-plate", "baffle"),
                  selector_words(t->fit, "standard", "close"),
                  selector_words(t->table, "inch", "metric"), t->row_count,
                  t->row_count == 1 ? "" : "s");
    if (t->source) pp_text_print(text, "\n  source: %s", t->source);
    const char *last = "";
    for (size_t i = 0; i < t->row_count; i++) {
        const char *tube = t->rows[i].tube;
        if (!tube || strcmp(tube, last) == 0) continue;
        pp_text_print(text, "%s%s", *last ? ", " : "\n  tubes: ", tube);
        last = tube;
    }
    pp_text_add(text, "\n");
}

static json_t *hole_table_json(const pp_rule_table *t)
{
    static const char *const topics[] = {"holes", "ligaments", "ligament-formula"};
    json_t *tubes = json_array();
    for (size_t i = 0; i < t->row_count; i++)
        if (t->rows[i].tube) json_array_append_new(tubes, real(t->rows[i].value[PP_RULE_TUBE]));
    return json_pack("{s:s, s:s, s:s, s:s, s:I, s:o, s:o}", "topic", topics[t->topic], "part",
                     selector_words(t->part, "tube-plate", "baffle"), "fit",
                     selector_words(t->fit, "standard", "close"), "table",
                     selector_words(t->table, "inch", "metric"), "rows", (json_int_t)t->row_count,
                     "source", words(t->source), "tubes", tubes);
}

static int show_hole_set(const char *set, bool json, pp_memory *memory, pp_error *error)
{
    pp_hole_rules rules;
    if (pp_hole_rules_read(set, &NOWHERE, memory, &rules, error) != PP_OK)
        return pp_exit_error(error);
    if (json) {
        json_t *root = file_json(&rules.file), *tables = json_array();
        for (size_t i = 0; i < rules.table_count; i++)
            json_array_append_new(tables, hole_table_json(&rules.tables[i]));
        json_object_set_new(root, "tables", tables);
        return write_json(root);
    }
    pp_text text = {0};
    add_head(&rules.file, &text);
    for (size_t i = 0; i < rules.table_count; i++) add_hole_table(&rules.tables[i], &text);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

/* ---- limits of holes ---- */

static json_t *limits_json(const pp_limits *l, const char *missing)
{
    json_t *limits = json_array();
    for (size_t i = 0; i < l->count; i++)
        json_array_append_new(limits, json_pack("{s:s, s:o, s:s}", "name", l->all[i].name, "value",
                                                real(l->all[i].value), "source", l->all[i].source));
    return json_pack("{s:s, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "set", l->set, "note",
                     words(l->note), "table", l->table == PP_TABLE_INCH ? "inch" : "metric",
                     "limits", limits, "diameter_lower", real(l->diameter_lower), "diameter_upper",
                     real(l->diameter_upper), "diameter_upper_limit", real(l->diameter_upper_limit),
                     "ligament_nominal", real(l->ligament_nominal), "drift_allowance",
                     real(l->drift_allowance), "missing", words(missing));
}

static void add_limits(const pp_limits *l, const char *missing, pp_text *text)
{
    source_list sources = {0};
    for (size_t i = 0; i < l->count; i++) {
        const pp_limit *limit = &l->all[i];
        if (limit->quantity != PP_SHARE) {
            add_limit(limit->name, limit->value, limit->source, &sources, text);
            continue;
        }
        pp_text_print(text, "  %-24s", limit->name);
        add_amount(text, 10, 100 * limit->value, 1, "%");
        pp_text_print(text, "%18s[%zu]\n", "", source_number(&sources, limit->source));
    }
    if (pp_given(l->drift_allowance))
        add_limit("drill drift allowance", l->drift_allowance, l->drift_allowance_source, &sources,
                  text);
    pp_text_add(text, "\nso that\n");
    add_derived("smallest hole", l->diameter_lower, "hole_nominal - hole_under", text);
    add_derived("largest of nearly all", l->diameter_upper, "hole_nominal + hole_over", text);
    add_derived("largest of all", l->diameter_upper_limit, "hole_nominal + hole_over_limit", text);
    if (pp_given(l->ligament_nominal))
        add_derived("nominal ligament", l->ligament_nominal, "pitch - hole_nominal", text);
    add_sources(&sources, text);
    if (missing) pp_text_print(text, "\nno ligament limits: %s\n", missing);
}

static int show_hole_limits(const char *set, const rules_request *q, bool json, pp_memory *memory,
                            pp_error *error)
{
    pp_job job;
    pp_limits limits;
    const char *missing = NULL; /* where only the ligaments fail, the holes' are worth showing */
    pp_status result = request_job(q, set, memory, &job, error);
    if (result == PP_OK && !q->tube)
        result = pp_fail(error, PP_EINPUT, "limits of holes go by the tube; give --tube");
    if (result == PP_OK)
        result = pp_limits_resolve_or_say(&job, job.holes.pitch, memory, &limits, &missing, error);
    if (result != PP_OK) return pp_exit_error(error);
    if (json) return write_json(limits_json(&limits, missing));
    pp_text text = {0};
    pp_text_print(&text, "%s, %s table\n", limits.set,
                  limits.table == PP_TABLE_INCH ? "inch" : "metric");
    if (limits.note) pp_text_print(&text, "%s\n", limits.note);
    pp_text_add(&text, "\n");
    add_limits(&limits, missing, &text);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

/* ---- flatness ---- */

static json_t *flatness_table_json(const pp_flatness_table *t)
{
    return json_pack("{s:o, s:I, s:I, s:o, s:s}", "length", real(t->length), "thicknesses",
                     (json_int_t)t->row_count, "widths", (json_int_t)t->width_count, "source",
                     words(t->source), "sure", pp_rule_sure_words(t->sure));
}

static void add_flatness_table(const pp_flatness_table *t, pp_text *text)
{
    if (isnan(t->length))
        pp_text_add(text, "the plate as a whole");
    else
        pp_text_print(text, "straightedge of %g mm", t->length);
    pp_text_print(text, ": %zu thicknesses, %zu widths\n  source: %s (%s)\n", t->row_count,
                  t->width_count, t->source ? t->source : "not said", pp_rule_sure_words(t->sure));
}

static int show_flatness_set(const pp_flatness_rules *rules, bool json)
{
    if (json) {
        json_t *root = file_json(&rules->file), *tables = json_array();
        for (size_t i = 0; i < rules->table_count; i++)
            json_array_append_new(tables, flatness_table_json(&rules->tables[i]));
        json_object_set_new(root, "tables", tables);
        return write_json(root);
    }
    pp_text text = {0};
    add_head(&rules->file, &text);
    for (size_t i = 0; i < rules->table_count; i++) add_flatness_table(&rules->tables[i], &text);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

typedef struct flatness_limit { /* of one table */
    double value;
    const char *source;
} flatness_limit;

static pp_status find_flatness_limits(const pp_flatness_rules *rules, const rules_request *q,
                                      pp_memory *memory, flatness_limit *limits, pp_error *error)
{
    double thickness = NAN, width = NAN, length = NAN;
    PP_TRY(read_length("--thickness", q->thickness, &thickness, NULL, error));
    PP_TRY(read_length("--width", q->width, &width, NULL, error));
    PP_TRY(read_length("--length", q->length, &length, NULL, error));
    if (isnan(thickness) || isnan(width))
        return pp_fail(error, PP_EINPUT,
                       "flatness limits go by thickness and width; give --thickness and --width");
    if (isnan(length)) length = width;
    for (size_t i = 0; i < rules->table_count; i++)
        PP_TRY(pp_flatness_rules_limit(
            rules, &rules->tables[i],
            &(pp_rolled_size){thickness, fmin(width, length), fmax(width, length)}, memory,
            &limits[i].value, &limits[i].source, error));
    return PP_OK;
}

static json_t *flatness_limits_json(const pp_flatness_rules *rules, const flatness_limit *limits)
{
    json_t *list = json_array();
    for (size_t i = 0; i < rules->table_count; i++) {
        double length = rules->tables[i].length;
        const char *name = isnan(length) ? "flatness_limit" : "straightedge_limit";
        json_array_append_new(list, json_pack("{s:s, s:o, s:o, s:s}", "name", name, "length",
                                              real(length), "value", real(limits[i].value),
                                              "source", limits[i].source));
    }
    return json_pack("{s:s, s:o, s:o}", "set", rules->file.name, "note", words(rules->file.note),
                     "limits", list);
}

static int show_flatness_limits(const pp_flatness_rules *rules, const rules_request *q, bool json,
                                pp_memory *memory, pp_error *error)
{
    flatness_limit *limits = pp_arena_take_zero(&memory->keep, rules->table_count, sizeof *limits);
    pp_status result =
        limits ? find_flatness_limits(rules, q, memory, limits, error) : pp_fail_memory(error);
    if (result != PP_OK) return pp_exit_error(error);
    if (json) return write_json(flatness_limits_json(rules, limits));
    source_list sources = {0};
    pp_text text = {0};
    add_head(&rules->file, &text);
    for (size_t i = 0; i < rules->table_count; i++) {
        double length = rules->tables[i].length;
        char name[64] = "flatness_limit";
        if (!isnan(length)) snprintf(name, sizeof name, "straightedge %g mm", length);
        add_limit(name, limits[i].value, limits[i].source, &sources, &text);
    }
    add_sources(&sources, &text);
    int status = write_text(&text);
    pp_text_free(&text);
    return status;
}

static int show_flatness(const char *set, const rules_request *q, bool limits, bool json,
                         pp_memory *memory, pp_error *error)
{
    pp_flatness_rules rules;
    if (pp_flatness_rules_read(set, &NOWHERE, memory, &rules, error) != PP_OK)
        return pp_exit_error(error);
    return limits ? show_flatness_limits(&rules, q, json, memory, error)
                  : show_flatness_set(&rules, json);
}

static int show_set(const char *set, const rules_request *q, bool json, pp_memory *memory,
                    pp_error *error)
{
    pp_rule_file file;
    if (pp_rule_file_open(set, NULL, &NOWHERE, memory, &file, error) != PP_OK)
        return pp_exit_error(error);
    bool flatness = strcmp(file.kind, "flatness") == 0;
    bool limits = q->tube || q->pitch || q->thickness || q->width || q->span;
    if (flatness) return show_flatness(set, q, limits, json, memory, error);
    return limits ? show_hole_limits(set, q, json, memory, error)
                  : show_hole_set(set, json, memory, error);
}

int pp_cmd_rules(int argc, char **argv)
{
    rules_request q = {0};
    const pp_own_option own[] = {{"tube", true, &q.tube},
                                 {"pitch", true, &q.pitch},
                                 {"thickness", true, &q.thickness},
                                 {"part", true, &q.part},
                                 {"fit", true, &q.fit},
                                 {"table", true, &q.table},
                                 {"span", true, &q.span},
                                 {"width", true, &q.width},
                                 {"length", true, &q.length},
                                 {"ligament-minimum", true, &q.ligament_minimum},
                                 {0}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 0, 1, &help, &line, &status) || line.done) return status;
    pp_memory memory = {0};
    pp_error error = {0};
    if (line.count)
        status = show_set(line.words[0], &q, line.common.json, &memory, &error);
    else
        status = list_sets(line.common.json, &memory, &error);
    pp_memory_free(&memory);
    return status;
}
