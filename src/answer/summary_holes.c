/* The rows of the holes. */
#include <string.h>

#include "answer/for_people.h"
#include "answer/summary_parts.h"

static void add_hole(pp_summary_writer *w, uint32_t hole)
{
    const pp_nominal *nominal = w->results->measures->nominal;
    pp_text_add(&w->text, hole < nominal->count ? nominal->name[hole] : "?");
}

/* Each item once, so that they add up to what was judged; beside classes by the plain value. */
static bool add_items(pp_summary_writer *w, pp_characteristic which, const char *before)
{
    const pp_section *s = &w->judgement->section[which];
    if (w->results->job->rules.decision != PP_GUARDED && s->open == 0) return false;
    pp_text_print(&w->text, "%s%zu proven in, %zu proven out, %zu not proven", before, s->proven_in,
                  s->failed, s->open);
    return true;
}

static const char *zone(pp_summary_writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "diametral zone ");
    pp_people_limit(&w->text, w->units, limit);
    if (w->results->job->holes.material_condition == PP_MAXIMUM_MATERIAL)
        pp_text_add(&w->text, " at maximum material");
    return pp_summary_finish(w);
}

/* Beside what is counted of a sample: what it says of the whole plate. */
static void add_whole_plate(pp_summary_writer *w, const pp_assurance *a, const char *items,
                            const char *limit)
{
    if (w->results->job->holes.coverage != PP_SAMPLE) return;
    if (!a->sample_valid) {
        pp_text_add(&w->text, "; of the whole plate nothing follows: no hole of the sample has "
                              "both a place and a diameter");
        return;
    }
    pp_text_print(&w->text, "; of the whole plate%s at most ", items);
    pp_people_share(&w->text, a->share_outside_bound);
    pp_text_print(&w->text, " are outside the %s at ", limit);
    pp_people_share(&w->text, a->confidence);
    pp_text_add(&w->text, " confidence");
}

static void position_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->position_limit.value;
    pp_summary_row *row = pp_summary_add_row(w, PP_POSITION, j->section[PP_POSITION].verdict,
                                             w->limits->position_limit.source);
    row->limit = zone(w, limit);
    if (pp_given(j->position_fold.largest)) {
        pp_text_add(&w->text, "largest ");
        pp_people_out_of_place(&w->text, w->units, j->position_fold.largest, limit);
        pp_text_add(&w->text, ", ");
        add_hole(w, j->position_fold.largest_hole);
        pp_text_print(&w->text, ", %s", pp_face_words(j->position_fold.largest_face));
        row->result = pp_summary_finish(w);
        if (pp_given(limit)) {
            if (!add_items(w, PP_POSITION, ""))
                pp_text_print(&w->text, "%zu out", j->position_fold.out);
            pp_text_add(&w->text, "; ");
        }
        pp_text_add(&w->text, "mean position ");
        pp_people_length(&w->text, w->units, j->position_fold.mean);
        if (j->position_fold.assurance.sample_valid)
            add_whole_plate(w, &j->position_fold.assurance, "", "limit");
        row->detail = pp_summary_finish(w);
    }
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_POSITION]);
}

static void pattern_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->pattern_limit.value;
    pp_summary_row *row =
        pp_summary_add_row(w, PP_PATTERN_POSITION, j->section[PP_PATTERN_POSITION].verdict,
                           w->limits->pattern_limit.source);
    row->limit = zone(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_out_of_place(&w->text, w->units, j->pattern_fold.largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->pattern_fold.largest_hole);
    row->result = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_PATTERN_POSITION]);
}

static bool shows_probability(const pp_assurance *a)
{
    return a->probability_valid && pp_given(a->probability);
}

/* The chance that the part truly keeps its count rule, never rounded to certainty. */
static void add_probability(pp_summary_writer *w, const pp_assurance *a)
{
    if (!shows_probability(a)) return;
    pp_text_add(&w->text, "; conformance probability ");
    if (a->probability > 0.9999)
        pp_text_add(&w->text, "above 99.99 %");
    else if (a->probability < 0.0001)
        pp_text_add(&w->text, "below 0.01 %");
    else
        pp_people_share(&w->text, a->probability);
}

static void add_alignment(pp_summary_writer *w)
{
    static const char *const how[] = {
        [PP_ALIGN_AS_MEASURED] = "as measured",
        [PP_ALIGN_BEST_FIT] = "aligned by best fit",
        [PP_ALIGN_TWO_HOLES] = "aligned on two datum holes",
        [PP_ALIGN_DATUM_POINTS] = "aligned on datum points",
    };
    const pp_alignment *a = &w->results->measures->alignment;
    pp_text_print(&w->text, "Hole places are %s", how[a->kind]);
    if (a->kind != PP_ALIGN_AS_MEASURED) {
        pp_text_add(&w->text, ": turned by ");
        pp_people_angle(&w->text, a->angle_deg);
        pp_text_add(&w->text, ", shifted by ");
        pp_people_length(&w->text, w->units, a->dx);
        pp_text_add(&w->text, " along x and ");
        pp_people_length(&w->text, w->units, a->dy);
        pp_text_add(&w->text, " along y");
    }
    if (pp_given(a->rms)) {
        pp_text_add(&w->text, "; root mean square distance from nominal ");
        pp_people_length(&w->text, w->units, a->rms);
    }
    pp_text_add(&w->text, ".");
}

/* How the readings became the places judged. */
const char *pp_summary_how_taken(pp_summary_writer *w)
{
    const pp_measures *m = w->results->measures;
    const pp_job *job = w->results->job;
    if (!m || m->bore_count == 0) return "";
    add_alignment(w);
    if (m->faces[PP_EXIT] && job->holes.exit_view != PP_EXIT_THROUGH)
        pp_text_print(&w->text, " The exit face was measured turned about %s.",
                      job->holes.exit_view == PP_EXIT_TURNED_ABOUT_X ? "x" : "y");
    if (job->holes.compensated) {
        pp_text_add(&w->text, " The instrument brought the readings to ");
        pp_people_temperature(&w->text, w->units, PP_REFERENCE_TEMPERATURE);
        pp_text_add(&w->text, ".");
    } else if (pp_given(job->holes.temperature)) {
        pp_text_add(&w->text, " Measured at ");
        pp_people_temperature(&w->text, w->units, job->holes.temperature);
        pp_text_add(&w->text, " and brought to ");
        pp_people_temperature(&w->text, w->units, PP_REFERENCE_TEMPERATURE);
        pp_text_print(&w->text, " with an expansion of %.4ge-6 per K", 1e6 * job->holes.expansion);
        if (job->holes.uncertainty_expansion > 0)
            pp_text_print(&w->text, " (known to %.3g %%, k = 2)",
                          100 * job->holes.uncertainty_expansion);
        pp_text_add(&w->text, ".");
    }
    return pp_summary_finish(w);
}

const char *pp_summary_assumed(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    if (!shows_probability(&j->diameter_fold.assurance) &&
        !shows_probability(&j->ligament_fold.assurance))
        return "";
    double share = w->results->job->holes.common_share;
    pp_text_add(&w->text,
                "The probabilities take each true value as normally distributed about the "
                "measured one with its stated uncertainty; ");
    if (pp_given(share) && share > 0) {
        pp_people_share(&w->text, share);
        pp_text_add(&w->text, " of the variance is common to all holes.");
    } else {
        pp_text_add(&w->text, "the errors of different holes are taken as independent.");
    }
    return pp_summary_finish(w);
}

/* Any of the limits may be missing; one upper limit alone holds for every hole. */
static void add_diameter_limits(pp_summary_writer *w)
{
    const pp_limits *l = w->limits;
    bool most = pp_given(l->diameter_upper), all = pp_given(l->diameter_upper_limit);
    double upper = most ? l->diameter_upper : l->diameter_upper_limit;
    if (pp_given(l->diameter_lower)) {
        pp_text_add(&w->text, pp_given(upper) ? "" : "at least ");
        pp_people_limit(&w->text, w->units, l->diameter_lower);
        pp_text_add(&w->text, pp_given(upper) ? " to " : "");
    } else if (pp_given(upper)) {
        pp_text_add(&w->text, "at most ");
    }
    if (!pp_given(upper)) return;
    pp_people_limit(&w->text, w->units, upper);
    if (!most || !all) return;
    pp_text_add(&w->text, "; at most ");
    pp_people_share(&w->text, l->remainder_share.value);
    pp_text_add(&w->text, " above, up to ");
    pp_people_limit(&w->text, w->units, l->diameter_upper_limit);
}

static void diameter_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_limits *l = w->limits;
    const pp_count_rule *rule = &j->diameter_fold.rule;
    pp_summary_row *row =
        pp_summary_add_row(w, PP_DIAMETER, j->section[PP_DIAMETER].verdict, l->hole_nominal.source);
    double outer = pp_given(l->diameter_upper_limit) ? l->diameter_upper_limit : l->diameter_upper;
    add_diameter_limits(w);
    row->limit = pp_summary_finish(w);
    if (pp_given(j->diameter_fold.smallest)) {
        pp_people_against(&w->text, w->units, j->diameter_fold.smallest, l->diameter_lower);
        pp_text_add(&w->text, " to ");
        pp_people_against(&w->text, w->units, j->diameter_fold.largest, outer);
    }
    size_t gauged = j->diameter_fold.gauged;
    if (gauged) pp_text_print(&w->text, "%s%zu by plug gauge", w->text.length ? "; " : "", gauged);
    row->result = pp_summary_finish(w);
    if (pp_given(l->diameter_lower) || pp_given(outer)) {
        pp_text_print(&w->text,
                      "%zu undersize, %zu in tolerance, %zu of at most %zu in the remainder, ",
                      rule->under, rule->in, rule->remainder, rule->remainder_allowed);
        pp_text_print(&w->text, "%zu oversize", rule->out);
        add_items(w, PP_DIAMETER, "; ");
        add_probability(w, &j->diameter_fold.assurance);
        add_whole_plate(w, &j->diameter_fold.assurance, "", "standard limit");
        row->detail = pp_summary_finish(w);
    }
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_DIAMETER]);
}

static void ligament_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_limits *l = w->limits;
    const pp_count_rule *rule = &j->ligament_fold.rule;
    double standard = l->ligament_standard.value, least = l->ligament_minimum.value;
    pp_summary_row *row = pp_summary_add_row(w, PP_LIGAMENT, j->section[PP_LIGAMENT].verdict,
                                             pp_given(standard) ? l->ligament_standard.source
                                                                : l->ligament_minimum.source);
    if (pp_given(standard) && pp_given(least)) {
        pp_text_add(&w->text, "at least ");
        pp_people_limit(&w->text, w->units, standard);
        pp_text_add(&w->text, "; at most ");
        pp_people_share(&w->text, l->remainder_share.value);
        pp_text_add(&w->text, " below, down to ");
        pp_people_limit(&w->text, w->units, least);
        row->limit = pp_summary_finish(w);
    } else { /* one alone holds for every ligament */
        row->limit = pp_summary_at_least(w, pp_given(least) ? least : standard);
    }
    if (pp_given(j->ligament_fold.smallest)) {
        pp_text_add(&w->text, "smallest ");
        pp_people_against(&w->text, w->units, j->ligament_fold.smallest,
                          pp_given(least) ? least : standard);
        pp_text_add(&w->text, ", ");
        add_hole(w, j->ligament_fold.smallest_a);
        pp_text_add(&w->text, " \u2013 ");
        add_hole(w, j->ligament_fold.smallest_b);
        pp_text_print(&w->text, ", %s", pp_face_words(j->ligament_fold.smallest_face));
        row->result = pp_summary_finish(w);
        row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_LIGAMENT]);
    }
    if (pp_given(standard) || pp_given(least)) {
        pp_text_print(&w->text, "%zu standard, %zu of at most %zu in the remainder, %zu thin",
                      rule->in, rule->remainder, rule->remainder_allowed, rule->out);
        add_items(w, PP_LIGAMENT, "; ");
        add_probability(w, &j->ligament_fold.assurance);
        const pp_assurance *a = &j->ligament_fold.assurance;
        add_whole_plate(w, a, "'s pairs", "standard limit");
        if (a->sample_valid)
            pp_text_print(&w->text, " (%zu of %zu holes take more than their half of the metal)",
                          a->outside, a->sample);
        row->detail = pp_summary_finish(w);
    }
}

static void edge_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->edge_minimum.value;
    if (!pp_given(j->edge_fold.smallest)) return;
    pp_summary_row *row =
        pp_summary_add_row(w, PP_EDGE, j->section[PP_EDGE].verdict, w->limits->edge_minimum.source);
    row->limit = pp_summary_at_least(w, limit);
    pp_text_add(&w->text, "smallest ");
    pp_people_against(&w->text, w->units, j->edge_fold.smallest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->edge_fold.smallest_hole);
    row->result = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_EDGE]);
}

static void drift_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->drift_limit.value;
    if (!pp_given(j->drift_fold.largest)) return;
    pp_summary_row *row = pp_summary_add_row(w, PP_DRIFT, j->section[PP_DRIFT].verdict,
                                             w->limits->drift_limit.source);
    row->limit = pp_summary_at_most(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_against(&w->text, w->units, j->drift_fold.largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->drift_fold.largest_hole);
    row->result = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_DRIFT]);
    if (pp_given(limit)) {
        if (!add_items(w, PP_DRIFT, "")) pp_text_print(&w->text, "%zu out", j->drift_fold.out);
    }
    if (pp_given(w->limits->drift_allowance)) {
        if (w->text.length) pp_text_add(&w->text, "; ");
        pp_text_add(&w->text, "for information, the rule set allows ");
        pp_people_limit(&w->text, w->units, w->limits->drift_allowance);
    }
    row->detail = pp_summary_finish(w);
}

/* Characteristics of pairs: "pitch error over 10 pitches", "pitch error of neighbours". */
static void pair_row(pp_summary_writer *w, pp_characteristic which)
{
    const pp_judgement *j = w->judgement;
    const pp_section *section = &j->section[which];
    const pp_pair_fold *fold = &j->pair[which];
    const pp_pair_list *list = pp_pair_list_of(w->results->measures, (int)which);
    if (!list || list->count == 0) return;
    double limit = pp_pair_limit(j, (int)which)->value;
    pp_summary_row *row =
        pp_summary_add_row(w, which, section->verdict, pp_pair_limit(j, (int)which)->source);
    pp_text_add(&w->text, pp_characteristic_people(which));
    if (list->apart > 1)
        pp_text_print(&w->text, " over %g pitches", list->apart);
    else
        pp_text_add(&w->text, " of neighbours");
    row->name = pp_summary_finish(w);
    row->limit = pp_summary_at_most(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_against(&w->text, w->units, fold->largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, fold->a);
    pp_text_add(&w->text, " \u2013 ");
    add_hole(w, fold->b);
    pp_text_print(&w->text, ", %s", pp_face_words(fold->face));
    row->result = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, section);
    if (pp_given(limit)) {
        pp_text_print(&w->text, "%zu out of %zu", section->failed, list->count);
        add_items(w, which, "; ");
        pp_text_add(&w->text, "; ");
    }
    pp_text_add(&w->text, "mean ");
    pp_people_length(&w->text, w->units, fold->mean);
    row->detail = pp_summary_finish(w);
}

/* Characteristics that are counted only: so many judged, so many fail. */
static void counted_row(pp_summary_writer *w, pp_characteristic which, const char *source)
{
    const pp_section *s = &w->judgement->section[which];
    if (s->judged == 0 && s->failed == 0 && s->not_proven == 0) return;
    pp_summary_row *row = pp_summary_add_row(w, which, s->verdict, source);
    pp_text_print(&w->text, "%zu judged, %zu fail, %zu not proven", s->judged, s->failed, s->open);
    row->result = pp_summary_finish(w);
}

static void others_row(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_section *section = &j->others_section;
    pp_summary_row *row = pp_summary_add_row(w, PP_OTHER_LIGAMENT, section->verdict, NULL);
    row->name = "other holes";
    pp_text_print(&w->text, "%zu hole%s (tie rods, vents, dowels, bolts), %zu fail%s",
                  j->others_count, j->others_count == 1 ? "" : "s", section->failed,
                  section->failed == 1 ? "s" : "");
    if (section->open) pp_text_print(&w->text, ", %zu not proven", section->open);
    row->result = pp_summary_finish(w);
}

/* What should not be there at all: a row only when there is some. */
static void mistake_row(pp_summary_writer *w, pp_characteristic which, size_t count,
                        const char *one, const char *several)
{
    if (count == 0) return;
    pp_summary_row *row = pp_summary_add_row(w, which, w->judgement->section[which].verdict, NULL);
    pp_text_print(&w->text, "%zu %s", count, count == 1 ? one : several);
    row->result = pp_summary_finish(w);
    row->limit = "none allowed";
}

/* The last row's limit: no standard's, but this program's own, so that it is said. */
static void close_limit(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_finding *f = &j->findings[j->first[PP_MISDRILLED]];
    pp_summary_row *row = &w->rows[w->count - 1];
    pp_text_add(&w->text, "at least ");
    pp_people_limit(&w->text, w->units, pp_finding_lower(j, f));
    pp_text_add(&w->text, " between two holes, this program's own limit");
    row->limit = pp_summary_finish(w);
    row->source =
        "this program's own limit: half of the least ligament, or of half the nominal one";
}

void pp_summary_hole_rows(pp_summary_writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_measures *m = w->results->measures;
    position_row(w);
    if (pp_given(w->limits->pattern_limit.value)) pattern_row(w);
    diameter_row(w);
    if (w->results->job->rules.part == PP_TUBE_PLATE || m->ligament_count) ligament_row(w);
    edge_row(w);
    drift_row(w);
    for (int which = 0; which < PP_CHARACTERISTICS; which++) pair_row(w, (pp_characteristic)which);
    if (j->others_count) others_row(w);
    counted_row(w, PP_CHECK, NULL);
    mistake_row(w, PP_EXTRA_HOLE, m->extra_count, "hole that the drawing does not have",
                "holes that the drawing does not have");
    mistake_row(w, PP_DOUBLY_CLAIMED, m->doubly_claimed_count,
                "nominal hole claimed by two readings", "nominal holes claimed by two readings");
    mistake_row(w, PP_MISDRILLED, j->misdrilled_pairs,
                "pair of holes, whichever of the faces show it",
                "pairs of holes, each counted once");
    if (j->misdrilled_count) close_limit(w);
}
