/* One key is changed, every other byte of the file stays. */
#include "serve/edit.h"

#include <string.h>

#include "input/job/job.h"
#include "support/check.h"

static const char WRITTEN[] = "; ours since 2019\n"
                              "[plate]\n"
                              "  diameter=2400   ; by the drawing\n"
                              "outline = disc\n"
                              "\n"
                              "# the survey\n"
                              "[survey]\n"
                              "file = s.csv\n"
                              "[job]\n"
                              "title =\n"
                              "[survey]\n"
                              "uncertainty = 0.02";

static void set(const char *text, const char *section, const char *key, const char *value,
                const char *wanted)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_text out = {0};
    assert_ok(pp_edit_set(text, strlen(text), section, key, value, &memory, &out, &error), &error);
    assert_string_equal(out.data, wanted);
    pp_text_free(&out);
    pp_memory_free(&memory);
}

static void a_value_changes_before_its_comment(void **state)
{
    (void)state;
    set("[plate]\n  diameter=2400   ; by the drawing\n#x\n", "plate", "diameter", "2300.5",
        "[plate]\n  diameter= 2300.5   ; by the drawing\n#x\n");
    set("[a]\r\nk = 1\r\nl = 2\r\n", "a", "k", "7", "[a]\r\nk = 7\r\nl = 2\r\n");
    set("[a]\nk = 1 ; note\n", "a", "k", "", "[a]\nk = ; note\n");
    set("[a]\nk =", "a", "k", "v", "[a]\nk = v");
}

static void a_new_key_goes_below_its_section(void **state)
{
    (void)state;
    set("[a]\nk = 1\n\n; of b\n[b]\nm = 2\n", "a", "l", "9",
        "[a]\nk = 1\nl = 9\n\n; of b\n[b]\nm = 2\n");
    set("[a]\n[b]\n", "a", "k", "1", "[a]\nk = 1\n[b]\n");
    set("[a]\r\n", "a", "k", "1", "[a]\r\nk = 1\r\n");
    set("[a]\nk = 1", "c", "x", "y", "[a]\nk = 1\n\n[c]\nx = y\n");
    set("", "c", "x", "y", "[c]\nx = y\n");
    set("[a]\nk = 1\n", "a", "gone", "", "[a]\nk = 1\n");
}

/* The only line that differs is the one that was meant, whatever is changed. */
static void everything_else_stays(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_text out = {0};
    assert_ok(pp_edit_set(WRITTEN, strlen(WRITTEN), "survey", "uncertainty", "0.03", &memory, &out,
                          &error),
              &error);
    size_t same = strlen(WRITTEN) - strlen("0.02");
    assert_memory_equal(out.data, WRITTEN, same);
    assert_string_equal(out.data + same, "0.03");
    pp_job job;
    assert_ok(pp_job_parse("x.ini", out.data, out.length, &memory, &job, &error), &error);
    assert_near(job.survey.uncertainty, 0.03, 0);
    pp_text_free(&out);
    pp_memory_free(&memory);
}

static void what_cannot_stand_on_a_line_is_refused(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_text out = {0};
    const char *const bad[] = {"a\n[rules]", "a\rb", "a ;b", "\x01"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_int_equal(pp_edit_set("[a]\n", 4, "a", "k", bad[i], &memory, &out, &error),
                         PP_EINPUT);
    assert_int_equal(pp_edit_set("no text", 7, "a", "k", "v", &memory, &out, &error), PP_EINPUT);
    assert_null(out.data);
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_value_changes_before_its_comment),
        cmocka_unit_test(a_new_key_goes_below_its_section),
        cmocka_unit_test(everything_else_stays),
        cmocka_unit_test(what_cannot_stand_on_a_line_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
