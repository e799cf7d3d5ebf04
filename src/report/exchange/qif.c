#include "report/exchange/qif.h"

#include <math.h>
#include <string.h>

#include "answer/inputs.h"
#include "answer/machine_names.h"
#include "base/number.h"
#include "plateproof/version.h"
#include "report/page/markup.h"

/* One definition and nominal: items of a characteristic share theirs; a hole of kind other has its
 * own. */
typedef struct shared_definition {
    pp_characteristic which;
    uint32_t hole; /* of kind other; PP_NONE: all tube holes */
    double lower, upper, target;
} shared_definition;

typedef struct item {
    uint32_t finding;
    uint32_t definition; /* index */
} item;

typedef struct writer {
    const pp_results *results;
    pp_text *out;
    pp_memory *memory;
    size_t definition_count, item_count;
    shared_definition *definitions;
    item *items;
    uint32_t common[PP_CHARACTERISTICS]; /* definition of its tube holes; PP_NONE: none yet */
    bool shortened;                      /* not every item is listed */
} writer;

/* What is listed, and as what. */
typedef struct kind {
    pp_characteristic which;
    const char *element;     /* without its ending: "PositionCharacteristic" */
    bool zone;               /* its definition is a zone, not limits */
    const char *of_tubes;    /* said of the definition that tube holes share; NULL: nothing */
    const char *at_best_fit; /* said where the pattern was aligned on itself; NULL: nothing */
} kind;

static const kind LISTED[] = {
    {PP_FLATNESS, "FlatnessCharacteristic", true, "As laid, at the surveyed points.", NULL},
    {PP_POSITION, "PositionCharacteristic", true, NULL,
     "The pattern against itself (best fit); its place on the plate is not judged."},
    {PP_DIAMETER, "DiameterCharacteristic", false,
     "Outer limits of a count rule: the share allowed beyond the inner limits is judged in "
     "results.json.",
     NULL},
    {PP_LIGAMENT, "DistanceBetweenCharacteristic", false,
     "Metal between two neighbouring holes. Outer limit of a count rule: the share allowed below "
     "the standard ligament is judged in results.json.",
     NULL},
};
enum { LISTED_COUNT = sizeof LISTED / sizeof LISTED[0] };

static const kind *kind_of(int which)
{
    size_t k = 0;
    while ((int)LISTED[k].which != which) k++;
    return &LISTED[k];
}

static const char *element(int which) { return kind_of(which)->element; }

enum { STANDARD_ID = 1, RESULTS_ID = 2, FIRST_DEFINITION_ID = 3 };

static size_t definition_id(size_t i) { return FIRST_DEFINITION_ID + i; }
static size_t nominal_id(const writer *w, size_t i)
{
    return definition_id(w->definition_count) + i;
}
static size_t item_id(const writer *w, size_t i) { return nominal_id(w, w->definition_count) + i; }
static size_t measurement_id(const writer *w, size_t i) { return item_id(w, w->item_count) + i; }

/* ---- text ---- */

/* xs:decimal: 15 significant digits, no exponent. */
static void add_decimal(pp_text *out, double value)
{
    char digits[PP_NUMBER_TEXT_MAX];
    int decimals = value == 0 ? 0 : 14 - (int)floor(log10(fabs(value)));
    if (decimals < 0) decimals = 0;
    if (decimals > 17) decimals = 17;
    size_t length = pp_number_write_fixed(digits, value, decimals);
    if (decimals > 0)
        while (length > 1 && digits[length - 1] == '0') length--;
    if (length && digits[length - 1] == '.') length--;
    pp_text_add_bytes(out, digits, length);
}

static void add_decimal_element(pp_text *out, const char *name, double value)
{
    pp_text_print(out, "<%s>", name);
    add_decimal(out, value);
    pp_text_print(out, "</%s>", name);
}

/* XML 1.0 has no U+FFFE and U+FFFF; control characters are dropped by the markup. */
static void add_xml(pp_text *out, const char *text)
{
    size_t start = out->length;
    pp_markup_add(out, text);
    if (out->failed) return;
    for (size_t i = start; i + 2 < out->length; i++) {
        const unsigned char *at = (const unsigned char *)out->data + i;
        if (at[0] == 0xef && at[1] == 0xbf && at[2] >= 0xbe) memcpy(out->data + i, "???", 3);
    }
}

static void add_text_element(pp_text *out, const char *name, const char *text)
{
    if (!text || !text[0]) return;
    pp_text_print(out, "<%s>", name);
    add_xml(out, text);
    pp_text_print(out, "</%s>\n", name);
}

/* An identifier of the 8th kind (RFC 9562): 122 bits of the hash of `what` and the inputs. */
static void add_uuid(pp_text *out, const pp_results *results, const char *what)
{
    pp_text all = {0};
    char hash[65];
    pp_text_print(&all, "plateproof %s %s %s\n", pp_version(),
                  results->command ? results->command : "", what);
    for (size_t i = 0; i < results->input_count; i++)
        pp_text_print(&all, "%s %s\n", results->inputs[i].role, results->inputs[i].sha256);
    if (all.failed) out->failed = true;
    pp_hash_bytes(all.data, all.length, hash);
    pp_text_free(&all);
    hash[12] = '8';
    hash[16] = "89ab"[hash[16] & 3];
    pp_text_print(out, "%.8s-%.4s-%.4s-%.4s-%.12s", hash, hash + 8, hash + 12, hash + 16,
                  hash + 20);
}

/* ---- what is listed ---- */

static bool is_judged(const pp_finding *finding)
{
    return finding->verdict != PP_NOT_JUDGED && isfinite(finding->value);
}

static size_t count_judged(const pp_judgement *j)
{
    size_t count = 0;
    for (int c = 0; c < LISTED_COUNT; c++)
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            count += is_judged(&j->findings[i]);
    return count;
}

bool pp_qif_has_content(const pp_results *results)
{
    const pp_judgement *j = results->judgement;
    for (int c = 0; c < LISTED_COUNT; c++)
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            if (is_judged(&j->findings[i])) return true;
    return false;
}

static bool is_other(const pp_results *results, const pp_finding *finding)
{
    return finding->characteristic == PP_DIAMETER &&
           results->measures->nominal->kind[finding->subject] == PP_OTHER_HOLE;
}

static double target_of(const pp_results *results, const pp_finding *finding)
{
    if (finding->characteristic == PP_LIGAMENT) return results->limits->ligament_nominal;
    if (finding->characteristic != PP_DIAMETER) return NAN;
    if (!is_other(results, finding)) return results->limits->hole_nominal.value;
    const double *own = results->measures->nominal->diameter;
    return own ? own[finding->subject] : NAN;
}

static uint32_t add_shared(writer *w, const pp_finding *finding, uint32_t hole)
{
    const pp_results *r = w->results;
    pp_characteristic which = finding->characteristic;
    shared_definition *d = &w->definitions[w->definition_count];
    *d = (shared_definition){.which = which,
                             .hole = hole,
                             .lower = pp_finding_lower(r->judgement, finding),
                             .upper = pp_finding_upper(r->judgement, finding),
                             .target = target_of(r, finding)};
    if (which == PP_POSITION) d->upper = r->limits->position_limit.value; /* without bonus */
    return (uint32_t)w->definition_count++;
}

/* The definition of this finding. The faces of a hole of kind other follow each other. */
static uint32_t define(writer *w, const pp_finding *finding)
{
    if (is_other(w->results, finding)) {
        size_t last = w->definition_count;
        if (last && w->definitions[last - 1].hole == finding->subject) return (uint32_t)last - 1;
        return add_shared(w, finding, finding->subject);
    }
    uint32_t *common = &w->common[finding->characteristic];
    if (*common == PP_NONE) *common = add_shared(w, finding, PP_NONE);
    return *common;
}

static size_t worst_of(const writer *w, pp_characteristic which)
{
    const pp_judgement *j = w->results->judgement;
    size_t worst = j->first[which];
    double most = -INFINITY;
    for (size_t i = j->first[which]; i < j->first[which + 1]; i++) {
        const pp_finding *f = &j->findings[i];
        if (!is_judged(f)) continue;
        double excess = pp_finding_excess(j, f);
        if (excess > most) most = excess, worst = i;
    }
    return worst;
}

static bool is_listed(const writer *w, size_t finding, size_t worst)
{
    const pp_finding *f = &w->results->judgement->findings[finding];
    return is_judged(f) && (!w->shortened || finding == worst || f->verdict != PP_CONFORMS);
}

static pp_status list_items(writer *w, pp_error *error)
{
    const pp_judgement *j = w->results->judgement;
    size_t worst[LISTED_COUNT] = {0}, listed = 0;
    w->shortened = count_judged(j) > PP_QIF_ITEMS_MAX;
    for (int c = 0; c < PP_CHARACTERISTICS; c++) w->common[c] = PP_NONE;
    for (int c = 0; c < LISTED_COUNT; c++) {
        if (w->shortened) worst[c] = worst_of(w, LISTED[c].which);
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            listed += is_listed(w, i, worst[c]);
    }
    PP_TAKE(w->items, &w->memory->keep, listed);
    PP_TAKE(w->definitions, &w->memory->keep, LISTED_COUNT + j->others_count);
    for (int c = 0; c < LISTED_COUNT; c++)
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            if (is_listed(w, i, worst[c]))
                w->items[w->item_count++] = (item){(uint32_t)i, define(w, &j->findings[i])};
    return PP_OK;
}

/* ---- definitions, nominals, items ---- */

static const char *explanation(const writer *w, const shared_definition *d)
{
    const kind *k = kind_of(d->which);
    const pp_measures *m = w->results->measures;
    if (k->at_best_fit && m->alignment.kind == PP_ALIGN_BEST_FIT) return k->at_best_fit;
    return d->hole == PP_NONE ? k->of_tubes : NULL;
}

static void add_tolerance(pp_text *out, const shared_definition *d)
{
    pp_text_add(out, "<Tolerance>");
    if (pp_given(d->upper)) add_decimal_element(out, "MaxValue", d->upper);
    if (pp_given(d->lower)) add_decimal_element(out, "MinValue", d->lower);
    pp_text_add(out, "<DefinedAsLimit>true</DefinedAsLimit></Tolerance>");
}

static void add_definition(writer *w, size_t i)
{
    const shared_definition *d = &w->definitions[i];
    pp_text *out = w->out;
    bool maximum = w->results->job->holes.material_condition == PP_MAXIMUM_MATERIAL;
    pp_text_print(out, "<%sDefinition id=\"%zu\">", element(d->which), definition_id(i));
    add_text_element(out, "Description", explanation(w, d));
    if (kind_of(d->which)->zone)
        add_decimal_element(out, "ToleranceValue", d->upper);
    else
        add_tolerance(out, d);
    if (d->which == PP_POSITION)
        pp_text_print(out,
                      "<MaterialCondition>%s</MaterialCondition>"
                      "<ZoneShape><DiametricalZone/></ZoneShape>",
                      maximum ? "MAXIMUM" : "REGARDLESS");
    pp_text_print(out, "</%sDefinition>\n", element(d->which));
}

static void add_nominal(writer *w, size_t i)
{
    const shared_definition *d = &w->definitions[i];
    pp_text *out = w->out;
    pp_text_print(out,
                  "<%sNominal id=\"%zu\"><CharacteristicDefinitionId>%zu"
                  "</CharacteristicDefinitionId>",
                  element(d->which), nominal_id(w, i), definition_id(i));
    if (!kind_of(d->which)->zone) {
        /* the schema asks for a target: a limit where no nominal was given */
        double target = d->target;
        if (!pp_given(target)) target = pp_given(d->lower) ? d->lower : d->upper;
        add_decimal_element(out, "TargetValue", target);
    }
    if (d->which == PP_LIGAMENT) pp_text_add(out, "<AnalysisMode>TWODIMENSIONAL</AnalysisMode>");
    pp_text_print(out, "</%sNominal>\n", element(d->which));
}

static void add_item_name(writer *w, const pp_finding *f)
{
    const char *const *name =
        f->characteristic == PP_FLATNESS ? NULL : w->results->measures->nominal->name;
    pp_text_add(w->out, "<Name>");
    if (f->characteristic == PP_LIGAMENT) {
        add_xml(w->out, name[f->subject]);
        pp_text_add(w->out, " - ");
        add_xml(w->out, name[f->other]);
    } else if (name) {
        add_xml(w->out, name[f->subject]);
    }
    if (name) pp_text_print(w->out, " %s ", pp_named_face(f->face));
    pp_text_print(w->out, "%s</Name>", pp_characteristic_words(f->characteristic));
}

static void add_item(writer *w, size_t i)
{
    const pp_finding *f = &w->results->judgement->findings[w->items[i].finding];
    const char *name = element(f->characteristic);
    pp_text_print(w->out, "<%sItem id=\"%zu\">", name, item_id(w, i));
    add_item_name(w, f);
    pp_text_print(w->out, "<CharacteristicNominalId>%zu</CharacteristicNominalId></%sItem>\n",
                  nominal_id(w, w->items[i].definition), name);
}

static void add_characteristics(writer *w)
{
    pp_text *out = w->out;
    pp_text_print(out, "<Characteristics>\n<FormalStandardId>%d</FormalStandardId>\n", STANDARD_ID);
    pp_text_print(out, "<CharacteristicDefinitions n=\"%zu\">\n", w->definition_count);
    for (size_t i = 0; i < w->definition_count; i++) add_definition(w, i);
    pp_text_print(out, "</CharacteristicDefinitions>\n<CharacteristicNominals n=\"%zu\">\n",
                  w->definition_count);
    for (size_t i = 0; i < w->definition_count; i++) add_nominal(w, i);
    pp_text_print(out, "</CharacteristicNominals>\n<CharacteristicItems n=\"%zu\">\n",
                  w->item_count);
    for (size_t i = 0; i < w->item_count; i++) add_item(w, i);
    pp_text_add(out, "</CharacteristicItems>\n</Characteristics>\n");
}

/* ---- measurements ---- */

static const char *status_words(uint8_t verdict)
{
    return verdict == PP_CONFORMS           ? "PASS"
           : verdict == PP_DOES_NOT_CONFORM ? "FAIL"
           : verdict == PP_NOT_PROVEN       ? "INDETERMINATE"
                                            : "NOT_ANALYZED";
}

static void add_value(pp_text *out, const pp_finding *f)
{
    double u = pp_named_uncertainty(f->u);
    pp_text_add(out, "<Value");
    if (isfinite(u)) {
        pp_text_add(out, " combinedUncertainty=\"");
        add_decimal(out, u);
        pp_text_add(out, "\" meanError=\"0\"");
    }
    pp_text_add(out, ">");
    add_decimal(out, f->value);
    pp_text_add(out, "</Value>");
}

static void add_measurement(writer *w, size_t i)
{
    const pp_judgement *j = w->results->judgement;
    const pp_finding *f = &j->findings[w->items[i].finding];
    const shared_definition *d = &w->definitions[w->items[i].definition];
    const char *name = element(f->characteristic);
    bool on_zone = w->results->job->survey.flatness_zone == PP_ZONE_MINIMUM;
    pp_text_print(w->out,
                  "<%sMeasurement id=\"%zu\"><Status><CharacteristicStatusEnum>%s"
                  "</CharacteristicStatusEnum></Status>"
                  "<CharacteristicItemId>%zu</CharacteristicItemId>",
                  name, measurement_id(w, i), status_words(f->verdict), item_id(w, i));
    if (f->characteristic == PP_FLATNESS)
        pp_text_print(w->out,
                      "<SubstituteFeatureAlgorithm><SubstituteFeatureAlgorithmEnum>%s"
                      "</SubstituteFeatureAlgorithmEnum></SubstituteFeatureAlgorithm>",
                      on_zone ? "MINMAX" : "LEASTSQUARES");
    add_value(w->out, f);
    double bonus = f->characteristic == PP_POSITION ? pp_finding_upper(j, f) - d->upper : 0;
    if (bonus > 0) add_decimal_element(w->out, "Bonus", bonus);
    pp_text_print(w->out, "</%sMeasurement>\n", name);
}

static const char *inspection_status(pp_verdict verdict)
{
    return verdict == PP_CONFORMS           ? "PASS"
           : verdict == PP_DOES_NOT_CONFORM ? "FAIL"
           : verdict == PP_NOT_PROVEN       ? "UNKNOWN"
                                            : "NOT_CALCULATED";
}

static void add_traceability(writer *w)
{
    const pp_job *job = w->results->job;
    if (!job->order && !job->report_number && !job->inspector) return;
    pp_text_add(w->out, "<InspectionTraceability>\n");
    add_text_element(w->out, "PurchaseOrderNumber", job->order);
    add_text_element(w->out, "ReportNumber", job->report_number);
    if (job->inspector) {
        pp_text_add(w->out, "<InspectionOperator>");
        add_text_element(w->out, "Name", job->inspector);
        pp_text_add(w->out, "</InspectionOperator>\n");
    }
    pp_text_add(w->out, "</InspectionTraceability>\n");
}

static void add_results(writer *w)
{
    pp_text *out = w->out;
    pp_text_print(out,
                  "<Results>\n<MeasurementResultsSet n=\"1\">\n<MeasurementResults id=\"%d\">\n",
                  RESULTS_ID);
    add_traceability(w);
    pp_text_add(out, "<ThisResultsInstanceQPId>");
    add_uuid(out, w->results, "results");
    pp_text_print(out,
                  "</ThisResultsInstanceQPId>\n<MeasuredCharacteristics>\n"
                  "<CharacteristicMeasurements n=\"%zu\">\n",
                  w->item_count);
    for (size_t i = 0; i < w->item_count; i++) add_measurement(w, i);
    pp_text_print(out,
                  "</CharacteristicMeasurements>\n</MeasuredCharacteristics>\n"
                  "<InspectionStatus><InspectionStatusEnum>%s</InspectionStatusEnum>"
                  "</InspectionStatus>\n</MeasurementResults>\n</MeasurementResultsSet>\n"
                  "</Results>\n",
                  inspection_status(w->results->judgement->verdict));
}

/* ---- document ---- */

static void add_description(writer *w)
{
    const pp_judgement *j = w->results->judgement;
    const pp_job *job = w->results->job;
    const char *parts[] = {job->title,      job->plate_id,         job->plate_role,
                           job->drawing,    job->drawing_revision, job->serial,
                           job->heat_number};
    const char *labels[] = {"", "plate ", "", "drawing ", "revision ", "serial ", "heat "};
    pp_text_add(w->out, "<Description>");
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (!parts[i]) continue;
        pp_text_add(w->out, labels[i]);
        add_xml(w->out, parts[i]);
        pp_text_add(w->out, ". ");
    }
    pp_text_print(w->out, "Verdict: %s. Basis: ", pp_verdict_words(j->verdict));
    add_xml(w->out, j->basis);
    pp_text_add(w->out, ". Decision rule: ");
    add_xml(w->out, j->decision_rule);
    pp_text_add(w->out, ".");
    if (w->shortened)
        pp_text_print(w->out,
                      " More than %d items: only those that fail or are not proven are listed, and "
                      "the worst of each characteristic; the tables of the report hold all.",
                      PP_QIF_ITEMS_MAX);
    pp_text_add(w->out, "</Description>\n");
}

static void add_document(writer *w)
{
    pp_text *out = w->out;
    size_t last = measurement_id(w, w->item_count) - 1;
    pp_text_print(out,
                  "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                  "<QIFDocument xmlns=\"http://qifstandards.org/xsd/qif3\" "
                  "versionQIF=\"3.0.0\" idMax=\"%zu\">\n<QPId>",
                  last);
    add_uuid(out, w->results, "document");
    pp_text_print(out, "</QPId>\n<Header>\n<Application><Name>plateproof %s</Name></Application>\n",
                  pp_version());
    add_description(w);
    pp_text_print(out,
                  "</Header>\n<StandardsDefinitions n=\"1\"><Standard id=\"%d\"><Organization>"
                  "<StandardsOrganizationEnum>ISO</StandardsOrganizationEnum></Organization>"
                  "<Designator>1101</Designator><Year>2017</Year></Standard>"
                  "</StandardsDefinitions>\n",
                  STANDARD_ID);
    pp_text_add(out, "<FileUnits><PrimaryUnits><LinearUnit><SIUnitName>meter</SIUnitName>"
                     "<UnitName>mm</UnitName><UnitConversion><Factor>0.001</Factor>"
                     "</UnitConversion></LinearUnit></PrimaryUnits></FileUnits>\n");
    add_characteristics(w);
    add_results(w);
    pp_text_add(out, "</QIFDocument>\n");
}

pp_status pp_qif_write(const pp_results *results, pp_memory *memory, pp_text *text, pp_error *error)
{
    writer w = {.results = results, .out = text, .memory = memory};
    PP_TRY(list_items(&w, error));
    add_document(&w);
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
