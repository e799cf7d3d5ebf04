#include "rules/flatness_rules.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "base/text.h"

#define LENGTH_TOLERANCE                                                                           \
    0.5 /* mm: how far a straightedge may be from a table's and still be it                        \
         */

static const pp_range above_zero = {0, INFINITY, true, false};
static const pp_range from_zero = {0, INFINITY, false, false};

/* One table on its way from the text. */
typedef struct reading {
    const pp_rule_file *file;
    const pp_ini_section *section;
    pp_memory *memory;
    pp_error *error;
    pp_length_unit unit;
} reading;

static pp_status refuse(const reading *r, long line, const char *what)
{
    return pp_fail_at(r->error, PP_EINPUT, r->file->ini.file, line, 0, "%s", what);
}

/* Upper ends of the width classes: rising, the last one open when it is `-`. */
static pp_status read_widths(const reading *r, const pp_ini_entry *entry, pp_flatness_table *table)
{
    pp_error *error = r->error;
    pp_rule_words words;
    double *width;
    PP_TRY(pp_rule_split(entry->value, ',', r->memory, &words, error));
    PP_TAKE(width, &r->memory->keep, words.count);
    for (size_t i = 0; i < words.count; i++) {
        PP_TRY(pp_rule_length(r->file, entry->line, "widths", words.word[i], r->unit, above_zero,
                              &width[i], error));
        if (isnan(width[i]) && i + 1 == words.count) width[i] = INFINITY;
        if (isnan(width[i]) || (i && width[i] <= width[i - 1]))
            return refuse(r, entry->line,
                          "the widths do not rise; write the upper end of each "
                          "class, and - for an open last one");
    }
    table->width = width;
    table->width_count = words.count;
    return PP_OK;
}

static pp_status read_row(const reading *r, const pp_ini_entry *entry,
                          const pp_flatness_table *table, pp_flatness_row *row)
{
    pp_error *error = r->error;
    pp_rule_words words;
    double *value;
    PP_TRY(pp_rule_split(entry->value, ',', r->memory, &words, error));
    if (!table->width_count)
        return refuse(r, entry->line, "the row stands above the widths; put widths = ... before");
    if (words.count != table->width_count + 2)
        return pp_fail_at(error, PP_EINPUT, r->file->ini.file, entry->line, 0,
                          "the row has %zu cells, and should have %zu: thickness from, to, and one "
                          "per width; write - for an empty cell",
                          words.count, table->width_count + 2);
    PP_TAKE(value, &r->memory->keep, words.count);
    for (size_t i = 0; i < words.count; i++)
        PP_TRY(pp_rule_length(r->file, entry->line, "row", words.word[i], r->unit,
                              i == 0 ? from_zero : above_zero, &value[i], error));
    row->from = value[0];
    row->to = isnan(value[1]) ? INFINITY : value[1];
    row->value = value + 2;
    if (!(row->to > row->from))
        return refuse(r, entry->line, "the thickness class does not rise; write from, to");
    return PP_OK;
}

static pp_status read_sure(const reading *r, const pp_ini_entry *entry, char *letter)
{
    if (strlen(entry->value) != 1 || !pp_rule_is_sure(*entry->value))
        return refuse(r, entry->line,
                      "sure is no letter of how sure the values are; write A, B, "
                      "C or D");
    *letter = *entry->value;
    return PP_OK;
}

static pp_status read_entry(const reading *r, const pp_ini_entry *entry, pp_flatness_table *table,
                            pp_flatness_row *rows)
{
    static const char *const known[] = {"unit",    "source",       "widths",      "row",
                                        "sure",    "medium_share", "length",      "least_width",
                                        "longest", "short_length", "short_limit", "medium_length"};
    enum { UNIT, SOURCE, WIDTHS, ROW, SURE, MEDIUM_SHARE, FIRST_LENGTH, KEYS = 12 };
    double *length[KEYS - FIRST_LENGTH] = {&table->length,      &table->least_width,
                                           &table->longest,     &table->short_length,
                                           &table->short_limit, &table->medium_length};
    size_t key = pp_rule_word(entry->key, KEYS, known);
    pp_value_place place = {r->file->ini.file, entry->line, entry->key};
    pp_value_kind share = {.quantity = PP_SHARE, .range = {0, 1, true, false}};
    switch (key) {
    case UNIT: /* read beforehand */
        return PP_OK;
    case SOURCE:
        table->source = entry->value;
        return PP_OK;
    case WIDTHS:
        return read_widths(r, entry, table);
    case ROW:
        return read_row(r, entry, table, &rows[table->row_count++]);
    case SURE:
        return read_sure(r, entry, &table->sure);
    case MEDIUM_SHARE:
        return pp_value_read(&place, entry->value, strlen(entry->value), &share,
                             &table->medium_share, NULL, r->error);
    case KEYS:
        return pp_rule_unknown(r->file, entry->line, "key of a flatness table", entry->key, KEYS,
                               known, r->error);
    default:
        return pp_rule_length(r->file, entry->line, entry->key, entry->value, r->unit, above_zero,
                              length[key - FIRST_LENGTH], r->error);
    }
}

static pp_status check_table(const reading *r, const pp_flatness_table *table, bool whole)
{
    if (whole != isnan(table->length))
        return refuse(r, table->line,
                      whole ? "[whole-plate] has no straightedge; take length away"
                            : "[straightedge] does not say which; give length");
    if (isnan(table->short_length) != isnan(table->short_limit))
        return refuse(r, table->line, "short_length and short_limit belong together; give both");
    if (isnan(table->medium_length) != isnan(table->medium_share))
        return refuse(r, table->line, "medium_length and medium_share belong together; give both");
    for (size_t i = 1; i < table->row_count; i++)
        if (table->rows[i].from < table->rows[i - 1].to)
            return refuse(r, table->line,
                          "the thickness classes overlap or do not rise; put them "
                          "in order");
    return PP_OK;
}

static pp_status read_table(reading *r, pp_flatness_table *table)
{
    static const char *const known[] = {"whole-plate", "straightedge"};
    pp_error *error = r->error;
    bool whole = strcmp(r->section->name, known[0]) == 0;
    if (!whole && strcmp(r->section->name, known[1]) != 0)
        return pp_rule_unknown(r->file, r->section->line, "section of a rule file for flatness",
                               r->section->name, 2, known, error);
    *table = (pp_flatness_table){.line = r->section->line,
                                 .length = NAN,
                                 .least_width = NAN,
                                 .longest = NAN,
                                 .short_length = NAN,
                                 .short_limit = NAN,
                                 .medium_length = NAN,
                                 .medium_share = NAN};
    PP_TRY(pp_rule_unit(r->file, r->section, &r->unit, error));
    pp_flatness_row *rows;
    PP_TAKE(rows, &r->memory->keep, r->section->count);
    for (size_t e = r->section->first; e < r->section->first + r->section->count; e++)
        PP_TRY(read_entry(r, &r->file->ini.entries[e], table, rows));
    table->rows = rows;
    PP_TRY(pp_rule_once(r->file, r->section, error));
    return check_table(r, table, whole);
}

pp_status pp_flatness_rules_read(const char *name, const pp_rule_place *place, pp_memory *memory,
                                 pp_flatness_rules *rules, pp_error *error)
{
    pp_flatness_rules result = {0};
    PP_TRY(pp_rule_file_open(name, "flatness", place, memory, &result.file, error));
    const pp_ini *ini = &result.file.ini;
    pp_flatness_table *tables;
    PP_TAKE(tables, &memory->keep, ini->section_count);
    result.tables = tables;
    for (size_t s = 0; s < ini->section_count; s++) {
        if (strcmp(ini->sections[s].name, "set") == 0) continue;
        reading r = {&result.file, &ini->sections[s], memory, error, PP_MM};
        pp_flatness_table *table = &tables[result.table_count];
        PP_TRY(read_table(&r, table));
        const pp_flatness_table *before = isnan(table->length)
                                              ? pp_flatness_rules_whole(&result)
                                              : pp_flatness_rules_edge(&result, table->length);
        if (before)
            return pp_fail_at(error, PP_EINPUT, ini->file, table->line, 0,
                              "line %ld has such a table already; keep one", before->line);
        result.table_count++;
    }
    if (!result.table_count)
        return pp_fail_at(error, PP_EINPUT, ini->file, 0, 0,
                          "the file has no table; add [whole-plate] or [straightedge]");
    *rules = result;
    return PP_OK;
}

const pp_flatness_table *pp_flatness_rules_whole(const pp_flatness_rules *rules)
{
    for (size_t i = 0; i < rules->table_count; i++)
        if (isnan(rules->tables[i].length)) return &rules->tables[i];
    return NULL;
}

const pp_flatness_table *pp_flatness_rules_edge(const pp_flatness_rules *rules, double length)
{
    for (size_t i = 0; i < rules->table_count; i++)
        if (fabs(rules->tables[i].length - length) <= LENGTH_TOLERANCE) return &rules->tables[i];
    return NULL;
}

static const pp_flatness_row *find_row(const pp_flatness_table *table, double thickness)
{
    for (size_t i = 0; i < table->row_count; i++) {
        const pp_flatness_row *row = &table->rows[i];
        bool last = i + 1 == table->row_count;
        if (pp_at_least(thickness, row->from) &&
            (last ? pp_at_most(thickness, row->to) : pp_less_than(thickness, row->to)))
            return row;
    }
    return NULL;
}

static size_t find_width(const pp_flatness_table *table, double width)
{
    size_t i = 0;
    while (i < table->width_count && pp_at_least(width, table->width[i])) i++;
    return i;
}

/* The table's value, less for plates whose longer side is short. */
static double shortened(const pp_flatness_table *table, double value, double length,
                        const char **why)
{
    if (pp_less_than(length, table->short_length)) {
        *why = ", short plate";
        return table->short_limit;
    }
    if (pp_less_than(length, table->medium_length)) {
        *why = ", reduced for its length";
        return fmax(table->medium_share * value, table->short_limit); /* NaN: no floor */
    }
    *why = "";
    return value;
}

pp_status pp_flatness_rules_limit(const pp_flatness_rules *rules, const pp_flatness_table *table,
                                  const pp_rolled_size *size, pp_memory *memory, double *value,
                                  const char **source, pp_error *error)
{
    const char *name = rules->file.name;
    double thickness = size->thickness, width = size->width, length = size->length;
    if (pp_more_than(length, table->longest))
        return pp_fail(error, PP_EINPUT,
                       "%s speaks of at most %g mm of a plate's length at a time, and this one is "
                       "%g mm long; give [survey] flatness_limit",
                       name, table->longest, length);
    const pp_flatness_row *row = find_row(table, thickness);
    size_t w = find_width(table, width);
    if (pp_less_than(width, table->least_width) || !row || w == table->width_count ||
        isnan(row->value[w]))
        return pp_fail(error, PP_EINPUT,
                       "%s has no value for a plate %g mm thick and %g mm wide; give the limit "
                       "itself, [survey] %s",
                       name, thickness, width,
                       isnan(table->length) ? "flatness_limit" : "straightedge_limit");
    const char *why;
    double limit = shortened(table, row->value[w], length, &why);
    const char *text =
        rules->file.built_in
            ? pp_text_kept(&memory->keep, "%s, plate %g mm thick and %g mm wide%s; %s (%s)", name,
                           thickness, width, why, table->source ? table->source : "source not said",
                           pp_rule_sure_words(table->sure))
            : pp_text_kept(&memory->keep,
                           "from the file %s, its sources not checked; plate %g mm thick and %g mm "
                           "wide%s",
                           name, thickness, width, why);
    if (!text) return pp_fail_memory(error);
    *value = limit;
    *source = text;
    return PP_OK;
}
