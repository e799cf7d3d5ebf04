/* How each file was read: under inputs[]. */
#include <string.h>

#include "answer/reading_words.h"
#include "report/json/json_build.h"

static void put_columns(pp_json_builder *b, json_t *object, const pp_table_reading *r)
{
    json_t *array = pp_json_array(b, object, "columns");
    for (size_t i = 0; i < r->used_count; i++) {
        const pp_column_used *u = &r->used[i];
        json_t *column = pp_json_append_object(b, array);
        const char *origin = pp_unit_origin_words(u->origin);
        pp_json_text(b, column, "column", u->column);
        pp_json_text(b, column, "header", *u->header ? u->header : NULL);
        pp_json_flag(b, column, "mapped", u->mapped);
        pp_json_text(b, column, "unit", origin ? pp_unit_name(u->unit) : NULL);
        pp_json_text(b, column, "unit_from", origin);
    }
    json_t *ignored = pp_json_array(b, object, "ignored");
    for (size_t i = 0; i < r->ignored_count; i++) pp_json_append_text(b, ignored, r->ignored[i]);
}

static void put_skipped(pp_json_builder *b, json_t *object, const pp_table_reading *r)
{
    json_t *skipped = pp_json_object(b, object, "skipped");
    pp_json_count(b, skipped, "blank", r->blank);
    pp_json_count(b, skipped, "comments", r->comments);
    pp_json_count(b, skipped, "preamble", r->preamble);
    pp_json_count(b, skipped, "unit_rows", r->unit_rows);
    pp_json_count(b, skipped, "repeated_headers", r->headers);
    pp_json_count(b, skipped, "totals", r->totals);
    json_t *commented = pp_json_array(b, object, "rows_taken_for_comments");
    for (size_t i = 0; i < r->commented_count && i < PP_COMMENTED_MAX; i++)
        pp_json_append_text(b, commented, r->commented[i]);
}

void pp_json_reading(pp_json_builder *b, json_t *input, const pp_input_file *file)
{
    const pp_table_reading *r = file->reading;
    if (!r) return;
    json_t *object = pp_json_object(b, input, "reading");
    pp_json_text(b, object, "delimiter", pp_mark_words(r->delimiter));
    pp_json_text(b, object, "decimal", pp_mark_words(r->decimal));
    pp_json_flag(b, object, "header", r->header);
    put_columns(b, object, r);
    put_skipped(b, object, r);
    const pp_results *results = b->results;
    if (strcmp(file->role, "measured") != 0 || !results || !results->measures)
        return; /* of a bundle: its plates are matched each by themselves */
    size_t by_name, by_place;
    pp_matching_count(results, &by_name, &by_place);
    pp_json_count(b, object, "matched_by_name", by_name);
    pp_json_count(b, object, "matched_by_place", by_place);
    pp_json_text(b, object, "frame", pp_align_words(results->job->holes.align));
    pp_json_text(b, object, "exit_view",
                 results->measures->faces[PP_EXIT]
                     ? pp_exit_view_words(results->job->holes.exit_view)
                     : NULL);
}
