#include "report/exchange/qif.h"

#include <math.h>

#include "answer/inputs.h"
#include "answer/left_out.h"
#include "plateproof/version.h"
#include "report/exchange/qif_parts.h"

/* What is listed, and as what. */
typedef struct kind {
    pp_characteristic which;
    const char *element; /* without its ending: "PositionCharacteristic" */
    bool zone;           /* its definition is a zone, not limits */
    bool gauged;         /* a plug gauge proves its verdict without a value */
    bool from_circles;   /* its value follows from the two circles, which are listed, too */
    size_t own_limit;    /* offset in pp_limits of the upper limit without a bonus; 0: has none */
} kind;

static const kind LISTED[] = {
    {.which = PP_FLATNESS, .element = "FlatnessCharacteristic", .zone = true},
    {.which = PP_POSITION,
     .element = "PositionCharacteristic",
     .zone = true,
     .own_limit = offsetof(pp_limits, position_limit)},
    {.which = PP_PATTERN_POSITION,
     .element = "PositionCharacteristic",
     .zone = true,
     .own_limit = offsetof(pp_limits, pattern_limit)},
    {.which = PP_DIAMETER, .element = "DiameterCharacteristic", .gauged = true},
    {.which = PP_LIGAMENT, .element = "DistanceBetweenCharacteristic", .from_circles = true},
    {.which = PP_PITCH_ERROR, .element = "UserDefinedLinearCharacteristic"},
};
enum { LISTED_COUNT = sizeof LISTED / sizeof LISTED[0] };

static const kind *kind_of(int which)
{
    size_t k = 0;
    while ((int)LISTED[k].which != which) k++;
    return &LISTED[k];
}

const char *pp_qif_element(int which) { return kind_of(which)->element; }
bool pp_qif_is_zone(int which) { return kind_of(which)->zone; }
bool pp_qif_is_pair(int which) { return pp_characteristic_of(which)->subject == PP_OF_TWO_HOLES; }
bool pp_qif_is_of_face(int which) { return pp_characteristic_of(which)->subject == PP_OF_FACE; }
size_t pp_qif_definitions_id(const pp_qif_writer *w, size_t definition)
{
    return w->first_definition + definition;
}

/* ---- which items ---- */

static bool is_plugged(const pp_results *r, const pp_finding *f)
{
    return pp_qif_is_of_face(f->characteristic) && r->measures->plugged[f->subject];
}

static bool is_judged(const pp_finding *finding)
{
    return finding->verdict != PP_NOT_JUDGED &&
           (isfinite(finding->value) || kind_of(finding->characteristic)->gauged);
}

/* A ligament that is proven to keep what it must, the standard limit too where a share of them
 * may miss it: its width follows from the two circles. */
static bool follows_from_circles(const pp_judgement *j, const pp_finding *f)
{
    if (!kind_of(f->characteristic)->from_circles || f->verdict != PP_CONFORMS) return false;
    const pp_count_rule *rule = pp_count_rule_of(j, f->characteristic);
    return f->proven_standard == 1 || !rule || rule->share == PP_NOT_JUDGED;
}

/* How many there are to list, a long list not shortened. */
static size_t count_judged(const pp_qif_writer *w)
{
    const pp_judgement *j = w->results->judgement;
    size_t count = 0;
    for (int c = 0; c < LISTED_COUNT; c++)
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            count += is_judged(&j->findings[i]) &&
                     (w->whole || !follows_from_circles(j, &j->findings[i]));
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

static size_t worst_of(const pp_qif_writer *w, pp_characteristic which)
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

static bool is_listed(const pp_qif_writer *w, size_t finding, size_t worst)
{
    const pp_finding *f = &w->results->judgement->findings[finding];
    if (is_plugged(w->results, f)) return true;
    if (!is_judged(f) || finding == worst) return is_judged(f);
    if (!w->whole && follows_from_circles(w->results->judgement, f)) return false;
    return !w->shortened || f->verdict != PP_CONFORMS;
}

/* ---- their definitions ---- */

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

static uint32_t add_definition(pp_qif_writer *w, const pp_finding *finding, uint32_t hole)
{
    const pp_results *r = w->results;
    pp_characteristic which = finding->characteristic;
    pp_qif_definition *d = &w->definitions[w->definition_count];
    *d = (pp_qif_definition){.which = which,
                             .hole = hole,
                             .lower = pp_finding_lower(r->judgement, finding),
                             .upper = pp_finding_upper(r->judgement, finding),
                             .target = target_of(r, finding)};
    size_t own = kind_of((int)which)->own_limit;
    if (own) d->upper = ((const pp_limit *)(const void *)((const char *)r->limits + own))->value;
    return (uint32_t)w->definition_count++;
}

/* The definition of this finding. The faces of a hole of kind other follow each other. */
static uint32_t define(pp_qif_writer *w, const pp_finding *finding)
{
    if (is_other(w->results, finding)) {
        size_t last = w->definition_count;
        if (last && w->definitions[last - 1].hole == finding->subject) return (uint32_t)last - 1;
        return add_definition(w, finding, finding->subject);
    }
    uint32_t *common = &w->common[finding->characteristic];
    if (*common == PP_NONE) *common = add_definition(w, finding, PP_NONE);
    return *common;
}

static pp_status list_items(pp_qif_writer *w, pp_error *error)
{
    const pp_judgement *j = w->results->judgement;
    size_t worst[LISTED_COUNT] = {0}, listed = 0;
    w->shortened = !w->whole && count_judged(w) > PP_QIF_ITEMS_MAX;
    w->thinned = !w->whole && j->first[PP_LIGAMENT + 1] > j->first[PP_LIGAMENT];
    for (int c = 0; c < PP_CHARACTERISTICS; c++) w->common[c] = PP_NONE;
    for (int c = 0; c < LISTED_COUNT; c++) {
        worst[c] = w->shortened || (w->thinned && LISTED[c].which == PP_LIGAMENT)
                       ? worst_of(w, LISTED[c].which)
                       : SIZE_MAX;
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            listed += is_listed(w, i, worst[c]);
    }
    PP_TAKE(w->items, &w->memory->keep, listed);
    PP_TAKE(w->definitions, &w->memory->keep, LISTED_COUNT + j->others_count);
    for (int c = 0; c < LISTED_COUNT; c++)
        for (size_t i = j->first[LISTED[c].which]; i < j->first[LISTED[c].which + 1]; i++)
            if (is_listed(w, i, worst[c]))
                w->items[w->item_count++] = (pp_qif_item){(uint32_t)i, define(w, &j->findings[i])};
    return PP_OK;
}

/* ---- which features ---- */

/* A circle's definition needs its diameter. */
static double circle_of(const pp_results *r, size_t hole)
{
    const pp_nominal *nominal = r->measures->nominal;
    if (nominal->kind[hole] == PP_TUBE_HOLE) return pp_limits_drilled(r->limits, r->job);
    return nominal->diameter ? nominal->diameter[hole] : NAN;
}

static void need(pp_qif_writer *w, uint32_t hole, uint8_t face)
{
    const pp_measures *m = w->results->measures;
    uint32_t bore = m->bore_of[face][hole];
    if (w->nominal_of[hole] != PP_NONE && bore != PP_NONE && bore < m->extra_first)
        w->feature_of[bore] = 0;
}

/* Of a shortened list only the circles that its items are about, and of every plate the extra
 * holes. */
static void choose_bores(pp_qif_writer *w)
{
    const pp_judgement *j = w->results->judgement;
    for (size_t i = 0; w->shortened && i < w->item_count; i++) {
        const pp_finding *f = &j->findings[w->items[i].finding];
        if (pp_is_of_plate(f->characteristic)) continue;
        need(w, f->subject, f->face);
        if (pp_qif_is_pair(f->characteristic)) need(w, pp_finding_other(j, f), f->face);
    }
}

static pp_status list_circles(pp_qif_writer *w, pp_error *error)
{
    const pp_measures *m = w->results->measures;
    if (!m) return PP_OK;
    size_t holes = m->nominal->count;
    PP_TAKE(w->nominal_of, &w->memory->keep, holes);
    PP_TAKE(w->feature_of, &w->memory->keep, m->bore_count);
    for (size_t h = 0; h < holes; h++)
        w->nominal_of[h] = circle_of(w->results, h) > 0 ? 0 : PP_NONE;
    for (size_t b = 0; b < m->extra_first; b++) {
        bool known = w->nominal_of[m->bores[b].hole] != PP_NONE;
        w->feature_of[b] = known && !w->shortened ? 0 : PP_NONE;
    }
    choose_bores(w);
    for (size_t h = 0; h < holes; h++) {
        bool wanted = !w->shortened;
        for (int face = 0; face < 2 && !wanted; face++) {
            uint32_t b = m->bore_of[face][h];
            wanted = b != PP_NONE && b < m->extra_first && w->feature_of[b] != PP_NONE;
        }
        if (!wanted) w->nominal_of[h] = PP_NONE;
        if (w->nominal_of[h] == PP_NONE) continue;
        w->nominal_of[h] = (uint32_t)w->nominal_count++;
        w->own_circles += m->nominal->kind[h] != PP_TUBE_HOLE;
    }
    for (size_t b = 0; b < m->extra_first; b++)
        if (w->feature_of[b] != PP_NONE) w->feature_of[b] = (uint32_t)w->feature_count++;
    w->extra_count = m->bore_count - m->extra_first;
    return PP_OK;
}

static void list_shares(pp_qif_writer *w, size_t *next)
{
    for (int c = 0; c < LISTED_COUNT; c++) {
        pp_characteristic which = LISTED[c].which;
        const pp_count_rule *rule = pp_count_rule_of(w->results->judgement, (int)which);
        if (!rule || rule->share == PP_NOT_JUDGED || rule->denominator == 0) continue;
        w->shares[w->share_count++] = (pp_qif_share){which, rule, *next};
        *next += PP_QIF_SHARE_IDS;
    }
}

static size_t take(size_t *next, size_t count)
{
    size_t first = *next;
    *next += count;
    return first;
}

static pp_status plan(pp_qif_writer *w, pp_error *error)
{
    size_t next = PP_QIF_FIRST;
    PP_TRY(list_items(w, error));
    PP_TRY(list_circles(w, error));
    w->plane = w->results->flatness != NULL;
    w->device_count = w->results->job->instrument_count;
    w->first_device = take(&next, w->device_count);
    list_shares(w, &next);
    w->extra = w->results->measures &&
               w->results->judgement->section[PP_EXTRA_HOLE].verdict != PP_NOT_JUDGED;
    if (w->extra) w->first_extra = take(&next, PP_QIF_EXTRA_IDS);
    w->first_own_circle = take(&next, w->own_circles);
    w->first_nominal_circle = take(&next, w->nominal_count);
    w->first_circle_item = take(&next, w->feature_count);
    w->first_circle_measurement = take(&next, w->feature_count + w->extra_count);
    w->first_definition = take(&next, w->definition_count);
    w->first_nominal = take(&next, w->definition_count);
    w->first_item = take(&next, w->item_count);
    w->first_measurement = take(&next, w->item_count);
    w->last = next - 1;
    return PP_OK;
}

/* ---- document ---- */

static void add_not_judged(pp_qif_writer *w)
{
    pp_text words = {0};
    pp_not_judged_words(&words, w->results);
    pp_qif_foreign(w, words.data ? words.data : "");
    w->text.failed = w->text.failed || words.failed;
    pp_text_free(&words);
}

static void add_title(pp_qif_writer *w)
{
    const pp_judgement *j = w->results->judgement;
    const pp_job *job = w->results->job;
    const char *parts[] = {job->title,      job->plate_id,         job->plate_role,
                           job->drawing,    job->drawing_revision, job->serial,
                           job->heat_number};
    const char *labels[] = {"", "plate ", "", "drawing ", "revision ", "serial ", "heat "};
    pp_qif_add(w, "<Description>");
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (!parts[i]) continue;
        pp_qif_add(w, labels[i]);
        pp_qif_foreign(w, parts[i]);
        pp_qif_add(w, ". ");
    }
    pp_qif_add(w, "Verdict: ");
    pp_qif_add(w, pp_verdict_words(j->verdict));
    pp_qif_add(w, ". Basis: ");
    pp_qif_foreign(w, j->basis);
    pp_qif_add(w, ". Decision rule: ");
    pp_qif_foreign(w, j->decision_rule);
    pp_qif_add(w, ". Not judged: ");
    add_not_judged(w);
    pp_qif_add(w, ".");
    for (size_t i = 0; i < j->term_count; i++) {
        pp_qif_add(w, " ");
        pp_qif_foreign(w, j->cautions[i]);
    }
    if (w->thinned)
        pp_qif_add(w, " Of ligaments, those that keep the standard limit are left out but for the "
                      "narrowest: they follow from the measured circles.");
    if (w->shortened) {
        pp_qif_add(w, " More than ");
        pp_qif_count(w, PP_QIF_ITEMS_MAX);
        pp_qif_add(w, " items: only those that fail or are not proven are listed, plugged holes, "
                      "and the worst of each characteristic; the tables of the report hold all.");
    }
    pp_qif_add(w, "</Description>\n");
}

/* An identifier of the 8th kind (RFC 9562): 122 bits of the hash of `what` and the inputs. */
void pp_qif_uuid(pp_qif_writer *w, const char *name, const char *what)
{
    pp_text all = {0};
    char hash[65];
    const pp_results *results = w->results;
    pp_text_print(&all, "plateproof %s %s %s\n", pp_version(),
                  results->command ? results->command : "", what);
    for (size_t i = 0; i < results->input_count; i++)
        pp_text_print(&all, "%s %s\n", results->inputs[i].role, results->inputs[i].sha256);
    if (all.failed) w->text.failed = true;
    pp_hash_bytes(all.failed ? "" : all.data, all.failed ? 0 : all.length, hash);
    pp_text_free(&all);
    hash[12] = '8';
    hash[16] = "89ab"[hash[16] & 3];
    pp_text_print(&w->text, "<%s>%.8s-%.4s-%.4s-%.4s-%.12s</%s>\n", name, hash, hash + 8, hash + 12,
                  hash + 16, hash + 20, name);
}

static void add_own_units(pp_qif_writer *w)
{
    if (!w->share_count && !w->extra) return;
    pp_qif_begin_list(w, "UserDefinedUnits", (size_t)(w->share_count > 0) + w->extra);
    if (w->share_count)
        pp_qif_add(w, "<UserDefinedUnit><WhatIsMeasured>share of the holes, or of the pairs of "
                      "neighbours</WhatIsMeasured><UnitName>share</UnitName></UserDefinedUnit>");
    if (w->extra)
        pp_qif_add(w, "<UserDefinedUnit><WhatIsMeasured>number of holes</WhatIsMeasured>"
                      "<UnitName>hole</UnitName></UserDefinedUnit>");
    pp_qif_end_list(w, "UserDefinedUnits");
}

static void add_head(pp_qif_writer *w)
{
    pp_qif_add(w, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                  "<QIFDocument xmlns=\"http://qifstandards.org/xsd/qif3\" "
                  "versionQIF=\"3.0.0\" idMax=\"");
    pp_qif_count(w, w->last);
    pp_qif_add(w, "\">\n");
    pp_qif_uuid(w, "QPId", "document");
    pp_qif_add(w, "<Header>\n<Application>");
    pp_text_print(&w->text, "<Name>plateproof %s</Name>", pp_version());
    pp_qif_add(w, "</Application>\n");
    add_title(w);
    pp_qif_add(w, "</Header>\n<StandardsDefinitions n=\"1\"><Standard id=\"");
    pp_qif_count(w, PP_QIF_STANDARD);
    pp_qif_add(w, "\"><Organization><StandardsOrganizationEnum>ISO</StandardsOrganizationEnum>"
                  "</Organization><Designator>1101</Designator><Year>2017</Year></Standard>"
                  "</StandardsDefinitions>\n"
                  "<FileUnits><PrimaryUnits><LinearUnit><SIUnitName>meter</SIUnitName>"
                  "<UnitName>mm</UnitName><UnitConversion><Factor>0.001</Factor>"
                  "</UnitConversion></LinearUnit></PrimaryUnits>");
    add_own_units(w);
    pp_qif_add(w, "</FileUnits>\n");
}

static void add_document(pp_qif_writer *w)
{
    add_head(w);
    pp_qif_add_resources(w);
    pp_qif_add_features(w);
    pp_qif_add_characteristics(w);
    pp_qif_add_results(w);
    pp_qif_add(w, "</QIFDocument>\n");
}

pp_status pp_qif_write(const pp_results *results, bool whole, pp_memory *memory,
                       const pp_sink *sink, pp_error *error)
{
    pp_qif_writer w = {
        .results = results, .whole = whole, .memory = memory, .sink = sink, .error = error};
    pp_status status = plan(&w, error);
    if (status == PP_OK) {
        add_document(&w);
        pp_qif_flush(&w, true);
        status = w.status;
    }
    pp_text_free(&w.text);
    return status;
}
