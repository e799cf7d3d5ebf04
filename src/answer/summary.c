#include "answer/summary.h"

#include <string.h>

#include "answer/for_people.h"
#include "answer/left_out.h"

enum { ROWS_MAX = PP_CHARACTERISTICS + 64 };

/* Rows are made one after the other in one growing text; `keep` moves a finished piece out of it.
 */
typedef struct writer {
    const pp_results *results;
    const pp_judgement *judgement;
    const pp_limits *limits;
    pp_length_unit units;
    pp_arena *keep;
    pp_text text;
    pp_summary_row *rows;
    size_t count;
} writer;

static const char *finish(writer *w)
{
    const char *piece =
        w->text.failed ? NULL
                       : pp_arena_text(w->keep, w->text.length ? w->text.data : "", w->text.length);
    w->text.length = 0;
    return piece ? piece : "";
}

static pp_summary_row *add_row(writer *w, pp_characteristic which, pp_verdict verdict,
                               const char *source)
{
    pp_summary_row *row = &w->rows[w->count++];
    *row = (pp_summary_row){.which = which,
                            .verdict = verdict,
                            .name = pp_characteristic_people(which),
                            .limit = "",
                            .result = "",
                            .detail = "",
                            .uncertainty = "",
                            .source = source ? source : ""};
    return row;
}

/* Expanded uncertainty of the result beside it, not of what it was worked out from. */
static const char *expanded_uncertainty(writer *w, const pp_section *section)
{
    if (!pp_given(section->u)) return "";
    pp_text_add(&w->text, "U = ");
    pp_people_length(&w->text, w->units, 2 * section->u);
    pp_text_add(&w->text, " (k = 2)");
    return finish(w);
}

static void add_hole(writer *w, uint32_t hole)
{
    const pp_nominal *nominal = w->results->measures->nominal;
    pp_text_add(&w->text, hole < nominal->count ? nominal->name[hole] : "?");
}

const char *pp_face_words(uint8_t face) { return face == PP_EXIT ? "exit face" : "entry face"; }

static const char *at_most(writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "at most ");
    pp_people_limit(&w->text, w->units, limit);
    return finish(w);
}

static const char *at_least(writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "at least ");
    pp_people_limit(&w->text, w->units, limit);
    return finish(w);
}

/* ---- plate ---- */

/* The noise of many readings makes their zone wider than the plate's: no plus or minus says it. */
static void add_between(writer *w, const pp_flatness_interval *interval)
{
    pp_people_length(&w->text, w->units, interval->low);
    pp_text_add(&w->text, " to ");
    pp_people_length(&w->text, w->units, interval->high);
    pp_text_add(&w->text, " (each end 95 %)");
}

static void flatness_row(writer *w)
{
    const pp_flatness *f = w->results->flatness;
    const pp_job *job = w->results->job;
    bool on_zone = job->survey.flatness_zone == PP_ZONE_MINIMUM;
    double limit = w->limits->flatness_limit.value;
    pp_summary_row *row = add_row(w, PP_FLATNESS, w->judgement->section[PP_FLATNESS].verdict,
                                  w->limits->flatness_limit.source);
    row->limit = at_most(w, limit);
    pp_people_against(&w->text, w->units,
                      on_zone ? f->minimum_zone.flatness : f->least_squares.flatness, limit);
    pp_text_add(&w->text, on_zone ? ", minimum zone" : ", least squares");
    row->result = finish(w);
    pp_text_add(&w->text, on_zone ? "least squares " : "minimum zone ");
    pp_people_length(&w->text, w->units,
                     on_zone ? f->least_squares.flatness : f->minimum_zone.flatness);
    pp_text_print(&w->text, "; as supported during the survey, at %zu surveyed points", f->points);
    if (f->interval.valid) {
        pp_text_add(&w->text, "; reading noise alone makes up to ");
        pp_people_length(&w->text, w->units, f->interval.noise_zone);
        pp_text_add(&w->text, " of a perfect plane, the plate itself is ");
        add_between(w, &f->interval);
    }
    row->detail = finish(w);
    if (f->interval.valid) add_between(w, &f->interval);
    row->uncertainty = finish(w);
}

static void straightedge_row(writer *w, size_t i)
{
    const pp_straightedge *edge = &w->results->flatness->straightedge[i];
    const pp_limit *limit = i < w->limits->straightedge_count ? &w->limits->straightedge[i] : NULL;
    const pp_section *section = &w->judgement->straightedge[i];
    pp_summary_row *row =
        add_row(w, PP_STRAIGHTEDGE, section->verdict, limit ? limit->source : NULL);
    pp_text_add(&w->text, "straightedge ");
    pp_people_size(&w->text, w->units, edge->length);
    row->name = finish(w);
    if (limit) row->limit = at_most(w, limit->value);
    pp_people_against(&w->text, w->units, edge->gap, limit ? limit->value : NAN);
    row->result = finish(w);
    pp_text_print(&w->text, "%s, at ", edge->underside ? "underside" : "top");
    pp_people_place(&w->text, w->units, edge->x);
    pp_text_add(&w->text, ", ");
    pp_people_place(&w->text, w->units, edge->y);
    pp_text_add(&w->text, ", direction ");
    pp_people_angle(&w->text, round(edge->direction_deg * 10) / 10);
    row->detail = finish(w);
    row->uncertainty = expanded_uncertainty(w, section);
}

static void parallelism_row(writer *w)
{
    const pp_thickness_map *t = &w->results->flatness->thickness;
    pp_summary_row *row = add_row(w, PP_PARALLELISM, w->judgement->section[PP_PARALLELISM].verdict,
                                  w->limits->parallelism_limit.source);
    row->limit = at_most(w, w->limits->parallelism_limit.value);
    pp_people_against(&w->text, w->units, t->parallelism, w->limits->parallelism_limit.value);
    row->result = finish(w);
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_PARALLELISM]);
    pp_text_add(&w->text, "thickness ");
    pp_people_length(&w->text, w->units, t->smallest);
    pp_text_add(&w->text, " to ");
    pp_people_length(&w->text, w->units, t->largest);
    row->detail = finish(w);
}

static void plate_rows(writer *w)
{
    const pp_flatness *f = w->results->flatness;
    flatness_row(w);
    for (size_t i = 0; i < f->straightedge_count && w->count < ROWS_MAX - PP_CHARACTERISTICS; i++)
        straightedge_row(w, i);
    if (f->thickness.valid) parallelism_row(w);
}

/* ---- holes ---- */

/* Each item once, so that they add up to what was judged; beside classes by the plain value. */
static bool add_items(writer *w, pp_characteristic which, const char *before)
{
    const pp_section *s = &w->judgement->section[which];
    if (w->results->job->rules.decision != PP_GUARDED && s->open == 0) return false;
    pp_text_print(&w->text, "%s%zu proven in, %zu proven out, %zu not proven", before, s->proven_in,
                  s->failed, s->open);
    return true;
}

static const char *zone(writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "diametral zone ");
    pp_people_limit(&w->text, w->units, limit);
    if (w->results->job->holes.material_condition == PP_MAXIMUM_MATERIAL)
        pp_text_add(&w->text, " at maximum material");
    return finish(w);
}

static void position_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->position_limit.value;
    pp_summary_row *row =
        add_row(w, PP_POSITION, j->section[PP_POSITION].verdict, w->limits->position_limit.source);
    row->limit = zone(w, limit);
    if (pp_given(j->position_fold.largest)) {
        pp_text_add(&w->text, "largest ");
        pp_people_out_of_place(&w->text, w->units, j->position_fold.largest, limit);
        pp_text_add(&w->text, ", ");
        add_hole(w, j->position_fold.largest_hole);
        pp_text_print(&w->text, ", %s", pp_face_words(j->position_fold.largest_face));
        row->result = finish(w);
        if (pp_given(limit)) {
            if (!add_items(w, PP_POSITION, ""))
                pp_text_print(&w->text, "%zu out", j->position_fold.out);
            pp_text_add(&w->text, "; ");
        }
        pp_text_add(&w->text, "mean position ");
        pp_people_length(&w->text, w->units, j->position_fold.mean);
        row->detail = finish(w);
    }
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_POSITION]);
}

static void pattern_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->pattern_limit.value;
    pp_summary_row *row = add_row(w, PP_PATTERN_POSITION, j->section[PP_PATTERN_POSITION].verdict,
                                  w->limits->pattern_limit.source);
    row->limit = zone(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_out_of_place(&w->text, w->units, j->pattern_fold.largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->pattern_fold.largest_hole);
    row->result = finish(w);
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_PATTERN_POSITION]);
}

static bool shows_probability(const pp_assurance *a)
{
    return a->probability_valid && pp_given(a->probability);
}

/* The chance that the part truly keeps its count rule, never rounded to certainty. */
static void add_probability(writer *w, const pp_assurance *a)
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

/* Beside a share of the sample: what it says of the whole plate. */
static void add_whole_plate(writer *w, const pp_assurance *a)
{
    if (w->results->job->holes.coverage != PP_SAMPLE) return;
    if (!a->sample_valid) {
        pp_text_add(&w->text, "; of the whole plate's pairs nothing follows, for pairs are not "
                              "drawn at random");
        return;
    }
    pp_text_add(&w->text, "; of the whole plate at most ");
    pp_people_share(&w->text, a->share_outside_bound);
    pp_text_add(&w->text, " are outside the standard limit at ");
    pp_people_share(&w->text, a->confidence);
    pp_text_add(&w->text, " confidence");
}

static void add_alignment(writer *w)
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
static const char *how_taken(writer *w)
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
    return finish(w);
}

static const char *what_probabilities_assume(writer *w)
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
    return finish(w);
}

/* Any of the limits may be missing; one upper limit alone holds for every hole. */
static void add_diameter_limits(writer *w)
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

static void diameter_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_limits *l = w->limits;
    const pp_count_rule *rule = &j->diameter_fold.rule;
    pp_summary_row *row =
        add_row(w, PP_DIAMETER, j->section[PP_DIAMETER].verdict, l->hole_nominal.source);
    double outer = pp_given(l->diameter_upper_limit) ? l->diameter_upper_limit : l->diameter_upper;
    add_diameter_limits(w);
    row->limit = finish(w);
    if (pp_given(j->diameter_fold.smallest)) {
        pp_people_against(&w->text, w->units, j->diameter_fold.smallest, l->diameter_lower);
        pp_text_add(&w->text, " to ");
        pp_people_against(&w->text, w->units, j->diameter_fold.largest, outer);
    }
    size_t gauged = j->diameter_fold.gauged;
    if (gauged) pp_text_print(&w->text, "%s%zu by plug gauge", w->text.length ? "; " : "", gauged);
    row->result = finish(w);
    if (pp_given(l->diameter_lower) || pp_given(outer)) {
        pp_text_print(&w->text,
                      "%zu undersize, %zu in tolerance, %zu of at most %zu in the remainder, ",
                      rule->under, rule->in, rule->remainder, rule->remainder_allowed);
        pp_text_print(&w->text, "%zu oversize", rule->out);
        add_items(w, PP_DIAMETER, "; ");
        add_probability(w, &j->diameter_fold.assurance);
        add_whole_plate(w, &j->diameter_fold.assurance);
        row->detail = finish(w);
    }
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_DIAMETER]);
}

static void ligament_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_limits *l = w->limits;
    const pp_count_rule *rule = &j->ligament_fold.rule;
    double standard = l->ligament_standard.value, least = l->ligament_minimum.value;
    pp_summary_row *row =
        add_row(w, PP_LIGAMENT, j->section[PP_LIGAMENT].verdict,
                pp_given(standard) ? l->ligament_standard.source : l->ligament_minimum.source);
    if (pp_given(standard) && pp_given(least)) {
        pp_text_add(&w->text, "at least ");
        pp_people_limit(&w->text, w->units, standard);
        pp_text_add(&w->text, "; at most ");
        pp_people_share(&w->text, l->remainder_share.value);
        pp_text_add(&w->text, " below, down to ");
        pp_people_limit(&w->text, w->units, least);
        row->limit = finish(w);
    } else { /* one alone holds for every ligament */
        row->limit = at_least(w, pp_given(least) ? least : standard);
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
        row->result = finish(w);
        row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_LIGAMENT]);
    }
    if (pp_given(standard) || pp_given(least)) {
        pp_text_print(&w->text, "%zu standard, %zu of at most %zu in the remainder, %zu thin",
                      rule->in, rule->remainder, rule->remainder_allowed, rule->out);
        add_items(w, PP_LIGAMENT, "; ");
        add_probability(w, &j->ligament_fold.assurance);
        add_whole_plate(w, &j->ligament_fold.assurance);
        row->detail = finish(w);
    }
}

static void edge_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->edge_minimum.value;
    if (!pp_given(j->edge_fold.smallest)) return;
    pp_summary_row *row =
        add_row(w, PP_EDGE, j->section[PP_EDGE].verdict, w->limits->edge_minimum.source);
    row->limit = at_least(w, limit);
    pp_text_add(&w->text, "smallest ");
    pp_people_against(&w->text, w->units, j->edge_fold.smallest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->edge_fold.smallest_hole);
    row->result = finish(w);
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_EDGE]);
}

static void drift_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    double limit = w->limits->drift_limit.value;
    if (!pp_given(j->drift_fold.largest)) return;
    pp_summary_row *row =
        add_row(w, PP_DRIFT, j->section[PP_DRIFT].verdict, w->limits->drift_limit.source);
    row->limit = at_most(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_against(&w->text, w->units, j->drift_fold.largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, j->drift_fold.largest_hole);
    row->result = finish(w);
    row->uncertainty = expanded_uncertainty(w, &w->judgement->section[PP_DRIFT]);
    if (pp_given(limit)) {
        if (!add_items(w, PP_DRIFT, "")) pp_text_print(&w->text, "%zu out", j->drift_fold.out);
    }
    if (pp_given(w->limits->drift_allowance)) {
        if (w->text.length) pp_text_add(&w->text, "; ");
        pp_text_add(&w->text, "for information, the rule set allows ");
        pp_people_limit(&w->text, w->units, w->limits->drift_allowance);
    }
    row->detail = finish(w);
}

/* Characteristics of pairs: "pitch error over 10 pitches". */
static void pair_row(writer *w, pp_characteristic which)
{
    const pp_judgement *j = w->judgement;
    const pp_section *section = &j->section[which];
    const pp_pair_fold *fold = &j->pair[which];
    const pp_pair_list *list = pp_pair_list_of(w->results->measures, (int)which);
    if (!list || list->count == 0) return;
    double limit = pp_pair_limit(j, (int)which)->value;
    pp_summary_row *row = add_row(w, which, section->verdict, pp_pair_limit(j, (int)which)->source);
    pp_text_print(&w->text, "%s over %g pitch%s", pp_characteristic_people(which), list->apart,
                  list->apart > 1 ? "es" : "");
    row->name = finish(w);
    row->limit = at_most(w, limit);
    pp_text_add(&w->text, "largest ");
    pp_people_against(&w->text, w->units, fold->largest, limit);
    pp_text_add(&w->text, ", ");
    add_hole(w, fold->a);
    pp_text_add(&w->text, " \u2013 ");
    add_hole(w, fold->b);
    pp_text_print(&w->text, ", %s", pp_face_words(fold->face));
    row->result = finish(w);
    row->uncertainty = expanded_uncertainty(w, section);
    if (pp_given(limit)) {
        pp_text_print(&w->text, "%zu out of %zu", section->failed, list->count);
        add_items(w, which, "; ");
        pp_text_add(&w->text, "; ");
    }
    pp_text_add(&w->text, "mean ");
    pp_people_length(&w->text, w->units, fold->mean);
    row->detail = finish(w);
}

/* Characteristics that are counted only: so many judged, so many fail. */
static void counted_row(writer *w, pp_characteristic which, const char *source)
{
    const pp_section *s = &w->judgement->section[which];
    if (s->judged == 0 && s->failed == 0 && s->not_proven == 0) return;
    pp_summary_row *row = add_row(w, which, s->verdict, source);
    pp_text_print(&w->text, "%zu judged, %zu fail, %zu not proven", s->judged, s->failed, s->open);
    row->result = finish(w);
}

static void others_row(writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_section *section = &j->others_section;
    pp_summary_row *row = add_row(w, PP_OTHER_LIGAMENT, section->verdict, NULL);
    row->name = "other holes";
    pp_text_print(&w->text, "%zu hole%s (tie rods, vents, dowels, bolts), %zu fail%s",
                  j->others_count, j->others_count == 1 ? "" : "s", section->failed,
                  section->failed == 1 ? "s" : "");
    if (section->open) pp_text_print(&w->text, ", %zu not proven", section->open);
    row->result = finish(w);
}

/* What should not be there at all: a row only when there is some. */
static void mistake_row(writer *w, pp_characteristic which, size_t count, const char *one,
                        const char *several)
{
    if (count == 0) return;
    pp_summary_row *row = add_row(w, which, w->judgement->section[which].verdict, NULL);
    pp_text_print(&w->text, "%zu %s", count, count == 1 ? one : several);
    row->result = finish(w);
    row->limit = "none allowed";
}

/* The last row's limit: no standard's, but this program's own, so that it is said. */
static void close_limit(writer *w)
{
    const pp_judgement *j = w->judgement;
    const pp_finding *f = &j->findings[j->first[PP_MISDRILLED]];
    pp_summary_row *row = &w->rows[w->count - 1];
    pp_text_add(&w->text, "at least ");
    pp_people_limit(&w->text, w->units, pp_finding_lower(j, f));
    pp_text_add(&w->text, " between two holes, this program's own limit");
    row->limit = finish(w);
    row->source =
        "this program's own limit: half of the least ligament, or of half the nominal one";
}

static void hole_rows(writer *w)
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

/* ---- what decides ---- */

/* Of a drilled stack: the layers that decide. */
static const char *deciding_layers(writer *w)
{
    const pp_drilled *d = w->results->drilled;
    const pp_drilled_judgement *judged = w->results->drilled_judgement;
    if (judged->verdict == PP_CONFORMS) return "Every layer is within its limits.";
    bool fails = judged->verdict == PP_DOES_NOT_CONFORM;
    pp_text_add(&w->text, fails ? "Outside the limits: layer " : "Not proven: layer ");
    for (size_t k = 0, said = 0; k < d->layer_count; k++) {
        pp_verdict here = judged->layers[k].verdict;
        if (here == PP_CONFORMS || (fails && here != PP_DOES_NOT_CONFORM)) continue;
        pp_text_print(&w->text, "%s%s", said++ ? ", " : "",
                      w->results->job->layers[d->layer[k]].name);
    }
    pp_text_add(&w->text, ".");
    return finish(w);
}

static const char *deciding(writer *w)
{
    const pp_judgement *j = w->judgement;
    if (w->results->roughing) return w->results->roughing_words.advice;
    if (w->results->drilled) return deciding_layers(w);
    if (w->results->stack) return w->results->stack_words->advice;
    if (j->verdict == PP_NOT_JUDGED) return "No limit was given, so nothing was judged.";
    if (j->verdict == PP_CONFORMS) return "Everything that was judged is within its limits.";
    pp_text_add(&w->text,
                j->verdict == PP_DOES_NOT_CONFORM ? "Outside the limits: " : "Not proven: ");
    const char *before = NULL;
    for (size_t i = 0; i < w->count; i++) {
        if (w->rows[i].verdict != j->verdict) continue;
        if (before) pp_text_add(&w->text, ", ");
        before = w->rows[i].name;
        pp_text_add(&w->text, before);
    }
    if (!before) pp_text_add(&w->text, "holes that were not measured");
    pp_text_add(&w->text, ".");
    return finish(w);
}

/* Beside the verdict: whole parts that the job names and this run did not judge. */
static const char *with_left_out(writer *w, const char *sentence)
{
    if (pp_is_whole(w->results)) return sentence;
    pp_text_print(&w->text, "%s ", sentence);
    pp_left_out_words(&w->text, w->results);
    return finish(w);
}

pp_status pp_summary_make(const pp_results *results, pp_memory *memory, pp_summary *summary,
                          pp_error *error)
{
    writer w = {.results = results,
                .judgement = results->judgement,
                .limits = results->limits,
                .units = results->job->units,
                .keep = &memory->keep};
    PP_TAKE(w.rows, &memory->keep, ROWS_MAX);
    if (results->flatness) plate_rows(&w);
    if (results->measures) hole_rows(&w);
    const char *sentence = with_left_out(&w, deciding(&w));
    const char *assumed = what_probabilities_assume(&w), *taken = how_taken(&w);
    bool failed = w.text.failed;
    pp_text_free(&w.text);
    if (failed) return pp_fail_memory(error);
    *summary = (pp_summary){
        .count = w.count, .rows = w.rows, .deciding = sentence, .assumed = assumed, .taken = taken};
    return PP_OK;
}
