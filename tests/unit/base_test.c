#include "support/check.h"

#include "base/number.h"
#include "base/parallel.h"
#include "base/text.h"
#include "linalg/linalg.h"

static void arena_gives_back_to_the_mark(void **state)
{
    (void)state;
    pp_arena arena = {0};
    char *kept = pp_arena_text(&arena, "kept", 4);
    pp_mark mark = pp_arena_mark(&arena);
    for (int i = 0; i < 5; i++) assert_non_null(pp_arena_take(&arena, 700000, 1));
    pp_arena_release(&arena, mark);
    double *after = pp_arena_take_zero(&arena, 7, sizeof *after);
    assert_string_equal(kept, "kept");
    assert_int_equal((uintptr_t)after % 64, 0);
    assert_null(pp_arena_take(&arena, SIZE_MAX / 4, 16));
    pp_arena_free(&arena);
}

static pp_status square(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    if (part == 41 || part == 67) return pp_fail(error, PP_EINPUT, "part %zu", part);
    ((double *)context)[part] = (double)(part * part);
    return PP_OK;
}

static void parallel_runs_every_part_and_reports_the_lowest_failure(void **state)
{
    (void)state;
    double done[41] = {0}, all[100] = {0};
    pp_error error = {0};
    assert_ok(pp_parallel(2, 41, square, done, &error), &error);
    for (int i = 0; i < 41; i++) assert_near(done[i], i * i, 0);
    assert_int_equal(pp_parallel(1, 100, square, all, &error), PP_EINPUT);
    assert_string_equal(error.message, "part 41");
    assert_int_equal(pp_part_begin(10, 3, 1), 4);
    assert_int_equal(pp_part_begin(10, 3, 3), 10);
}

static void band_solve_inverts_band_multiply(void **state)
{
    (void)state;
    double band[] = {4.385, -1.2, 0.31, 5.17, 0.77, -0.4, 3.91, 1.03, 0, 6.2, 0, 0};
    double factor[12], x[] = {2.385, -1.41, 0.67, 3.3}, y[4];
    memcpy(factor, band, sizeof band);
    pp_error error = {0};
    pp_band_multiply(4, 2, band, x, y);
    assert_ok(pp_band_factor(4, 2, factor, &error), &error);
    assert_ok(pp_band_solve(4, 2, factor, 1, y, &error), &error);
    for (int i = 0; i < 4; i++) assert_near(y[i], x[i], 1e-14);
    band[0] = -1;
    assert_int_equal(pp_band_factor(4, 2, band, &error), PP_ENUMERIC);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(arena_gives_back_to_the_mark),
        cmocka_unit_test(parallel_runs_every_part_and_reports_the_lowest_failure),
        cmocka_unit_test(band_solve_inverts_band_multiply),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
