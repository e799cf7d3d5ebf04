#include "support/check.h"

#include "report/certificate/pdf.h"
#include "support/sample_results.h"

static void write_certificate(const pp_sample_options *options, bool letter, pp_text *pdf)
{
    pp_sample sample;
    pp_error error = {0};
    pp_sample_make(&sample, options);
    assert_ok(pp_pdf_write(&sample.results, &(pp_paper_options){.letter = letter}, &sample.memory,
                           pdf, &error),
              &error);
    pp_sample_free(&sample);
}

static void certificate_is_a_whole_pdf_of_the_paper_asked_for(void **state)
{
    (void)state;
    const char *const boxes[] = {"595.2", "612"};
    for (int letter = 0; letter < 2; letter++) {
        pp_text pdf = {0};
        write_certificate(&(pp_sample_options){0}, letter, &pdf);
        assert_memory_equal(pdf.data, "%PDF-1.", 7);
        assert_non_null(memmem(pdf.data, pdf.length, boxes[letter], strlen(boxes[letter])));
        assert_memory_equal(pdf.data + pdf.length - 6, "%%EOF\n", 6);
        pp_text_free(&pdf);
    }
}

static void same_results_give_the_same_bytes(void **state)
{
    (void)state;
    pp_text first = {0}, second = {0};
    write_certificate(&(pp_sample_options){.rings = 3}, false, &first);
    write_certificate(&(pp_sample_options){.rings = 3}, false, &second);
    assert_int_equal(first.length, second.length);
    assert_memory_equal(first.data, second.data, first.length);
    pp_text_free(&first);
    pp_text_free(&second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(certificate_is_a_whole_pdf_of_the_paper_asked_for),
        cmocka_unit_test(same_results_give_the_same_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
