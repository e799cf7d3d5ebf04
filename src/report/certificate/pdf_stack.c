#include "report/certificate/pdf_stack.h"

#include <math.h>

#include "answer/for_people.h"
#include "answer/stack_words.h"
#include "base/constants.h"
#include "report/certificate/cells.h"
#include "report/certificate/plate_frame.h"

static const double MAP_HEIGHT = 200; /* points */

typedef struct sheet {
    pp_page_writer *w;
    const pp_results *results;
    pp_cells cells;
} sheet;

static void lines(sheet *s, pp_page_style style, size_t count, const char *const *list)
{
    for (size_t i = 0; i < count; i++) pp_page_text(s->w, style, list[i]);
}

/* Before drilling ------------------------------------------------------------------------ */

static void interfaces(sheet *s)
{
    static const pp_page_column columns[] = {{0.34, "Between"},
                                             {0.22, "Largest gap at rest"},
                                             {0.22, "Under the foot"},
                                             {0.22, "Limit"}};
    const pp_stack *stack = s->results->stack;
    pp_length_unit units = s->results->job->units;
    pp_page_table(s->w, columns, 4);
    for (size_t k = 0; k < stack->layer_count; k++) {
        const pp_stack_interface *f = &stack->interfaces[k];
        double limit = k ? stack->gap_limit : stack->table_gap_limit;
        pp_text_print(pp_cell(&s->cells, 0), "%s and %s", f->below ? f->below : "the support",
                      f->above);
        pp_people_against(pp_cell(&s->cells, 1), units, f->largest_gap, limit);
        pp_people_against(pp_cell(&s->cells, 2), units, f->largest_gap_under_foot, limit);
        pp_people_limit(pp_cell(&s->cells, 3), units, limit);
        pp_cells_row(&s->cells, s->w, columns, 4);
    }
}

/* Okabe and Ito's palette, as on the page */
static const double COLOUR[PP_STACK_BANDS][3] = {
    {0, 0.62, 0.45}, {0.34, 0.71, 0.91}, {0.90, 0.62, 0}, {0.84, 0.37, 0}, {0.43, 0.18, 0}};
static const char *const BAND_WORDS[PP_STACK_BANDS] = {"closed at rest", "closed by the foot",
                                                       "up to twice the foot's force",
                                                       "more than twice", "above the cap"};

static void dots(sheet *s, const pp_plate_frame *f)
{
    const pp_nominal *n = &s->results->files->nominal;
    const pp_stack_bands *bands = &s->results->stack_judgement->bands;
    cairo_t *c = s->w->cairo;
    double radius = fmin(fmax(0.2 * MAP_HEIGHT / sqrt((double)n->count + 1), 0.4), 4);
    for (size_t i = 0; i < n->count; i++) {
        uint8_t k = bands->force[i];
        cairo_set_source_rgb(c, COLOUR[k][0], COLOUR[k][1], COLOUR[k][2]);
        cairo_new_path(c);
        cairo_arc(c, pp_frame_across(f, n->x[i]), pp_frame_down(f, n->y[i]),
                  radius * (0.6 + 0.15 * k), 0, PP_TURN);
        cairo_fill(c);
    }
}

static void legend(sheet *s, double x, double y)
{
    const pp_stack_bands *bands = &s->results->stack_judgement->bands;
    for (int k = 0; k < PP_STACK_BANDS; k++) {
        if (!bands->force_count[k]) continue;
        cairo_set_source_rgb(s->w->cairo, COLOUR[k][0], COLOUR[k][1], COLOUR[k][2]);
        cairo_arc(s->w->cairo, x + 4, y + 5, 2 + 0.5 * k, 0, PP_TURN);
        cairo_fill(s->w->cairo);
        cairo_set_source_rgb(s->w->cairo, 0, 0, 0);
        pp_text_print(pp_cell(&s->cells, 0), "%zu %s", bands->force_count[k], BAND_WORDS[k]);
        pp_page_word(s->w, PP_STYLE_SMALL, x + 12, y, pp_said(&s->cells.cell[0]));
        y += 12;
    }
}

static void force_map(sheet *s)
{
    const pp_job *job = s->results->job;
    pp_outline_spec shape = pp_job_outline(job);
    pp_box box = pp_outline_box(&shape);
    double width = box.x1 - box.x0, height = box.y1 - box.y0;
    double scale = fmin((s->w->right - s->w->left) * 0.6 / width, MAP_HEIGHT / height);
    pp_page_heading(s->w, "The force that closes the gaps between layers, hole by hole");
    pp_page_need(s->w, height * scale + 8);
    cairo_t *c = s->w->cairo;
    pp_plate_frame f = {scale, s->w->left, s->w->y, box.x0, box.y1};
    pp_frame_outline(&f, job, c);
    cairo_set_line_width(c, 0.8);
    cairo_set_source_rgb(c, 0.35, 0.38, 0.42);
    cairo_stroke(c);
    dots(s, &f);
    legend(s, f.left + width * scale + 16, f.top + 4);
    cairo_set_source_rgb(c, 0, 0, 0);
    pp_page_space(s->w, height * scale + 8);
}

static void arrangement(sheet *s)
{
    const pp_stack *stack = s->results->stack;
    const pp_stack_words *words = s->results->stack_words;
    pp_page_heading(s->w, stack->found_better ? "Card for the floor: the arrangement found"
                                              : "Card for the floor: as listed");
    lines(s, PP_STYLE_BOLD, words->card_count, words->card);
    if (!stack->searched) return;
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "%zu arrangements were reckoned", stack->evaluated);
    pp_text_add(t, stack->all_tried ? ", all that are allowed."
                                    : "; the best found, not proven the "
                                      "best there is.");
    pp_page_text(s->w, PP_STYLE_SMALL, pp_said(t));
}

static void clamps(sheet *s)
{
    static const pp_page_column columns[] = {
        {0.2, "Clamp"}, {0.25, "x"}, {0.25, "y"}, {0.3, "Force"}};
    const pp_stack_plan *plan = &s->results->stack->plan;
    pp_length_unit units = s->results->job->units;
    if (!plan->count) return;
    pp_page_heading(s->w, plan->found ? "Clamps for the layers as listed"
                                      : "Best clamps found for the layers as listed: not enough");
    pp_page_table(s->w, columns, 4);
    for (size_t i = 0; i < plan->count; i++) {
        pp_text_print(pp_cell(&s->cells, 0), "%zu", i + 1);
        pp_people_size(pp_cell(&s->cells, 1), units, plan->clamp[i].x);
        pp_people_size(pp_cell(&s->cells, 2), units, plan->clamp[i].y);
        pp_people_force(pp_cell(&s->cells, 3), units, plan->clamp[i].force);
        pp_cells_row(&s->cells, s->w, columns, 4);
    }
}

static void stack_part(sheet *s)
{
    pp_page_heading(s->w, "Gaps at the holes, from below");
    interfaces(s);
    clamps(s);
    arrangement(s);
    force_map(s);
    pp_page_heading(s->w, "Keep in mind");
    lines(s, PP_STYLE_BODY, s->results->stack_words->note_count, s->results->stack_words->notes);
}

/* After drilling ------------------------------------------------------------------------- */

static void drilled_part(sheet *s)
{
    static const pp_page_column columns[] = {{0.22, "Layer"},
                                             {0.22, "How"},
                                             {0.2, "Largest position"},
                                             {0.16, "Hole"},
                                             {0.2, "Verdict"}};
    const pp_drilled *d = s->results->drilled;
    pp_page_heading(s->w, "The layers after drilling, the bottom one first");
    pp_page_table(s->w, columns, 5);
    for (size_t k = 0; k < d->layer_count; k++) {
        const pp_drilled_layer *layer = &s->results->drilled_judgement->layers[k];
        pp_text_print(pp_cell(&s->cells, 0), "%zu: %s", k + 1,
                      s->results->job->layers[d->layer[k]].name);
        pp_text_add(pp_cell(&s->cells, 1), d->how[k] == PP_LAYER_MEASURED  ? "measured"
                                           : d->how[k] == PP_LAYER_BETWEEN ? "between"
                                                                           : "not known");
        pp_people_against(pp_cell(&s->cells, 2), s->results->job->units, layer->largest,
                          layer->limit);
        pp_text_add(pp_cell(&s->cells, 3),
                    layer->largest_hole == PP_NONE
                        ? ""
                        : s->results->files->nominal.name[layer->largest_hole]);
        pp_text_add(pp_cell(&s->cells, 4), pp_verdict_words(layer->verdict));
        pp_cells_row(&s->cells, s->w, columns, 5);
    }
    pp_page_text(s->w, PP_STYLE_SMALL,
                 "A layer between was not measured: its holes lie on the straight line between the "
                 "outer readings, and are judged with their uncertainty against the maker. Its "
                 "diameters are not judged.");
}

static void roughing_part(sheet *s)
{
    const pp_roughing *r = s->results->roughing;
    pp_length_unit units = s->results->job->units;
    pp_page_heading(s->w, "The holes measured");
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "%zu of %zu holes: %zu undersize, %zu in the remainder, %zu oversize; mean ",
                  r->measured, r->holes, r->undersize, r->in_remainder, r->oversize);
    pp_people_length(t, units, r->mean);
    pp_text_add(t, ", standard deviation ");
    pp_people_length(t, units, r->deviation);
    pp_text_add(t, "; tolerance interval ");
    pp_people_length(t, units, r->tolerance_low);
    pp_text_add(t, " to ");
    pp_people_length(t, units, r->tolerance_high);
    pp_text_add(t, "; the whole plate conforms with probability ");
    pp_people_share(t, r->probability);
    pp_text_add(t, ".");
    pp_page_text(s->w, PP_STYLE_BODY, pp_said(t));
    lines(s, PP_STYLE_BODY, s->results->roughing_words.note_count,
          s->results->roughing_words.notes);
}

bool pp_pdf_stack_parts(pp_page_writer *w, const pp_results *results)
{
    sheet s = {.w = w, .results = results};
    if (results->stack) stack_part(&s);
    if (results->drilled) drilled_part(&s);
    if (results->roughing) roughing_part(&s);
    bool failed = pp_cells_failed(&s.cells);
    pp_cells_free(&s.cells);
    return !failed;
}
