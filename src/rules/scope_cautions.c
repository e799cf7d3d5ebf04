/* Cautions about what the verdict rests on: limits set by hand, and what was left unsaid. */
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

/* Whose value a limit set by hand takes the place of. */
static const char *set_of(const pp_speaker *s, const pp_limit *limit)
{
    return limit->of_plate ? s->j->job->plate.flatness_rule : s->j->limits->set;
}

static void caution_own_file(pp_speaker *s, const char *path, const char *of)
{
    pp_text_print(&s->text,
                  "The limits of %s come from the file %s; nobody has checked it against a "
                  "published source.",
                  of, path);
    pp_say_end(s);
}

void pp_caution_limits(pp_speaker *s)
{
    const pp_limits *l = s->j->limits;
    for (size_t i = 0; i < l->count; i++) {
        const pp_limit *limit = &l->all[i];
        if (!limit->by_hand || (limit->of_plate ? !s->j->flatness : !s->j->measures)) continue;
        pp_text_print(&s->text, "Limit set by hand: %s ", limit->words);
        say_value(s, limit, limit->value);
        pp_text_print(&s->text, " in the job file; %s gives ", set_of(s, limit));
        if (pp_given(limit->of_set))
            say_value(s, limit, limit->of_set);
        else
            pp_text_add(&s->text, "none");
        pp_text_add(&s->text, ".");
        pp_say_end(s);
    }
    if (l->rules_path && s->j->measures) caution_own_file(s, l->set, "the holes");
    if (l->flatness_rules_path && s->j->flatness)
        caution_own_file(s, s->j->job->plate.flatness_rule, "the flatness");
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
    if (!is_identified(s->j->job))
        pp_say_plain(s, "Nothing identifies the plate (plate_id, serial, drawing, order or item "
                        "under [job]).");
    caution_dates(s);
    caution_stated(s);
}
