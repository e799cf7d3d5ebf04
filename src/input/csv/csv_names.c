/* Which column a header cell names. */
#include <string.h>

#include "base/text.h"
#include "input/csv/csv_parts.h"

static bool is_opening(char c) { return c == '(' || c == '['; }
static bool is_closing(char c) { return c == ')' || c == ']'; }
static bool is_joint(char c) { return c == '_' || c == ' ' || c == '-'; }

bool pp_csv_takes_unit(const pp_csv_column *column)
{
    return column->type == PP_CSV_LENGTH || column->type == PP_CSV_NUMBER;
}

/* Any case; blanks and hyphens are as good as underscores. */
static bool is_name(const char *known, const char *name, size_t length)
{
    size_t i = 0;
    while (i < length && known[i] &&
           (pp_lower(name[i]) == known[i] || (known[i] == '_' && is_joint(name[i]))))
        i++;
    return i == length && !known[i];
}

/* The column of that name; one that the job file gives a word for has no other. */
static bool find_column(const pp_csv_names *names, const char *name, size_t length,
                        pp_csv_named *named)
{
    const pp_csv_request *request = names->request;
    for (size_t c = 0; c < request->column_count; c++) {
        if (!names->mapped[c] || !pp_same_word(name, length, names->mapped[c])) continue;
        named->column = c;
        named->mapped = true;
        return true;
    }
    while (length && is_joint(name[length - 1])) length--;
    for (size_t c = 0; c < request->column_count; c++)
        for (size_t n = 0; n < 4 && request->columns[c].names[n]; n++) {
            if (names->mapped[c] || !is_name(request->columns[c].names[n], name, length)) continue;
            named->column = c;
            named->mapped = false;
            return true;
        }
    return false;
}

/* Where a unit may stand at the end of the cell; false: nowhere. */
static bool find_tail(const char *text, size_t length, size_t *base, pp_csv_named *named)
{
    bool bracket = length && is_closing(text[length - 1]);
    *base = length;
    while (*base > 0 && !(bracket ? is_opening(text[*base - 1]) : is_joint(text[*base - 1])))
        --*base;
    if (*base == 0) return false;
    named->unit_text = text + *base;
    named->unit_length = length - bracket - *base;
    --*base;
    named->unit_given = pp_unit_find_length(named->unit_text, named->unit_length, &named->unit);
    return true;
}

pp_csv_naming pp_csv_name_read(const pp_csv_names *names, const char *text, size_t length,
                               pp_csv_named *named)
{
    *named = (pp_csv_named){0};
    size_t base;
    if (find_column(names, text, length, named)) {
        bool unit = named->mapped && pp_csv_takes_unit(&names->request->columns[named->column]);
        if (unit) find_tail(text, length, &base, named); /* the job file's word holds the unit */
        return PP_CSV_NAMES_COLUMN;
    }
    bool bracket = length && is_closing(text[length - 1]);
    if (!find_tail(text, length, &base, named)) return PP_CSV_NAMES_NOTHING;
    while (base > 0 && names->request->map && is_joint(text[base - 1])) base--; /* "X-Ist [mm]" */
    if (!find_column(names, text, base, named)) return PP_CSV_NAMES_NOTHING;
    if (!pp_csv_takes_unit(&names->request->columns[named->column])) return PP_CSV_NAMES_NOTHING;
    if (named->unit_given) return PP_CSV_NAMES_COLUMN;
    return bracket ? PP_CSV_NAMES_STRANGE_UNIT : PP_CSV_NAMES_NOTHING;
}

static bool find_request_column(const pp_csv_request *request, const char *name, size_t *column)
{
    for (size_t c = 0; c < request->column_count; c++)
        for (size_t n = 0; n < 4 && request->columns[c].names[n]; n++)
            if (is_name(request->columns[c].names[n], name, strlen(name))) {
                *column = c;
                return true;
            }
    return false;
}

pp_status pp_csv_names_make(const pp_csv_request *request, pp_csv_names *names, pp_error *error)
{
    *names = (pp_csv_names){.request = request};
    const pp_column_map *map = request->map;
    for (size_t i = 0; map && i < map->count; i++) {
        size_t column;
        if (find_request_column(request, map->items[i].column, &column)) {
            names->mapped[column] = map->items[i].word;
            continue;
        }
        pp_text known = {0};
        for (size_t c = 0; c < request->column_count; c++)
            pp_text_print(&known, "%s%s", c ? ", " : "", request->columns[c].names[0]);
        pp_status status =
            known.failed ? pp_fail_memory(error)
                         : pp_fail_at(error, PP_EINPUT, request->job->path, map->line, 0,
                                      "%s says that '%s' means '%s', which is no column of %s; "
                                      "its columns are %s",
                                      map->key, map->items[i].word, map->items[i].column,
                                      request->what, known.data);
        pp_text_free(&known);
        return status;
    }
    return PP_OK;
}
