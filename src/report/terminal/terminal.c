#include "report/terminal/terminal.h"

#include <string.h>

#include "answer/clamp_words.h"
#include "answer/for_people.h"
#include "answer/holddown_words.h"
#include "answer/summary.h"
#include "answer/turned_words.h"
#include "answer/work_words.h"
#include "base/foreign.h"

enum {
    DEFAULT_WIDTH = 80,
    LEAST_WIDTH = 40,
    INDENT = 2,
    EXCEPTIONS_SHOWN = 8,
    CLAMPS_SHOWN = 6,
    GAP = 2 /* between columns */
};

typedef struct writer {
    const pp_results *results;
    const pp_terminal_options *options;
    pp_text *out;
    pp_text piece; /* what is being put together before it is wrapped */
    size_t width;
} writer;

/* ---- text on a terminal ---- */

/* Columns that the first `length` bytes take: one per character. */
static size_t columns(const char *text, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) count += ((unsigned char)text[i] & 0xc0) != 0x80;
    return count;
}

static void add_blanks(pp_text *text, size_t count)
{
    while (count-- > 0) pp_text_add_bytes(text, " ", 1);
}

/* Length of the next piece that is not to be broken: a word, or a number with its unit. */
static size_t unbroken(const char *text)
{
    enum { UNIT_MAX = 5 };
    size_t length = strcspn(text, " ");
    if (text[length] != ' ' || !length || text[length - 1] < '0' || text[length - 1] > '9')
        return length;
    size_t unit = strcspn(text + length + 1, " ;,.)");
    bool letters = text[length + 1] >= 'A' || text[length + 1] == '%';
    if (unit == 0 || unit > UNIT_MAX || !letters) return length;
    return length + 1 + strcspn(text + length + 1, " ");
}

/* Words of `text` from column `column` on, wrapped to the width with later lines at `indent`. */
static void add_wrapped(writer *w, const char *text, size_t column, size_t indent)
{
    bool first = true;
    while (*text) {
        size_t length = unbroken(text), wide = columns(text, length);
        if (!first && column + 1 + wide > w->width) {
            pp_text_add(w->out, "\n");
            add_blanks(w->out, indent);
            column = indent;
            first = true;
        }
        if (!first) pp_text_add(w->out, " ");
        pp_text_add_foreign_bytes(w->out, text, length);
        column += wide + !first;
        first = false;
        text += length;
        text += strspn(text, " ");
    }
}

static void end_line(writer *w) { pp_text_add(w->out, "\n"); }

/* A line at the usual indent, from the piece put together or from a text. */
static void add_line(writer *w, const char *bullet, const char *text)
{
    size_t indent = INDENT + columns(bullet, strlen(bullet));
    add_blanks(w->out, INDENT);
    pp_text_add(w->out, bullet);
    add_wrapped(w, text, indent, indent);
    end_line(w);
}

static void finish_line(writer *w, const char *bullet)
{
    if (w->piece.length) add_line(w, bullet, w->piece.data);
    w->piece.length = 0;
}

static void add_heading(writer *w, const char *text)
{
    end_line(w);
    if (w->options->colour) pp_text_add(w->out, "\033[1m");
    pp_text_add(w->out, text);
    if (w->options->colour) pp_text_add(w->out, "\033[0m");
    end_line(w);
}

/* Okabe and Ito's colours, as near as a terminal of 256 has them; the words always stand beside. */
static const char *colour_of(pp_verdict verdict)
{
    switch (verdict) {
    case PP_CONFORMS:
        return "\033[1;38;5;36m"; /* bluish green */
    case PP_NOT_PROVEN:
        return "\033[1;38;5;172m"; /* orange */
    case PP_DOES_NOT_CONFORM:
        return "\033[1;38;5;166m"; /* vermilion */
    case PP_NOT_JUDGED:
        break;
    }
    return "\033[1m";
}

static void add_coloured(writer *w, pp_verdict verdict, const char *text)
{
    bool plain = !w->options->colour || verdict == PP_NOT_JUDGED;
    if (!plain) pp_text_add(w->out, colour_of(verdict));
    pp_text_add(w->out, text);
    if (!plain) pp_text_add(w->out, "\033[0m");
}

/* ---- verdict ---- */

enum { HEADLINE_ROOM = 64 };

static void shout(const char *words, char shouted[HEADLINE_ROOM])
{
    size_t i = 0;
    for (; i < HEADLINE_ROOM - 1 && words[i]; i++)
        shouted[i] = words[i] >= 'a' && words[i] <= 'z' ? (char)(words[i] - 'a' + 'A') : words[i];
    shouted[i] = '\0';
}

static void add_decision(writer *w, const pp_summary *summary)
{
    const pp_judgement *j = w->results->judgement;
    if (summary->deciding) add_line(w, "", summary->deciding);
    if (w->results->stack && !w->results->drilled) return; /* nothing was decided */
    pp_text_add(&w->piece, "Decision rule: ");
    pp_text_add(&w->piece, j->decision_rule ? j->decision_rule : "");
    finish_line(w, "");
}

static void add_verdict(writer *w, const pp_summary *summary)
{
    const pp_judgement *j = w->results->judgement;
    char word[HEADLINE_ROOM];
    shout(pp_headline_words(w->results), word);
    add_coloured(w, pp_headline_verdict(w->results), word);
    if (j->basis && j->basis[0]) {
        pp_text_add(w->out, "  ");
        add_wrapped(w, j->basis, strlen(word) + 2, INDENT);
    }
    end_line(w);
    if (!pp_is_holddown_study(w->results)) add_decision(w, summary);
    const pp_job *job = w->results->job;
    const char *what[] = {job->title, job->plate_id, job->plate_role};
    for (size_t i = 0; i < 3; i++) {
        if (!what[i]) continue;
        if (w->piece.length) pp_text_add(&w->piece, ", ");
        pp_text_add(&w->piece, what[i]);
    }
    finish_line(w, "");
}

/* ---- rows ---- */

/* The column of names: one that is longer than most has a line of its own. */
static size_t column_of_names(const pp_summary *summary)
{
    enum { NAME_MOST = 24 };
    size_t widest = 0;
    for (size_t i = 0; i < summary->count; i++) {
        size_t wide = columns(summary->rows[i].name, strlen(summary->rows[i].name));
        if (wide > widest && wide <= NAME_MOST) widest = wide;
    }
    return widest;
}

/* Behind the row while there is room on its line, else on a line of its own. */
static void add_aside(writer *w, size_t *column, const char *label, const char *text)
{
    enum { ASIDE_INDENT = 6 };
    size_t wide = columns(label, strlen(label)) + columns(text, strlen(text));
    if (!text[0]) return;
    if (*column + GAP + wide <= w->width) {
        add_blanks(w->out, GAP);
        *column += GAP + wide;
        pp_text_add(w->out, label);
        pp_text_add_foreign(w->out, text);
        return;
    }
    end_line(w);
    add_blanks(w->out, ASIDE_INDENT);
    pp_text_add(w->out, label);
    add_wrapped(w, text, ASIDE_INDENT + columns(label, strlen(label)), ASIDE_INDENT + 2);
    *column = w->width; /* the next one on its own line again */
}

static void add_row(writer *w, const pp_summary_row *row, size_t name_width)
{
    size_t verdict_width = strlen("does not conform");
    size_t third = INDENT + name_width + GAP + verdict_width + GAP;
    const char *word = pp_verdict_words(row->verdict);
    add_blanks(w->out, INDENT);
    pp_text_add_foreign(w->out, row->name);
    size_t wide = columns(row->name, strlen(row->name));
    if (wide > name_width) {
        end_line(w);
        add_blanks(w->out, INDENT);
        wide = 0;
    }
    add_blanks(w->out, name_width + GAP - wide);
    add_coloured(w, row->verdict, word);
    add_blanks(w->out, verdict_width + GAP - strlen(word));
    size_t column = third + columns(row->result, strlen(row->result));
    add_wrapped(w, row->result, third, third);
    add_aside(w, &column, "limit: ", row->limit);
    if (row->verdict >= PP_NOT_PROVEN) add_aside(w, &column, "", row->detail);
    end_line(w);
}

static void add_rows(writer *w, const pp_summary *summary)
{
    size_t name_width = column_of_names(summary);
    end_line(w);
    for (size_t i = 0; i < summary->count; i++) add_row(w, &summary->rows[i], name_width);
    const pp_judgement *j = w->results->judgement;
    for (size_t i = 0; i < j->not_judged_count; i++) {
        pp_text_add(&w->piece, i ? ", " : "Not judged: ");
        pp_text_add(&w->piece, pp_characteristic_said(j->not_judged[i]));
    }
    finish_line(w, "");
}

/* ---- what to rework ---- */

static void add_exceptions(writer *w)
{
    const pp_judgement *j = w->results->judgement;
    if (!j->exception_count) return;
    size_t shown = j->exception_count < EXCEPTIONS_SHOWN ? j->exception_count : EXCEPTIONS_SHOWN;
    add_heading(w, "Not conforming or not proven, worst first");
    for (size_t i = 0; i < shown; i++) {
        const pp_finding *finding = &j->findings[j->exceptions[i]];
        pp_finding_subject(&w->piece, w->results, finding);
        pp_text_add(&w->piece, ": ");
        pp_finding_fault(&w->piece, w->results, finding);
        finish_line(w, "- ");
    }
    if (shown < j->exception_count) {
        pp_text_print(&w->piece, "and %zu more%s", j->exception_count - shown,
                      w->options->report ? ", all of them in the report" : "");
        finish_line(w, "- ");
    }
}

static void add_work(writer *w)
{
    const pp_work_list *work = w->results->work;
    if (!work || !work->count) return;
    pp_text_add(&w->piece, "Work list: ");
    pp_work_counts(&w->piece, work);
    pp_text_add(&w->piece,
                w->options->report ? "; worklist.csv and worklist.pdf say what and where." : ".");
    finish_line(w, "");
}

static void add_placement(writer *w)
{
    const pp_placement *p = w->results->placement;
    if (!p || !p->valid || !p->saves) return;
    pp_length_unit units = w->results->job->units;
    pp_text_add(&w->piece, "Another placement of the pattern would bring every position within its "
                           "limit: the smallest zone is ");
    pp_people_length(&w->piece, units, p->zone);
    pp_text_add(&w->piece, ", no hole moves by more than ");
    pp_people_length(&w->piece, units, p->moved);
    pp_text_add(&w->piece, ".");
    finish_line(w, "");
}

static void add_causes(writer *w)
{
    const pp_diagnosis *d = w->results->diagnosis;
    if (!d || !d->valid) return;
    static const char *const headings[] = {
        "What went wrong on the machine", "Pattern found, cause unclear",
        "Pattern found, cause unclear", "For information, from the errors of position"};
    const char *last = NULL;
    for (size_t i = 0; i < d->statement_count; i++) {
        const char *heading = headings[d->statements[i].kind];
        if (heading != last) add_heading(w, heading);
        last = heading;
        add_line(w, "- ", d->statements[i].text);
    }
}

/* ---- hold-down ---- */

static void add_hold_counts(writer *w, const pp_holddown *h)
{
    const pp_hold_counts *c = &w->results->holddown_judgement->counts;
    if (h->plan_given) pp_text_add(&w->piece, "without clamps ");
    pp_text_print(&w->piece,
                  "%zu of %zu holes need more hold-down; %zu seated, %zu seat under the foot",
                  c->needs_holddown, h->count, c->seated, c->seats_under_foot);
    if (c->sags) pp_text_print(&w->piece, ", %zu sag", c->sags);
    if (c->uncertain)
        pp_text_print(&w->piece, "; %zu uncertain, for thickness or mesh", c->uncertain);
    finish_line(w, "");
}

static void add_gaps(writer *w, const pp_holddown *h)
{
    pp_length_unit units = w->results->job->units;
    pp_text_add(&w->piece, "largest gap ");
    pp_people_length(&w->piece, units, h->largest_gap);
    pp_text_add(&w->piece, ", under the foot ");
    pp_people_against(&w->piece, units, h->largest_gap_under_foot, h->gap_limit);
    pp_text_add(&w->piece, " (limit ");
    pp_people_limit(&w->piece, units, h->gap_limit);
    pp_text_add(&w->piece, "); foot ");
    pp_people_force(&w->piece, units, h->foot_force);
    if (pp_given(h->largest_force_to_close) && h->largest_force_to_close > 0) {
        pp_text_add(&w->piece, ", largest force to close ");
        pp_people_force(&w->piece, units, h->largest_force_to_close);
    }
    finish_line(w, "");
}

/* "clamp 2", "clamps 1 and 3" */
static void add_lifted(pp_text *text, const pp_drill_setup *s)
{
    pp_text_add(text, s->lifted_count == 1 ? "clamp" : "clamps");
    for (size_t k = 0; k < s->lifted_count; k++)
        pp_text_print(text, "%s%u",
                      k == 0                     ? " "
                      : k + 1 == s->lifted_count ? " and "
                                                 : ", ",
                      s->lifted[k] + 1);
}

static void add_setup(writer *w, size_t number, const pp_drill_setup *s)
{
    const char *plural = s->hole_count == 1 ? "" : "s";
    pp_text_print(&w->piece, "Set-up %zu: ", number);
    if (s->lifted_count) {
        pp_text_add(&w->piece, "lift ");
        add_lifted(&w->piece, s);
        pp_text_print(&w->piece, ", drill the %zu hole%s beneath, put %s back", s->hole_count,
                      plural, s->lifted_count == 1 ? "it" : "them");
    } else {
        pp_text_print(&w->piece, "all clamps on, drill %zu hole%s", s->hole_count, plural);
    }
    if (s->hole_count) {
        pp_text_add(&w->piece, "; worst gap under the foot ");
        pp_people_length(&w->piece, w->results->job->units, s->worst_gap);
    }
    if (w->results->holddown_judgement->setups[number - 1] == PP_DOES_NOT_CONFORM)
        pp_text_add(&w->piece, ", which is not held");
    finish_line(w, "- ");
}

/* From the first chuck to the last */
static void add_setups(writer *w, const pp_holddown *h)
{
    const pp_setup_list *list = &h->setups;
    pp_clamps_order_say(&w->piece, list, h->clamp_count);
    finish_line(w, "");
    for (size_t i = 0; i < list->count; i++) add_setup(w, i + 1, &list->setups[i]);
}

static void add_shims(writer *w)
{
    const pp_holddown *h = w->results->holddown;
    const pp_holddown_judgement *j = w->results->holddown_judgement;
    const pp_hold_counts *with = &j->with_shims;
    bool sags = j->counts.sags + j->drilled.sags > 0; /* between pins a shim changes nothing */
    if (!h->shim_count || !h->with_shims || sags) return;
    pp_text_print(&w->piece, "Or shims, %zu of them: with these %zu of %zu holes are not held, ",
                  h->shim_count, with->needs_holddown + with->sags, h->count);
    pp_text_add(&w->piece, "the worst still gives or gapes by ");
    pp_people_length(&w->piece, w->results->job->units, h->with_shims_worst_gap);
    pp_text_add(&w->piece, "; the page says where they go");
    finish_line(w, "");
}

static void add_plan(writer *w, const pp_holddown *h)
{
    pp_length_unit units = w->results->job->units;
    add_line(w, "", w->results->holddown_words->advice);
    if (!h->clamp_count) return;
    pp_text_add(&w->piece, h->plan_given ? "As given: " : "Plan found: ");
    pp_clamps_number_say(&w->piece, h->clamp_count, h->plan);
    pp_text_add(&w->piece, ", worst gap left ");
    pp_people_length(&w->piece, units, h->plan_worst_gap);
    finish_line(w, "");
    size_t shown = h->clamp_count < CLAMPS_SHOWN ? h->clamp_count : CLAMPS_SHOWN;
    for (size_t i = 0; i < shown; i++) {
        pp_people_force(&w->piece, units, h->plan[i].force);
        pp_text_add(&w->piece, " at x ");
        pp_people_place(&w->piece, units, h->plan[i].x);
        pp_text_add(&w->piece, ", y ");
        pp_people_place(&w->piece, units, h->plan[i].y);
        if (h->plan[i].name)
            pp_text_print(&w->piece, "; %s%s", h->plan[i].edge_stop ? "edge stop " : "",
                          h->plan[i].name);
        if (h->plan[i].block_count)
            pp_text_print(&w->piece, "; blocks %zu hole%s", h->plan[i].block_count,
                          h->plan[i].block_count == 1 ? "" : "s");
        finish_line(w, "- ");
    }
    if (shown < h->clamp_count) {
        pp_text_print(&w->piece, "and %zu more", h->clamp_count - shown);
        finish_line(w, "- ");
    }
    if (h->setups.count) add_setups(w, h);
}

static void add_holddown(writer *w)
{
    const pp_holddown *h = w->results->holddown;
    if (!h) return;
    const pp_holddown_judgement *j = w->results->holddown_judgement;
    const pp_holddown_words *words = w->results->holddown_words;
    if (pp_is_holddown_study(w->results))
        end_line(w);
    else
        add_heading(w, j->ready ? "Hold-down: ready, every hole seats" : "Hold-down: not ready");
    pp_holddown_headline_say(&w->piece, w->results);
    finish_line(w, "");
    add_hold_counts(w, h);
    add_gaps(w, h);
    add_plan(w, h);
    add_shims(w);
    if (h->time.valid) {
        pp_machine_time_say(&w->piece, w->results->job->units, &h->time);
        finish_line(w, "");
    }
    pp_turned_say(&w->piece, w->results);
    if (w->piece.length) finish_line(w, "");
    for (size_t i = 0; i < words->note_count; i++) add_line(w, "- ", words->notes[i]);
    add_line(w, "",
             "A held plate stores energy: release clamps evenly in small steps with nobody at "
             "the rim. A setting-up aid, not a guarding or lifting calculation.");
}

static void add_stack(writer *w)
{
    const pp_results *r = w->results;
    if (!r->stack) return;
    end_line(w);
    if (r->drilled) add_line(w, "", r->stack_words->advice);
    const pp_hold_counts *c = &r->stack_judgement->counts;
    pp_text_print(&w->piece,
                  "%zu of %zu holes need more; %zu seated, %zu seat under the foot, %zu sag",
                  c->needs_holddown, r->stack->count, c->seated, c->seats_under_foot, c->sags);
    finish_line(w, "");
    if (r->stack->searched) {
        add_heading(w, r->stack->found_better ? "Lay them like this" : "Lay them as listed");
        for (size_t k = 0; k < r->stack_words->card_count; k++)
            add_line(w, "", r->stack_words->card[k]);
    }
    add_heading(w, "Keep in mind");
    for (size_t i = 0; i < r->stack_words->note_count; i++)
        add_line(w, "- ", r->stack_words->notes[i]);
}

static void add_layers(writer *w)
{
    static const char *const how[] = {"measured", "between", "not known"};
    const pp_drilled *d = w->results->drilled;
    if (!d) return;
    add_heading(w, "The layers, the bottom one first");
    for (size_t k = 0; k < d->layer_count; k++) {
        const pp_drilled_layer *layer = &w->results->drilled_judgement->layers[k];
        pp_text_print(&w->piece, "%s: %s, %s, largest position ",
                      w->results->job->layers[d->layer[k]].name, pp_verdict_words(layer->verdict),
                      how[d->how[k]]);
        pp_people_against(&w->piece, w->results->job->units, layer->largest, layer->limit);
        finish_line(w, "- ");
    }
}

static void add_roughing(writer *w)
{
    const pp_results *r = w->results;
    if (!r->roughing) return;
    for (size_t i = 0; i < r->roughing_words.note_count; i++)
        add_line(w, "- ", r->roughing_words.notes[i]);
}

static void add_cautions(writer *w)
{
    const pp_judgement *j = w->results->judgement;
    if (!j->caution_count) return;
    add_heading(w, "Keep in mind");
    for (size_t i = 0; i < j->caution_count; i++) add_line(w, "- ", j->cautions[i]);
}

/* Beside the headline: with a slip of a unit it is worth nothing. */
static void add_doubts(writer *w)
{
    const pp_judgement *j = w->results->judgement;
    for (size_t i = 0; i < j->doubt_count; i++) add_line(w, "! ", j->cautions[i]);
}

/* ---- whole ---- */

static writer begin(const pp_results *results, const pp_terminal_options *options, pp_text *text)
{
    int width = options->width > 0 ? options->width : DEFAULT_WIDTH;
    return (writer){.results = results,
                    .options = options,
                    .out = text,
                    .width = (size_t)(width < LEAST_WIDTH ? LEAST_WIDTH : width)};
}

pp_status pp_terminal_write(const pp_results *results, const pp_terminal_options *options,
                            pp_memory *memory, pp_text *text, pp_error *error)
{
    pp_summary summary;
    PP_TRY(pp_summary_make(results, memory, &summary, error));
    writer w = begin(results, options, text);
    add_verdict(&w, &summary);
    add_doubts(&w);
    if (pp_is_holddown_study(results)) {
        add_holddown(&w);
        add_heading(&w, "The plate as surveyed");
        add_decision(&w, &summary);
        add_rows(&w, &summary);
        add_exceptions(&w);
        add_work(&w);
    } else {
        add_rows(&w, &summary);
        add_exceptions(&w);
        add_work(&w);
        add_placement(&w);
        add_causes(&w);
        add_holddown(&w);
        add_layers(&w);
        add_stack(&w);
        add_roughing(&w);
    }
    add_cautions(&w);
    if (options->report) {
        end_line(&w);
        pp_text_add(text, "Report: ");
        pp_text_add_foreign(text, options->report);
        end_line(&w);
    }
    bool failed = w.piece.failed || text->failed;
    pp_text_free(&w.piece);
    return failed ? pp_fail_memory(error) : PP_OK;
}

pp_status pp_terminal_write_line(const pp_results *results, const pp_terminal_options *options,
                                 pp_memory *memory, pp_text *text, pp_error *error)
{
    pp_summary summary;
    PP_TRY(pp_summary_make(results, memory, &summary, error));
    writer w = begin(results, options, text);
    const pp_judgement *j = results->judgement;
    const char *word = pp_verdict_words(j->verdict);
    add_coloured(&w, j->verdict, word);
    add_blanks(text, strlen("does not conform") + GAP - strlen(word));
    pp_text_add_foreign(text, results->job->name);
    const char *before = "  ";
    for (size_t i = 0; i < summary.count; i++) {
        if (summary.rows[i].verdict != j->verdict || j->verdict < PP_NOT_PROVEN) continue;
        pp_text_add(text, before);
        pp_text_add_foreign(text, summary.rows[i].name);
        before = ", ";
    }
    if (results->holddown && !results->holddown_judgement->ready)
        pp_text_print(text, "%shold-down not ready", before);
    end_line(&w);
    pp_text_free(&w.piece);
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
