#include "support/check.h"
#include "support/sample_results.h"

#include "report/terminal/terminal.h"

static pp_text summary_of(pp_sample *sample, const pp_terminal_options *options)
{
    pp_text text = {0};
    pp_error error = {0};
    assert_ok(pp_terminal_write(&sample->results, options, &sample->memory, &text, &error), &error);
    return text;
}

static void the_verdict_comes_first_and_the_report_last(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = summary_of(&sample, &(pp_terminal_options){.report = "a/plate-report"});
    const char *first = "DOES NOT CONFORM  18 of 19 holes, entry face";
    assert_memory_equal(text.data, first, strlen(first));
    const char *last = "\nReport: a/plate-report\n";
    assert_string_equal(text.data + text.length - strlen(last), last);
    assert_non_null(strstr(text.data, "Decision rule: guarded"));
    assert_non_null(strstr(text.data, "does not conform  largest 0.187 mm out"));
    assert_non_null(strstr(text.data, "of place (position"));
    assert_non_null(strstr(text.data, "Not judged: drill drift"));
    assert_non_null(strstr(text.data, "stores energy"));
    assert_null(strchr(text.data, '\033'));
    pp_text_free(&text);
    sample.results.holddown = NULL;
    text = summary_of(&sample, &(pp_terminal_options){0});
    assert_null(strstr(text.data, "Hold-down"));
    assert_null(strstr(text.data, "stores energy"));
    assert_null(strstr(text.data, "Report:"));
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void lines_keep_to_the_width(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    for (int width = 60; width <= 200; width += 7) {
        pp_text text = summary_of(&sample, &(pp_terminal_options){.width = width});
        size_t column = 0;
        for (const char *c = text.data; *c; c++) {
            column = *c == '\n' ? 0 : column + (((unsigned char)*c & 0xc0) != 0x80);
            if (column > (size_t)width) print_error("width %d: %.60s\n", width, c - 50);
            assert_true(column <= (size_t)width);
        }
        pp_text_free(&text);
    }
    pp_sample_free(&sample);
}

static void names_cannot_steer_the_terminal(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.hostile = true});
    sample.job.title = "a\033]0;owned\007b\302\233c\u202ed\r\n";
    const char *names[21];
    memcpy(names, sample.files.nominal.name, sizeof names);
    names[1] = "\033[2Jgone";
    sample.files.nominal.name = names;
    pp_text text =
        summary_of(&sample, &(pp_terminal_options){.colour = true, .report = "x\033[31m"});
    assert_non_null(strstr(text.data, "a\\x1b]0;owned\\x07b<U+009B>c<U+202E>d\\x0d\\x0a"));
    assert_non_null(strstr(text.data, "\\x1b[2Jgone"));
    assert_non_null(strstr(text.data, "x\\x1b[31m"));
    for (const char *c = text.data; *c; c++) {
        if (*c == '\033') assert_true(c[1] == '[' && c[strspn(c + 2, "0123456789;") + 2] == 'm');
        assert_true((unsigned char)*c >= 0x20 || *c == '\n' || *c == '\033');
    }
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void one_line_for_one_of_many(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = {0};
    pp_error error = {0};
    const pp_terminal_options options = {0};
    assert_ok(pp_terminal_write_line(&sample.results, &options, &sample.memory, &text, &error),
              &error);
    const char *want = "does not conform  plate  straightedge 1000 mm, position, diameter, "
                       "ligament, extra hole, overlapping or below half the minimum, "
                       "hold-down not ready\n";
    assert_string_equal(text.data, want);
    pp_text_free(&text);
    pp_sample_free(&sample);
    pp_sample_make(&sample, &(pp_sample_options){.conforming = true});
    text = (pp_text){0};
    assert_ok(pp_terminal_write_line(&sample.results, &options, &sample.memory, &text, &error),
              &error);
    assert_string_equal(text.data, "conforms          plate\n");
    pp_text_free(&text);
    pp_sample_free(&sample);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_verdict_comes_first_and_the_report_last),
        cmocka_unit_test(lines_keep_to_the_width),
        cmocka_unit_test(names_cannot_steer_the_terminal),
        cmocka_unit_test(one_line_for_one_of_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
