#include "support/check.h"

#include "report/page/html.h"
#include "support/sample_results.h"

static void write_page(const pp_sample_options *options, pp_text *page)
{
    pp_sample sample;
    pp_error error = {0};
    pp_sample_make(&sample, options);
    assert_ok(pp_html_write(&sample.results, &sample.memory, page, &error), &error);
    pp_sample_free(&sample);
}

static void an_uncertified_placement_is_said(void **state)
{
    (void)state;
    pp_sample sample;
    pp_error error = {0};
    pp_text page = {0};
    pp_placement placement = {.uncertified = true};
    pp_sample_make(&sample, &(pp_sample_options){0});
    sample.results.placement = &placement;
    assert_ok(pp_html_write(&sample.results, &sample.memory, &page, &error), &error);
    assert_non_null(strstr(page.data, "Could not be certified: the holes are displaced too far"));
    assert_null(strstr(page.data, "The smallest position zone"));
    pp_text_free(&page);
    pp_sample_free(&sample);
}

static void page_is_whole_and_says_the_verdict_first(void **state)
{
    (void)state;
    pp_text page = {0};
    write_page(&(pp_sample_options){0}, &page);
    assert_non_null(strstr(page.data, "</html>"));
    const char *verdict = strstr(page.data, "id=\"verdict\"");
    assert_non_null(verdict);
    const char *word = strstr(verdict, "does not conform");
    assert_non_null(word);
    assert_true(word < strstr(page.data, "<main>"));
    assert_non_null(strstr(page.data, "Content-Security-Policy"));
    /* the sample's holes conform with probability 0.1234 */
    assert_non_null(strstr(page.data, "; conformance probability 12.34 %"));
    assert_non_null(strstr(page.data, "The probabilities take each true value as normally"));
    assert_null(strstr(page.data, "http:"));
    assert_null(strstr(page.data, "https:"));
    pp_text_free(&page);
}

/* Nothing between the tags that we wrote may open a tag: untrusted text is escaped. */
static void hostile_names_stay_text(void **state)
{
    (void)state;
    pp_text page = {0};
    write_page(&(pp_sample_options){.hostile = true}, &page);
    assert_null(strstr(page.data, "<script>alert"));
    assert_null(strstr(page.data, "<img"));
    size_t scripts = 0;
    for (const char *at = page.data; (at = strstr(at, "<script")); at++) scripts++;
    assert_int_equal(scripts, 2);
    pp_text_free(&page);
}

static void inch_jobs_show_inches(void **state)
{
    (void)state;
    pp_text page = {0};
    write_page(&(pp_sample_options){.inch = true}, &page);
    assert_non_null(strstr(page.data, " in, "));
    const char *data = strstr(page.data, "id=\"data\"");
    for (const char *at = page.data; (at = strstr(at, " mm")) && at < data; at++) {
        print_error("millimetres in an inch report: %.60s\n", at - 30);
        fail();
    }
    pp_text_free(&page);
}

static void same_results_give_the_same_bytes(void **state)
{
    (void)state;
    pp_text first = {0}, second = {0};
    write_page(&(pp_sample_options){.rings = 3}, &first);
    write_page(&(pp_sample_options){.rings = 3}, &second);
    assert_int_equal(first.length, second.length);
    assert_memory_equal(first.data, second.data, first.length);
    pp_text_free(&first);
    pp_text_free(&second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(page_is_whole_and_says_the_verdict_first),
        cmocka_unit_test(an_uncertified_placement_is_said),
        cmocka_unit_test(hostile_names_stay_text),
        cmocka_unit_test(inch_jobs_show_inches),
        cmocka_unit_test(same_results_give_the_same_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
