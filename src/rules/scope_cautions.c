/* Cautions about what the verdict rests on: limits set by hand, counts, and what was left unsaid.
 */
#include <string.h>

#include "base/constants.h"
#include "rules/saying.h"

/* ---- limits ---- */

static void say_value(pp_speaker *s, const pp_limit *limit, double value)
{
    if (limit->quantity == PP_SHARE)
        pp_text_print(&s->text, "%g %%", 100 * value);
    else
        pp_say_length(s, value);
}

static void caution_limits(pp_speaker *s)
{
    const pp_limits *l = s->j->limits;
    for (size_t i = 0; i < l->count; i++) {
        const pp_limit *limit = &l->all[i];
        if (!limit->by_hand || (!s->j->measures && !limit->of_plate)) continue;
        pp_text_print(&s->text, "Limit set by hand: %s ", limit->words);
        say_value(s, limit, limit->value);
        pp_text_print(&s->text, " in the job file; %s gives ", l->set);
        if (pp_given(limit->of_set))
            say_value(s, limit, limit->of_set);
        else
            pp_text_add(&s->text, "none");
        pp_text_add(&s->text, ".");
        pp_say_end(s);
    }
    if (l->rules_path && s->j->measures) {
        pp_text_print(&s->text,
                      "The limits come from %s; nobody has checked that file against a "
                      "published source.",
                      l->set);
        pp_say_end(s);
    }
}

/* ---- counts ---- */

static bool has_text(const char *const *column, size_t row)
{
    return column && column[row] && *column[row];
}

/* What the shop decided about a hole needs a paper that says so. */
static void caution_references(pp_speaker *s)
{
    const pp_measures *m = s->j->measures;
    const pp_readings *r = m->readings;
    size_t count = 0;
    if (!r->disposition) return;
    for (size_t i = 0; i < r->count; i++) {
        if (!has_text(r->disposition, i) || has_text(r->reference, i)) continue;
        const char *what = r->disposition[i];
        if (!pp_same_word(what, strlen(what), "plugged") &&
            !pp_same_word(what, strlen(what), "accepted under concession"))
            continue;
        if (count < PP_NAMES_MOST) {
            const char *name = m->hole_of_row[i] != PP_NONE ? m->nominal->name[m->hole_of_row[i]]
                               : r->name                    ? r->name[i]
                                                            : "a hole without a name";
            pp_text_print(&s->text, "%s%s", count ? ", " : "", name);
        }
        count++;
    }
    if (!count) return;
    if (count > PP_NAMES_MOST) pp_text_print(&s->text, " and %zu more", count - PP_NAMES_MOST);
    pp_text_print(&s->text, ": plugged or accepted under concession without a reference (%zu).",
                  count);
    pp_say_end(s);
}

/* The bore that a hole and face has now, PP_NONE where it has none. */
static const pp_bore *bore_now(const pp_measures *m, const pp_reading_history *h)
{
    uint32_t b = h->hole < m->nominal->count ? m->bore_of[h->face][h->hole] : PP_NONE;
    return b == PP_NONE ? NULL : &m->bores[b];
}

static bool holds(const char *text, const char *word)
{
    size_t length = strlen(word);
    for (; *text; text++)
        if (strncasecmp(text, word, length) == 0) return true;
    return false;
}

static bool is_sleeved(const pp_measures *m, uint32_t hole, bool *disposed)
{
    const pp_readings *r = m->readings;
    bool sleeved = false;
    *disposed = false;
    for (size_t i = 0; r->disposition && i < r->count; i++) {
        if (m->hole_of_row[i] != hole || !has_text(r->disposition, i)) continue;
        *disposed = true;
        sleeved = sleeved || holds(r->disposition[i], "sleeve") || holds(r->disposition[i], "bush");
    }
    return sleeved;
}

/* Metal does not grow back, and a failing reading does not go away by itself. */
static void caution_rounds(pp_speaker *s)
{
    static const double SHRINKS = 0.01; /* mm, where no uncertainty is given */
    const pp_measures *m = s->j->measures;
    double u = s->j->job->holes.uncertainty_diameter;
    pp_diameter_bounds bounds = pp_bounds_of_hole(s->j->limits, NULL, PP_NONE);
    uint32_t shrunk[PP_NAMES_MOST], replaced[PP_NAMES_MOST];
    size_t shrunk_count = 0, replaced_count = 0;
    for (size_t i = 0; i < m->history_count; i++) {
        const pp_reading_history *h = &m->history[i];
        const pp_bore *now = bore_now(m, h);
        if (!now || !pp_counts(m, now)) continue;
        bool disposed, sleeved = is_sleeved(m, h->hole, &disposed);
        if (!sleeved && h->diameter_max - now->diameter_max > (pp_given(u) ? u : SHRINKS)) {
            if (shrunk_count < PP_NAMES_MOST) shrunk[shrunk_count] = h->hole;
            shrunk_count++;
        }
        bool failed = h->diameter_max > bounds.outer || h->diameter_min < bounds.lower;
        bool fails = now->diameter_max > bounds.outer || now->diameter_min < bounds.lower;
        if (failed && !fails && !disposed) {
            if (replaced_count < PP_NAMES_MOST) replaced[replaced_count] = h->hole;
            replaced_count++;
        }
    }
    if (shrunk_count) {
        pp_text_add(&s->text, "A bore became smaller from one round to the next: ");
        pp_say_holes(s, shrunk, shrunk_count);
        pp_text_add(&s->text, "; was the same hole measured?");
        pp_say_end(s);
    }
    if (replaced_count) {
        pp_text_add(&s->text, "A failing diameter was replaced by a later round without a "
                              "disposition: ");
        pp_say_holes(s, replaced, replaced_count);
        pp_text_add(&s->text, ".");
        pp_say_end(s);
    }
}

/* Where most holes were read on the exit face, those that were not stand out. */
static void caution_exits(pp_speaker *s)
{
    const pp_measures *m = s->j->measures;
    size_t both = 0, missing = 0;
    uint32_t first[PP_NAMES_MOST];
    for (size_t h = 0; h < m->nominal->count; h++) {
        if (m->nominal->kind[h] != PP_TUBE_HOLE || m->plugged[h]) continue;
        if (m->bore_of[PP_ENTRY][h] == PP_NONE) continue;
        if (m->bore_of[PP_EXIT][h] != PP_NONE) {
            both++;
            continue;
        }
        if (missing < PP_NAMES_MOST) first[missing] = (uint32_t)h;
        missing++;
    }
    if (both <= missing || missing == 0) return;
    pp_text_print(&s->text,
                  "%zu hole%s without an exit reading although %zu others have one: ", missing,
                  missing == 1 ? "" : "s", both);
    pp_say_holes(s, first, missing);
    pp_text_add(&s->text, "; their drift is not seen.");
    pp_say_end(s);
}

/* ---- what nobody said ---- */

static bool is_identified(const pp_job *job)
{
    return job->plate_id || job->serial || job->drawing || job->order || job->item;
}

static void caution_dates(pp_speaker *s)
{
    const pp_job *job = s->j->job;
    bool calibrated = false;
    for (size_t i = 0; i < job->instrument_count; i++)
        calibrated = calibrated || job->instruments[i].calibration_due;
    if (calibrated && !job->inspection_date)
        pp_say_plain(s, "No inspection date is given: whether the instruments were within their "
                        "calibration cannot be told.");
    if (job->inspection_date && job->date && strcmp(job->inspection_date, job->date) > 0) {
        pp_text_print(&s->text, "The inspection (%s) is dated after the report (%s).",
                      job->inspection_date, job->date);
        pp_say_end(s);
    }
}

static bool given_above_zero(double value) { return pp_given(value) && value > 0; }

static bool states_uncertainty(const pp_job *job)
{
    return given_above_zero(job->survey.uncertainty) ||
           given_above_zero(job->holes.uncertainty_position) ||
           given_above_zero(job->holes.uncertainty_per_metre) ||
           given_above_zero(job->holes.uncertainty_diameter) ||
           given_above_zero(job->holes.uncertainty_ligament);
}

static bool names_uncertainty(const pp_job *job)
{
    return pp_given(job->survey.uncertainty) || pp_given(job->holes.uncertainty_position) ||
           pp_given(job->holes.uncertainty_diameter) || pp_given(job->holes.uncertainty_ligament);
}

static void caution_stated(pp_speaker *s)
{
    const pp_job *job = s->j->job;
    bool guarded = s->j->guard > 0;
    if (!guarded && !names_uncertainty(job))
        pp_say_plain(s, "No measurement uncertainty is stated: how sure each value is cannot be "
                        "told.");
    if (names_uncertainty(job) && !states_uncertainty(job))
        pp_text_print(&s->text, "Every uncertainty is stated as zero: no measurement is exact%s.",
                      guarded ? ", and the guarded decision guards against nothing" : "");
    if (s->text.length) pp_say_end(s);
    if (!s->j->measures || job->holes.compensated || !pp_given(job->holes.temperature)) return;
    double off = fabs(job->holes.temperature - PP_REFERENCE_TEMPERATURE);
    if (off > 0 && !pp_given(job->holes.uncertainty_temperature))
        pp_say_plain(s, "The plate's temperature is given without its uncertainty "
                        "(uncertainty_temperature): taken as exact.");
    if (off > 0 && !pp_job_key_line(job, "holes", "expansion")) {
        pp_text_print(&s->text,
                      "The expansion coefficient is the program's default, %g per K (carbon "
                      "steel): state that of the plate.",
                      job->holes.expansion);
        pp_say_end(s);
    }
}

void pp_caution_scope(pp_speaker *s)
{
    caution_limits(s);
    if (s->j->measures) {
        caution_references(s);
        caution_rounds(s);
        caution_exits(s);
    }
    if (!is_identified(s->j->job))
        pp_say_plain(s, "Nothing identifies the plate (plate_id, serial, drawing, order or item "
                        "under [job]).");
    caution_dates(s);
    caution_stated(s);
}
