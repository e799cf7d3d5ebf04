#include "report/setups/pin_sheet.h"

#include <math.h>

#include "answer/for_people.h"
#include "report/certificate/cells.h"
#include "report/setups/setup_picture.h"

enum { CELLS = 8 };
static const double PICTURE = 400; /* points */

typedef struct sheet {
    const pp_results *r;
    const pp_holddown *h;
    const pp_plate_view *view;
    pp_cells cells;
} sheet;

static void head_part(sheet *s, pp_page_writer *w)
{
    const pp_job *job = s->r->job;
    const pp_holddown_judgement *j = s->r->holddown_judgement;
    pp_page_text(w, PP_STYLE_SMALL, "Pin sheet: the support pins as a fixture");
    pp_page_text(w, PP_STYLE_TITLE, job->title ? job->title : job->name);
    pp_page_space(w, 4);
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "%zu pins", s->h->pin_count);
    if (pp_given(job->support.pin_diameter)) {
        pp_text_add(t, " of ");
        pp_people_size(t, job->units, job->support.pin_diameter);
        pp_text_add(t, " diameter");
    }
    pp_text_print(t, "; %zu of them over a limit or too near to a hole.", j->pins_failing);
    pp_page_text(w, PP_STYLE_BOLD, pp_said(t));
    t = pp_cell(&s->cells, 0);
    pp_text_add(t,
                "Loads are the largest over all holes, foot and thrust included. Numbers are the "
                "rows of the list of pins.");
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
}

static void drawing_part(sheet *s, pp_page_writer *w)
{
    double height = PICTURE;
    pp_page_need(w, PICTURE + 16);
    double n = pp_pin_picture(w, s->r, s->view, w->left, w->y + 4, w->right - w->left, &height);
    pp_page_space(w, height + 10);
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(
        t,
        "Seen from above, scale 1:%.10g; x to the right, y up the sheet. Pins are drawn to "
        "scale where that is large enough to see; pins.dxf has them exactly, in millimetres.",
        n);
    pp_page_text(w, PP_STYLE_SMALL, pp_said(t));
}

static void add_force(pp_text *t, pp_length_unit units, double newton)
{
    if (isnan(newton))
        pp_text_add(t, "\u2013");
    else
        pp_people_force(t, units, newton);
}

static void add_metal(sheet *s, pp_text *t, const pp_fixture_pin *p)
{
    if (isnan(p->metal))
        pp_text_add(t, "not known");
    else if (isinf(p->metal))
        pp_text_add(t, "none near");
    else
        pp_people_length(t, s->r->job->units, p->metal);
}

static void add_verdict(pp_text *t, const pp_pin_verdicts *v)
{
    if (v->clearance == PP_DOES_NOT_CONFORM) pp_text_add(t, "too near; ");
    if (v->load == PP_DOES_NOT_CONFORM) pp_text_add(t, "overloaded; ");
    if (v->pressure == PP_DOES_NOT_CONFORM) pp_text_add(t, "pressed too hard; ");
    if (t->length)
        t->data[t->length -= 2] = '\0';
    else
        pp_text_add(t, "\u2013");
}

static void table_part(sheet *s, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.05, "Pin"},
                                             {0.25, "x, y"},
                                             {0.12, "Height"},
                                             {0.1, "Load solid"},
                                             {0.095, "Load drilled"},
                                             {0.125, "Pressure on pin and plate"},
                                             {0.125, "To hole's edge"},
                                             {0.135, "Look at"}};
    pp_length_unit units = s->r->job->units;
    pp_page_heading(w, "Pins");
    pp_page_table(w, columns, CELLS);
    for (size_t i = 0; i < s->h->pin_count; i++) {
        const pp_fixture_pin *p = &s->h->fixture[i];
        pp_text_print(pp_cell(&s->cells, 0), "%zu", p->number);
        pp_people_place(pp_cell(&s->cells, 1), units, p->x);
        pp_text_add(&s->cells.cell[1], ", ");
        pp_people_place(&s->cells.cell[1], units, p->y);
        pp_people_length(pp_cell(&s->cells, 2), units, p->height);
        add_force(pp_cell(&s->cells, 3), units, p->load_solid);
        add_force(pp_cell(&s->cells, 4), units, p->load_drilled);
        pp_cell(&s->cells, 5);
        if (isnan(p->pressure))
            pp_text_add(&s->cells.cell[5], "not known");
        else
            pp_people_stress(&s->cells.cell[5], units, p->pressure);
        add_metal(s, pp_cell(&s->cells, 6), p);
        add_verdict(pp_cell(&s->cells, 7), &s->r->holddown_judgement->pins[i]);
        pp_cells_row(&s->cells, w, columns, CELLS);
    }
}

static void cautions_part(sheet *s, pp_page_writer *w)
{
    const pp_job *job = s->r->job;
    pp_page_heading(w, "Held against");
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_add(t, "Distance from a hole's edge: at least ");
    pp_people_limit(t, job->units, job->support.pin_clearance);
    pp_text_add(t, ". Load: ");
    if (pp_given(job->support.pin_load_limit))
        pp_text_add(t, "at most "), pp_people_force(t, job->units, job->support.pin_load_limit);
    else
        pp_text_add(t, "no limit given");
    pp_text_add(t, ". Bearing pressure: ");
    if (pp_given(s->r->holddown_judgement->pin_pressure_most))
        pp_text_add(t, "at most "),
            pp_people_stress(t, job->units, s->r->holddown_judgement->pin_pressure_most);
    else
        pp_text_add(t, "no limit given, and no yield strength of the plate");
    pp_text_add(t,
                ", the mean over a flat top that touches all over; a rounded or tilted top presses "
                "much harder at one place.");
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    pp_page_text(
        w, PP_STYLE_BODY,
        "A study of an elastic plate, not a lifting or guarding calculation. " PP_SAFETY_WORDS);
}

static void lay_out(void *context, pp_page_writer *w)
{
    sheet *s = context;
    pp_page_begin(w);
    head_part(s, w);
    drawing_part(s, w);
    table_part(s, w);
    cautions_part(s, w);
    pp_page_finish(w);
    w->failed = w->failed || pp_cells_failed(&s->cells);
}

bool pp_pin_sheet_is_due(const pp_results *results)
{
    return results->holddown && results->holddown->pin_count > 0;
}

pp_status pp_pin_sheet_write(const pp_results *results, const pp_paper_options *options,
                             pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_plate_view view;
    sheet s = {.r = results, .h = results->holddown, .view = &view};
    const char *title = results->job->title ? results->job->title : results->job->name;
    const char *head = pp_text_kept(&memory->keep, "%s \u2013 pin sheet", title);
    if (!head) return pp_fail_memory(error);
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    const pp_paper paper = {.job = results->job,
                            .subject = "Pin sheet: the support pins as a fixture",
                            .date = results->date,
                            .running_head = head,
                            .options = options,
                            .lay_out = lay_out,
                            .context = &s};
    pp_status status = pp_paper_make(&paper, out, error);
    pp_cells_free(&s.cells);
    return status;
}
