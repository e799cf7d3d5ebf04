#include <string.h>

#include "answer/for_people.h"
#include "answer/holddown_words.h"
#include "answer/identity.h"
#include "answer/inputs.h"
#include "answer/reading_words.h"
#include "answer/summary.h"
#include "causes/separable_terms.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

void pp_html_section(pp_text *out, const char *id, const char *title)
{
    pp_text_print(out,
                  "<section id=\"%s\" aria-labelledby=\"%s-title\">\n<h2 id=\"%s-title\">%s</h2>\n",
                  id, id, id, title);
}

void pp_html_end_section(pp_text *out) { pp_text_add(out, "</section>\n"); }

/* ---- small pieces ---- */

void pp_html_term(pp_text *out, const char *name) { pp_text_print(out, "<dt>%s</dt><dd>", name); }

void pp_html_end_term(pp_text *out) { pp_text_add(out, "</dd>\n"); }

void pp_html_length_term(pp_text *out, const pp_results *r, const char *name, double mm)
{
    if (!pp_given(mm)) return;
    pp_html_term(out, name);
    pp_people_length(out, r->job->units, mm);
    pp_html_end_term(out);
}

void pp_html_force_term(pp_text *out, const pp_results *r, const char *name, double newton)
{
    if (!pp_given(newton)) return;
    pp_html_term(out, name);
    pp_people_force(out, r->job->units, newton);
    pp_html_end_term(out);
}

static void text_term(pp_text *out, const char *name, const char *untrusted)
{
    if (!untrusted || !*untrusted) return;
    pp_html_term(out, name);
    pp_markup_add(out, untrusted);
    pp_html_end_term(out);
}

void pp_html_place(pp_text *out, const pp_results *r, double x, double y)
{
    pp_people_place(out, r->job->units, x);
    pp_text_add(out, ", ");
    pp_people_place(out, r->job->units, y);
}

static void begin_table(pp_text *out, const char *kind, const char *caption,
                        const char *const *heads, size_t count)
{
    pp_text_print(out, "<div class=\"scroll\"><table%s><caption>%s</caption><thead><tr>", kind,
                  caption);
    for (size_t i = 0; i < count; i++) pp_text_print(out, "<th scope=\"col\">%s</th>", heads[i]);
    pp_text_add(out, "</tr></thead><tbody>\n");
}

static void table(pp_text *out, const char *caption, const char *const *heads, size_t count)
{
    begin_table(out, "", caption, heads, count);
}

void pp_html_cards(pp_text *out, const char *caption, const char *const *heads, size_t count)
{
    begin_table(out, " class=\"stack\"", caption, heads, count);
}

void pp_html_end_table(pp_text *out) { pp_text_add(out, "</tbody></table></div>\n"); }

static void area_rows(pp_text *out, const pp_results *r, const pp_area *areas, size_t count)
{
    static const char *const sides[] = {"high", "low", "gap"};
    static const char *const heads[] = {"Side", "Area", "Peak", "Peak at x, y", "Holes in it"};
    table(out, "Out-of-flat areas", heads, 5);
    for (size_t i = 0; i < count; i++) {
        const pp_area *a = &areas[i];
        pp_text_print(out, "<tr><td>%s</td><td>", sides[a->side]);
        pp_people_area(out, r->job->units, a->area);
        pp_text_add(out, "</td><td>");
        pp_people_length(out, r->job->units, a->peak);
        pp_text_add(out, "</td><td>");
        pp_html_place(out, r, a->x, a->y);
        pp_text_print(out, "</td><td>%zu</td></tr>\n", a->holes);
    }
    pp_html_end_table(out);
}

/* ---- flatness ---- */

static void thickness_terms(pp_text *out, const pp_results *r)
{
    const pp_thickness_map *t = &r->flatness->thickness;
    if (!t->valid) return;
    pp_html_length_term(out, r, "Mean thickness (from both surveys)", t->mean);
    pp_html_length_term(out, r, "Smallest thickness", t->smallest);
    pp_html_length_term(out, r, "Largest thickness", t->largest);
    pp_html_length_term(out, r, "Parallelism of the underside", t->parallelism);
}

static void flatness_section(pp_text *out, const pp_results *r)
{
    const pp_flatness *f = r->flatness;
    pp_html_section(out, "flatness", "Flatness as supported during the survey");
    pp_text_add(out, "<dl class=\"facts\">\n");
    pp_html_term(out, "Surveyed points");
    pp_people_count(out, f->points);
    pp_html_end_term(out);
    pp_html_length_term(out, r, "Minimum zone (ISO 12781-1 MZPL)", f->minimum_zone.flatness);
    pp_html_length_term(out, r, "Least squares, peak to valley (FLTt)", f->least_squares.flatness);
    pp_html_length_term(out, r, "Peak above the least-squares plane", f->least_squares.peak);
    pp_html_length_term(out, r, "Valley below it", f->least_squares.valley);
    pp_html_length_term(out, r, "Root mean square deviation (FLTq)", f->least_squares.rms);
    if (f->surface_valid) {
        pp_html_length_term(out, r, "Noise of one height, as fitted", f->surface.noise);
        pp_html_length_term(out, r, "Standard error of the fitted surface",
                            f->surface.standard_error);
        if (f->surface.outlier_count) {
            pp_html_term(out, "Points far off the surface");
            pp_people_count(out, f->surface.outlier_count);
            pp_text_add(out, " (left out of it: ");
            pp_people_count(out, f->surface.left_out_count);
            pp_text_add(out, ")");
            pp_html_end_term(out);
        }
    }
    thickness_terms(out, r);
    pp_text_add(out, "</dl>\n");
    if (f->area_count) area_rows(out, r, f->areas, f->area_count);
    pp_html_end_section(out);
}

void pp_html_plate_sections(pp_text *out, const pp_results *results)
{
    if (results->flatness) flatness_section(out, results);
}

/* ---- causes ---- */

static const char *outcome(pp_term_state state, bool matters, bool unclear)
{
    if (state == PP_TERM_NOT_TESTED) return "not tested";
    if (state == PP_TERM_NOT_FOUND) return "not found";
    return unclear ? "found, not told apart" : matters ? "found" : "found, small";
}

static void p_cell(pp_text *out, double p)
{
    if (pp_given(p) && p < 5e-5)
        pp_text_add(out, "&lt; 0.0001");
    else if (pp_given(p))
        pp_text_add_fixed(out, p, 4);
}

static void pattern_rows(pp_text *out, const pp_diagnosis *d)
{
    for (size_t i = 0; i < d->pattern_count; i++) {
        const pp_error_pattern *p = &d->patterns[i];
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, p->name);
        pp_text_print(out, "</td><td>%s</td><td>",
                      outcome(p->state, p->matters, p->unclear != NULL));
        p_cell(out, p->p_adjusted);
        pp_text_add(out, "</td><td></td><td>");
        pp_markup_add(out, p->unclear ? p->unclear : p->partner);
        pp_text_add(out, "</td></tr>\n");
    }
}

static void term_rows(pp_text *out, const pp_diagnosis *d)
{
    static const char *const heads[] = {"Term", "Outcome", "p (adjusted)", "Share of the variance",
                                        "Cannot be told from"};
    table(out, "Systematic terms tested", heads, 5);
    for (size_t i = 0; i < d->term_count; i++) {
        const pp_term *t = &d->terms[i];
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, pp_term_said(t->name));
        pp_text_print(out, "</td><td>%s</td><td>",
                      outcome(t->state, t->matters, t->unclear != NULL));
        p_cell(out, t->p_adjusted);
        pp_text_add(out, "</td><td>");
        if (pp_given(t->share)) pp_people_share(out, t->share);
        pp_text_add(out, "</td><td>");
        pp_markup_add(out, t->unclear ? t->unclear : t->partner);
        pp_text_add(out, "</td></tr>\n");
    }
    pattern_rows(out, d);
    pp_html_end_table(out);
}

static void promise_line(pp_text *out, const pp_results *r)
{
    pp_text words = {0};
    pp_promise_words(&words, r);
    if (words.length) {
        pp_text_add(out, r->promise && !r->promise->kept ? "<p class=\"lead\">" : "<p>");
        pp_markup_add(out, words.data);
        pp_text_add(out, "</p>\n");
    }
    if (words.failed) out->failed = true;
    pp_text_free(&words);
}

static void diagnosis_section(pp_text *out, const pp_results *r)
{
    const pp_diagnosis *d = r->diagnosis;
    pp_html_section(out, "causes", "What the machine did");
    pp_html_statements(out, r);
    promise_line(out, r);
    pp_text_add(out, "<dl class=\"facts\">\n");
    pp_html_length_term(out, r, "Error field, root mean square", d->rms_before);
    pp_html_length_term(out, r, "The same with the terms found removed", d->rms_after);
    pp_text_add(out, "</dl>\n");
    term_rows(out, d);
    pp_html_end_section(out);
}

static void placement_section(pp_text *out, const pp_results *r)
{
    const pp_placement *p = r->placement;
    pp_length_unit units = r->job->units;
    pp_html_section(out, "placement", "The best place of the pattern");
    if (p->uncertified) {
        pp_text_add(out, "<p>Could not be certified: the holes are displaced too far from their "
                         "places. The verdict does not rest on it.</p>\n");
        pp_html_end_section(out);
        return;
    }
    pp_text_add(out, "<p>The smallest position zone that any rigid placement of the measured "
                     "pattern allows is ");
    pp_people_against(out, units, p->zone, r->limits->position_limit.value);
    pp_text_add(out, ".");
    if (p->saves) {
        pp_text_add(out, " Moving the datum would bring every position within the limit: turn ");
        pp_people_angle(out, p->angle_deg);
        pp_text_add(out, ", shift ");
        pp_html_place(out, r, p->dx, p->dy);
        pp_text_add(out, "; no hole moves by more than ");
        pp_people_length(out, units, p->moved);
        pp_text_add(out, ".");
    }
    pp_text_add(out, " Its governing holes: ");
    for (int i = 0; i < p->witness_count; i++) {
        if (i) pp_text_add(out, ", ");
        pp_markup_add(out, r->files->nominal.name[p->witnesses[i]]);
    }
    pp_text_add(out, ".");
    if (p->left_out_count)
        pp_text_print(out, " %zu overlapping or extra holes were left out.", p->left_out_count);
    pp_text_add(out, "</p>\n");
    pp_html_end_section(out);
}

void pp_html_cause_sections(pp_text *out, const pp_results *results)
{
    if (results->diagnosis && results->diagnosis->valid) diagnosis_section(out, results);
    if (results->placement && (results->placement->valid || results->placement->uncertified))
        placement_section(out, results);
}

/* ---- records ---- */

static void history_section(pp_text *out, const pp_results *r)
{
    const pp_measures *m = r->measures;
    const pp_readings *readings = m->readings;
    enum { ROWS_MAX = 500 };
    static const char *const heads[] = {"Hole",     "Face",        "Round",
                                        "Diameter", "Disposition", "Reference"};
    bool dispositions = readings && readings->disposition;
    if (!m->history_count && !dispositions) return;
    size_t rows = 0, i;
    pp_html_section(out, "history", "Rounds and dispositions");
    table(out, "Earlier rounds are kept for the record; the latest one is judged", heads, 6);
    for (i = 0; i < m->history_count && rows < ROWS_MAX; i++, rows++) {
        const pp_reading_history *h = &m->history[i];
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, r->files->nominal.name[h->hole]);
        pp_text_print(out, "</td><td>%s</td><td>%u</td><td>", pp_face_words(h->face),
                      (unsigned)h->round);
        pp_people_length(out, r->job->units, h->diameter_min);
        pp_text_add(out, "</td><td></td><td></td></tr>\n");
    }
    size_t all = m->history_count;
    for (i = 0; dispositions && i < readings->count; i++) {
        const char *what = readings->disposition[i];
        if (!what || !*what) continue;
        all++;
        if (rows >= ROWS_MAX) continue;
        pp_text_add(out, "<tr><td>");
        uint32_t hole = m->hole_of_row[i];
        pp_markup_add(out, hole != PP_NONE  ? r->files->nominal.name[hole]
                           : readings->name ? readings->name[i]
                                            : "");
        pp_text_print(out, "</td><td>%s</td><td>%u</td><td>", pp_face_words(readings->face[i]),
                      (unsigned)readings->round[i]);
        pp_people_length(out, r->job->units, readings->diameter ? readings->diameter[i] : NAN);
        pp_text_add(out, "</td><td>");
        pp_markup_add(out, what);
        pp_text_add(out, "</td><td>");
        pp_markup_add(out, readings->reference ? readings->reference[i] : NULL);
        pp_text_add(out, "</td></tr>\n");
        rows++;
    }
    pp_html_end_table(out);
    if (all > rows)
        pp_text_print(out, "<p class=\"note\">and %zu more; the measured list has them.</p>\n",
                      all - rows);
    pp_html_end_section(out);
}

static void limits_section(pp_text *out, const pp_results *r)
{
    const pp_limits *l = r->limits;
    static const char *const heads[] = {"Limit", "Value", "Source"};
    pp_html_section(out, "limits", "Every limit with its source");
    pp_text_add(out, "<p>Rule set: ");
    pp_markup_add(out, l->set);
    pp_text_add(out, ". ");
    pp_markup_add(out, l->note);
    pp_text_add(out, "</p>\n");
    table(out, "Limits in force", heads, 3);
    for (size_t i = 0; i < l->count; i++) {
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, l->all[i].words);
        pp_text_add(out, "</td><td>");
        pp_people_limit_of(out, r->job->units, l->all[i].quantity, l->all[i].value);
        pp_text_add(out, "</td><td>");
        pp_markup_add(out, l->all[i].source);
        pp_text_add(out, "</td></tr>\n");
    }
    pp_html_end_table(out);
    pp_html_end_section(out);
}

static void reading_list(pp_text *out, const pp_results *r)
{
    pp_text words = {0};
    pp_text_add(out, "<h3>How each file was read</h3>\n<dl class=\"facts reading\">\n");
    for (size_t i = 0; i < r->input_count; i++) {
        const pp_input_file *f = &r->inputs[i];
        if (!f->reading) continue;
        words.length = 0;
        pp_reading_words(&words, f->reading);
        if (strcmp(f->role, "measured") == 0) {
            pp_text_add(&words, " ");
            pp_matching_words(&words, r);
        }
        text_term(out, pp_input_words(f->role), words.data);
    }
    out->failed = out->failed || words.failed;
    pp_text_free(&words);
    pp_text_add(out, "</dl>\n");
}

static void inputs_section(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Role", "File", "Rows", "SHA-256", "Instrument"};
    pp_html_section(out, "inputs", "Inputs");
    table(out, "The files this report was computed from", heads, 5);
    for (size_t i = 0; i < r->input_count; i++) {
        const pp_input_file *f = &r->inputs[i];
        pp_text_print(out, "<tr><td>%s</td><td>", pp_input_words(f->role));
        pp_markup_add(out, f->written);
        pp_text_add(out, "</td><td>");
        if (f->rows) pp_text_print(out, "%zu", f->rows);
        pp_text_print(out, "</td><td class=\"hash\">%s</td><td>", f->sha256);
        if (f->instrument) {
            const char *const parts[] = {f->instrument->kind, f->instrument->serial,
                                         f->instrument->certificate,
                                         f->instrument->calibration_due};
            pp_markup_add(out, f->instrument->name);
            for (size_t k = 0; k < 4; k++) {
                if (!parts[k]) continue;
                pp_text_add(out, k == 3 ? ", calibration due " : ", ");
                pp_markup_add(out, parts[k]);
            }
        }
        pp_text_add(out, "</td></tr>\n");
    }
    pp_html_end_table(out);
    reading_list(out, r);
    pp_html_end_section(out);
}

static void job_section(pp_text *out, const pp_results *r)
{
    pp_identity identity;
    pp_error error;
    if (pp_identity_make(r, &identity, &error) != PP_OK) out->failed = true;
    pp_html_section(out, "job", "The job");
    pp_text_add(out, "<dl class=\"facts\">\n");
    text_term(out, "Title", r->job->title);
    for (int i = 0; i < PP_IDENTITY_COUNT; i++)
        text_term(out, identity.texts[i].name, identity.texts[i].value);
    pp_text_add(out, "</dl>\n");
    pp_html_end_section(out);
}

void pp_html_record_sections(pp_text *out, const pp_results *results)
{
    if (results->measures) history_section(out, results);
    limits_section(out, results);
    inputs_section(out, results);
    job_section(out, results);
}
