#include "answer/reading_words.h"

#include <string.h>

const char *pp_mark_words(char mark)
{
    switch (mark) {
    case ',':
        return "comma";
    case ';':
        return "semicolon";
    case '\t':
        return "tab";
    case '.':
        return "point";
    default:
        return NULL;
    }
}

const char *pp_unit_origin_words(pp_unit_origin origin)
{
    switch (origin) {
    case PP_UNIT_NONE:
        return NULL;
    case PP_UNIT_OF_HEADER:
        return "header";
    case PP_UNIT_OF_UNIT_ROW:
        return "row of units";
    case PP_UNIT_OF_SECTION:
        return "length_unit of the job file";
    case PP_UNIT_OF_JOB:
        return "units of the job file";
    case PP_UNIT_ASSUMED:
        return "not said anywhere";
    }
    return NULL;
}

const char *pp_align_words(pp_align align)
{
    static const char *const WORDS[] = {[PP_ALIGN_AS_MEASURED] = "as-measured",
                                        [PP_ALIGN_BEST_FIT] = "best-fit",
                                        [PP_ALIGN_TWO_HOLES] = "two-holes",
                                        [PP_ALIGN_DATUM_POINTS] = "datum-points"};
    return WORDS[align];
}

const char *pp_exit_view_words(pp_exit_view view)
{
    static const char *const WORDS[] = {[PP_EXIT_THROUGH] = "through",
                                        [PP_EXIT_TURNED_ABOUT_X] = "turned-about-x",
                                        [PP_EXIT_TURNED_ABOUT_Y] = "turned-about-y"};
    return WORDS[view];
}

static void add_columns(pp_text *text, const pp_table_reading *r)
{
    pp_text_add(text, r->used_count == 1 ? "Column " : "Columns ");
    for (size_t i = 0; i < r->used_count; i++) {
        const pp_column_used *u = &r->used[i];
        const char *origin = pp_unit_origin_words(u->origin);
        bool renamed = *u->header && strcmp(u->header, u->column) != 0;
        pp_text_print(text, "%s%s", i ? ", " : "", u->column);
        if (!renamed && !origin) continue;
        pp_text_add(text, " (");
        if (renamed) pp_text_print(text, "\u201c%s\u201d", u->header);
        if (renamed && u->mapped) pp_text_add(text, " by the job file");
        if (renamed && origin) pp_text_add(text, ", ");
        if (origin) pp_text_print(text, "%s: %s", pp_unit_name(u->unit), origin);
        pp_text_add(text, ")");
    }
    if (!r->header) pp_text_add(text, ", in this order, no header");
    pp_text_add(text, "; ignored: ");
    for (size_t i = 0; i < r->ignored_count; i++)
        pp_text_print(text, "%s\u201c%s\u201d", i ? ", " : "", r->ignored[i]);
    pp_text_add(text, r->ignored_count ? ". " : "none. ");
}

static void add_skipped(pp_text *text, const pp_table_reading *r)
{
    const struct {
        size_t count;
        const char *one, *several;
    } SKIPPED[] = {{r->blank, "blank line", "blank lines"},
                   {r->comments, "line that begins with #", "lines that begin with #"},
                   {r->preamble, "line above the header", "lines above the header"},
                   {r->unit_rows, "row of units", "rows of units"},
                   {r->headers, "repeated header", "repeated headers"},
                   {r->totals, "row of totals", "rows of totals"}};
    const char *joint = "";
    for (size_t i = 0; i < sizeof SKIPPED / sizeof *SKIPPED; i++) {
        if (!SKIPPED[i].count) continue;
        pp_text_print(text, "%s%zu %s", joint, SKIPPED[i].count,
                      SKIPPED[i].count == 1 ? SKIPPED[i].one : SKIPPED[i].several);
        joint = ", ";
    }
    if (!*joint) pp_text_add(text, "nothing");
}

void pp_reading_words(pp_text *text, const pp_table_reading *reading)
{
    add_columns(text, reading);
    pp_text_print(text, "%zu row%s; skipped: ", reading->rows, reading->rows == 1 ? "" : "s");
    add_skipped(text, reading);
    const char *delimiter = pp_mark_words(reading->delimiter);
    const char *decimal = pp_mark_words(reading->decimal);
    if (delimiter) pp_text_print(text, ". Cells apart by %s", delimiter);
    if (decimal) pp_text_print(text, ", decimal %s", decimal);
    pp_text_add(text, ".");
}

void pp_matching_count(const pp_results *results, size_t *by_name, size_t *by_place)
{
    const pp_readings *r = &results->files->measured;
    *by_name = 0;
    for (size_t i = 0; r->name && i < r->count; i++) *by_name += r->name[i][0] != '\0';
    *by_place = r->count - *by_name;
}

void pp_matching_words(pp_text *text, const pp_results *results)
{
    if (!results->measures || !results->files->measured_given) return;
    size_t by_name, by_place;
    pp_matching_count(results, &by_name, &by_place);
    pp_text_print(text, "%zu row%s matched by name, %zu by place. Frame: %s", by_name,
                  by_name == 1 ? "" : "s", by_place, pp_align_words(results->job->holes.align));
    if (results->measures->faces[PP_EXIT])
        pp_text_print(text, "; exit view: %s", pp_exit_view_words(results->job->holes.exit_view));
    pp_text_add(text, ".");
}
