/* The work list on the page: how much of what as tiles on the first screen, and a row a hole. */
#include "answer/for_people.h"
#include "answer/work_words.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

enum { ROWS_MAX = 2000, PLACE_DECIMALS = 3 };

void pp_html_work_tiles(pp_text *out, const pp_results *r)
{
    const pp_work_list *work = r->work;
    if (!work || !work->count) return;
    pp_text_add(out, "<nav class=\"tiles\" aria-label=\"Work list, by what is to be done\">\n");
    for (int i = 0; i < PP_TODO_ORDER; i++) {
        pp_todo todo = PP_TODO_SHOWN[i];
        if (!work->counts[todo]) continue;
        pp_text_print(out, "<a class=\"tile d%d\" href=\"#work\" data-todo=\"%s\"><b>", (int)todo,
                      pp_todo_words(todo));
        pp_people_count(out, work->counts[todo]);
        pp_text_print(out, "</b> %s</a>\n", pp_todo_words(todo));
    }
    pp_text_add(out, "</nav>\n");
}

static void add_cell(pp_text *out, const char *label, const pp_text *words)
{
    pp_text_print(out, "<td data-label=\"%s\">", label);
    if (words->length) pp_markup_add(out, words->data);
    pp_text_add(out, "</td>");
}

static void add_row(pp_text *out, const pp_results *r, size_t number, pp_text *piece)
{
    const pp_work_row *row = &r->work->rows[number];
    pp_nominal_point at = pp_work_place(r->measures, row);
    pp_todo todo = (pp_todo)row->todo;
    pp_text_print(out, "<tr data-todo=\"%s\" data-x=\"", pp_todo_words(todo));
    pp_text_add_fixed(out, at.x, PLACE_DECIMALS);
    pp_text_add(out, "\" data-y=\"");
    pp_text_add_fixed(out, at.y, PLACE_DECIMALS);
    pp_text_print(out, "\"><td data-label=\"No.\">%zu</td><th scope=\"row\">", number + 1);
    pp_markup_add(out, pp_work_name(r->measures, row));
    pp_text_add(out, "</th>");
    piece->length = 0;
    pp_work_where(piece, r, row);
    add_cell(out, "Where", piece);
    pp_text_print(out, "<td data-label=\"Do\"><span class=\"todo d%d\">%s</span></td>", (int)todo,
                  pp_todo_words(todo));
    void (*const columns[])(pp_text *, const pp_results *, const pp_work_row *) = {
        pp_work_instruction, pp_work_faults, pp_work_error};
    static const char *const labels[] = {"What to do", "What is wrong", "Off by"};
    for (size_t i = 0; i < 3; i++) {
        piece->length = 0;
        columns[i](piece, r, row);
        add_cell(out, labels[i], piece);
    }
    pp_text_add(out, "</tr>\n");
}

void pp_html_work(pp_text *out, const pp_results *r)
{
    const pp_work_list *work = r->work;
    if (!work || !work->count) return;
    pp_html_section(out, "work", "Work list");
    pp_text_print(out,
                  "<p class=\"lead\">%s</p>\n<p class=\"note\">In an order that is a short way "
                  "over the plate, ",
                  PP_WORK_CAUTION);
    pp_people_place(out, r->job->units, work->length);
    pp_text_add(out, ". Places are those of the drawing; left, right, up and down as the plate is "
                     "drawn, seen from the entry face. worklist.csv and worklist.pdf have the same "
                     "list.");
    if (work->count > ROWS_MAX)
        pp_text_print(out, " Here the first %d of %zu.", ROWS_MAX, work->count);
    pp_text_add(out, "</p>\n<p id=\"shown\" class=\"note\" role=\"status\" hidden></p>\n"
                     "<div class=\"scroll\"><table id=\"work-rows\" class=\"stack\"><caption>A row "
                     "a hole, whatever is wrong with it on either face</caption><thead><tr>"
                     "<th scope=\"col\">No.</th><th scope=\"col\">Hole</th><th "
                     "scope=\"col\">Where</th><th scope=\"col\">Do</th><th scope=\"col\">What to "
                     "do</th><th scope=\"col\">What is wrong</th><th scope=\"col\">Off "
                     "by</th></tr></thead><tbody>\n");
    pp_text piece = {0};
    for (size_t i = 0; i < work->count && i < ROWS_MAX; i++) add_row(out, r, i, &piece);
    if (piece.failed) out->failed = true;
    pp_text_free(&piece);
    pp_text_add(out, "</tbody></table></div>\n");
    pp_html_end_section(out);
}
