#include "answer/summary.h"

#include <string.h>

#include "answer/for_people.h"
#include "answer/left_out.h"
#include "answer/summary_parts.h"

const char *pp_summary_finish(pp_summary_writer *w)
{
    const char *piece =
        w->text.failed ? NULL
                       : pp_arena_text(w->keep, w->text.length ? w->text.data : "", w->text.length);
    w->text.length = 0;
    return piece ? piece : "";
}

pp_summary_row *pp_summary_add_row(pp_summary_writer *w, pp_characteristic which,
                                   pp_verdict verdict, const char *source)
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
const char *pp_summary_uncertainty(pp_summary_writer *w, const pp_section *section)
{
    if (!pp_given(section->u)) return "";
    pp_text_add(&w->text, "U = ");
    pp_people_length(&w->text, w->units, 2 * section->u);
    pp_text_add(&w->text, " (k = 2)");
    return pp_summary_finish(w);
}

const char *pp_face_words(uint8_t face) { return face == PP_EXIT ? "exit face" : "entry face"; }

const char *pp_summary_at_most(pp_summary_writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "at most ");
    pp_people_limit(&w->text, w->units, limit);
    return pp_summary_finish(w);
}

const char *pp_summary_at_least(pp_summary_writer *w, double limit)
{
    if (!pp_given(limit)) return "";
    pp_text_add(&w->text, "at least ");
    pp_people_limit(&w->text, w->units, limit);
    return pp_summary_finish(w);
}

/* ---- plate ---- */

/* The noise of many readings makes their zone wider than the plate's: no plus or minus says it. */
static void add_between(pp_summary_writer *w, const pp_flatness_interval *interval)
{
    pp_people_length(&w->text, w->units, interval->low);
    pp_text_add(&w->text, " to ");
    pp_people_length(&w->text, w->units, interval->high);
    pp_text_add(&w->text, " (each end 95 %)");
}

/* How much of the plate the survey speaks of. */
static void add_covered(pp_summary_writer *w)
{
    const pp_surface *surface = &w->results->flatness->surface;
    if (!w->results->flatness->surface_valid) return;
    pp_text_add(&w->text, ", which cover ");
    pp_people_share(&w->text, surface->covered_share);
    pp_text_add(&w->text, "; largest bare circle radius ");
    pp_people_length(&w->text, w->units, surface->unseen_distance);
}

static void flatness_row(pp_summary_writer *w)
{
    const pp_flatness *f = w->results->flatness;
    const pp_job *job = w->results->job;
    bool on_zone = job->survey.flatness_zone == PP_ZONE_MINIMUM;
    double limit = w->limits->flatness_limit.value;
    pp_summary_row *row =
        pp_summary_add_row(w, PP_FLATNESS, w->judgement->section[PP_FLATNESS].verdict,
                           w->limits->flatness_limit.source);
    row->limit = pp_summary_at_most(w, limit);
    pp_people_against(&w->text, w->units,
                      on_zone ? f->minimum_zone.flatness : f->least_squares.flatness, limit);
    pp_text_add(&w->text, on_zone ? ", minimum zone" : ", least squares");
    row->result = pp_summary_finish(w);
    pp_text_add(&w->text, on_zone ? "least squares " : "minimum zone ");
    pp_people_length(&w->text, w->units,
                     on_zone ? f->least_squares.flatness : f->minimum_zone.flatness);
    pp_text_print(&w->text, "; as supported during the survey, at %zu surveyed points", f->points);
    add_covered(w);
    if (f->interval.valid) {
        pp_text_add(&w->text, "; reading noise alone makes up to ");
        pp_people_length(&w->text, w->units, f->interval.noise_zone);
        pp_text_add(&w->text, " of a perfect plane, the plate itself is ");
        add_between(w, &f->interval);
    }
    row->detail = pp_summary_finish(w);
    if (f->interval.valid) add_between(w, &f->interval);
    row->uncertainty = pp_summary_finish(w);
}

static void straightedge_row(pp_summary_writer *w, size_t i)
{
    const pp_straightedge *edge = &w->results->flatness->straightedge[i];
    const pp_limit *limit = i < w->limits->straightedge_count ? &w->limits->straightedge[i] : NULL;
    const pp_section *section = &w->judgement->straightedge[i];
    pp_summary_row *row =
        pp_summary_add_row(w, PP_STRAIGHTEDGE, section->verdict, limit ? limit->source : NULL);
    pp_text_add(&w->text, "straightedge ");
    pp_people_size(&w->text, w->units, edge->length);
    row->name = pp_summary_finish(w);
    if (limit) row->limit = pp_summary_at_most(w, limit->value);
    pp_people_against(&w->text, w->units, edge->gap, limit ? limit->value : NAN);
    row->result = pp_summary_finish(w);
    pp_text_print(&w->text, "%s, at ", edge->underside ? "underside" : "top");
    pp_people_place(&w->text, w->units, edge->x);
    pp_text_add(&w->text, ", ");
    pp_people_place(&w->text, w->units, edge->y);
    pp_text_add(&w->text, ", direction ");
    pp_people_angle(&w->text, round(edge->direction_deg * 10) / 10);
    row->detail = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, section);
}

static void parallelism_row(pp_summary_writer *w)
{
    const pp_thickness_map *t = &w->results->flatness->thickness;
    pp_summary_row *row =
        pp_summary_add_row(w, PP_PARALLELISM, w->judgement->section[PP_PARALLELISM].verdict,
                           w->limits->parallelism_limit.source);
    row->limit = pp_summary_at_most(w, w->limits->parallelism_limit.value);
    pp_people_against(&w->text, w->units, t->parallelism, w->limits->parallelism_limit.value);
    row->result = pp_summary_finish(w);
    row->uncertainty = pp_summary_uncertainty(w, &w->judgement->section[PP_PARALLELISM]);
    pp_text_add(&w->text, "thickness ");
    pp_people_length(&w->text, w->units, t->smallest);
    pp_text_add(&w->text, " to ");
    pp_people_length(&w->text, w->units, t->largest);
    row->detail = pp_summary_finish(w);
}

static void plate_rows(pp_summary_writer *w)
{
    const pp_flatness *f = w->results->flatness;
    flatness_row(w);
    for (size_t i = 0;
         i < f->straightedge_count && w->count < PP_SUMMARY_ROWS_MAX - PP_CHARACTERISTICS; i++)
        straightedge_row(w, i);
    if (f->thickness.valid) parallelism_row(w);
}

/* ---- what decides ---- */

/* Of a drilled stack: the layers that decide. */
static const char *deciding_layers(pp_summary_writer *w)
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
    return pp_summary_finish(w);
}

static const char *deciding(pp_summary_writer *w)
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
    return pp_summary_finish(w);
}

/* Beside the verdict: whole parts that the job names and this run did not judge. */
static const char *with_left_out(pp_summary_writer *w, const char *sentence)
{
    if (pp_is_whole(w->results)) return sentence;
    pp_text_print(&w->text, "%s ", sentence);
    pp_left_out_words(&w->text, w->results);
    return pp_summary_finish(w);
}

pp_status pp_summary_make(const pp_results *results, pp_memory *memory, pp_summary *summary,
                          pp_error *error)
{
    pp_summary_writer w = {.results = results,
                           .judgement = results->judgement,
                           .limits = results->limits,
                           .units = results->job->units,
                           .keep = &memory->keep};
    PP_TAKE(w.rows, &memory->keep, PP_SUMMARY_ROWS_MAX);
    if (results->flatness) plate_rows(&w);
    if (results->measures) pp_summary_hole_rows(&w);
    const char *sentence = with_left_out(&w, deciding(&w));
    const char *assumed = pp_summary_assumed(&w), *taken = pp_summary_how_taken(&w);
    bool failed = w.text.failed;
    pp_text_free(&w.text);
    if (failed) return pp_fail_memory(error);
    *summary = (pp_summary){
        .count = w.count, .rows = w.rows, .deciding = sentence, .assumed = assumed, .taken = taken};
    return PP_OK;
}
