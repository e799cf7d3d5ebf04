#include "support/check.h"
#include "support/place.h"
#include "support/sample_results.h"

#include "base/number.h"
#include "report/exchange/qif.h"

static pp_text written_as(pp_sample *sample, bool whole)
{
    pp_text text = {0};
    pp_error error = {0};
    const pp_sink sink = pp_sink_text(&text);
    assert_ok(pp_qif_write(&sample->results, whole, &sample->memory, &sink, &error), &error);
    return text;
}

static pp_text written(pp_sample *sample) { return written_as(sample, false); }

static size_t count(const char *text, const char *end, const char *what)
{
    size_t found = 0;
    for (const char *at = text; (at = strstr(at, what)) && at < end; at += strlen(what)) found++;
    return found;
}

/* The list `name` says n=, and holds that many children whose names end in `child`. */
static void assert_list(const pp_text *text, const char *name, const char *child)
{
    char open[64], close[64], begin[64];
    snprintf(open, sizeof open, "<%s n=\"", name);
    snprintf(close, sizeof close, "</%s>", name);
    snprintf(begin, sizeof begin, "%s id=\"", child);
    const char *at = strstr(text->data, open);
    assert_non_null(at);
    unsigned long n = strtoul(at + strlen(open), NULL, 10);
    assert_int_equal(count(at, strstr(at, close), begin), n);
}

/* The schema catches neither a wrong n= nor a too small idMax. */
static void counts_and_identifiers_are_right(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = written(&sample);
    assert_list(&text, "CharacteristicDefinitions", "Definition");
    assert_list(&text, "CharacteristicNominals", "Nominal");
    assert_list(&text, "CharacteristicItems", "Item");
    assert_list(&text, "CharacteristicMeasurements", "Measurement");
    unsigned long largest = 0, id_max = strtoul(strstr(text.data, "idMax=\"") + 7, NULL, 10);
    bool *seen = calloc(id_max + 1, sizeof *seen);
    for (const char *at = text.data; (at = strstr(at, " id=\"")); at += 5) {
        unsigned long id = strtoul(at + 5, NULL, 10);
        assert_true(id >= 1 && id <= id_max);
        assert_false(seen[id]);
        seen[id] = true;
        if (id > largest) largest = id;
    }
    assert_int_equal(largest, id_max);
    const char *references[] = {"CharacteristicDefinitionId>", "CharacteristicNominalId>",
                                "CharacteristicItemId>"};
    for (size_t i = 0; i < 3; i++)
        for (const char *at = text.data; (at = strstr(at, references[i]));) {
            at += strlen(references[i]);
            if (at[0] >= '0' && at[0] <= '9') assert_true(seen[strtoul(at, NULL, 10)]);
        }
    free(seen);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void values_status_and_uncertainty_are_the_findings(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = written_as(&sample, true);
    const pp_judgement *j = &sample.judgement;
    size_t pass = 0, fail = 0, open = 0, items = 0;
    const pp_characteristic listed[] = {PP_FLATNESS, PP_POSITION, PP_DIAMETER, PP_LIGAMENT};
    for (size_t c = 0; c < 4; c++)
        for (size_t i = j->first[listed[c]]; i < j->first[listed[c] + 1]; i++) {
            pass += j->findings[i].verdict == PP_CONFORMS;
            fail += j->findings[i].verdict == PP_DOES_NOT_CONFORM;
            open += j->findings[i].verdict == PP_NOT_PROVEN;
            items += j->findings[i].verdict != PP_NOT_JUDGED;
        }
    const char *end = text.data + text.length;
    const pp_verdict shares[] = {j->diameter_fold.rule.share, j->ligament_fold.rule.share,
                                 j->section[PP_EXTRA_HOLE].verdict};
    for (size_t i = 0; i < 3; i++) {
        pass += shares[i] == PP_CONFORMS;
        fail += shares[i] == PP_DOES_NOT_CONFORM;
        open += shares[i] == PP_NOT_PROVEN;
    }
    assert_int_equal(count(text.data, end, "CharacteristicStatusEnum>PASS<"), pass);
    assert_int_equal(count(text.data, end, "CharacteristicStatusEnum>FAIL<"), fail);
    assert_int_equal(count(text.data, end, "CharacteristicStatusEnum>INDETERMINATE<"), open);
    /* of the whole, and of the plate itself */
    assert_int_equal(count(text.data, end, "InspectionStatusEnum>FAIL<"), 2);
    assert_int_equal(count(text.data, end, ">NOT_MEASURED<"), 4); /* on both faces */
    assert_int_equal(count(text.data, end, "<Value combinedUncertainty=\""), items);
    assert_non_null(strstr(text.data, "<Name>R001C002 - R002C003 exit ligament</Name>"));
    assert_non_null(
        strstr(text.data, "<Value combinedUncertainty=\"0.0073\" meanError=\"0\">2.9871</Value>"));
    assert_non_null(strstr(text.data, "<MaxValue>25.9588</MaxValue><MinValue>25.6032</MinValue>"));
    assert_non_null(strstr(text.data, "<MaxValue>16.2</MaxValue><MinValue>16</MinValue>"));
    assert_non_null(strstr(text.data, "<TargetValue>6.2952</TargetValue>"));
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void numbers_are_decimals_and_identifiers_depend_on_the_inputs(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_finding *findings = (pp_finding *)(uintptr_t)sample.judgement.findings;
    pp_finding *first = &findings[sample.judgement.first[PP_POSITION] + 4];
    first->value = 3.5e-9;
    pp_text text = written(&sample), again = written(&sample);
    assert_non_null(strstr(text.data, ">0.0000000035</Value>"));
    assert_int_equal(text.length, again.length);
    assert_memory_equal(text.data, again.data, text.length);
    sample.inputs[1].sha256[5] ^= 1;
    pp_text other = written(&sample);
    const char *id = strstr(text.data, "<QPId>");
    assert_memory_not_equal(id, strstr(other.data, "<QPId>"), 42);
    assert_int_equal(id[6 + 14], '8');
    pp_text_free(&text);
    pp_text_free(&again);
    pp_text_free(&other);
    first->value = NAN; /* no number, no value: not listed */
    text = written(&sample);
    assert_null(strstr(text.data, "nan"));
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void a_large_plate_lists_what_fails(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.rings = 92});
    pp_text text = written(&sample);
    assert_non_null(strstr(text.data, "only those that fail"));
    assert_list(&text, "CharacteristicMeasurements", "Measurement");
    assert_list(&text, "CharacteristicNominals", "Nominal");
    assert_true(text.length < 200000);
    assert_non_null(strstr(text.data, ">2.9871<"));
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void ligaments_that_keep_the_standard_limit_follow_from_the_circles(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_judgement *j = &sample.judgement;
    pp_finding *findings = (pp_finding *)(uintptr_t)j->findings;
    size_t kept = 0, all = 0;
    j->ligament_fold.rule.share = PP_CONFORMS;
    for (size_t i = j->first[PP_LIGAMENT]; i < j->first[PP_LIGAMENT + 1]; i++) {
        pp_finding *f = &findings[i];
        f->proven_standard = i % 3 ? 1 : 2;
        all += f->verdict != PP_NOT_JUDGED;
        kept +=
            f->verdict != PP_NOT_JUDGED && (f->verdict != PP_CONFORMS || f->proven_standard != 1);
    }
    assert_in_range(kept, 1, all - 1);
    pp_text text = written(&sample), whole = written_as(&sample, true);
    const char *item = "<DistanceBetweenCharacteristicItem id";
    assert_int_equal(count(text.data, text.data + text.length, item), kept);
    assert_int_equal(count(whole.data, whole.data + whole.length, item), all);
    assert_non_null(strstr(text.data, "follow from the measured circles"));
    assert_null(strstr(whole.data, "follow from the measured circles"));
    assert_non_null(strstr(text.data, "<Name>share of ligaments</Name>"));
    pp_text_free(&text);
    pp_text_free(&whole);
    pp_sample_free(&sample);
}

/* Of each characteristic the one nearest to a limit, which is not the first of its list. */
static void a_large_plate_that_conforms_lists_the_worst(void **state)
{
    (void)state;
    static const pp_characteristic listed[] = {PP_FLATNESS, PP_POSITION, PP_DIAMETER, PP_LIGAMENT};
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.rings = 92, .conforming = true});
    pp_text text = written(&sample);
    const pp_judgement *j = &sample.judgement;
    size_t worst_ones = 0;
    for (size_t c = 0; c < sizeof listed / sizeof *listed; c++) {
        const pp_finding *worst = NULL;
        double least = INFINITY;
        for (size_t i = j->first[listed[c]]; i < j->first[listed[c] + 1]; i++) {
            const pp_finding *f = &j->findings[i];
            double lower = pp_finding_lower(j, f), upper = pp_finding_upper(j, f);
            assert_true(f->verdict == PP_CONFORMS || f->verdict == PP_NOT_JUDGED);
            if (f->verdict != PP_CONFORMS) continue;
            if (f->value - lower < least) least = f->value - lower, worst = f;
            if (upper - f->value < least) least = upper - f->value, worst = f;
        }
        if (!worst) continue;
        worst_ones++;
        char value[PP_NUMBER_TEXT_MAX];
        pp_number_write(value, worst->value);
        assert_non_null(strstr(text.data, value));
    }
    assert_true(worst_ones >= 3);
    size_t shares = count(text.data, text.data + text.length, "<Value unitName=\"share\">");
    assert_int_equal(count(text.data, text.data + text.length, "CharacteristicStatusEnum>PASS<"),
                     worst_ones + shares);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void the_schema_accepts_it(void **state)
{
    (void)state;
    const char *schema = PP_SOURCE_DIR "/../shared/reference/qif";
    if (access(schema, R_OK) != 0 || system("xmllint --version >/dev/null 2>&1") != 0) {
        print_message("skipped: needs xmllint and the QIF 3.0 schemas in %s\n", schema);
        skip();
    }
    test_place place = test_place_make();
    for (int i = 0; i < 5; i++) {
        pp_sample sample;
        pp_sample_make(&sample, &(pp_sample_options){.hostile = i == 1, .conforming = i == 2});
        if (i == 3) sample.results.flatness = NULL, sample.judgement.first[PP_FLATNESS + 1] = 0;
        if (i == 4) {
            sample.job.holes.material_condition = PP_MAXIMUM_MATERIAL;
            sample.job.inspector = sample.job.order = NULL;
            sample.job.title = "a\xef\xbf\xbf";
        }
        pp_text text = written(&sample);
        test_write(test_path(&place, "results.qif"), text.data);
        char command[1200];
        snprintf(command, sizeof command,
                 "cd '%s' && XML_CATALOG_FILES=catalog.xml xmllint --nonet --noout --schema "
                 "xsd/QIFApplications/QIFDocument.xsd '%s' 2>'%s'",
                 schema, test_path(&place, "results.qif"), test_path(&place, "log"));
        if (system(command) != 0) {
            char *log = test_read(test_path(&place, "log"));
            print_error("%.2000s\n", log);
            free(log);
            fail();
        }
        pp_text_free(&text);
        pp_sample_free(&sample);
    }
    test_place_remove(&place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_and_identifiers_are_right),
        cmocka_unit_test(values_status_and_uncertainty_are_the_findings),
        cmocka_unit_test(numbers_are_decimals_and_identifiers_depend_on_the_inputs),
        cmocka_unit_test(ligaments_that_keep_the_standard_limit_follow_from_the_circles),
        cmocka_unit_test(a_large_plate_lists_what_fails),
        cmocka_unit_test(a_large_plate_that_conforms_lists_the_worst),
        cmocka_unit_test(the_schema_accepts_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
