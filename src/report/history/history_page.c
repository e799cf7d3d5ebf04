#include "report/history/history_page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plateproof/version.h"
#include "report/history/answers.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

/* Of the picture, in its own units. */
enum { WIDTH = 900, HEIGHT = 230, LEFT = 70, RIGHT = 20, TOP = 18, BOTTOM = 34, DATES_SHOWN = 6 };

typedef struct frame {
    double low, high; /* of the values */
    size_t points;
} frame;

static double across(const frame *f, size_t i)
{
    double last = f->points > 1 ? (double)(f->points - 1) : 1;
    return LEFT + (WIDTH - LEFT - RIGHT) * (double)i / last;
}

static double up(const frame *f, double value)
{
    return TOP + (HEIGHT - TOP - BOTTOM) * (f->high - value) / (f->high - f->low);
}

static void number(pp_text *out, const char *before, double value)
{
    pp_text_add(out, before);
    pp_text_add_fixed(out, value, 1);
    pp_text_add(out, "\"");
}

static frame frame_of(const pp_chart_answer *a)
{
    frame f = {a->chart.lower, a->chart.upper, a->rows.count};
    for (size_t i = 0; i < a->rows.count; i++)
        f.low = fmin(f.low, a->value[i]), f.high = fmax(f.high, a->value[i]);
    double margin = 0.06 * (f.high - f.low);
    if (!(margin > 0)) margin = fmax(fabs(f.high), 1) * 0.01;
    f.low -= margin, f.high += margin;
    return f;
}

/* A level with its value: solid the centre, dashed a limit. */
static void add_level(pp_text *out, const frame *f, double value, bool limit, const char *unit)
{
    number(out, "<line x1=\"", LEFT), number(out, " x2=\"", WIDTH - RIGHT);
    number(out, " y1=\"", up(f, value)), number(out, " y2=\"", up(f, value));
    pp_text_print(out, " stroke=\"%s\" stroke-width=\"1.4\"%s/>", limit ? "#d55e00" : "#56606b",
                  limit ? " stroke-dasharray=\"7 5\"" : "");
    number(out, "<text text-anchor=\"end\" font-size=\"13\" x=\"", LEFT - 6);
    number(out, " y=\"", up(f, value) + 4);
    pp_text_add(out, ">");
    pp_history_number(out, value, unit);
    pp_text_add(out, "</text>\n");
}

static void add_points(pp_text *out, const frame *f, const pp_chart_answer *a)
{
    pp_text_add(out, "<polyline fill=\"none\" stroke=\"#0072b2\" stroke-width=\"1.6\" points=\"");
    for (size_t i = 0; i < f->points; i++) {
        pp_text_add_fixed(out, across(f, i), 1);
        pp_text_add(out, ",");
        pp_text_add_fixed(out, up(f, a->value[i]), 1);
        pp_text_add(out, " ");
    }
    pp_text_add(out, "\"/>\n");
    for (size_t i = 0; i < f->points; i++) {
        number(out, "<circle r=\"3.2\" fill=\"#0072b2\" cx=\"", across(f, i));
        number(out, " cy=\"", up(f, a->value[i]));
        pp_text_add(out, "><title>");
        pp_markup_add(out, a->rows.rows[i].label);
        pp_text_add(out, ", ");
        pp_markup_add(out, a->rows.rows[i].date);
        pp_text_add(out, ": ");
        pp_history_number(out, a->value[i], a->rows.unit);
        pp_text_add(out, "</title></circle>\n");
    }
}

/* Ringed, and numbered as the table below. */
static void add_signals(pp_text *out, const frame *f, const pp_chart_answer *a)
{
    const pp_point_list *beyond = &a->chart.found[0];
    for (size_t k = 0; k < beyond->count; k++) {
        size_t i = beyond->points[k] - 1;
        double y = up(f, a->value[i]);
        number(out, "<circle r=\"8\" fill=\"none\" stroke=\"#d55e00\" stroke-width=\"2\" cx=\"",
               across(f, i));
        number(out, " cy=\"", y);
        number(out, "/><text text-anchor=\"middle\" font-size=\"13\" font-weight=\"700\" x=\"",
               across(f, i));
        number(out, " y=\"", y < TOP + 24 ? y + 22 : y - 11);
        pp_text_print(out, ">%zu</text>\n", k + 1);
    }
}

static void add_dates(pp_text *out, const frame *f, const pp_chart_answer *a)
{
    size_t step = f->points > DATES_SHOWN ? (f->points + DATES_SHOWN - 1) / DATES_SHOWN : 1;
    for (size_t i = 0; i < f->points; i += step) {
        bool first = i == 0;
        pp_text_print(out, "<text font-size=\"12\" text-anchor=\"%s\"", first ? "start" : "middle");
        number(out, " x=\"", fmin(across(f, i), WIDTH - RIGHT - 30));
        number(out, " y=\"", HEIGHT - 10);
        pp_text_add(out, ">");
        pp_markup_add(out, a->rows.rows[i].date);
        pp_text_add(out, "</text>\n");
    }
}

static void add_picture(pp_text *out, const pp_chart_answer *a)
{
    frame f = frame_of(a);
    /* of its own width, to be scrolled on a phone: smaller writing could not be read */
    pp_text_print(out,
                  "<div class=\"scroll\" tabindex=\"0\"><svg viewBox=\"0 0 %d %d\" width=\"%d\" "
                  "height=\"%d\" role=\"img\" fill=\"#1b1f24\" aria-label=\"",
                  WIDTH, HEIGHT, WIDTH, HEIGHT);
    pp_markup_add(out, a->figure);
    pp_text_print(out, ", %zu plates, %zu beyond the limits\">\n", f.points,
                  a->chart.found[0].count);
    add_level(out, &f, a->chart.upper, true, a->rows.unit);
    add_level(out, &f, a->chart.centre, false, a->rows.unit);
    add_level(out, &f, a->chart.lower, true, a->rows.unit);
    add_points(out, &f, a);
    add_signals(out, &f, a);
    add_dates(out, &f, a);
    pp_text_add(out, "</svg></div>\n");
}

static void add_signal_list(pp_text *out, const pp_chart_answer *a)
{
    const pp_point_list *beyond = &a->chart.found[0];
    if (!beyond->count) {
        pp_text_add(out, "<p>No plate is beyond the limits.</p>\n");
        return;
    }
    pp_text_add(out,
                "<p class=\"lead\">Beyond the limits: look for what was different.</p>\n<ol>\n");
    for (size_t k = 0; k < beyond->count; k++) {
        const pp_history_row *row = &a->rows.rows[beyond->points[k] - 1];
        pp_text_add(out, "<li>");
        pp_markup_add(out, row->label);
        pp_text_add(out, ", ");
        pp_markup_add(out, row->date);
        pp_text_add(out, ": ");
        pp_history_number(out, a->value[beyond->points[k] - 1], a->rows.unit);
        pp_text_print(out, " %s</li>\n", pp_history_unit(a->rows.unit));
    }
    pp_text_add(out, "</ol>\n");
}

/* A dotted name may break after its dots. */
static void add_breakable(pp_text *out, const char *name)
{
    for (const char *at = name; *at;) {
        char part[64];
        size_t length = strcspn(at, "."), most = sizeof part - 1;
        length = length < most ? length : most;
        memcpy(part, at, length);
        part[length] = '\0';
        pp_markup_add(out, part);
        at += length;
        if (*at == '.') pp_text_add(out, ".<wbr>"), at++;
    }
}

static void add_chart(pp_text *out, const pp_chart_answer *a, size_t number_of)
{
    char id[32];
    pp_text title = {0}, cautions = {0};
    const pp_history_answer answer = {.chart = a};
    snprintf(id, sizeof id, "chart-%zu", number_of);
    add_breakable(&title, a->figure);
    if (pp_history_unit(a->rows.unit)[0])
        pp_text_print(&title, ", %s", pp_history_unit(a->rows.unit));
    pp_html_section(out, id, title.length ? title.data : "");
    add_picture(out, a);
    add_signal_list(out, a);
    pp_history_cautions(&answer, "", " ", &cautions);
    if (cautions.length) {
        pp_text_add(out, "<p class=\"note\">");
        pp_markup_add(out, cautions.data);
        pp_text_add(out, "</p>\n");
    }
    pp_html_end_section(out);
    if (title.failed || cautions.failed) out->failed = true;
    pp_text_free(&title);
    pp_text_free(&cautions);
}

static void add_events(pp_text *out, const pp_list_answer *list)
{
    if (!list->event_count) return;
    pp_html_section(out, "events", "What changed");
    pp_text_add(out, "<ul>\n");
    for (size_t i = 0; i < list->event_count; i++) {
        pp_text_add(out, "<li>");
        pp_markup_add(out, list->events[i].date);
        pp_text_add(out, ", ");
        pp_markup_add(out, list->events[i].machine ? list->events[i].machine : "all machines");
        pp_text_add(out, ": ");
        pp_markup_add(out, list->events[i].text);
        pp_text_add(out, "</li>\n");
    }
    pp_text_add(out, "</ul>\n<p class=\"note\">Charts begin anew there.</p>\n");
    pp_html_end_section(out);
}

pp_status pp_history_page_write(const pp_history_page *page, pp_text *out, pp_error *error)
{
    PP_TRY(pp_html_open(out, page->title, "history", false, error));
    pp_text_add(out, "<a class=\"skip\" href=\"#main\">Skip to the charts</a>\n<header>\n<p "
                     "class=\"kind\">What many plates say of the process</p>\n<h1>");
    pp_markup_add(out, page->title);
    pp_text_print(out,
                  "</h1>\n<p class=\"identity\">%zu plates, %zu reports</p>\n</header>\n<main "
                  "id=\"main\">\n",
                  page->list->plates, page->list->reports);
    add_events(out, page->list);
    for (size_t i = 0; i < page->chart_count; i++) add_chart(out, &page->charts[i], i + 1);
    pp_text_print(
        out,
        "</main>\n<footer><p>plateproof %s. Limits are those of the process, mean ± 2.660 "
        "mean moving range (ISO 7870-2, from memory), not of the drawing: whether a plate "
        "conforms is said by its report. Dashed: limits; line: mean; a ring with a number: "
        "a plate beyond.</p></footer>\n</body>\n</html>\n",
        pp_version());
    return out->failed ? pp_fail_memory(error) : PP_OK;
}

static void add_cell(pp_text *out, const char *cell)
{
    bool plain = !strpbrk(cell, ",\"\r\n") && !strchr("=+-@", cell[0] ? cell[0] : 'a');
    if (!plain) pp_text_add(out, strchr("=+-@", cell[0]) ? "\"'" : "\"");
    for (const char *c = cell; *c; c++) {
        if (*c == '"') pp_text_add(out, "\"");
        pp_text_add_bytes(out, c, 1);
    }
    pp_text_add(out, plain ? "," : "\",");
}

pp_status pp_history_page_csv(const pp_history_page *page, pp_text *out, pp_error *error)
{
    pp_text_add(out, "figure,plate,date,value,centre,lower,upper,beyond\n");
    for (size_t k = 0; k < page->chart_count; k++) {
        const pp_chart_answer *a = &page->charts[k];
        for (size_t i = 0; i < a->rows.count; i++) {
            add_cell(out, a->figure);
            add_cell(out, a->rows.rows[i].label);
            add_cell(out, a->rows.rows[i].date);
            const double values[] = {a->value[i], a->chart.centre, a->chart.lower, a->chart.upper};
            for (int v = 0; v < 4; v++) {
                pp_text_add_number(out, values[v]);
                pp_text_add(out, ",");
            }
            bool beyond = a->value[i] < a->chart.lower || a->value[i] > a->chart.upper;
            pp_text_add(out, beyond ? "yes\n" : "no\n");
        }
    }
    return out->failed ? pp_fail_memory(error) : PP_OK;
}
