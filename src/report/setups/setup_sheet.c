#include "report/setups/setup_sheet.h"

#include <stdio.h>

#include "answer/for_people.h"
#include "answer/holddown_words.h"
#include "report/certificate/cells.h"
#include "report/setups/setup_picture.h"

enum { NAMES_MAX = 40 };
static const double PICTURE = 300, SMALL_PICTURE = 170; /* points */

typedef struct sheet {
    const pp_results *r;
    const pp_holddown *h;
    pp_setup_drawing drawing;
    pp_cells cells;
} sheet;

/* The head ----------------------------------------------------------------------------------- */

/* Clamps as the job gives them need not do. */
static bool add_refusal(sheet *s, pp_text *t)
{
    const pp_holddown_judgement *j = s->r->holddown_judgement;
    size_t failing = 0;
    for (size_t k = 0; k < s->h->setups.count; k++) {
        if (j->setups[k] != PP_DOES_NOT_CONFORM) continue;
        pp_text_print(t, failing++ ? ", %zu" : "DO NOT DRILL BY THIS SHEET: not held in set-up %zu",
                      k + 1);
    }
    if (j->given_bends)
        pp_text_add(t, failing ? "; and the clamps bend the plate too far"
                               : "DO NOT DRILL BY THIS SHEET: the clamps bend the plate too far");
    if (j->given_too_strong)
        pp_text_add(t, t->length ? "; and a clamp presses harder than clamp_force_limit"
                                 : "DO NOT DRILL BY THIS SHEET: a clamp presses harder than "
                                   "clamp_force_limit");
    if (j->pins_in_the_way)
        pp_text_add(t, t->length ? "; and a drill would meet a support pin"
                                 : "DO NOT DRILL BY THIS SHEET: a drill would meet a support pin");
    if (t->length) pp_text_add(t, ".");
    return t->length > 0;
}

static void head_part(sheet *s, pp_page_writer *w)
{
    const pp_job *job = s->r->job;
    const pp_holddown *h = s->h;
    pp_page_text(w, PP_STYLE_SMALL, "Set-up sheet: hold-down while drilling");
    pp_page_text(w, PP_STYLE_TITLE, job->title ? job->title : job->name);
    pp_page_space(w, 4);
    pp_text *t = pp_cell(&s->cells, 0);
    pp_holddown_headline_say(t, s->r);
    pp_page_text(w, PP_STYLE_BOLD, pp_said(t));
    t = pp_cell(&s->cells, 0);
    if (add_refusal(s, t)) pp_page_text(w, PP_STYLE_TITLE, pp_said(t)); /* not to be overlooked */
    t = pp_cell(&s->cells, 0);
    pp_text_print(t, "On %s. Largest gap accepted with the foot down: ",
                  h->support == PP_SUPPORT_PINS ? "support pins" : "a flat table");
    pp_people_limit(t, job->units, h->gap_limit);
    pp_text_add(t, ". Every state below was solved by itself; a study of an elastic plate, not a "
                   "measurement.");
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    t = pp_cell(&s->cells, 0);
    pp_machine_time_say(t, job->units, &h->time);
    if (t->length) pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    t = pp_cell(&s->cells, 0);
    if (job->plate_id) pp_text_print(t, "Plate %s. ", job->plate_id);
    if (job->order) pp_text_print(t, "Order %s. ", job->order);
    if (job->drawing) pp_text_print(t, "Drawing %s. ", job->drawing);
    if (s->r->date) pp_text_print(t, "Date %s.", s->r->date);
    pp_page_text(w, PP_STYLE_SMALL, pp_said(t));
}

static void plate_part(sheet *s, pp_page_writer *w)
{
    pp_page_need(w, PICTURE + 16);
    double width = (w->right - w->left) * 0.72, top = w->y + 4;
    double n = pp_setup_picture(w, &s->drawing, 0, w->left, top, width, PICTURE);
    pp_setup_legend(w, &s->drawing, w->left + width + 14, top + 8);
    pp_page_space(w, PICTURE + 8);
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "Seen from above, scale 1:%.10g; x to the right, y up the sheet.", n);
    pp_page_text(w, PP_STYLE_SMALL, pp_said(t));
}

/* Clamps -------------------------------------------------------------------------------------- */

static void add_hole_names(sheet *s, pp_text *t, size_t count, const uint32_t *holes)
{
    for (size_t k = 0; k < count && k < NAMES_MAX; k++)
        pp_text_print(t, "%s%s", k ? ", " : "", s->r->files->nominal.name[holes[k]]);
    if (count > NAMES_MAX) pp_text_print(t, " and %zu more", count - NAMES_MAX);
}

static void clamps_part(sheet *s, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.11, "Tighten"}, {0.09, "Clamp"},
                                             {0.14, "x"},       {0.14, "y"},
                                             {0.14, "Force"},   {0.28, "Holes under its pad"},
                                             {0.10, "Done"}};
    const pp_holddown *h = s->h;
    pp_length_unit units = s->r->job->units;
    if (!h->clamp_count) return;
    pp_page_heading(w, "Clamps, in the order to tighten them");
    pp_page_table(w, columns, 7);
    for (size_t i = 0; i < h->clamp_count; i++) {
        size_t k = h->setups.tighten[i];
        pp_text_print(pp_cell(&s->cells, 0), "%zu.", i + 1);
        pp_text_print(pp_cell(&s->cells, 1), "%zu", k + 1);
        if (h->plan[k].name) pp_text_print(&s->cells.cell[1], " %s", h->plan[k].name);
        pp_people_place(pp_cell(&s->cells, 2), units, h->plan[k].x);
        pp_people_place(pp_cell(&s->cells, 3), units, h->plan[k].y);
        pp_people_force(pp_cell(&s->cells, 4), units, h->plan[k].force);
        add_hole_names(s, pp_cell(&s->cells, 5), h->plan[k].block_count, h->plan[k].blocks);
        if (!h->plan[k].block_count)
            pp_text_add(&s->cells.cell[5], h->plan[k].edge_stop ? "edge stop" : "none");
        pp_text_add(pp_cell(&s->cells, 6), "\u2610");
        pp_cells_row(&s->cells, w, columns, 7);
    }
    pp_page_text(w, PP_STYLE_SMALL,
                 "From the middle outwards, so that the plate can slide flat (common practice, no "
                 "source). Tighten in two rounds, half the force first.");
}

/* Set-ups ------------------------------------------------------------------------------------- */

static void add_lifted(pp_text *t, const pp_drill_setup *p)
{
    pp_text_add(t, p->lifted_count == 1 ? "clamp" : "clamps");
    for (size_t k = 0; k < p->lifted_count; k++)
        pp_text_print(t, "%s%u",
                      k == 0                     ? " "
                      : k + 1 == p->lifted_count ? " and "
                                                 : ", ",
                      p->lifted[k] + 1);
}

static void add_result(sheet *s, pp_text *t, size_t number)
{
    const pp_drill_setup *p = &s->h->setups.setups[number];
    pp_length_unit units = s->r->job->units;
    if (s->r->holddown_judgement->setups[number] == PP_DOES_NOT_CONFORM)
        pp_text_add(t, "NOT HELD. ");
    if (p->worst_hole == PP_NONE) return;
    pp_text_add(t, "Worst gap under the foot ");
    pp_people_against(t, units, p->worst_gap, s->h->gap_limit);
    pp_text_print(t, ", at %s", s->r->files->nominal.name[p->worst_hole]);
    if (p->largest_support_force > 0) {
        pp_text_add(t, "; largest load of a pin ");
        pp_people_force(t, units, p->largest_support_force);
    }
    pp_text_add(t, ".");
}

static void add_travel(pp_text *t, pp_length_unit units, double mm)
{
    pp_text_add_fixed(t, units == PP_INCH ? mm / 304.8 : mm / 1000, 1);
    pp_text_add(t, units == PP_INCH ? " ft" : " m");
}

static void add_order(sheet *s, pp_text *t, const pp_drill_setup *p)
{
    pp_length_unit units = s->r->job->units;
    if (p->sweeps > 1) {
        pp_text_print(
            t,
            "In %d interleaved sweeps, each over every %dth row, up and down the plate by "
            "turns: a machine whose position wanders over the job is then told from one that is "
            "wrong in its scale. The spindle travels ",
            p->sweeps, p->sweeps);
        add_travel(t, units, p->travel);
        pp_text_add(t, " from hole to hole; row by row it would be ");
        add_travel(t, units, p->travel_by_rows);
        pp_text_add(t, ".");
    } else {
        pp_text_add(t, "Row by row, to and fro: ");
        add_travel(t, units, p->travel);
        pp_text_add(t, " from hole to hole.");
    }
}

static void small_pictures(sheet *s, pp_page_writer *w, size_t number)
{
    const pp_drill_setup *p = &s->h->setups.setups[number];
    pp_page_need(w, SMALL_PICTURE + 18);
    double top = w->y + 4, room = (w->right - w->left) * 0.5;
    double n = pp_setup_picture(w, &s->drawing, number, w->left, top, room, SMALL_PICTURE);
    double m = pp_setup_close_up(w, &s->drawing, number, p->lifted[0], w->left + room + 12, top,
                                 SMALL_PICTURE);
    pp_page_space(w, SMALL_PICTURE + 8);
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "The plate, scale 1:%.10g; around clamp %u, scale 1:%.10g.", n,
                  p->lifted[0] + 1, m);
    pp_page_text(w, PP_STYLE_SMALL, pp_said(t));
}

static void setup_part(sheet *s, pp_page_writer *w, size_t number)
{
    const pp_drill_setup *p = &s->h->setups.setups[number];
    const char *plural = p->hole_count == 1 ? "" : "s";
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_print(t, "\u2610 Set-up %zu: ", number + 1);
    if (p->lifted_count) {
        pp_text_add(t, "lift ");
        add_lifted(t, p);
        pp_text_print(t, ", drill %zu hole%s, put %s back", p->hole_count, plural,
                      p->lifted_count == 1 ? "it" : "them");
    } else {
        pp_text_print(t, "%sdrill %zu hole%s", s->h->clamp_count ? "all clamps on, " : "",
                      p->hole_count, plural);
    }
    pp_page_need(w, p->lifted_count ? SMALL_PICTURE + 90 : 90); /* in one piece */
    pp_page_heading(w, pp_said(t));
    t = pp_cell(&s->cells, 0);
    add_result(s, t, number);
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    t = pp_cell(&s->cells, 0);
    if (p->lifted_count) {
        pp_text_add(t, "Holes: ");
        add_hole_names(s, t, p->hole_count, p->holes);
    } else {
        add_order(s, t, p);
    }
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    if (p->lifted_count) small_pictures(s, w, number);
}

static void release_part(sheet *s, pp_page_writer *w)
{
    const pp_holddown *h = s->h;
    if (!h->clamp_count) return;
    pp_page_heading(w, "\u2610 Release");
    pp_text *t = pp_cell(&s->cells, 0);
    pp_text_add(t, "Release the clamps in the order ");
    for (size_t i = h->clamp_count; i > 0; i--)
        pp_text_print(t, "%s%u", i == h->clamp_count ? "" : ", ", h->setups.tighten[i - 1] + 1);
    pp_text_add(t,
                ": the last tightened first, half its force first all round, nobody at the rim.");
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
}

static void cautions_part(sheet *s, pp_page_writer *w)
{
    static const char *const lines[] = {
        "\u2022 A held plate stores energy: release it evenly, in small steps, and withdraw the "
        "drill before the foot lifts.",
        "\u2022 Edge stops keep the plate from sliding; they hold nothing down.",
        "\u2022 Not a lifting or guarding calculation. The machine's manual comes first, too.",
        "\u2022 drilling.csv has every hole in this order with its set-up. With what was measured "
        "filled in for x, y and diameter it is a list of measured holes."};
    pp_page_heading(w, "Keep in mind");
    const pp_holddown_words *words = s->r->holddown_words;
    for (size_t i = 0; words && i < words->note_count; i++) {
        pp_text *t = pp_cell(&s->cells, 0);
        pp_text_print(t, "\u2022 %s", words->notes[i]);
        pp_page_text(w, PP_STYLE_BODY, pp_said(t));
    }
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        pp_page_text(w, PP_STYLE_BODY, lines[i]);
}

static void lay_out(void *context, pp_page_writer *w)
{
    sheet *s = context;
    pp_page_begin(w);
    head_part(s, w);
    plate_part(s, w);
    clamps_part(s, w);
    for (size_t k = 0; k < s->h->setups.count; k++) setup_part(s, w, k);
    release_part(s, w);
    cautions_part(s, w);
    pp_page_finish(w);
    w->failed = w->failed || pp_cells_failed(&s->cells);
}

/* The paper ----------------------------------------------------------------------------------- */

bool pp_setup_sheet_is_due(const pp_results *results)
{
    return results->holddown && results->holddown->setups.count > 0;
}

static pp_status find_setups(const pp_results *results, pp_memory *memory,
                             const uint32_t **setup_of, pp_error *error)
{
    const pp_setup_list *list = &results->holddown->setups;
    uint32_t *of;
    PP_TAKE_ZERO(of, &memory->keep, results->holddown->count);
    for (uint32_t k = 0; k < list->count; k++)
        for (size_t i = 0; i < list->setups[k].hole_count; i++) of[list->setups[k].holes[i]] = k;
    *setup_of = of;
    return PP_OK;
}

pp_status pp_setup_sheet_write(const pp_results *results, const pp_paper_options *options,
                               pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_plate_view view;
    sheet s = {
        .r = results, .h = results->holddown, .drawing = {.results = results, .view = &view}};
    const char *title = results->job->title ? results->job->title : results->job->name;
    const char *head = pp_text_kept(&memory->keep, "%s \u2013 set-up sheet", title);
    if (!head) return pp_fail_memory(error);
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    PP_TRY(find_setups(results, memory, &s.drawing.setup_of, error));
    const pp_paper paper = {.job = results->job,
                            .subject = "Set-up sheet: hold-down while drilling",
                            .date = results->date,
                            .running_head = head,
                            .options = options,
                            .lay_out = lay_out,
                            .context = &s};
    pp_status status = pp_paper_make(&paper, out, error);
    pp_cells_free(&s.cells);
    return status;
}
