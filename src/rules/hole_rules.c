#include "rules/hole_rules.h"

#include <string.h>

#include "base/compare.h"
#include "base/text.h"

#define TUBE_TOLERANCE 0.005 /* mm: how far a tube may be from a row's and still be it */
#define PITCH_TOLERANCE 0.05 /* mm: the same for pitches */

static const char *const topic_words[] = {"holes", "ligaments", "ligament-formula"};
enum { TOPICS = 3 };
static const char *const part_words[] = {"tube-plate", "baffle", "any"};
static const char *const fit_words[] = {"standard", "close", "any"};
static const char *const table_words[] = {"inch", "metric", "any"};

static const char *const column_words[PP_RULE_COLUMNS] = {
    [PP_RULE_TUBE] = "tube",
    [PP_RULE_TUBE_ALSO] = "tube_also",
    [PP_RULE_TUBE_UP_TO] = "tube_up_to",
    [PP_RULE_TUBE_BELOW] = "tube_below",
    [PP_RULE_SPAN_UP_TO] = "span_up_to",
    [PP_RULE_PITCH] = "pitch",
    [PP_RULE_HOLE] = "hole",
    [PP_RULE_CLEARANCE] = "clearance",
    [PP_RULE_UNDER] = "under",
    [PP_RULE_OVER] = "over",
    [PP_RULE_OVER_LIMIT] = "over_limit",
    [PP_RULE_MINIMUM] = "minimum",
    [PP_RULE_ALLOWANCE] = "allowance",
    [PP_RULE_SURE] = "sure",
    [PP_RULE_SURE_TOLERANCE] = "sure_tolerance",
};

/* One table on its way from the text. */
typedef struct reading {
    const pp_rule_file *file;
    const pp_ini_section *section;
    pp_memory *memory;
    pp_error *error;
    pp_length_unit unit;
    size_t column_count; /* 0 before `columns` */
    pp_rule_column columns[PP_RULE_COLUMNS];
} reading;

/* One word of the section's name: an index, or PP_RULE_ANY for the last of the known. */
static pp_status read_selector(const reading *r, const char *word, const char *kind,
                               const char *const known[3], int *selector)
{
    size_t i = pp_rule_word(word, 3, known);
    if (i == 3) return pp_rule_unknown(r->file, r->section->line, kind, word, 3, known, r->error);
    *selector = i == 2 ? PP_RULE_ANY : (int)i;
    return PP_OK;
}

/* "holes tube-plate standard inch" */
static pp_status read_name(const reading *r, pp_rule_table *table)
{
    pp_rule_words words;
    PP_TRY(pp_rule_split(r->section->name, ' ', r->memory, &words, r->error));
    const char *first = words.count ? words.word[0] : "";
    size_t topic = pp_rule_word(first, TOPICS, topic_words);
    if (topic == TOPICS)
        return pp_rule_unknown(r->file, r->section->line, "section of a rule file for holes", first,
                               TOPICS, topic_words, r->error);
    bool has_fit = topic == PP_RULE_HOLES;
    if (words.count != (has_fit ? 4 : 3))
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, r->section->line, 0,
                          "[%s] does not say all of what it is for; write [%s PART%s TABLE]",
                          r->section->name, topic_words[topic], has_fit ? " FIT" : "");
    table->topic = (pp_rule_topic)topic;
    table->fit = PP_RULE_ANY;
    PP_TRY(read_selector(r, words.word[1], "part", part_words, &table->part));
    if (!has_fit && table->part == PP_BAFFLE)
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, r->section->line, 0,
                          "[%s] would not be looked at: ligaments of a baffle are judged by the "
                          "job's own limits only; give [rules] ligament_minimum there",
                          r->section->name);
    if (has_fit) PP_TRY(read_selector(r, words.word[2], "fit", fit_words, &table->fit));
    return read_selector(r, words.word[words.count - 1], "table", table_words, &table->table);
}

static bool has_column(const reading *r, pp_rule_column column)
{
    for (size_t i = 0; i < r->column_count; i++)
        if (r->columns[i] == column) return true;
    return false;
}

/* The columns that a table of this topic can't do without. */
static pp_status check_columns(const reading *r, const pp_rule_table *table, long line)
{
    static const pp_rule_column needed[TOPICS][4] = {
        [PP_RULE_HOLES] = {PP_RULE_UNDER, PP_RULE_OVER, PP_RULE_COLUMNS},
        [PP_RULE_LIGAMENTS] = {PP_RULE_TUBE, PP_RULE_PITCH, PP_RULE_MINIMUM, PP_RULE_COLUMNS},
        [PP_RULE_LIGAMENT_FORMULA] = {PP_RULE_ALLOWANCE, PP_RULE_COLUMNS},
    };
    const char *missing = NULL;
    for (const pp_rule_column *c = needed[table->topic]; *c < PP_RULE_COLUMNS; c++)
        if (!has_column(r, *c)) missing = column_words[*c];
    if (table->topic == PP_RULE_HOLES &&
        has_column(r, PP_RULE_HOLE) == has_column(r, PP_RULE_CLEARANCE))
        missing = "hole or clearance (one of them)";
    if (!missing) return PP_OK;
    return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, line, 0,
                      "the columns lack %s; add it", missing);
}

static pp_status read_columns(reading *r, const pp_rule_table *table, const pp_ini_entry *entry)
{
    pp_rule_words words;
    PP_TRY(pp_rule_split(entry->value, ',', r->memory, &words, r->error));
    if (r->column_count)
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, entry->line, 0,
                          "columns is there twice; keep one");
    for (size_t i = 0; i < words.count; i++) {
        size_t column = pp_rule_word(words.word[i], PP_RULE_COLUMNS, column_words);
        if (column == PP_RULE_COLUMNS)
            return pp_rule_unknown(r->file, entry->line, "column", words.word[i], PP_RULE_COLUMNS,
                                   column_words, r->error);
        if (has_column(r, (pp_rule_column)column))
            return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, entry->line, 0,
                              "the column %s is there twice; keep one", words.word[i]);
        r->columns[r->column_count++] = (pp_rule_column)column;
    }
    return check_columns(r, table, entry->line);
}

static pp_status read_letter(const reading *r, long line, const char *text, char *letter)
{
    if (strcmp(text, "-") == 0) return PP_OK;
    if (strlen(text) != 1 || !pp_rule_is_sure(*text))
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, line, 0,
                          "\"%s\" is no letter of how sure a value is; write A, B, C or D", text);
    *letter = *text;
    return PP_OK;
}

static bool may_be_zero(pp_rule_column column)
{
    return column == PP_RULE_UNDER || column == PP_RULE_OVER || column == PP_RULE_OVER_LIMIT ||
           column == PP_RULE_CLEARANCE || column == PP_RULE_ALLOWANCE;
}

static pp_status read_cell(const reading *r, long line, pp_rule_column column, const char *text,
                           pp_rule_row *row)
{
    if (column == PP_RULE_SURE) return read_letter(r, line, text, &row->sure);
    if (column == PP_RULE_SURE_TOLERANCE) return read_letter(r, line, text, &row->sure_tolerance);
    pp_range range = {0, INFINITY, !may_be_zero(column), false};
    PP_TRY(pp_rule_length(r->file, line, column_words[column], text, r->unit, range,
                          &row->value[column], r->error));
    if (column != PP_RULE_TUBE || isnan(row->value[column])) return PP_OK;
    bool bare = strspn(text, "0123456789.-/ ") == strlen(text);
    row->tube = bare ? pp_text_kept(&r->memory->keep, "%s %s", text, pp_unit_name(r->unit)) : text;
    return row->tube ? PP_OK : pp_fail_memory(r->error);
}

static const double HOLE_MOST = 1.5;      /* of the tube; common practice, no source */
static const double TOLERANCE_MOST = 0.1; /* of the hole; common practice, no source */

/* Values that must be there, and how they must stand to each other. */
static pp_status check_row(const reading *r, const pp_rule_table *table, const pp_rule_row *row)
{
    const double *v = row->value;
    const char *wrong = NULL;
    switch (table->topic) {
    case PP_RULE_HOLES:
        if (isnan(v[PP_RULE_HOLE]) && isnan(v[PP_RULE_CLEARANCE]))
            wrong = "no hole size";
        else if (isnan(v[PP_RULE_UNDER]) || isnan(v[PP_RULE_OVER]))
            wrong = "no under or no over";
        else if (v[PP_RULE_OVER_LIMIT] < v[PP_RULE_OVER])
            wrong = "an over_limit below over";
        else if (v[PP_RULE_HOLE] <= v[PP_RULE_TUBE])
            wrong = "a hole no larger than the tube";
        else if (v[PP_RULE_HOLE] > HOLE_MOST * v[PP_RULE_TUBE])
            wrong = "a hole half as large again as the tube, or more (is its unit right?)";
        else if (fmax(v[PP_RULE_OVER_LIMIT], v[PP_RULE_UNDER]) > TOLERANCE_MOST * v[PP_RULE_HOLE])
            wrong = "a tolerance of a tenth of the hole, or more (is its unit right?)";
        break;
    case PP_RULE_LIGAMENTS:
        if (isnan(v[PP_RULE_TUBE]) || isnan(v[PP_RULE_PITCH]) || isnan(v[PP_RULE_MINIMUM]))
            wrong = "no tube, no pitch or no minimum";
        else if (v[PP_RULE_PITCH] <= v[PP_RULE_TUBE])
            wrong = "a pitch no larger than the tube";
        break;
    case PP_RULE_LIGAMENT_FORMULA:
        if (isnan(v[PP_RULE_ALLOWANCE])) wrong = "no allowance";
        break;
    }
    if (!wrong) return PP_OK;
    return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, row->line, 0,
                      "the row has %s; correct it", wrong);
}

static pp_status read_row(const reading *r, const pp_rule_table *table, const pp_ini_entry *entry,
                          pp_rule_row *row)
{
    *row = (pp_rule_row){.line = entry->line};
    for (size_t c = 0; c < PP_RULE_NUMBERS; c++) row->value[c] = NAN;
    if (!r->column_count)
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, entry->line, 0,
                          "the row stands above its columns; put columns = ... before it");
    pp_rule_words words;
    PP_TRY(pp_rule_split(entry->value, ',', r->memory, &words, r->error));
    if (words.count != r->column_count)
        return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, entry->line, 0,
                          "the row has %zu cells for %zu columns; write - for an empty cell",
                          words.count, r->column_count);
    for (size_t i = 0; i < words.count; i++)
        PP_TRY(read_cell(r, entry->line, r->columns[i], words.word[i], row));
    return check_row(r, table, row);
}

static pp_status read_entry(reading *r, const pp_ini_entry *entry, pp_rule_table *table,
                            pp_rule_row *rows)
{
    static const char *const known[] = {"unit", "source",       "columns",
                                        "row",  "drift_factor", "minimum_share"};
    enum { UNIT, SOURCE, COLUMNS, ROW, DRIFT_FACTOR, MINIMUM_SHARE, KEYS };
    size_t key = pp_rule_word(entry->key, KEYS, known);
    pp_value_place place = {r->file->ini.file, entry->line, entry->key};
    pp_value_kind share = {.quantity = PP_SHARE, .range = {0, 1, true, false}};
    switch (key) {
    case UNIT: /* read beforehand */
        return PP_OK;
    case SOURCE:
        table->source = entry->value;
        return PP_OK;
    case COLUMNS:
        return read_columns(r, table, entry);
    case ROW:
        return read_row(r, table, entry, &rows[table->row_count++]);
    case DRIFT_FACTOR:
        return pp_rule_length(r->file, entry->line, entry->key, entry->value, r->unit,
                              (pp_range){0, INFINITY, false, false}, &table->drift_factor,
                              r->error);
    case MINIMUM_SHARE:
        return pp_value_read(&place, entry->value, strlen(entry->value), &share,
                             &table->minimum_share, NULL, r->error);
    default:
        return pp_rule_unknown(r->file, entry->line, "key of a table", entry->key, KEYS, known,
                               r->error);
    }
}

static pp_status read_table(reading *r, pp_rule_table *table)
{
    *table = (pp_rule_table){.line = r->section->line, .drift_factor = NAN, .minimum_share = NAN};
    PP_TRY(read_name(r, table));
    PP_TRY(pp_rule_unit(r->file, r->section, &r->unit, r->error));
    pp_error *error = r->error;
    pp_rule_row *rows;
    PP_TAKE(rows, &r->memory->keep, r->section->count);
    for (size_t e = r->section->first; e < r->section->first + r->section->count; e++)
        PP_TRY(read_entry(r, &r->file->ini.entries[e], table, rows));
    table->rows = rows;
    PP_TRY(pp_rule_once(r->file, r->section, error));
    if (table->topic == PP_RULE_LIGAMENT_FORMULA && isnan(table->drift_factor))
        return pp_fail_at(error, PP_EINPUT, r->file->ini.file, table->line, 0,
                          "[%s] has no drift_factor; give it (0 if drift is not allowed for)",
                          r->section->name);
    return PP_OK;
}

pp_status pp_hole_rules_read(const char *name, const pp_rule_place *place, pp_memory *memory,
                             pp_hole_rules *rules, pp_error *error)
{
    pp_hole_rules result = {0};
    PP_TRY(pp_rule_file_open(name, "holes", place, memory, &result.file, error));
    const pp_ini *ini = &result.file.ini;
    pp_rule_table *tables;
    PP_TAKE(tables, &memory->keep, ini->section_count);
    for (size_t s = 0; s < ini->section_count; s++) {
        if (strcmp(ini->sections[s].name, "set") == 0) continue;
        reading r = {&result.file, &ini->sections[s], memory, error, PP_MM, 0, {0}};
        PP_TRY(read_table(&r, &tables[result.table_count++]));
    }
    result.tables = tables;
    *rules = result;
    return PP_OK;
}

static bool selects(int selector, int wanted)
{
    return selector == PP_RULE_ANY || selector == wanted;
}

const pp_rule_table *pp_hole_rules_table(const pp_hole_rules *rules, pp_rule_topic topic,
                                         pp_part part, pp_fit fit, pp_table table)
{
    for (size_t i = 0; i < rules->table_count; i++) {
        const pp_rule_table *t = &rules->tables[i];
        if (t->topic == topic && selects(t->part, (int)part) && selects(t->fit, (int)fit) &&
            selects(t->table, (int)table))
            return t;
    }
    return NULL;
}

static bool same_tube(double a, double b) { return pp_at_most(fabs(a - b), TUBE_TOLERANCE); }

static bool row_holds(const pp_rule_row *row, double tube, double span)
{
    const double *v = row->value;
    if (!isnan(v[PP_RULE_TUBE]) && !same_tube(tube, v[PP_RULE_TUBE]) &&
        !same_tube(tube, v[PP_RULE_TUBE_ALSO]))
        return false;
    if (!isnan(v[PP_RULE_TUBE_UP_TO]) && !pp_at_most(tube, v[PP_RULE_TUBE_UP_TO] + TUBE_TOLERANCE))
        return false;
    if (!isnan(v[PP_RULE_TUBE_BELOW]) &&
        !pp_less_than(tube, v[PP_RULE_TUBE_BELOW] - TUBE_TOLERANCE))
        return false;
    return isnan(v[PP_RULE_SPAN_UP_TO]) || pp_at_most(span, v[PP_RULE_SPAN_UP_TO]);
}

const pp_rule_row *pp_hole_rules_row(const pp_rule_table *table, double tube, double span)
{
    for (size_t i = 0; i < table->row_count; i++)
        if (row_holds(&table->rows[i], tube, span)) return &table->rows[i];
    return NULL;
}

bool pp_hole_rules_need_span(const pp_rule_table *table)
{
    for (size_t i = 0; i < table->row_count; i++)
        if (!isnan(table->rows[i].value[PP_RULE_SPAN_UP_TO])) return true;
    return false;
}

const pp_rule_row *pp_hole_rules_ligament(const pp_rule_table *table, double tube,
                                          const pp_rule_row *hole_row, double pitch)
{
    const pp_rule_row *best = NULL;
    double nearest = PITCH_TOLERANCE + PP_ALLOWANCE;
    for (size_t i = 0; i < table->row_count; i++) {
        const pp_rule_row *row = &table->rows[i];
        double row_tube = row->value[PP_RULE_TUBE];
        bool same = same_tube(tube, row_tube) || same_tube(tube, row->value[PP_RULE_TUBE_ALSO]);
        if (hole_row)
            same = same || same_tube(hole_row->value[PP_RULE_TUBE], row_tube) ||
                   same_tube(hole_row->value[PP_RULE_TUBE_ALSO], row_tube);
        double distance = fabs(pitch - row->value[PP_RULE_PITCH]);
        if (!same || distance > nearest) continue;
        nearest = distance;
        best = row;
    }
    return best;
}
