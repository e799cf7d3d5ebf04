#include "report/certificate/pdf_holddown.h"

#include <stdio.h>

#include "answer/clamp_words.h"
#include "answer/for_people.h"
#include "answer/holddown_words.h"
#include "answer/turned_words.h"
#include "report/certificate/cells.h"

static void counts(pp_page_writer *w, const pp_results *r, pp_text *t)
{
    const pp_holddown *h = r->holddown;
    const pp_hold_counts *c = &r->holddown_judgement->counts;
    pp_length_unit units = r->job->units;
    pp_text_clear(t);
    pp_text_print(
        t,
        "%zu holes: %zu seated at rest, %zu seat under the foot, %zu need more hold-down, "
        "%zu sag; %zu uncertain, for thickness or mesh. Largest gap at rest ",
        h->count, c->seated, c->seats_under_foot, c->needs_holddown, c->sags, c->uncertain);
    pp_people_length(t, units, h->largest_gap);
    pp_text_add(t, ", under the foot ");
    pp_people_against(t, units, h->largest_gap_under_foot, h->gap_limit);
    pp_text_add(t, " (limit ");
    pp_people_limit(t, units, h->gap_limit);
    pp_text_add(t, "); foot ");
    pp_people_force(t, units, h->foot_force);
    pp_text_add(t, ".");
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
}

static void clamps(pp_page_writer *w, const pp_results *r)
{
    static const pp_page_column columns[] = {
        {0.12, "Clamp"}, {0.22, "x"}, {0.22, "y"}, {0.22, "Force"}, {0.22, "Holes under its pad"}};
    enum { CELLS = sizeof columns / sizeof *columns };
    const pp_holddown *h = r->holddown;
    pp_length_unit units = r->job->units;
    pp_cells cells = {0};
    pp_page_table(w, columns, CELLS);
    for (size_t i = 0; i < h->clamp_count; i++) {
        pp_text_print(pp_cell(&cells, 0), "%zu", i + 1);
        pp_people_place(pp_cell(&cells, 1), units, h->plan[i].x);
        pp_people_place(pp_cell(&cells, 2), units, h->plan[i].y);
        pp_people_force(pp_cell(&cells, 3), units, h->plan[i].force);
        pp_text_print(pp_cell(&cells, 4), "%zu", h->plan[i].block_count);
        pp_cells_row(&cells, w, columns, CELLS);
    }
    w->failed = w->failed || pp_cells_failed(&cells);
    pp_cells_free(&cells);
}

static void plan(pp_page_writer *w, const pp_results *r, pp_text *t)
{
    const pp_holddown *h = r->holddown;
    if (h->clamp_count == 0) return;
    pp_page_heading(w, h->plan_given ? "The plan: extra hold-down as given"
                       : r->holddown_judgement->plan_found
                           ? "The plan: extra hold-down found, not proven the fewest"
                           : "Extra hold-down tried; it does not seat every hole");
    clamps(w, r);
    pp_text_clear(t);
    pp_text_add(t, "Worst gap left ");
    pp_people_length(t, r->job->units, h->plan_worst_gap);
    pp_text_add(t, ". ");
    if (h->setups.count) pp_clamps_order_say(t, &h->setups, h->clamp_count);
    pp_page_text(w, PP_STYLE_BODY, pp_said(t));
}

/* Clamp beside clamp: where they stand nearest to each other on the machine */
static void turned_plan(pp_page_writer *w, const pp_results *r)
{
    static const pp_page_column columns[] = {
        {0.09, "This way up"}, {0.25, "x, y"}, {0.09, "Force"}, {0.07, "Holes"},
        {0.09, "Turned over"}, {0.25, "x, y"}, {0.09, "Force"}, {0.07, "Holes"}};
    enum { CELLS = sizeof columns / sizeof *columns, HALF = CELLS / 2 };
    const pp_holddown *h = r->holddown;
    const pp_clamp *const plans[] = {h->plan, h->turned_over.plan.clamps};
    pp_clamp_pair pairs[PP_CLAMP_PAIRS_MAX];
    size_t count = pp_clamps_pair(h, pairs);
    pp_cells cells = {0};
    if (!count) return;
    pp_page_heading(w, "The other face up, clamp for clamp");
    pp_page_table(w, columns, CELLS);
    for (size_t i = 0; i < count; i++) {
        const size_t which[] = {pairs[i].laid, pairs[i].turned};
        for (int side = 0; side < 2; side++) {
            for (int k = 0; k < HALF; k++) pp_cell(&cells, HALF * side + k);
            pp_text *cell = &cells.cell[HALF * side];
            if (which[side] == SIZE_MAX) {
                pp_text_add(&cell[0], "none");
                continue;
            }
            const pp_clamp *c = &plans[side][which[side]];
            pp_text_print(&cell[0], "%zu", which[side] + 1);
            pp_people_place(&cell[1], r->job->units, c->x);
            pp_text_add(&cell[1], ", ");
            pp_people_place(&cell[1], r->job->units, c->y);
            pp_people_force(&cell[2], r->job->units, c->force);
            pp_text_print(&cell[3], "%zu", c->block_count);
        }
        pp_cells_row(&cells, w, columns, CELLS);
    }
    w->failed = w->failed || pp_cells_failed(&cells);
    pp_cells_free(&cells);
}

bool pp_pdf_holddown_part(pp_page_writer *w, const pp_results *results,
                          const pp_pdf_hold_maps *maps)
{
    if (!results->holddown) return true;
    const pp_holddown_words *words = results->holddown_words;
    pp_text t = {0};
    pp_page_heading(w, results->holddown_judgement->ready ? "Hold-down: every hole seats"
                                                          : "Hold-down: not every hole seats");
    pp_holddown_headline_say(&t, results);
    pp_page_text(w, PP_STYLE_BOLD, pp_said(&t));
    if (words->advice && *words->advice) pp_page_text(w, PP_STYLE_BODY, words->advice);
    pp_text_clear(&t);
    pp_turned_say(&t, results);
    if (t.length) pp_page_text(w, PP_STYLE_BODY, pp_said(&t));
    counts(w, results, &t);
    pp_pdf_hold_maps_draw(w, maps);
    plan(w, results, &t);
    turned_plan(w, results);
    pp_page_heading(w, "Keep in mind");
    pp_page_text(w, PP_STYLE_BOLD,
                 "A clamped or held plate stores energy: release clamps evenly, in small steps, "
                 "with nobody at the rim; withdraw the drill before the foot lifts.");
    for (size_t i = 0; i < words->note_count; i++) pp_page_text(w, PP_STYLE_BODY, words->notes[i]);
    pp_page_text(
        w, PP_STYLE_BODY,
        "A setting-up aid, not a lifting or guarding calculation, and no acceptance. Local "
        "codes and licensed practice come first.");
    bool failed = t.failed;
    pp_text_free(&t);
    return !failed;
}
