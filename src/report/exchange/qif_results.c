/* What was measured: circles, values with their status, the plate that it was. */
#include <math.h>

#include "answer/machine_names.h"
#include "report/exchange/qif_parts.h"
#include "rules/decide.h"

#define COVERAGE_FACTOR 2 /* of every expanded uncertainty of the program */

/* ---- status ---- */

static const char *status_words(uint8_t verdict)
{
    return verdict == PP_CONFORMS           ? "PASS"
           : verdict == PP_DOES_NOT_CONFORM ? "FAIL"
           : verdict == PP_NOT_PROVEN       ? "INDETERMINATE"
                                            : "NOT_ANALYZED";
}

static void add_status(pp_qif_writer *w, uint8_t verdict)
{
    pp_qif_add(w, "<Status><CharacteristicStatusEnum>");
    pp_qif_add(w, status_words(verdict));
    pp_qif_add(w, "</CharacteristicStatusEnum></Status>");
}

static const char *inspection_status(pp_verdict verdict)
{
    return verdict == PP_CONFORMS           ? "PASS"
           : verdict == PP_DOES_NOT_CONFORM ? "FAIL"
           : verdict == PP_NOT_PROVEN       ? "UNKNOWN"
                                            : "NOT_CALCULATED";
}

/* ---- values ---- */

typedef struct reading {
    bool plugged, gauged;
    double u, bias; /* u NaN: none was given */
    const pp_bore *bore;
} reading;

static reading reading_of(const pp_qif_writer *w, const pp_finding *f)
{
    const pp_measures *m = w->results->measures;
    reading r = {.u = pp_named_uncertainty(pp_finding_u(w->results->judgement, f))};
    if (!pp_qif_is_of_face(f->characteristic)) return r;
    uint32_t bore = m->bore_of[f->face][f->subject];
    r.plugged = m->plugged[f->subject];
    if (bore == PP_NONE) return r;
    r.bore = &m->bores[bore];
    r.gauged = f->characteristic == PP_DIAMETER && r.bore->gauged;
    if (f->characteristic == PP_POSITION) r.bias = pp_position_error_of(m, bore).bias;
    if (f->characteristic == PP_PATTERN_POSITION) r.bias = pp_bore_error_of(m, bore).position.bias;
    return r;
}

static const char *gauge_words(int8_t result)
{
    return result < 0 ? "not tried" : result ? "goes" : "does not go";
}

static void add_attributes(pp_qif_writer *w, const pp_finding *f, const reading *r)
{
    static const char *const STANDARD[] = {"not known", "yes", "no"};
    if (r->plugged) {
        pp_qif_add(w, "<Description>plugged</Description>");
    } else if (r->gauged) {
        pp_qif_begin_list(w, "Attributes", 4);
        pp_qif_attribute(w, "gaugeGo", gauge_words(r->bore->go));
        pp_qif_attribute(w, "gaugeNoGo", gauge_words(r->bore->no_go));
        pp_qif_attribute(w, "gaugeNoGoOutermost", gauge_words(r->bore->no_go_max));
        pp_qif_attribute(w, "withinStandard", STANDARD[f->proven_standard]);
        pp_qif_add(w, "</Attributes>");
    } else if (isfinite(r->u)) {
        pp_qif_begin_list(w, "Attributes", 1);
        pp_qif_attribute_number(w, "expandedUncertainty (k = 2)", COVERAGE_FACTOR * r->u);
        pp_qif_add(w, "</Attributes>");
    }
}

/* Over all readings of the bore: the value is the one that decides. */
static void add_range(pp_qif_writer *w, const pp_finding *f, const reading *r)
{
    if (f->characteristic != PP_DIAMETER || !r->bore) return;
    if (!(r->bore->diameter_max > r->bore->diameter_min)) return;
    pp_qif_decimal_element(w, "MaxValue", r->bore->diameter_max);
    pp_qif_decimal_element(w, "MinValue", r->bore->diameter_min);
}

static void add_value(pp_qif_writer *w, const pp_finding *f, const reading *r, double upper)
{
    const pp_judgement *j = w->results->judgement;
    if (r->plugged || r->gauged || !isfinite(f->value)) return;
    pp_qif_measured(w, "Value", f->value, r->u, r->bias);
    add_range(w, f, r);
    bool zone = pp_qif_is_of_face(f->characteristic) && pp_qif_is_zone(f->characteristic);
    double bonus = zone ? pp_finding_upper(j, f) - upper : 0;
    if (bonus > 0) pp_qif_decimal_element(w, "Bonus", bonus);
}

static void add_measurement(pp_qif_writer *w, size_t i)
{
    const pp_finding *f = &w->results->judgement->findings[w->items[i].finding];
    const char *element = pp_qif_element(f->characteristic);
    bool on_zone = w->results->job->survey.flatness_zone == PP_ZONE_MINIMUM;
    reading r = reading_of(w, f);
    pp_qif_begin(w, element, "Measurement", w->first_measurement + i);
    add_attributes(w, f, &r);
    if (r.plugged)
        pp_qif_add(w, "<Status><OtherCharacteristicStatus>NOT_MEASURED"
                      "</OtherCharacteristicStatus></Status>");
    else
        add_status(w, f->verdict);
    pp_qif_count_element(w, "CharacteristicItemId", w->first_item + i);
    if (f->characteristic == PP_FLATNESS) {
        pp_qif_add(w, "<SubstituteFeatureAlgorithm><SubstituteFeatureAlgorithmEnum>");
        pp_qif_add(w, on_zone ? "MINMAX" : "LEASTSQUARES");
        pp_qif_add(w, "</SubstituteFeatureAlgorithmEnum></SubstituteFeatureAlgorithm>");
    }
    add_value(w, f, &r, w->definitions[w->items[i].definition].upper);
    pp_qif_end(w, element, "Measurement");
}

/* In the outermost limits but not the standard ones, as a share of all that count. */
static void add_share(pp_qif_writer *w, const pp_qif_share *s)
{
    const pp_count_rule *rule = s->rule;
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Measurement",
                 s->id + PP_QIF_SHARE_MEASUREMENT);
    pp_qif_begin_list(w, "Attributes", 5);
    pp_qif_attribute_count(w, "counted", rule->denominator);
    pp_qif_attribute_count(w, "withinStandard", rule->in);
    pp_qif_attribute_count(w, "between", rule->remainder);
    pp_qif_attribute_count(w, "betweenAllowed", rule->remainder_allowed);
    pp_qif_attribute_count(w, "beyondOutermost", rule->out + rule->under);
    pp_qif_end_list(w, "Attributes");
    add_status(w, (uint8_t)rule->share);
    pp_qif_count_element(w, "CharacteristicItemId", s->id + PP_QIF_SHARE_ITEM);
    pp_qif_add(w, "<Value unitName=\"share\">");
    pp_qif_decimal(w, (double)rule->remainder / (double)rule->denominator);
    pp_qif_add(w, "</Value>");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Measurement");
}

static void add_extra(pp_qif_writer *w)
{
    if (!w->extra) return;
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Measurement",
                 w->first_extra + PP_QIF_EXTRA_MEASUREMENT);
    add_status(w, (uint8_t)w->results->judgement->section[PP_EXTRA_HOLE].verdict);
    pp_qif_count_element(w, "CharacteristicItemId", w->first_extra + PP_QIF_EXTRA_ITEM);
    pp_qif_add(w, "<Value unitName=\"hole\">");
    pp_qif_count(w, w->results->measures->extra_count);
    pp_qif_add(w, "</Value>");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Measurement");
}

static void add_measurements(pp_qif_writer *w)
{
    pp_qif_add(w, "<MeasuredCharacteristics>\n");
    pp_qif_begin_list(w, "CharacteristicMeasurements", w->item_count + w->share_count + w->extra);
    for (size_t i = 0; i < w->item_count; i++) add_measurement(w, i);
    for (size_t i = 0; i < w->share_count; i++) add_share(w, &w->shares[i]);
    add_extra(w);
    pp_qif_end_list(w, "CharacteristicMeasurements");
    pp_qif_add(w, "</MeasuredCharacteristics>\n");
}

/* ---- the inspection and the plate ---- */

static void add_partial(pp_qif_writer *w)
{
    const pp_results *r = w->results;
    if (!r->measures || r->job->holes.coverage == PP_EVERY_HOLE) return;
    pp_qif_add(w, "<PartialInspection><BaselineProductNumber>");
    pp_qif_foreign(w, r->job->drawing ? r->job->drawing : "none");
    pp_qif_add(w,
               "</BaselineProductNumber><ReasonForPartialInspection>a sample, as the job says: ");
    pp_qif_foreign(w, r->judgement->basis);
    pp_qif_add(w, "</ReasonForPartialInspection></PartialInspection>");
}

static void add_operator(pp_qif_writer *w)
{
    const char *inspector = w->results->job->inspector;
    if (!inspector || !inspector[0]) return;
    pp_qif_add(w, "<InspectionOperator>");
    pp_qif_text_element(w, "Name", inspector);
    pp_qif_add(w, "</InspectionOperator>\n");
}

static void add_traceability(pp_qif_writer *w)
{
    const pp_job *job = w->results->job;
    pp_qif_add(w, "<InspectionTraceability>\n");
    pp_qif_text_element(w, "PurchaseOrderNumber", job->order);
    pp_qif_text_element(w, "ReportNumber", job->report_number);
    add_partial(w);
    pp_qif_date_element(w, "InspectionEnd", job->inspection_date);
    add_operator(w);
    pp_qif_date_element(w, "ReportPreparationDate", job->date);
    pp_qif_add(w, "</InspectionTraceability>\n");
}

/* How its numbers are to be read, for programs. */
static void add_reading_rules(pp_qif_writer *w)
{
    const pp_results *r = w->results;
    pp_qif_begin_list(w, "Attributes", r->job->customer ? 5 : 4);
    if (r->job->customer) pp_qif_attribute(w, "customer", r->job->customer);
    pp_qif_attribute(w, "decisionRule", r->judgement->decision_rule);
    pp_qif_attribute_number(w, "guardFactor", r->job->rules.decision == PP_GUARDED ? PP_GUARD : 0);
    pp_qif_attribute_number(w, "coverageFactor", COVERAGE_FACTOR);
    pp_qif_attribute(
        w, "uncertainty",
        "combinedUncertainty is the standard uncertainty; expandedUncertainty is "
        "coverageFactor times that; meanError of a position is by how much noise alone "
        "makes it longer on average");
    pp_qif_end_list(w, "Attributes");
}

static void add_plate(pp_qif_writer *w)
{
    const pp_job *job = w->results->job;
    pp_qif_add(w, "<ActualComponentSets n=\"1\"><ActualComponentSet n=\"1\">");
    pp_qif_begin(w, "ActualComponent", "", PP_QIF_COMPONENT);
    pp_qif_text_element(w, "SerialNumber", job->serial);
    pp_qif_add(w, "<Status><InspectionStatusEnum>");
    pp_qif_add(w, inspection_status(w->results->judgement->verdict));
    pp_qif_add(w, "</InspectionStatusEnum></Status>");
    if (job->heat_number && job->heat_number[0]) {
        pp_qif_add(w, "<Traceability>");
        pp_qif_text_element(w, "LotNumber", job->heat_number);
        pp_qif_add(w, "<Attributes n=\"1\">");
        pp_qif_attribute(w, "heatNumber", job->heat_number);
        pp_qif_add(w, "</Attributes></Traceability>");
    }
    pp_qif_end(w, "ActualComponent", "");
    pp_qif_add(w, "</ActualComponentSet></ActualComponentSets>\n");
}

void pp_qif_add_results(pp_qif_writer *w)
{
    pp_qif_add(w, "<Results>\n<MeasurementResultsSet n=\"1\">\n");
    pp_qif_begin(w, "MeasurementResults", "", PP_QIF_RESULTS);
    add_reading_rules(w);
    add_traceability(w);
    pp_qif_uuid(w, "ThisResultsInstanceQPId", "results");
    pp_qif_add_circles_measured(w);
    add_measurements(w);
    pp_qif_add(w, "<InspectionStatus><InspectionStatusEnum>");
    pp_qif_add(w, inspection_status(w->results->judgement->verdict));
    pp_qif_add(w, "</InspectionStatusEnum></InspectionStatus>\n");
    pp_qif_ids(w, "ActualComponentIds", PP_QIF_COMPONENT);
    pp_qif_add(w, "</MeasurementResults>\n</MeasurementResultsSet>\n");
    add_plate(w);
    pp_qif_add(w, "</Results>\n");
}
