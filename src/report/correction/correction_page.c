/* correction.html: what is corrected, by how much where, and what is promised for it. */
#include <math.h>
#include <string.h>

#include "plateproof/version.h"
#include "report/correction/correction_pictures.h"
#include "report/correction/correction_report.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

static const double PER_CENT = 100;

static void fixed(pp_text *out, double value, int decimals, const char *behind)
{
    pp_text_add_fixed(out, value, decimals);
    pp_text_add(out, behind);
}

static void add_header(pp_text *out, const pp_correction *c)
{
    pp_text_add(out, "<a class=\"skip\" href=\"#promise\">Skip to the promise</a>\n<header>\n<p "
                     "class=\"kind\">Corrected hole list for the next plate</p>\n<h1>");
    pp_markup_add(out, c->machine);
    pp_text_print(out, "</h1>\n<p class=\"identity\">learned from %zu plate%s, for ",
                  c->plate_count, c->plate_count == 1 ? "" : "s");
    pp_markup_add(out, c->next->file);
    pp_text_print(out, "</p>\n<div class=\"verdict v%d\">", (int)PP_NOT_JUDGED);
    pp_html_sign(out, PP_NOT_JUDGED);
    pp_text_print(out, "<div><p class=\"word\">%s</p>",
                  c->correct ? "corrected" : "nothing is corrected");
    for (size_t i = 0; i < c->why_count; i++) {
        pp_text_add(out, "<p>");
        pp_markup_add(out, c->why[i]);
        pp_text_add(out, "</p>");
    }
    pp_text_add(out, "<p class=\"basis\">corrected.csv is where the machine is sent. Holes are "
                     "judged by the drawing's list, and the plate's job names this one as "
                     "commanded.</p></div></div>\n</header>\n<main>\n");
}

/* ---- the promise ---- */

static void add_range(pp_text *out, const char *word, const pp_range3 *r, double times,
                      int decimals, const char *unit)
{
    pp_text_print(out, "<tr><th scope=\"row\">%s</th><td>", word);
    fixed(out, times * r->median, decimals, unit);
    pp_text_add(out, "</td><td>");
    fixed(out, times * r->low, decimals, " to ");
    fixed(out, times * r->high, decimals, unit);
    pp_text_add(out, "</td></tr>\n");
}

static void add_ranges(pp_text *out, const pp_promise *p)
{
    pp_text_add(out, "<div class=\"scroll\" tabindex=\"0\"><table><caption>The next plate; 9 of 10 "
                     "lie in the range, 19 of 20 below its upper "
                     "end</caption><thead><tr><th></th><th scope=\"col\">Half are below</th><th "
                     "scope=\"col\">Range</th></tr></thead><tbody>\n");
    add_range(out, "Error, rms, as it is", &p->rms_before, 1, 4, " mm");
    add_range(out, "Error, rms, drilled to the list", &p->rms_after, 1, 4, " mm");
    if (!isnan(p->out_before.median)) {
        add_range(out, "Holes outside, as it is", &p->out_before, PER_CENT, 2, " %");
        add_range(out, "Holes outside, drilled to the list", &p->out_after, PER_CENT, 2, " %");
    }
    pp_text_add(out, "</tbody></table></div>\n");
}

static void add_promise(pp_text *out, const pp_correction *c, const pp_correct_options *options)
{
    pp_html_section(out, "promise", c->promised ? "The promise" : "If the machine does the same");
    if (c->promised) {
        pp_text_add(out, "<p class=\"lead\">rms at most ");
        fixed(out, c->promise.rms_after.high, 4, " mm; better than without the list in ");
        fixed(out, PER_CENT * c->promise.probability_better, 0, " of 100 cases.</p>\n");
        pp_picture_promise(out, c, options->limit);
        add_ranges(out, &c->promise);
    } else {
        pp_text_add(out, "<p class=\"lead\">rms ");
        fixed(out, c->rms_now, 4, " to ");
        fixed(out, c->rms_then, 4,
              " mm, without any promise: worse if the next plate shows less than half of what is "
              "corrected.</p>\n");
    }
    pp_text_add(out,
                "<p class=\"basis\">Of plates of this machine as it is: same side up, same "
                "place and orientation on the table, same order, no event since. Inspection of "
                "the plate says whether the promise was kept.</p>\n");
    pp_html_end_section(out);
}

/* ---- the shift ---- */

static void add_shift(pp_text *out, const pp_correction *c, const pp_correct_options *options)
{
    pp_html_section(out, "shift", "Where the holes are sent");
    pp_picture_shift(out, c);
    pp_text_add(out, "<dl class=\"facts\">\n<dt>Largest shift</dt><dd>");
    fixed(out, c->largest, 3, " mm, hole ");
    pp_markup_add(out, c->next->name[c->largest_hole]);
    pp_text_add(out, "</dd>\n<dt>Distances of neighbours change by at most</dt><dd>");
    fixed(out, c->neighbour_change, 3, " mm</dd>\n");
    if (!isnan(c->ligament)) {
        pp_text_add(out, "<dt>Smallest ligament between commanded places</dt><dd>");
        fixed(out, c->ligament, 3, " mm, ");
        pp_markup_add(out, c->next->name[c->ligament_hole[0]]);
        pp_text_add(out, " &ndash; ");
        pp_markup_add(out, c->next->name[c->ligament_hole[1]]);
        if (!isnan(options->ligament_minimum)) {
            pp_text_add(out, "; at least ");
            pp_text_add_number(out, options->ligament_minimum);
            pp_text_add(out, " mm are wanted");
        }
        pp_text_add(out, "</dd>\n");
    }
    if (c->factor < 1) {
        pp_text_add(out, "<dt>Scaled as a whole by</dt><dd>");
        fixed(out, c->factor, 2, ", to the cap of ");
        fixed(out, c->cap, 3, " mm</dd>\n");
    }
    pp_text_add(out, "</dl>\n");
    pp_html_end_section(out);
}

/* ---- the terms ---- */

static void add_term_row(pp_text *out, const pp_correction *c, int k, bool by_machine)
{
    const pp_learned_term *t = &c->terms[k];
    double scale;
    int decimals;
    const char *unit = pp_term_unit(k, &scale, &decimals);
    pp_text_print(out, "<tr><th scope=\"row\">%s, %s</th>", pp_static_names[k], unit);
    const double values[] = {t->mean, t->between, t->within, t->applied};
    for (int v = 0; v < 4; v++) {
        pp_text_add(out, "<td>");
        if (isnan(values[v]))
            pp_text_add(out, "&ndash;");
        else
            fixed(out, scale * values[v], decimals, "");
        pp_text_add(out, "</td>");
    }
    pp_text_print(out, "<td>%s%s</td></tr>\n", pp_correction_state_words(t->state),
                  by_machine && t->applied != 0 ? ", set at the machine" : "");
}

static void add_terms(pp_text *out, const pp_correction *c, const pp_correct_options *options)
{
    pp_html_section(out, "terms", "What repeats");
    pp_text_add(out, "<div class=\"charts\">\n");
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        if (!isnan(c->terms[k].mean)) pp_picture_term(out, c, k);
    pp_text_add(out,
                "</div>\n<p class=\"note\">Each plate's value with its 95 % interval, in order "
                "of drilling; the open square: where the next plate is expected, 95 %. The "
                "dashed line is what the list takes out.</p>\n<div class=\"scroll\" "
                "tabindex=\"0\"><table><thead><tr><th scope=\"col\">Term</th><th "
                "scope=\"col\">Mean</th><th scope=\"col\">Plate to plate, sd</th><th "
                "scope=\"col\">Of one fit, se</th><th scope=\"col\">Corrected</th><th "
                "scope=\"col\">Why</th></tr></thead><tbody>\n");
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        add_term_row(out, c, k, options->machine_sets & 1u << k);
    pp_text_add(out, "</tbody></table></div>\n<p>Smooth field and single holes: ");
    pp_text_add(out, c->field_used         ? "what repeats of them is corrected, too"
                     : c->plate_count < 3  ? "not from fewer than three plates"
                     : !c->same_pattern    ? "the plates have other patterns"
                     : !options->use_field ? "left out as asked"
                                           : "not corrected: nothing of them repeats");
    pp_text_add(out, ".</p>\n");
    pp_html_end_section(out);
}

static void add_settings(pp_text *out, const pp_correction *c)
{
    pp_machine_setting s[PP_MACHINE_SETTINGS_MAX];
    size_t count = pp_machine_settings(c, s);
    if (!count) return;
    pp_html_section(out, "settings", "The machine instead");
    pp_text_add(out, "<p class=\"lead\">Set the machine, or drill to the list; never "
                     "both.</p>\n<dl class=\"facts\">\n");
    for (size_t i = 0; i < count; i++) {
        pp_text_print(out, "<dt>%s</dt><dd>", s[i].setting);
        fixed(out, s[i].value, strcmp(s[i].unit, "mm") == 0 ? 4 : 1, " ");
        pp_text_print(out, "%s: %s</dd>\n", s[i].unit, s[i].text);
    }
    pp_text_add(out, "</dl>\n");
    pp_html_end_section(out);
}

/* ---- the plates ---- */

static void add_plate_row(pp_text *out, const pp_correction *c, size_t p)
{
    const pp_kept_report *r = &c->plates[p].report;
    const char *date = r->drilled_date ? r->drilled_date : r->inspection_date;
    pp_text_add(out, "<tr><th scope=\"row\">");
    pp_markup_add(out, r->plate_id[0] ? r->plate_id : r->serial);
    pp_text_add(out, "</th><td>");
    pp_markup_add(out, date ? date : "no date");
    pp_text_print(out, "</td><td>%zu</td><td>", c->plates[p].count);
    if (p < c->left_out_count) {
        fixed(out, c->left_out[p].rms_before, 4, "</td><td>");
        fixed(out, c->left_out[p].rms_after, 4, "");
    } else {
        fixed(out, c->plates[p].rms, 4, "</td><td>&ndash;");
    }
    pp_text_add(out, "</td></tr>\n");
}

static void add_plates(pp_text *out, const pp_correction *c)
{
    pp_html_section(out, "plates", "The plates it was learned from");
    if (c->left_out_count) pp_picture_left_out(out, c);
    pp_text_add(out, "<div class=\"scroll\" tabindex=\"0\"><table><thead><tr><th "
                     "scope=\"col\">Plate</th><th scope=\"col\">Date</th><th "
                     "scope=\"col\">Holes</th><th scope=\"col\">rms, mm</th><th "
                     "scope=\"col\">Corrected by the others, mm</th></tr></thead><tbody>\n");
    for (size_t p = 0; p < c->plate_count; p++) add_plate_row(out, c, p);
    pp_text_add(out, "</tbody></table></div>\n");
    pp_html_end_section(out);
}

pp_status pp_correction_page(const pp_correction *c, const pp_correct_options *options,
                             pp_text *out, pp_error *error)
{
    PP_TRY(pp_html_open(out, c->machine, "corrected hole list", false, error));
    add_header(out, c);
    add_promise(out, c, options);
    add_shift(out, c, options);
    add_terms(out, c, options);
    add_settings(out, c);
    add_plates(out, c);
    pp_text_print(out,
                  "</main>\n<footer><p>plateproof %s. Check the first plate drilled to the list "
                  "before drilling others. After re-tooling, moving the machine, a crash or a new "
                  "compensation table learn anew.</p></footer>\n</body>\n</html>\n",
                  pp_version());
    return out->failed ? pp_fail_memory(error) : PP_OK;
}
