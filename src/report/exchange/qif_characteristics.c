/* Definitions with their tolerances, nominals, and the items of every hole. */
#include <stddef.h>

#include "answer/machine_names.h"
#include "base/number.h"
#include "report/exchange/qif_parts.h"

enum { LIMITS_MOST = 4 }; /* that make up one tolerance */

/* ---- where a limit comes from ---- */

/* "Hole, below nominal: job file, line 31. " */
static void add_source(pp_qif_writer *w, const pp_limit *limit)
{
    if (!pp_given(limit->value)) return;
    pp_qif_foreign(w, limit->words);
    pp_qif_add(w, ": ");
    pp_qif_foreign(w, limit->source);
    pp_qif_add(w, ". ");
}

/* What is said of a characteristic beside its tolerance. */
static const struct saying {
    const char *explanation;    /* NULL: the pattern's place, see below */
    size_t limits[LIMITS_MOST]; /* offsets in pp_limits of what makes it up; 0: no more */
} SAYINGS[PP_CHARACTERISTICS] = {
    [PP_FLATNESS] = {"As supported during the survey, at the surveyed points. ",
                     {offsetof(pp_limits, flatness_limit)}},
    [PP_POSITION] = {NULL, {offsetof(pp_limits, position_limit)}},
    [PP_PATTERN_POSITION] = {NULL, {offsetof(pp_limits, pattern_limit)}},
    [PP_DIAMETER] = {"The outermost limits of one hole. ",
                     {offsetof(pp_limits, hole_nominal), offsetof(pp_limits, hole_under),
                      offsetof(pp_limits, hole_over), offsetof(pp_limits, hole_over_limit)}},
    [PP_LIGAMENT] = {"Metal between two neighbouring holes; the outermost limit of one pair. ",
                     {offsetof(pp_limits, ligament_standard),
                      offsetof(pp_limits, ligament_minimum)}},
    [PP_PITCH_ERROR] = {"The outermost limit of one pair. ",
                        {offsetof(pp_limits, pitch_error_limit)}},
};

static void add_sources(pp_qif_writer *w, const pp_qif_definition *d)
{
    const size_t *at = SAYINGS[d->which].limits;
    for (size_t k = 0; k < LIMITS_MOST && at[k]; k++)
        add_source(w, (const pp_limit *)(const void *)((const char *)w->results->limits + at[k]));
}

static const char *explanation(const pp_qif_writer *w, const pp_qif_definition *d)
{
    if (SAYINGS[d->which].explanation) return SAYINGS[d->which].explanation;
    bool alone = w->results->measures->alignment.kind == PP_ALIGN_BEST_FIT;
    return alone ? "The pattern against itself (best fit); its place on the plate is not judged. "
                 : "";
}

static void add_description(pp_qif_writer *w, const pp_qif_definition *d)
{
    pp_qif_add(w, "<Description>");
    if (d->hole == PP_NONE) {
        pp_qif_add(w, explanation(w, d));
        add_sources(w, d);
    } else {
        pp_qif_add(w, "Limits of this hole, from the nominal list. ");
    }
    pp_qif_add(w, "</Description>");
}

/* ---- definitions ---- */

static void add_tolerance(pp_qif_writer *w, double lower, double upper)
{
    pp_qif_add(w, "<Tolerance>");
    if (pp_given(upper)) pp_qif_decimal_element(w, "MaxValue", upper);
    if (pp_given(lower)) pp_qif_decimal_element(w, "MinValue", lower);
    pp_qif_add(w, "<DefinedAsLimit>true</DefinedAsLimit></Tolerance>");
}

static void add_zone(pp_qif_writer *w, const pp_qif_definition *d)
{
    const pp_results *r = w->results;
    bool maximum = r->job->holes.material_condition == PP_MAXIMUM_MATERIAL;
    uint32_t size = w->common[PP_DIAMETER];
    pp_qif_decimal_element(w, "ToleranceValue", d->upper);
    if (pp_is_of_plate((int)d->which)) return;
    bool within = d->which == PP_POSITION && r->measures->position_within;
    pp_qif_count_element(w, "DatumReferenceFrameId", within ? PP_QIF_PATTERN_FRAME : PP_QIF_FRAME);
    pp_qif_text_element(w, "MaterialCondition", maximum ? "MAXIMUM" : "REGARDLESS");
    if (maximum && size != PP_NONE)
        pp_qif_count_element(w, "SizeCharacteristicDefinitionId", pp_qif_definitions_id(w, size));
    pp_qif_add(w, "<ZoneShape><DiametricalZone/></ZoneShape>");
}

static void add_what_pitch_error_is(pp_qif_writer *w)
{
    pp_qif_add(w, "<WhatToMeasure>How far the distance of two holes of a row, ");
    pp_qif_decimal(w, w->results->measures->pitch_errors.apart);
    pp_qif_add(w, " pitches apart, is off that of their nominal centres, either way."
                  "</WhatToMeasure>");
}

static void add_definition(pp_qif_writer *w, size_t i)
{
    const pp_qif_definition *d = &w->definitions[i];
    pp_qif_begin(w, pp_qif_element((int)d->which), "Definition", pp_qif_definitions_id(w, i));
    add_description(w, d);
    pp_qif_text_element(w, "Name", pp_characteristic_people(d->which));
    if (pp_qif_is_zone((int)d->which))
        add_zone(w, d);
    else
        add_tolerance(w, d->lower, d->upper);
    if (d->which == PP_PITCH_ERROR) add_what_pitch_error_is(w);
    pp_qif_end(w, pp_qif_element((int)d->which), "Definition");
}

/* The standard limits of a rule of a share, and the share itself. */
static void add_share_definition(pp_qif_writer *w, const pp_qif_share *s)
{
    const pp_limits *l = w->results->limits;
    const char *element = pp_qif_element((int)s->which);
    bool diameter = s->which == PP_DIAMETER;
    double upper = pp_given(l->diameter_upper) ? l->diameter_upper : l->diameter_upper_limit;
    double least = pp_given(l->ligament_standard.value) ? l->ligament_standard.value
                                                        : l->ligament_minimum.value;
    pp_qif_begin(w, element, "Definition", s->id + PP_QIF_SHARE_STANDARD);
    pp_qif_add(w, "<Description>The standard limits, which all but a small share must keep."
                  "</Description>");
    pp_qif_text_element(w, "Name", diameter ? "diameter, standard" : "ligament, standard");
    add_tolerance(w, diameter ? l->diameter_lower : least, diameter ? upper : NAN);
    pp_qif_end(w, element, "Definition");
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Definition", s->id + PP_QIF_SHARE_DEFINITION);
    pp_qif_begin_list(w, "Attributes", 1);
    pp_qif_attribute_count(w, "standardDefinitionId", s->id + PP_QIF_SHARE_STANDARD);
    pp_qif_end_list(w, "Attributes");
    pp_qif_add(w, "<Description>");
    pp_qif_add(w, diameter ? "Tube holes" : "Pairs of neighbouring tube holes");
    pp_qif_add(w, " between the standard and the outermost limits, as a share of all: at most ");
    pp_qif_decimal(w, 100 * l->remainder_share.value);
    pp_qif_add(w, " %, so that the rest keep the standard limits. Each counts once, by its worst "
                  "face. ");
    add_source(w, &l->remainder_share);
    pp_qif_add(w, "</Description>");
    pp_qif_text_element(w, "Name", diameter ? "share of diameters" : "share of ligaments");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Definition");
}

static void add_extra_definition(pp_qif_writer *w)
{
    if (!w->extra) return;
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Definition",
                 w->first_extra + PP_QIF_EXTRA_DEFINITION);
    pp_qif_add(w, "<Description>Measured holes that the drawing does not have; they are measured "
                  "circles without a nominal one. None may be.</Description>");
    pp_qif_text_element(w, "Name", "extra holes");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Definition");
}

/* ---- nominals ---- */

static void add_nominal(pp_qif_writer *w, size_t i)
{
    const pp_qif_definition *d = &w->definitions[i];
    const char *element = pp_qif_element((int)d->which);
    pp_qif_begin(w, element, "Nominal", w->first_nominal + i);
    pp_qif_count_element(w, "CharacteristicDefinitionId", pp_qif_definitions_id(w, i));
    if (d->which == PP_FLATNESS && w->plane)
        pp_qif_ids(w, "FeatureNominalIds", PP_QIF_PLANE_NOMINAL);
    if (!pp_qif_is_zone((int)d->which)) {
        /* the schema asks for a target: a limit where no nominal was given */
        double target = d->target;
        if (!pp_given(target)) target = pp_given(d->lower) ? d->lower : d->upper;
        pp_qif_decimal_element(w, "TargetValue", target);
    }
    if (d->which == PP_LIGAMENT) pp_qif_text_element(w, "AnalysisMode", "TWODIMENSIONAL");
    pp_qif_end(w, element, "Nominal");
}

static void add_share_nominal(pp_qif_writer *w, const pp_qif_share *s)
{
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Nominal", s->id + PP_QIF_SHARE_NOMINAL);
    pp_qif_count_element(w, "CharacteristicDefinitionId", s->id + PP_QIF_SHARE_DEFINITION);
    pp_qif_add(w, "<TargetValue unitName=\"share\">0</TargetValue><MaxValue unitName=\"share\">");
    pp_qif_decimal(w, w->results->limits->remainder_share.value);
    pp_qif_add(w, "</MaxValue><DefinedAsLimit>true</DefinedAsLimit>");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Nominal");
}

static void add_extra_nominal(pp_qif_writer *w)
{
    if (!w->extra) return;
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Nominal",
                 w->first_extra + PP_QIF_EXTRA_NOMINAL);
    pp_qif_count_element(w, "CharacteristicDefinitionId", w->first_extra + PP_QIF_EXTRA_DEFINITION);
    pp_qif_add(w, "<TargetValue unitName=\"hole\">0</TargetValue><MaxValue unitName=\"hole\">0"
                  "</MaxValue><DefinedAsLimit>true</DefinedAsLimit>");
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Nominal");
}

/* ---- items ---- */

static void add_item_name(pp_qif_writer *w, const pp_finding *f)
{
    const char *const *name =
        f->characteristic == PP_FLATNESS ? NULL : w->results->measures->nominal->name;
    pp_qif_add(w, "<Name>");
    if (name) pp_qif_foreign(w, name[f->subject]);
    if (name && pp_qif_is_pair(f->characteristic)) {
        pp_qif_add(w, " - ");
        pp_qif_foreign(w, name[pp_finding_other(w->results->judgement, f)]);
    }
    if (name) {
        pp_qif_add(w, " ");
        pp_qif_add(w, pp_named_face(f->face));
        pp_qif_add(w, " ");
    }
    pp_qif_add(w, pp_characteristic_people(f->characteristic));
    pp_qif_add(w, "</Name>");
}

static uint32_t feature_of(const pp_qif_writer *w, uint32_t hole, uint8_t face)
{
    const pp_measures *m = w->results->measures;
    uint32_t bore = m->bore_of[face][hole];
    return bore == PP_NONE || bore >= m->extra_first ? PP_NONE : w->feature_of[bore];
}

static void add_item_features(pp_qif_writer *w, const pp_finding *f)
{
    if (f->characteristic == PP_FLATNESS) {
        if (w->plane) pp_qif_ids(w, "FeatureItemIds", PP_QIF_PLANE_ITEM);
        return;
    }
    uint32_t one = feature_of(w, f->subject, f->face);
    bool pair = pp_qif_is_pair(f->characteristic);
    uint32_t two =
        pair ? feature_of(w, pp_finding_other(w->results->judgement, f), f->face) : PP_NONE;
    if (one == PP_NONE || (pair && two == PP_NONE)) return;
    pp_qif_begin_list(w, "FeatureItemIds", two == PP_NONE ? 1 : 2);
    pp_qif_count_element(w, "Id", w->first_circle_item + one);
    if (two != PP_NONE) pp_qif_count_element(w, "Id", w->first_circle_item + two);
    pp_qif_add(w, "</FeatureItemIds>");
}

static void add_item(pp_qif_writer *w, size_t i)
{
    const pp_finding *f = &w->results->judgement->findings[w->items[i].finding];
    const char *element = pp_qif_element(f->characteristic);
    pp_qif_begin(w, element, "Item", w->first_item + i);
    add_item_name(w, f);
    add_item_features(w, f);
    pp_qif_count_element(w, "CharacteristicNominalId", w->first_nominal + w->items[i].definition);
    pp_qif_end(w, element, "Item");
}

static void add_share_item(pp_qif_writer *w, const pp_qif_share *s)
{
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Item", s->id + PP_QIF_SHARE_ITEM);
    pp_qif_text_element(w, "Name",
                        s->which == PP_DIAMETER ? "share of diameters" : "share of ligaments");
    pp_qif_count_element(w, "CharacteristicNominalId", s->id + PP_QIF_SHARE_NOMINAL);
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Item");
}

static void add_extra_item(pp_qif_writer *w)
{
    if (!w->extra) return;
    pp_qif_begin(w, "UserDefinedUnitCharacteristic", "Item", w->first_extra + PP_QIF_EXTRA_ITEM);
    pp_qif_text_element(w, "Name", "extra holes");
    pp_qif_count_element(w, "CharacteristicNominalId", w->first_extra + PP_QIF_EXTRA_NOMINAL);
    pp_qif_end(w, "UserDefinedUnitCharacteristic", "Item");
}

void pp_qif_add_characteristics(pp_qif_writer *w)
{
    pp_qif_add(w, "<Characteristics>\n");
    pp_qif_count_element(w, "FormalStandardId", PP_QIF_STANDARD);
    pp_qif_begin_list(w, "CharacteristicDefinitions",
                      w->definition_count + 2 * w->share_count + w->extra);
    for (size_t i = 0; i < w->definition_count; i++) add_definition(w, i);
    for (size_t i = 0; i < w->share_count; i++) add_share_definition(w, &w->shares[i]);
    add_extra_definition(w);
    pp_qif_end_list(w, "CharacteristicDefinitions");
    pp_qif_begin_list(w, "CharacteristicNominals", w->definition_count + w->share_count + w->extra);
    for (size_t i = 0; i < w->definition_count; i++) add_nominal(w, i);
    for (size_t i = 0; i < w->share_count; i++) add_share_nominal(w, &w->shares[i]);
    add_extra_nominal(w);
    pp_qif_end_list(w, "CharacteristicNominals");
    pp_qif_begin_list(w, "CharacteristicItems", w->item_count + w->share_count + w->extra);
    for (size_t i = 0; i < w->item_count; i++) add_item(w, i);
    for (size_t i = 0; i < w->share_count; i++) add_share_item(w, &w->shares[i]);
    add_extra_item(w);
    pp_qif_end_list(w, "CharacteristicItems");
    pp_qif_add(w, "</Characteristics>\n");
}
