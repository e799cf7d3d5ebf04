#include "report/bundle/bundle_terminal.h"

#include <string.h>

#include "answer/bundle_summary.h"
#include "base/foreign.h"

enum { DEFAULT_WIDTH = 80, LEAST_WIDTH = 40, NAMES = 26, FAILING_SHOWN = 8 };

static size_t columns(const char *text, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) count += ((unsigned char)text[i] & 0xc0) != 0x80;
    return count;
}

/* Words from column `column` on, later lines at `indent`. */
static void add_wrapped(pp_text *out, const char *text, size_t column, size_t indent, size_t width)
{
    while (*text) {
        size_t length = strcspn(text, " "), wide = columns(text, length);
        if (column > indent && column + 1 + wide > width) {
            pp_text_print(out, "\n%*s", (int)indent, "");
            column = indent;
        } else if (column > indent) {
            pp_text_add(out, " ");
            column++;
        }
        pp_text_add_foreign_bytes(out, text, length);
        column += wide;
        text += length;
        while (*text == ' ') text++;
    }
    pp_text_add(out, "\n");
}

/* A name in its column, and its text beside it. */
static void add_row(pp_text *out, const char *name, const char *text, size_t width)
{
    size_t wide = columns(name, strlen(name));
    pp_text_add(out, "  ");
    pp_text_add_foreign(out, name);
    size_t gap = wide + 2 < NAMES ? NAMES - wide : 2;
    pp_text_print(out, "%*s", (int)gap, "");
    add_wrapped(out, text, 2 + wide + gap, 2 + NAMES, width);
}

static const char *colour_of(pp_verdict verdict)
{
    return verdict == PP_CONFORMS ? "\033[1;34m" : "\033[1;31m";
}

static void add_failing(pp_text *out, const pp_bundle_results *r, size_t width)
{
    size_t shown = 0, failing = r->judgement->not_conform + r->judgement->not_proven;
    if (!failing) return;
    pp_text_add(out, "\nTubes that do not conform, or are not proven\n");
    for (size_t k = 0; k < r->bundle->mates.tubes.count && shown < FAILING_SHOWN; k++) {
        uint8_t verdict = r->judgement->tube[k].verdict;
        if (verdict != PP_DOES_NOT_CONFORM && verdict != PP_NOT_PROVEN) continue;
        pp_text words = {0};
        pp_bundle_tube_words(&words, r, k);
        if (words.failed) out->failed = true;
        add_row(out, r->bundle->mates.tubes.name[k], words.length ? words.data : "", width);
        pp_text_free(&words);
        shown++;
    }
    if (failing > shown) pp_text_print(out, "  and %zu more\n", failing - shown);
}

pp_status pp_bundle_terminal_write(const pp_bundle_results *results,
                                   const pp_terminal_options *options, pp_memory *memory,
                                   pp_text *text, pp_error *error)
{
    const pp_bundle_judgement *j = results->judgement;
    size_t width = options->width > LEAST_WIDTH ? (size_t)options->width : DEFAULT_WIDTH;
    pp_bundle_summary s;
    PP_TRY(pp_bundle_summary_make(results, memory, &s, error));
    bool colour = options->colour && j->verdict != PP_NOT_JUDGED;
    if (colour) pp_text_add(text, colour_of(j->verdict));
    pp_text_add(text, pp_verdict_words(j->verdict));
    if (colour) pp_text_add(text, "\033[0m");
    pp_text_print(text, ": %s\n", s.headline);
    add_wrapped(text, j->basis, 0, 0, width);
    add_wrapped(text, j->decision_rule, 0, 0, width);
    pp_text_add(text, "\n");
    for (size_t i = 0; i < s.fact_count; i++)
        add_row(text, s.facts[i].name, s.facts[i].value, width);
    pp_text_add(text, "\nPlates, from the front\n");
    for (size_t p = 0; p < results->set->plate_count; p++)
        add_row(text, results->set->plates[p].name, s.fitter[p], width);
    pp_text_add(text, "  ");
    add_wrapped(text, s.fitter_note, 2, 2, width);
    add_failing(text, results, width);
    pp_text_add(text, "\nKeep in mind\n");
    for (size_t i = 0; i < j->caution_count; i++) {
        pp_text_add(text, "  - ");
        add_wrapped(text, j->cautions[i], 4, 4, width);
    }
    if (options->report) {
        pp_text_add(text, "\nReport: ");
        pp_text_add_foreign(text, options->report);
        pp_text_add(text, "\n");
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
