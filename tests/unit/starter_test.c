#include "input/job/starter.h"

#include "input/job/job_keys.h"
#include "support/job_text.h"

static pp_memory memory;
static pp_error error;

static int release(void **state)
{
    (void)state;
    pp_memory_free(&memory);
    return 0;
}

/* Sections that need a name of their own stand in the starter as comments. */
static bool is_named(const char *section)
{
    return strcmp(section, "instrument") == 0 || strcmp(section, "layer") == 0 ||
           strcmp(section, "clamp") == 0;
}

static void the_starter_reads_back_as_the_defaults(void **state)
{
    (void)state;
    for (int inch = 0; inch < 2; inch++) {
        pp_text text = {0};
        pp_starter_write(inch ? PP_INCH : PP_MM, &text);
        assert_false(text.failed);
        pp_job job, blank;
        assert_ok(read_job_text(text.data, &memory, &job, &error), &error);
        assert_ok(pp_job_blank(&memory, &blank, &error), &error);
        assert_int_equal(job.units, inch ? PP_INCH : PP_MM);
        size_t count;
        const pp_key *keys = pp_keys(&count);
        for (size_t k = 0; k < count; k++) {
            const char *got = (const char *)&job + keys[k].offset;
            const char *want = (const char *)&blank + keys[k].offset;
            if (is_named(keys[k].section)) continue;
            if (keys[k].kind == PP_KEY_REAL) assert_memory_equal(got, want, sizeof(double));
            if (keys[k].kind == PP_KEY_POINT) assert_memory_equal(got, want, 2 * sizeof(double));
            if (keys[k].kind == PP_KEY_YES_NO) assert_int_equal(*got, *want);
            /* kind goes by the section's being there, table by the units */
            if (keys[k].kind == PP_KEY_CHOICE && strcmp(keys[k].key, "kind") != 0 &&
                strcmp(keys[k].key, "table") != 0)
                assert_memory_equal(got, want, sizeof(unsigned));
        }
        assert_null(job.title);
        assert_null(job.survey.file.path);
        assert_int_equal(job.support.kind, PP_SUPPORT_TABLE);
        assert_int_equal(job.instrument_count, 0);
        pp_text_free(&text);
    }
}

/* Every key stands in the starter, with its meaning; limits and uncertainties are empty. */
static void the_starter_explains_every_key(void **state)
{
    (void)state;
    pp_text text = {0};
    pp_starter_write(PP_MM, &text);
    size_t count;
    const pp_key *keys = pp_keys(&count);
    for (size_t k = 0; k < count; k++) {
        char start[128];
        snprintf(start, sizeof start, "\n%s%s =", is_named(keys[k].section) ? ";" : "",
                 keys[k].key);
        char head[64];
        snprintf(head, sizeof head, "[%s", keys[k].section);
        const char *section = strstr(text.data, "\n\n"); /* below the opening comment */
        section = section ? strstr(section, head) : NULL;
        assert_non_null(section);
        const char *line = strstr(section, start);
        assert_non_null(line);
        const char *help = strstr(line, keys[k].help);
        assert_true(help && memchr(line + 1, '\n', (size_t)(help - line - 1)) == NULL);
        if (strstr(keys[k].key, "limit") || strstr(keys[k].key, "uncertainty"))
            assert_int_equal(strspn(line + strlen(start), " "), strcspn(line + strlen(start), ";"));
    }
    pp_text_free(&text);
}

/* docs/manual/job-file.md holds the key tables as the program knows them. To bring it up to date:
 * PLATEPROOF_UPDATE=1 build/dev/tests/unit/test_starter */
static void the_manual_agrees_with_the_program(void **state)
{
    (void)state;
    static const char path[] = PP_SOURCE_DIR "/docs/manual/job-file.md";
    static const char mark[] =
        "<!-- keys: written by the program, see tests/unit/starter_test.c -->\n";
    pp_text page = {0}, tables = {0};
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    char buffer[4096];
    for (size_t got; (got = fread(buffer, 1, sizeof buffer, file)) > 0;)
        pp_text_add_bytes(&page, buffer, got);
    fclose(file);
    pp_starter_write_manual(&tables);
    char *keys = strstr(page.data, mark);
    assert_non_null(keys);
    keys += sizeof mark - 1;
    bool same = strcmp(keys, tables.data) == 0;
    if (!same && getenv("PLATEPROOF_UPDATE")) {
        file = fopen(path, "w");
        assert_non_null(file);
        fwrite(page.data, 1, (size_t)(keys - page.data), file);
        fwrite(tables.data, 1, tables.length, file);
        fclose(file);
        same = true;
    }
    if (!same)
        print_error("%s is not what the program says; PLATEPROOF_UPDATE=1 writes it\n", path);
    assert_true(same);
    pp_text_free(&page);
    pp_text_free(&tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_starter_reads_back_as_the_defaults),
        cmocka_unit_test(the_starter_explains_every_key),
        cmocka_unit_test(the_manual_agrees_with_the_program),
    };
    return cmocka_run_group_tests(tests, NULL, release);
}
