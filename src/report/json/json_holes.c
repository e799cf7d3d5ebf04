/* The holes' side of results.json: `holes`, and the list of exceptions. */
#include "answer/machine_names.h"
#include "report/json/json_build.h"

/* The list of exceptions is for reading, worst first; the CSVs hold every item. */
enum { EXCEPTIONS_LISTED = 1000 };

static double limit_value(const pp_limits *limits, const pp_limit *limit)
{
    return limits ? limit->value : NAN;
}

static void put_names(pp_json_builder *b, json_t *section, const char *key, size_t count,
                      const uint32_t *holes)
{
    json_t *array = pp_json_array(b, section, key);
    for (size_t i = 0; i < count; i++)
        pp_json_append_text(b, array, pp_named_hole(b->results->measures, holes[i]));
}

static void put_misdrilled(pp_json_builder *b, json_t *section)
{
    const pp_judgement *judgement = b->results->judgement;
    const pp_measures *measures = b->results->measures;
    json_t *array = pp_json_array(b, section, "misdrilled_pairs");
    for (size_t i = 0; i < judgement->misdrilled_count; i++) {
        const pp_close_pair *close = &judgement->misdrilled[i];
        json_t *pair = json_array();
        pp_json_append(b, array, pair);
        pp_json_append_text(b, pair, pp_bore_name(measures, close->a));
        pp_json_append_text(b, pair, pp_bore_name(measures, close->b));
        pp_json_append_text(b, pair, pp_named_face(measures->bores[close->a].face));
    }
}

static void put_others(pp_json_builder *b, json_t *section)
{
    const pp_judgement *judgement = b->results->judgement;
    json_t *array = pp_json_array(b, section, "others");
    for (size_t i = 0; i < judgement->others_count; i++) {
        const pp_other_verdict *other = &judgement->others[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "hole", pp_named_hole(b->results->measures, other->hole));
        pp_json_real(b, object, "position", other->position);
        pp_json_real(b, object, "diameter", other->diameter);
        pp_json_text(b, object, "verdict", pp_verdict_words(other->verdict));
    }
}

static const char *alignment_words(pp_align kind)
{
    switch (kind) {
    case PP_ALIGN_AS_MEASURED:
        return "as-measured";
    case PP_ALIGN_BEST_FIT:
        return "best-fit";
    case PP_ALIGN_TWO_HOLES:
        return "two-holes";
    case PP_ALIGN_DATUM_POINTS:
        return "datum-points";
    }
    return "";
}

static void put_alignment(pp_json_builder *b, json_t *section)
{
    const pp_alignment *alignment = &b->results->measures->alignment;
    json_t *object = pp_json_object(b, section, "alignment");
    pp_json_text(b, object, "kind", alignment_words(alignment->kind));
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"angle_deg", alignment->angle_deg}, {"dx", alignment->dx},
                       {"dy", alignment->dy}, {"rms", alignment->rms}, {"u_dx", alignment->u_dx},
                       {"u_dy", alignment->u_dy}, {"u_angle_deg", alignment->u_angle_deg},
                       {"scale_u", alignment->scale_u}, {"common_share", alignment->common_share}));
    if (alignment->exit_own) {
        json_t *own = pp_json_object(b, object, "exit");
        pp_json_reals(b, own,
                      PP_NAMED_REALS({"angle_deg", alignment->exit_angle_deg},
                                     {"dx", alignment->exit_dx}, {"dy", alignment->exit_dy}));
    }
    if (b->results->job->holes.match == PP_MATCH_PATTERN) {
        pp_json_flag(b, object, "turned_over", alignment->turned_over);
        pp_json_count(b, object, "symmetries", alignment->symmetries);
    }
}

static void put_verdict(pp_json_builder *b, json_t *object, int which)
{
    pp_json_text(b, object, "verdict",
                 pp_verdict_words(b->results->judgement->section[which].verdict));
}

/* What was judged, each item once; `not_proven` beside it counts what failed elsewhere, too. */
static void put_items(pp_json_builder *b, json_t *object, const pp_section *section)
{
    pp_json_count(b, object, "proven_in", section->proven_in);
    pp_json_count(b, object, "proven_out", section->failed);
    json_t *items = pp_json_object(b, object, "items");
    pp_json_count(b, items, "judged", section->judged);
    pp_json_count(b, items, "proven_in", section->proven_in);
    pp_json_count(b, items, "proven_out", section->failed);
    pp_json_count(b, items, "not_proven", section->open);
}

/* A hole index that a fold left alone means nothing was measured: its figure is NaN then. */
static const char *hole_of(const pp_measures *measures, double figure, uint32_t hole)
{
    return isnan(figure) ? NULL : pp_named_hole(measures, hole);
}

static const char *face_of(double figure, uint8_t face)
{
    return isnan(figure) ? NULL : pp_named_face(face);
}

static void put_assurance(pp_json_builder *b, json_t *object, const pp_assurance *assurance)
{
    if (assurance->probability_valid)
        pp_json_real(b, object, "conformance_probability", assurance->probability);
    if (!assurance->sample_valid) {
        if (b->results->job->holes.coverage == PP_SAMPLE)
            pp_json_put(b, object, "sample", json_null());
        return;
    }
    json_t *sample = pp_json_object(b, object, "sample");
    pp_json_real(b, sample, "share_outside_bound", assurance->share_outside_bound);
    pp_json_real(b, sample, "confidence", assurance->confidence);
    pp_json_count(b, sample, "holes", assurance->sample);
    pp_json_count(b, sample, "outside", assurance->outside);
    pp_json_put(b, sample, "more_needed",
                assurance->more_possible ? json_integer((json_int_t)assurance->more_needed)
                                         : json_null());
}

static void put_position(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_measures *measures = b->results->measures;
    const pp_judgement *j = b->results->judgement;
    double largest = j->position_fold.largest;
    json_t *object = pp_json_object(b, section, "position");
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"limit", limit_value(limits, &limits->position_limit)},
                                 {"largest", largest}, {"largest_u", j->position_fold.largest_u}));
    pp_json_text(b, object, "largest_hole",
                 hole_of(measures, largest, j->position_fold.largest_hole));
    pp_json_text(b, object, "largest_face", face_of(largest, j->position_fold.largest_face));
    pp_json_real(b, object, "mean", j->position_fold.mean);
    pp_json_count(b, object, "out", j->position_fold.out);
    pp_json_count(b, object, "not_proven", j->position_fold.not_proven);
    put_items(b, object, &j->section[PP_POSITION]);
    put_verdict(b, object, PP_POSITION);
    put_assurance(b, object, &j->position_fold.assurance);
    if (b->results->job->holes.material_condition == PP_MAXIMUM_MATERIAL)
        pp_json_text(b, object, "material_condition", "maximum");
}

static void put_pattern(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_judgement *j = b->results->judgement;
    if (!limits || !pp_given(limits->pattern_limit.value)) return;
    json_t *object = pp_json_object(b, section, "pattern");
    pp_json_real(b, object, "limit", limits->pattern_limit.value);
    pp_json_real(b, object, "largest", j->pattern_fold.largest);
    pp_json_text(
        b, object, "largest_hole",
        hole_of(b->results->measures, j->pattern_fold.largest, j->pattern_fold.largest_hole));
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"best_fit_angle_deg", j->pattern_fold.best_fit_angle_deg},
                                 {"best_fit_dx", j->pattern_fold.best_fit_dx},
                                 {"best_fit_dy", j->pattern_fold.best_fit_dy}));
    put_verdict(b, object, PP_PATTERN_POSITION);
}

/* How the sample was drawn; the list itself and its hash stand among the inputs. */
static void put_sample(pp_json_builder *b, json_t *section)
{
    const pp_job *job = b->results->job;
    if (job->holes.coverage != PP_SAMPLE) return;
    json_t *sample = pp_json_object(b, section, "sample");
    pp_json_text(b, sample, "list", job->holes.sample_list.written);
    pp_json_real(b, sample, "seed", job->holes.sample_seed);
    pp_json_count(b, sample, "drawn", b->results->files->sample_count);
}

static void put_diameter(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_judgement *j = b->results->judgement;
    const pp_count_rule *rule = &j->diameter_fold.rule;
    json_t *object = pp_json_object(b, section, "diameter");
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"nominal", limit_value(limits, &limits->hole_nominal)},
                                 {"lower", limits ? limits->diameter_lower : NAN},
                                 {"upper", limits ? limits->diameter_upper : NAN},
                                 {"upper_limit", limits ? limits->diameter_upper_limit : NAN},
                                 {"smallest", j->diameter_fold.smallest},
                                 {"largest", j->diameter_fold.largest},
                                 {"mean", j->diameter_fold.mean},
                                 {"u", j->section[PP_DIAMETER].u}));
    pp_json_count(b, object, "undersize", rule->under);
    pp_json_count(b, object, "in_tolerance", rule->in);
    pp_json_count(b, object, "in_remainder", rule->remainder);
    pp_json_count(b, object, "oversize", rule->out);
    pp_json_count(b, object, "remainder_allowed", rule->remainder_allowed);
    pp_json_count(b, object, "not_proven", j->section[PP_DIAMETER].not_proven);
    put_items(b, object, &j->section[PP_DIAMETER]);
    put_verdict(b, object, PP_DIAMETER);
    put_assurance(b, object, &j->diameter_fold.assurance);
}

static void put_smallest_pair(pp_json_builder *b, json_t *object)
{
    const pp_measures *measures = b->results->measures;
    const pp_judgement *j = b->results->judgement;
    if (isnan(j->ligament_fold.smallest)) {
        pp_json_put(b, object, "smallest_pair", json_null());
        return;
    }
    json_t *pair = pp_json_array(b, object, "smallest_pair");
    pp_json_append_text(b, pair, pp_named_hole(measures, j->ligament_fold.smallest_a));
    pp_json_append_text(b, pair, pp_named_hole(measures, j->ligament_fold.smallest_b));
}

static void put_ligament(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_measures *measures = b->results->measures;
    const pp_judgement *j = b->results->judgement;
    const pp_count_rule *rule = &j->ligament_fold.rule;
    json_t *object = pp_json_object(b, section, "ligament");
    pp_json_count(b, object, "pairs", measures->pairs_measured);
    pp_json_count(b, object, "pairs_unmeasured", measures->pairs_unmeasured);
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"nominal", limits ? limits->ligament_nominal : NAN},
                       {"standard_limit", limit_value(limits, &limits->ligament_standard)},
                       {"minimum_limit", limit_value(limits, &limits->ligament_minimum)},
                       {"smallest", j->ligament_fold.smallest}));
    put_smallest_pair(b, object);
    pp_json_text(b, object, "smallest_face",
                 face_of(j->ligament_fold.smallest, j->ligament_fold.smallest_face));
    pp_json_real(b, object, "mean", j->ligament_fold.mean);
    pp_json_real(b, object, "u", j->section[PP_LIGAMENT].u);
    pp_json_count(b, object, "standard", rule->in);
    pp_json_count(b, object, "in_remainder", rule->remainder);
    pp_json_count(b, object, "thin", rule->out);
    pp_json_count(b, object, "remainder_allowed", rule->remainder_allowed);
    pp_json_count(b, object, "not_proven", j->section[PP_LIGAMENT].not_proven);
    put_items(b, object, &j->section[PP_LIGAMENT]);
    put_verdict(b, object, PP_LIGAMENT);
    put_assurance(b, object, &j->ligament_fold.assurance);
}

static void put_edge(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_measures *measures = b->results->measures;
    const pp_judgement *j = b->results->judgement;
    if (!measures->edge) return;
    json_t *object = pp_json_object(b, section, "edge");
    pp_json_real(b, object, "limit", limit_value(limits, &limits->edge_minimum));
    pp_json_real(b, object, "smallest", j->edge_fold.smallest);
    pp_json_text(b, object, "smallest_hole",
                 hole_of(measures, j->edge_fold.smallest, j->edge_fold.smallest_hole));
    put_verdict(b, object, PP_EDGE);
}

static void put_drift(pp_json_builder *b, json_t *section)
{
    const pp_limits *limits = b->results->limits;
    const pp_measures *measures = b->results->measures;
    const pp_judgement *j = b->results->judgement;
    if (!measures->faces[PP_ENTRY] || !measures->faces[PP_EXIT]) return;
    json_t *object = pp_json_object(b, section, "drift");
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"limit", limit_value(limits, &limits->drift_limit)},
                                 {"allowance", limits ? limits->drift_allowance : NAN},
                                 {"largest", j->drift_fold.largest}));
    pp_json_text(b, object, "largest_hole",
                 hole_of(measures, j->drift_fold.largest, j->drift_fold.largest_hole));
    pp_json_count(b, object, "out", j->drift_fold.out);
    pp_json_count(b, object, "not_proven", j->drift_fold.not_proven);
    put_items(b, object, &j->section[PP_DRIFT]);
    put_verdict(b, object, PP_DRIFT);
}

/* The characteristics of pairs, as the table of characteristics names them. */
static void put_pairs(pp_json_builder *b, json_t *section)
{
    const pp_judgement *j = b->results->judgement;
    const pp_measures *measures = b->results->measures;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        const pp_pair_list *list = pp_pair_list_of(measures, which);
        if (!list || list->count == 0) continue;
        const pp_pair_fold *fold = &j->pair[which];
        json_t *object = pp_json_object(b, section, pp_characteristic_of(which)->key);
        pp_json_real(b, object, "limit", pp_pair_limit(j, which)->value);
        pp_json_real(b, object, "pitches_apart", list->apart);
        pp_json_count(b, object, "pairs", list->count);
        pp_json_real(b, object, "largest", fold->largest);
        json_t *pair = pp_json_array(b, object, "largest_pair");
        pp_json_append_text(b, pair, pp_named_hole(measures, fold->a));
        pp_json_append_text(b, pair, pp_named_hole(measures, fold->b));
        pp_json_text(b, object, "largest_face", face_of(fold->largest, fold->face));
        pp_json_real(b, object, "mean", fold->mean);
        pp_json_real(b, object, "u", j->section[which].u);
        pp_json_count(b, object, "out", j->section[which].failed);
        pp_json_count(b, object, "not_proven", j->section[which].not_proven);
        put_verdict(b, object, which);
    }
}

static void put_checks(pp_json_builder *b, json_t *section)
{
    const pp_hole_files *files = b->results->files;
    const pp_section *judged = &b->results->judgement->section[PP_CHECK];
    if (!files || !files->check_count) return;
    json_t *object = pp_json_object(b, section, "checks");
    pp_json_count(b, object, "rows", files->check_count);
    pp_json_count(b, object, "judged", judged->judged);
    put_verdict(b, object, PP_CHECK);
}

static const char *term_state_words(pp_term_state state)
{
    switch (state) {
    case PP_TERM_FOUND:
        return "found";
    case PP_TERM_NOT_FOUND:
        return "not found";
    case PP_TERM_NOT_TESTED:
        return "not tested";
    }
    return "";
}

static void put_terms(pp_json_builder *b, json_t *object, const pp_diagnosis *diagnosis)
{
    json_t *terms = pp_json_array(b, object, "terms");
    json_t *not_separable = pp_json_array(b, object, "not_separable");
    for (size_t i = 0; i < diagnosis->term_count; i++) {
        const pp_term *term = &diagnosis->terms[i];
        json_t *entry = pp_json_append_object(b, terms);
        pp_json_text(b, entry, "name", term->name);
        pp_json_reals(b, entry,
                      PP_NAMED_REALS({"value", term->value},
                                     {"standard_error", term->standard_error}, {"p", term->p},
                                     {"share", term->share}, {"worst_effect", term->worst_effect}));
        pp_json_flag(b, entry, "found", term->state == PP_TERM_FOUND);
        pp_json_text(b, entry, "state", term_state_words(term->state));
        pp_json_real(b, entry, "p_adjusted", term->p_adjusted);
        pp_json_flag(b, entry, "is_cause", term->is_cause);
        if (term->unclear) pp_json_text(b, entry, "or", term->unclear);
        if (term->partner) pp_json_text(b, entry, "partner", term->partner);
        if (term->sentence) pp_json_text(b, entry, "sentence", term->sentence);
        if (term->state != PP_TERM_NOT_TESTED) continue;
        json_t *pair = pp_json_append_object(b, not_separable);
        pp_json_text(b, pair, "term", term->name);
        pp_json_text(b, pair, "from", term->partner);
    }
}

/* Of a plate drilled to another list than the drawing's; null: that list promised nothing. */
static void put_promise(pp_json_builder *b, json_t *section)
{
    const pp_promise_kept *p = b->results->promise;
    if (!b->results->job->holes.commanded.path) return;
    if (!p) {
        pp_json_put(b, section, "promise", json_null());
        return;
    }
    json_t *object = pp_json_object(b, section, "promise");
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"rms", p->rms}, {"median", p->median}, {"low", p->low}, {"high", p->high}));
    pp_json_flag(b, object, "kept", p->kept);
}

static void put_diagnosis(pp_json_builder *b, json_t *section)
{
    const pp_diagnosis *diagnosis = b->results->diagnosis;
    if (!diagnosis) return;
    json_t *object = pp_json_object(b, section, "diagnosis");
    pp_json_flag(b, object, "valid", diagnosis->valid);
    if (!diagnosis->valid) {
        pp_json_text(b, object, "why_not", diagnosis->why_not);
        return;
    }
    put_terms(b, object, diagnosis);
    pp_json_patterns(b, object, diagnosis);
    put_names(b, object, "misdrilled", diagnosis->misdrilled_count, diagnosis->misdrilled);
    json_t *tools = pp_json_array(b, object, "tools");
    for (size_t i = 0; i < diagnosis->tool_change_count; i++)
        pp_json_append(b, tools, json_integer((json_int_t)diagnosis->tool_changes[i]));
    pp_json_tool_runs(b, object, diagnosis);
    pp_json_count(b, object, "holes", diagnosis->holes);
    pp_json_flag(b, object, "order_known", diagnosis->order_known);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"scatter_x", diagnosis->scatter_x},
                                 {"scatter_y", diagnosis->scatter_y},
                                 {"autocorrelation", diagnosis->autocorrelation}));
    pp_json_flag(b, object, "whitened", diagnosis->whitened);
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"lean_x", diagnosis->lean_holes ? diagnosis->lean_x : NAN},
                       {"lean_y", diagnosis->lean_holes ? diagnosis->lean_y : NAN},
                       {"shift_x", diagnosis->shift_x}, {"shift_y", diagnosis->shift_y},
                       {"rotation_deg", diagnosis->rotation_deg},
                       {"temperature_difference", diagnosis->temperature_difference},
                       {"temperature_standard_error", diagnosis->temperature_standard_error},
                       {"rms_before", diagnosis->rms_before}, {"rms_after", diagnosis->rms_after}));
}

static void put_placement(pp_json_builder *b, json_t *section)
{
    const pp_placement *placement = b->results->placement;
    if (!placement || !placement->valid) return;
    json_t *object = pp_json_object(b, section, "placement");
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"zone", placement->zone}, {"lower_bound", placement->lower_bound},
                                 {"angle_deg", placement->angle_deg}, {"dx", placement->dx},
                                 {"dy", placement->dy}));
    put_names(b, object, "witnesses", (size_t)placement->witness_count, placement->witnesses);
    put_names(b, object, "left_out", placement->left_out_count, placement->left_out);
    pp_json_real(b, object, "as_aligned", placement->as_aligned);
    pp_json_real(b, object, "u", placement->u);
    pp_json_flag(b, object, "saves", placement->saves);
    pp_json_real(b, object, "moved", placement->moved);
}

static void put_rework(pp_json_builder *b, json_t *section)
{
    json_t *object = pp_json_object(b, section, "rework");
    pp_json_count(b, object, "earlier_rounds", b->results->measures->history_count);
}

static void put_matching(pp_json_builder *b, json_t *section)
{
    const pp_measures *measures = b->results->measures;
    const pp_judgement *judgement = b->results->judgement;
    pp_json_count(b, section, "nominal", measures->tube_count);
    pp_json_count(b, section, "measured", measures->measured);
    put_names(b, section, "unmeasured", measures->unmeasured_count, measures->unmeasured);
    json_t *extra = pp_json_array(b, section, "extra");
    for (size_t i = 0; i < measures->extra_count; i++)
        pp_json_append_text(b, extra, measures->extra[i]);
    put_names(b, section, "doubly_claimed", measures->doubly_claimed_count,
              measures->doubly_claimed);
    put_misdrilled(b, section);
    put_names(b, section, "plugged", judgement->plugged_count, judgement->plugged);
    put_others(b, section);
    pp_json_real(b, section, "pitch", measures->pitch);
    pp_json_flag(b, section, "pitch_found", measures->pitch_found);
}

void pp_json_holes(pp_json_builder *b, json_t *root)
{
    if (!b->results->measures) return;
    json_t *section = pp_json_object(b, root, "holes");
    put_matching(b, section);
    put_alignment(b, section);
    put_sample(b, section);
    put_position(b, section);
    put_pattern(b, section);
    put_diameter(b, section);
    put_ligament(b, section);
    put_edge(b, section);
    put_drift(b, section);
    put_pairs(b, section);
    put_checks(b, section);
    put_placement(b, section);
    put_diagnosis(b, section);
    put_promise(b, section);
    put_rework(b, section);
    pp_json_work(b, section);
}

/* Which hole, or holes, or bores, the finding is about (pp_subject_kind says what its indices
 * mean). */
static void put_subject(pp_json_builder *b, json_t *object, const pp_finding *finding)
{
    const pp_measures *measures = b->results->measures;
    switch (pp_characteristic_of(finding->characteristic)->subject) {
    case PP_OF_PLATE:
        return;
    case PP_OF_STRAIGHTEDGE:
        pp_json_real(b, object, "length",
                     b->results->flatness->straightedge[finding->subject].length);
        return;
    case PP_OF_CHECK:
        pp_json_text(b, object, "hole",
                     pp_named_hole(measures, pp_finding_other(b->results->judgement, finding)));
        pp_json_text(b, object, "check",
                     b->results->files->checks[finding->subject].characteristic);
        return;
    case PP_OF_BORE:
        pp_json_text(b, object, "hole", pp_bore_name(measures, finding->subject));
        break;
    case PP_OF_TWO_BORES:
        pp_json_text(b, object, "hole", pp_bore_name(measures, finding->subject));
        pp_json_text(b, object, "other",
                     pp_bore_name(measures, pp_finding_other(b->results->judgement, finding)));
        break;
    case PP_OF_TWO_HOLES:
        pp_json_text(b, object, "hole", pp_named_hole(measures, finding->subject));
        pp_json_text(b, object, "other",
                     pp_named_hole(measures, pp_finding_other(b->results->judgement, finding)));
        break;
    case PP_OF_HOLE:
    case PP_OF_FACE:
        pp_json_text(b, object, "hole", pp_named_hole(measures, finding->subject));
        break;
    }
    pp_json_text(b, object, "face", pp_named_face(finding->face));
}

static void put_exception(pp_json_builder *b, json_t *array, const pp_finding *finding)
{
    const pp_judgement *judgement = b->results->judgement;
    pp_characteristic which = finding->characteristic;
    json_t *object = pp_json_append_object(b, array);
    pp_json_text(b, object, "characteristic", pp_characteristic_words(which));
    put_subject(b, object, finding);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"value", finding->value},
                                 {"lower", pp_finding_lower(judgement, finding)},
                                 {"upper", pp_finding_upper(judgement, finding)},
                                 {"u", pp_named_uncertainty(pp_finding_u(judgement, finding))}));
    pp_json_text(b, object, "class", pp_class_words(which, finding->class_));
    pp_json_text(b, object, "verdict", pp_verdict_words(pp_exception_verdict(judgement, finding)));
}

void pp_json_exceptions(pp_json_builder *b, json_t *root)
{
    const pp_judgement *judgement = b->results->judgement;
    size_t listed = judgement->exception_count;
    if (listed > EXCEPTIONS_LISTED) listed = EXCEPTIONS_LISTED;
    json_t *object = pp_json_object(b, root, "exceptions");
    pp_json_count(b, object, "count", judgement->exception_count);
    json_t *array = pp_json_array(b, object, "worst");
    for (size_t i = 0; i < listed; i++)
        put_exception(b, array, &judgement->findings[judgement->exceptions[i]]);
}
