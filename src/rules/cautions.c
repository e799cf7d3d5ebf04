#include <math.h>
#include <string.h>

#include "input/job/plausible.h"
#include "rules/sampling.h"
#include "rules/saying.h"

static const double unseen_worth_saying = 0.01; /* of the area */

/* --- what was measured, and how ----------------------------------------------------------------
 */

static void caution_coverage(pp_speaker *s)
{
    const pp_measures *m = s->j->measures;
    bool sample = s->j->job->holes.coverage == PP_SAMPLE;
    if (sample) {
        pp_text_print(&s->text, "Sample: %zu of %zu tube holes were measured; ", m->measured,
                      m->tube_count);
        pp_text_add(&s->text, s->j->out->verdict == PP_CONFORMS
                                  ? "the holes measured conform."
                                  : "the verdict is of the holes measured.");
        pp_say_end(s);
    } else if (m->unmeasured_count) {
        pp_text_print(&s->text, "%zu of %zu tube holes were not measured (", m->unmeasured_count,
                      m->tube_count);
        pp_say_holes(s, m->unmeasured, m->unmeasured_count);
        pp_text_add(&s->text, "); with every hole asked for, the plate is at best not proven.");
        pp_say_end(s);
    }
    if (m->others_unmeasured_count) {
        pp_text_print(&s->text, "%zu hole%s of kind other %s not measured (",
                      m->others_unmeasured_count, m->others_unmeasured_count == 1 ? "" : "s",
                      m->others_unmeasured_count == 1 ? "was" : "were");
        pp_say_holes(s, m->others_unmeasured, m->others_unmeasured_count);
        pp_text_add(&s->text, ").");
        pp_say_end(s);
    }
    if (!sample && m->pairs_unmeasured && pp_is_judged(s->j, PP_LIGAMENT)) {
        pp_text_print(&s->text,
                      "%zu of %zu ligaments have no value on any face; the ligaments are at best "
                      "not proven.",
                      m->pairs_unmeasured, m->pair_count);
        pp_say_end(s);
    }
    if (s->j->out->plugged_count) {
        pp_text_print(&s->text, "%zu plugged hole%s out of the counts (", s->j->out->plugged_count,
                      s->j->out->plugged_count == 1 ? " is left" : "s are left");
        pp_say_holes(s, s->j->out->plugged, s->j->out->plugged_count);
        pp_text_print(&s->text, "); %s still count%s for the neighbours' ligaments.",
                      s->j->out->plugged_count == 1 ? "its bore" : "their bores",
                      s->j->out->plugged_count == 1 ? "s" : "");
        pp_say_end(s);
    }
    if (m->bore_count == 0) return;
    if (!m->faces[PP_EXIT])
        pp_say_plain(s, "Entry face only: drill drift not seen.");
    else if (!m->faces[PP_ENTRY])
        pp_say_plain(s, "Exit face only: drill drift not seen.");
}

static void caution_frame(pp_speaker *s)
{
    const pp_job *job = s->j->job;
    const pp_measures *m = s->j->measures;
    if (!pp_given(job->holes.temperature) && !job->holes.compensated)
        pp_say_plain(s, job->units == PP_INCH ? "Temperature not stated: the readings are taken as "
                                                "they are, as if at 68 °F."
                                              : "Temperature not stated: the readings are taken as "
                                                "they are, as if at 20 °C.");
    if (job->holes.align == PP_ALIGN_BEST_FIT)
        pp_say_plain(s, "Best fit: the pattern against itself; its place on the plate not judged.");
    if (job->holes.align == PP_ALIGN_TWO_HOLES && pp_is_judged(s->j, PP_POSITION)) {
        pp_text_print(&s->text,
                      "The alignment lays hole %s on its place and %s on the line to it: their own "
                      "positions prove nothing but the distance between them.",
                      job->holes.datum_holes[0], job->holes.datum_holes[1]);
        pp_say_end(s);
    }
    if (m->alignment.exit_own && job->holes.exit_align == PP_EXIT_ALIGN_BEST_FIT)
        pp_say_plain(s,
                     "The exit face was fitted on its own: a uniform lean of the holes is hidden.");
    if (m->datum_doubt.found) {
        pp_text_print(&s->text, "As its datum lays it, the whole pattern stands off the drawing (");
        pp_text_print(&s->text, "to be turned by %.1f\u00b0 and shifted by ",
                      m->datum_doubt.angle_deg);
        pp_say_length(s, hypot(m->datum_doubt.dx, m->datum_doubt.dy));
        pp_text_add(&s->text, "; its holes would then lie within ");
        pp_say_length(s, m->datum_doubt.rms);
        pp_text_add(&s->text, ", root mean square): is a datum misnamed, misread or out of place?");
        pp_say_end(s);
    }
    if (m->exit_view_open)
        pp_say_plain(s, "The exit readings fit as well seen from another side: the pattern's "
                        "symmetry leaves exit_view open, and it is taken as the job says.");
    if (m->alignment.turned_over)
        pp_say_plain(s,
                     "The pattern fits only with the plate turned over: the measured x was taken "
                     "with the other sign.");
    if (m->alignment.symmetries > 1) {
        pp_text_print(&s->text,
                      "The pattern fits equally well in %zu ways: hole names and places are one "
                      "choice among them; use datum points to settle it.",
                      m->alignment.symmetries);
        pp_say_end(s);
    }
    if (m->position_within)
        pp_say_plain(
            s, "Composite position: position_limit is held within the pattern (laid on itself "
               "by least squares), pattern_limit against the alignment.");
    if (pp_given(s->j->limits->pattern_limit.value) && job->holes.align == PP_ALIGN_BEST_FIT)
        pp_say_plain(s, "The pattern's place is not judged: best-fit has no datum to hold "
                        "pattern_limit against.");
    if (m->pair_count == 0 && m->tube_count > 1 &&
        pp_given(pp_ligament_limits(s->j->limits).standard)) {
        pp_text_print(&s->text, "No two tube holes stand within %g pitches (pitch ", 1.25);
        pp_say_length(s, m->pitch);
        pp_text_add(&s->text, "): no ligament was judged; check the pitch.");
        pp_say_end(s);
    }
}

/* Too far off for any drill: inches taken for millimetres or the other way round, or radii. */
static void caution_unit(pp_speaker *s)
{
    static const double near = 0.1;
    static const char unit[] = ": is the unit of the measured holes wrong? Write [holes] "
                               "length_unit, or the unit in the header.";
    const struct {
        double factor;
        const char *about, *remedy;
    } slips[] = {{pp_unit_mm(PP_INCH), "25.4 times", unit},
                 {1 / pp_unit_mm(PP_INCH), "1/25.4 of", unit},
                 {0.5, "half of", ": are they radii? Give diameters."}};
    double mean = s->j->out->diameter_fold.mean, nominal = s->j->limits->hole_nominal.value;
    if (!(mean > 0 && nominal > 0)) return;
    for (size_t i = 0; i < sizeof slips / sizeof *slips; i++) {
        if (fabs(mean / nominal / slips[i].factor - 1) > near) continue;
        pp_text_print(&s->text, "The diameters are about %s the nominal ", slips[i].about);
        pp_say_length(s, nominal);
        pp_text_add(&s->text, slips[i].remedy);
        pp_say_end(s);
    }
}

/* A zone in which every hole could reach its neighbour holds nothing. */
static void caution_wide_zone(pp_speaker *s)
{
    double zone = s->j->limits->position_limit.value, pitch = s->j->measures->pitch;
    double web = pitch - s->j->limits->hole_nominal.value;
    if (!(zone > web && web > 0)) return;
    pp_text_add(&s->text, "The position zone of ");
    pp_say_length(s, zone);
    pp_text_add(&s->text, " is wider than the metal between two holes, ");
    pp_say_length(s, web);
    pp_text_add(&s->text, " as drawn: is the limit right?");
    pp_say_end(s);
}

static void caution_gauges(pp_speaker *s)
{
    const pp_measures *m = s->j->measures;
    const pp_readings *r = m->readings;
    if (!r->go && !r->no_go && !r->no_go_max) return;
    size_t gauged = 0;
    for (size_t b = 0; b < m->extra_first; b++) gauged += m->bores[b].gauged;
    if (gauged == 0 || !pp_is_judged(s->j, PP_DIAMETER)) return;
    pp_text_print(&s->text,
                  "%zu reading%s by plug gauge: the gauges are taken to be made to the limits and "
                  "their results as proven; the largest size they leave open counts for the "
                  "ligaments.",
                  gauged, gauged == 1 ? " is" : "s are");
    pp_say_end(s);
}

/* --- instruments -------------------------------------------------------------------------------
 */

static void caution_instrument(pp_speaker *s, const pp_job_file *file)
{
    const pp_job *job = s->j->job;
    if (!file->path || !file->instrument || !job->inspection_date) return;
    for (size_t i = 0; i < job->instrument_count; i++) {
        const pp_instrument *instrument = &job->instruments[i];
        if (strcmp(instrument->name, file->instrument) != 0 || !instrument->calibration_due)
            continue;
        if (strcmp(job->inspection_date, instrument->calibration_due) <= 0)
            continue; /* ISO dates */
        pp_text_print(
            &s->text, "Calibration of instrument %s (%s) was due %s, before the inspection of %s.",
            instrument->name, file->written, instrument->calibration_due, job->inspection_date);
        pp_say_end(s);
    }
}

static void caution_instruments(pp_speaker *s)
{
    const pp_job *job = s->j->job;
    if (s->j->flatness) {
        caution_instrument(s, &job->survey.file);
        caution_instrument(s, &job->survey.underside);
    }
    if (s->j->measures) {
        const pp_hole_files *files = s->j->files;
        if (files->measured_file) caution_instrument(s, files->measured_file);
        if (files->ligaments_reading) caution_instrument(s, &job->holes.ligaments);
        if (files->checks_reading) caution_instrument(s, &job->holes.checks);
        caution_instrument(s, &job->holes.datum_points);
    }
}

/* --- uncertainty against tolerance -------------------------------------------------------------
 */

static const double QUARTER = 0.25;

static void caution_share(pp_speaker *s, const char *what, double expanded, double tolerance)
{
    if (!(tolerance > 0) || !(expanded > QUARTER * tolerance)) return;
    pp_text_print(
        &s->text,
        "The uncertainty of %s (k = 2) is %.0f %% of the tolerance, above a quarter of it: "
        "the measurement is coarse for this limit.",
        what, 100 * expanded / tolerance);
    pp_say_end(s);
}

static void caution_uncertainty(pp_speaker *s)
{
    const pp_judging *j = s->j;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        const pp_characteristic_row *row = pp_characteristic_of(which);
        if (!row->coarse) continue;
        if (row->tolerance) {
            caution_share(s, row->coarse, 2 * j->largest_u[which], row->tolerance(j));
            continue;
        }
        for (size_t i = j->out->first[which]; i < j->out->first[which + 1]; i++)
            caution_share(s, row->coarse, 2 * (double)pp_finding_u(j->out, &j->findings[i]),
                          pp_finding_upper(j->out, &j->findings[i]));
    }
}

/* A limit that was asked for and finds no pair of holes must not look kept. */
static void caution_pairs(pp_speaker *s)
{
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        const pp_pair_list *list = pp_pair_list_of(s->j->measures, which);
        if (!list || list->count || !pp_given(pp_pair_limit(s->j->out, which)->value)) continue;
        pp_text_print(
            &s->text,
            "%s judged nothing: no two tube holes that lie %g pitch%s apart in a row were "
            "measured on one face; take fewer pitches, or measure more holes.",
            pp_pair_limit(s->j->out, which)->name, list->apart, list->apart > 1 ? "es" : "");
        pp_say_end(s);
    }
}

/* --- assurance and limits ----------------------------------------------------------------------
 */

/* Whether the holes were drawn at random, or picked. */
static pp_status caution_drawing(pp_speaker *s, pp_error *error)
{
    pp_sampling drawn;
    if (s->j->job->holes.coverage != PP_SAMPLE) return PP_OK;
    PP_TRY(pp_sampling_find(s->j, &drawn, error));
    if (!drawn.listed) {
        pp_say_plain(s,
                     "No list of the sample is given ([holes] sample_list, sample_seed): whether "
                     "the holes were drawn at random cannot be told.");
        return PP_OK;
    }
    pp_text_print(&s->text, "%zu holes were drawn for the sample (%s", drawn.drawn,
                  s->j->job->holes.sample_list.written);
    if (drawn.seeded)
        pp_text_print(&s->text, ", seed %.0f", s->j->job->holes.sample_seed);
    else
        pp_text_add(&s->text, ", seed not given");
    pp_text_add(&s->text, drawn.reproduced ? ": it draws the same again)." : ").");
    if (drawn.not_measured) {
        pp_text_add(&s->text, " Drawn and not measured: ");
        pp_say_holes(s, drawn.missing, drawn.not_measured);
        pp_text_add(&s->text, ".");
    }
    if (drawn.not_drawn) {
        pp_text_add(&s->text, " Measured and not drawn: ");
        pp_say_holes(s, drawn.added, drawn.not_drawn);
        pp_text_add(&s->text,
                    ": the statement on the whole plate assumes that nobody picked them.");
    }
    pp_say_end(s);
    return PP_OK;
}

static void add_more(pp_speaker *s, const pp_assurance *a, const char *none)
{
    if (!a->more_possible)
        pp_text_add(&s->text, " More are outside already than the share allows.");
    else if (a->more_needed == 0)
        pp_text_add(&s->text, " The share is proven.");
    else
        pp_text_print(&s->text, " %zu more holes, none of them %s, would prove the share.",
                      a->more_needed, none);
}

/* What the holes drawn say of the whole plate. */
static void caution_sample(pp_speaker *s)
{
    const pp_assurance *a = &s->j->out->diameter_fold.assurance;
    if (a->sample_valid) {
        pp_text_print(
            &s->text,
            "Of the whole plate at most %.2f %% of the holes are outside the standard diameter "
            "limit at %g %% confidence (assumes holes chosen at random).",
            100 * a->share_outside_bound, 100 * a->confidence);
        add_more(s, a, "outside");
        pp_say_end(s);
    }
    a = &s->j->out->ligament_fold.assurance;
    if (!a->sample_valid) return;
    pp_text_print(
        &s->text,
        "Of the whole plate at most %.2f %% of the ligaments are below the standard one at %g %% "
        "confidence (assumes holes chosen at random): %zu of %zu holes take more than their half "
        "of the metal to a neighbour, and where neither hole does, no ligament is short.",
        100 * a->share_outside_bound, 100 * a->confidence, a->outside, a->sample);
    if (a->more_possible) add_more(s, a, "taking more than its half");
    pp_say_end(s);
}

/* A figure that is left out is said to be. */
static void caution_probability(pp_speaker *s)
{
    const pp_judgement *out = s->j->out;
    const struct {
        const char *what;
        const pp_assurance *assurance;
    } rules[] = {{"diameters", &out->diameter_fold.assurance},
                 {"ligaments", &out->ligament_fold.assurance}};
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        if (!rules[i].assurance->probability_unsettled) continue;
        pp_text_print(
            &s->text,
            "How probable it is that the %s truly conform is not given: with common_share "
            "= %g %% it could not be worked out to nine digits. State 100 %%, or less.",
            rules[i].what, 100 * s->j->job->holes.common_share);
        pp_say_end(s);
    }
}

static bool is_from_memory(const char *source) { return source && strstr(source, "from memory"); }

/* A limit of the job's own keeps the caution of the one it takes the place of. */
static void caution_memory(pp_speaker *s)
{
    const pp_limits *l = s->j->limits;
    size_t count = 0;
    for (size_t i = 0; i < l->count; i++) {
        if (!s->j->measures && !l->all[i].of_plate) continue; /* judges nothing here */
        if (!is_from_memory(l->all[i].source) && !is_from_memory(l->all[i].set_source)) continue;
        if (i > 0 && strcmp(l->all[i].name, l->all[i - 1].name) == 0) continue; /* straightedges */
        pp_text_print(&s->text, "%s%s",
                      count ? "; " : "Recalled from memory, not read in a published source: ",
                      l->all[i].words);
        count++;
    }
    if (count == 0) return;
    pp_text_add(&s->text, ". Check against your edition of the standard.");
    pp_say_end(s);
}

static void caution_zone(pp_speaker *s)
{
    const pp_flatness *f = s->j->flatness;
    if (pp_is_judged(s->j, PP_FLATNESS) && s->j->job->survey.flatness_zone == PP_ZONE_MINIMUM &&
        !f->minimum_zone.exact)
        pp_say_plain(
            s, "The minimum zone was not proven the smallest: the true flatness may be less.");
}

/* --- the survey as the smooth surface saw it ---------------------------------------------------
 */

/* Rows of one kind of outlier: left out of the surface, or kept in it. */
static size_t add_outlier_rows(pp_speaker *s, const pp_surface *surface, bool left_out)
{
    size_t listed = 0;
    for (size_t i = 0; i < surface->outlier_count; i++) {
        if ((surface->left_out && surface->left_out[i]) != left_out) continue;
        if (listed < PP_NAMES_MOST)
            pp_text_print(&s->text, "%s%zu", listed > 0 ? ", " : "", surface->outliers[i]);
        listed++;
    }
    if (listed > PP_NAMES_MOST) pp_text_print(&s->text, " and %zu more", listed - PP_NAMES_MOST);
    return listed;
}

static void caution_outliers(pp_speaker *s, const pp_surface *surface, const char *survey)
{
    size_t out = surface->left_out_count, in = surface->outlier_count - out;
    if (out > 0) {
        pp_text_print(&s->text, "%zu point%s of the %s stand%s alone, far off all around: row ",
                      out, out == 1 ? "" : "s", survey, out == 1 ? "s" : "");
        add_outlier_rows(s, surface, true);
        pp_text_add(&s->text, "; left out of the surface and the hold-down, kept in the planes and "
                              "the flatness. Measure again, or name in [survey] exclude.");
        pp_say_end(s);
    }
    if (in > 0) {
        pp_text_print(&s->text,
                      "%zu point%s of the %s far off the smooth surface may be real: row ", in,
                      in == 1 ? "" : "s", survey);
        add_outlier_rows(s, surface, false);
        pp_text_add(&s->text, "; kept everywhere. Look at the plate there; if nothing is, name "
                              "them in [survey] exclude.");
        pp_say_end(s);
    }
}

/* What the guarded verdict on flatness rests on. */
static void caution_interval(pp_speaker *s)
{
    const pp_flatness_interval *i = &s->j->flatness->interval;
    if (!i->valid || s->j->guard == 0 || !pp_is_judged(s->j, PP_FLATNESS)) return;
    if (i->by_surface) {
        pp_text_add(&s->text,
                    "The flatness is that of a plate without bumps or pits narrower than ");
        pp_say_length(s, ceil(i->smallest_feature));
        pp_text_add(&s->text, " (smallest_feature), and holds at the surveyed points.");
    } else {
        pp_text_print(&s->text, "The flatness is proven by the readings alone: %s.", i->why);
    }
    pp_say_end(s);
}

static void caution_survey(pp_speaker *s, const pp_surface *surface, const char *survey)
{
    if (surface->noisier_than_stated) {
        pp_text_print(&s->text, "The %s is noisier than its stated uncertainty.", survey);
        pp_say_end(s);
    }
    if (surface->check.sharper) {
        pp_text_print(&s->text,
                      "The %s shows a plate that is sharper than the smoothing allows: between "
                      "points the surface may be wrong by ",
                      survey);
        pp_say_estimate(s, 2 * surface->standard_error);
        pp_text_add(&s->text, ", most near x ");
        pp_say_length(s, surface->check.x);
        pp_text_add(&s->text, ", y ");
        pp_say_length(s, surface->check.y);
        pp_text_print(&s->text,
                      " (around row %zu of the %s). Measure again there, and more points: what is "
                      "real shows in them, too.",
                      surface->check.row, survey);
        pp_say_end(s);
    }
    if (surface->noise_unreliable) {
        pp_text_print(&s->text,
                      "The %s has too few points to tell noise from the plate's shape: state its "
                      "uncertainty.",
                      survey);
        pp_say_end(s);
    }
    caution_outliers(s, surface, survey);
    if (surface->outside_count > 0) {
        pp_text_print(&s->text,
                      "%zu point%s of the %s beyond the outline: the surface leaves them out, the "
                      "planes do not.",
                      surface->outside_count, surface->outside_count == 1 ? "" : "s", survey);
        pp_say_end(s);
    }
    if (surface->unseen_share >= unseen_worth_saying) {
        pp_text_print(&s->text,
                      "%.0f %% of the plate is more than two point spacings from any point of the "
                      "%s: the surface there is a guess.",
                      100 * surface->unseen_share, survey);
        pp_say_end(s);
    }
}

static void caution_surfaces(pp_speaker *s)
{
    const pp_flatness *f = s->j->flatness;
    caution_interval(s);
    if (s->j->job->survey.exclude) {
        pp_text_print(&s->text,
                      "Rows %s of the survey were excluded by the job: flatness and everything "
                      "else is of the other %zu points.",
                      s->j->job->survey.exclude, f->points);
        pp_say_end(s);
    }
    if (f->surface_valid) caution_survey(s, &f->surface, "survey");
    if (f->underside) caution_survey(s, f->underside, "underside survey");
}

/* --- judged and not judged ---------------------------------------------------------------------
 */

static pp_status list_judged(pp_judging *j, pp_error *error)
{
    static const char others[] = "other holes"; /* their position and size; the tube holes' apart */
    const char **judged, **not_judged;
    PP_TAKE(judged, &j->memory->keep, PP_CHARACTERISTICS + 1);
    PP_TAKE(not_judged, &j->memory->keep, PP_CHARACTERISTICS + 1);
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        const pp_characteristic_row *row = pp_characteristic_of(which);
        if (!row->has_data(j)) continue;
        if (pp_is_judged(j, (pp_characteristic)which))
            judged[j->out->judged_count++] = row->name;
        else
            not_judged[j->out->not_judged_count++] = row->name;
    }
    if (j->out->others_section.verdict != PP_NOT_JUDGED)
        judged[j->out->judged_count++] = others;
    else if (j->out->others_count > 0)
        not_judged[j->out->not_judged_count++] = others;
    j->out->judged = judged;
    j->out->not_judged = not_judged;
    return PP_OK;
}

/* --- all ---------------------------------------------------------------------------------------
 */

static const char SIMPLE[] = "simple: measurement uncertainty not taken into account";
static const char GUARDED[] =
    "guarded: conforms when inside the limit by at least 1.645 standard uncertainties, does not "
    "conform when outside by more, else not proven (ISO 14253-1)";

/* Values that no shop has, though their unit was written (without, the job was refused) */
static void caution_doubts(pp_speaker *s)
{
    pp_doubt doubts[PP_DOUBTS_MAX];
    size_t count = pp_job_doubts(s->j->job, doubts);
    for (size_t i = 0; i < count; i++) {
        pp_text_print(&s->text, "[%s] %s is unusual (%s): is its unit right?", doubts[i].section,
                      doubts[i].key, doubts[i].usual);
        pp_say_end(s);
    }
}

pp_status pp_state_cautions(pp_judging *j, const pp_hole_counts *counts, pp_error *error)
{
    j->out->decision_rule = j->guard == 0 ? SIMPLE : GUARDED;
    pp_speaker s = {.j = j};
    PP_TAKE(s.list, &j->memory->keep, PP_CAUTIONS_MOST);
    caution_doubts(&s);
    j->out->doubt_count = s.count;
    pp_caution_limits(&s);
    if (j->measures) caution_wide_zone(&s);
    pp_caution_reservations(&s);
    j->out->term_count = s.count;
    pp_caution_reading(&s);
    if (j->measures) {
        caution_coverage(&s);
        caution_frame(&s);
        caution_unit(&s);
        caution_gauges(&s);
        caution_pairs(&s);
    }
    if (j->flatness) caution_zone(&s);
    if (j->flatness) caution_surfaces(&s);
    caution_instruments(&s);
    caution_uncertainty(&s);
    if (j->measures) {
        PP_TRY(caution_drawing(&s, error));
        caution_sample(&s);
    }
    if (j->measures) caution_probability(&s);
    caution_memory(&s);
    if (j->measures) pp_caution_counts(&s, counts);
    pp_caution_scope(&s);
    pp_text_free(&s.text);
    if (s.failed) return pp_fail_memory(error);
    j->out->caution_count = s.count;
    j->out->cautions = s.list;
    return list_judged(j, error);
}
