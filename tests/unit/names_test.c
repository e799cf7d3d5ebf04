#include "support/check.h"

#include "base/names.h"

enum { COUNT = 50000 };

/* Names of 1 to 30 bytes, many sharing their first eight. */
static const char **make_names(pp_arena *arena, int first)
{
    const char **names = pp_arena_take(arena, COUNT, sizeof *names);
    for (int i = 0; i < COUNT; i++) {
        char text[64];
        int length = snprintf(text, sizeof text, i % 3 ? "R%dC%d" : "quadrant-%d/%d",
                              (first + i) / 211, (first + i) % 211);
        names[i] = pp_arena_text(arena, text, (size_t)length);
    }
    return names;
}

static void every_name_is_found_and_no_other(void **state)
{
    (void)state;
    pp_arena arena = {0};
    pp_error error = {0};
    pp_names table;
    const char **names = make_names(&arena, 0), **again = make_names(&arena, 21100);
    assert_ok(pp_names_build(names, COUNT, &arena, &table, &error), &error);
    assert_int_equal(table.repeat, PP_NAME_NONE);
    uint32_t *index = pp_arena_take(&arena, COUNT, sizeof *index);
    pp_names_find_many(&table, again, COUNT, index);
    for (uint32_t i = 0; i < COUNT; i++) {
        /* the texts of again[i] and names[i + 21100] differ only where i % 3 is not that of
         * i + 21100; 21100 = 1 mod 3 */
        uint32_t want = PP_NAME_NONE;
        uint32_t there = i + 21100;
        if (there < COUNT && (i % 3 == 0) == (there % 3 == 0)) want = there;
        assert_int_equal(index[i], want);
        assert_int_equal(pp_names_find(&table, again[i]), want);
        assert_int_equal(pp_names_find(&table, names[i]), i);
    }
    pp_arena_free(&arena);
}

static void repeated_names_are_told(void **state)
{
    (void)state;
    static const char *const NAMES[] = {"A1",  "A10", "12345678", "123456789", "",
                                        "A1 ", "A10", "12345678", "a1"};
    pp_arena arena = {0};
    pp_error error = {0};
    pp_names table;
    assert_ok(pp_names_build(NAMES, 9, &arena, &table, &error), &error);
    assert_int_equal(table.repeat, 6);
    assert_int_equal(table.repeat_of, 1);
    assert_int_equal(pp_names_find(&table, "A10"), 1);
    assert_int_equal(pp_names_find(&table, "12345678"), 2);
    assert_int_equal(pp_names_find(&table, "123456789"), 3);
    assert_int_equal(pp_names_find(&table, ""), 4);
    assert_int_equal(pp_names_find(&table, "1234567"), PP_NAME_NONE);
    assert_ok(pp_names_build(NULL, 0, &arena, &table, &error), &error);
    assert_int_equal(pp_names_find(&table, "A1"), PP_NAME_NONE);
    pp_arena_free(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_name_is_found_and_no_other),
        cmocka_unit_test(repeated_names_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
