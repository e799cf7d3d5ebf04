#include "support/check.h"
#include "support/random.h"

#include "base/foreign.h"
#include "base/number.h"
#include "base/parallel.h"
#include "base/text.h"
#include "linalg/linalg.h"
#include "linalg/small.h"

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

static void a_trimmed_arena_keeps_what_is_taken_and_nothing_spare(void **state)
{
    (void)state;
    pp_arena arena = {0};
    char *kept = pp_arena_text(&arena, "kept", 4);
    pp_mark mark = pp_arena_mark(&arena);
    for (int i = 0; i < 5; i++) assert_non_null(pp_arena_take(&arena, 700000, 1));
    pp_arena_release(&arena, mark);
    assert_non_null(arena.spare);
    pp_arena_trim(&arena);
    assert_null(arena.spare);
    assert_string_equal(kept, "kept");
    assert_non_null(pp_arena_take(&arena, 700000, 1));
    pp_arena_free(&arena);
}

/* Pages of the process that are in memory. */
static long pages_in_memory(void)
{
    long all = 0, here = 0;
    FILE *file = fopen("/proc/self/statm", "r");
    assert_non_null(file);
    assert_int_equal(fscanf(file, "%ld %ld", &all, &here), 2);
    fclose(file);
    return here;
}

static void the_end_of_a_large_block_goes_back_and_what_is_before_it_stays(void **state)
{
    (void)state;
    enum { KEPT = 5 << 20, BEYOND = 32 << 20 };
    pp_arena arena = {0};
    char *kept = pp_arena_take(&arena, KEPT, 1);
    memset(kept, 7, KEPT);
    pp_mark mark = pp_arena_mark(&arena);
    memset(pp_arena_take(&arena, BEYOND, 1), 8, BEYOND);
    pp_arena_release(&arena, mark);
    long before = pages_in_memory();
    pp_arena_trim(&arena);
    assert_true((before - pages_in_memory()) * 4096 > BEYOND / 2);
    for (size_t i = 0; i < KEPT; i++) assert_int_equal(kept[i], 7);
    memset(pp_arena_take(&arena, BEYOND, 1), 9, BEYOND);
    pp_arena_free(&arena);
}

static void what_was_taken_elsewhere_is_given_back_with_the_rest(void **state)
{
    (void)state;
    pp_arena arena = {0}, other = {0};
    pp_mark before = pp_arena_mark(&arena);
    char *own = pp_arena_text(&arena, "own", 3), *joined = NULL;
    for (int i = 0; i < 3; i++) { /* over several blocks */
        assert_non_null(pp_arena_take(&other, 700000, 1));
        joined = pp_arena_text(&other, "joined", 6);
    }
    pp_arena_join(&other, &arena);
    assert_null(other.newest);
    char *after = pp_arena_text(&arena, "after", 5);
    assert_true(after > own && after < own + 4096); /* goes on where it was */
    pp_arena_free(&other);
    assert_string_equal(joined, "joined");
    assert_string_equal(own, "own");
    pp_arena_release(&arena, before);
    assert_null(arena.newest);
    pp_arena_free(&arena);
    assert_non_null(pp_arena_text(&other, "alone", 5));
    pp_arena_join(&other, &arena);
    assert_non_null(arena.newest);
    assert_non_null(pp_arena_text(&arena, "more", 4));
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

/* Largest sum of absolute values in a column of A (band) or of its inverse (factor), column by
 * column from unit vectors */
static double norm_by_columns(size_t n, size_t kd, const double *band, bool inverse)
{
    double largest = 0, unit[16], column[16];
    pp_error error = {0};
    assert_true(n <= 16);
    for (size_t j = 0; j < n; j++) {
        memset(unit, 0, sizeof unit), unit[j] = 1;
        if (inverse) {
            memcpy(column, unit, sizeof column);
            assert_ok(pp_band_solve(n, kd, band, 1, column, &error), &error);
        } else {
            pp_band_multiply(n, kd, band, unit, column);
        }
        double sum = 0;
        for (size_t i = 0; i < n; i++) sum += fabs(column[i]);
        largest = fmax(largest, sum);
    }
    return largest;
}

static void condition_of_a_band_is_that_of_its_columns(void **state)
{
    (void)state;
    enum { N = 16, KD = 3 };
    test_random random = {0xc0d1};
    pp_error error = {0};
    for (int trial = 0; trial < 50; trial++) {
        double band[N * (KD + 1)], norm, reciprocal;
        for (size_t i = 0; i < N * (KD + 1); i++) band[i] = random_normal(&random);
        for (size_t i = 0; i < N; i++) band[i * (KD + 1)] = 12 + 1000 * (i == 5 && trial % 2);
        assert_ok(pp_band_norm(N, KD, band, &norm, &error), &error);
        assert_near(norm, norm_by_columns(N, KD, band, false), 1e-12 * norm);
        assert_ok(pp_band_factor(N, KD, band, &error), &error);
        assert_ok(pp_band_condition(N, KD, band, norm, &reciprocal, &error), &error);
        double truth = 1 / (norm * norm_by_columns(N, KD, band, true));
        /* an estimate from below of the inverse's norm, seldom by more than a third */
        assert_true(reciprocal >= truth * (1 - 1e-12) && reciprocal <= 1.5 * truth);
    }
}

/* [[A, B'], [B, -C]] of order n, ld `ld`: A = X X' + 1, of order p, and C likewise */
static void fill_quasi_definite(size_t n, size_t p, size_t ld, test_random *random, double *m)
{
    double x[20 * 20];
    for (size_t i = 0; i < n * n; i++) x[i] = random_normal(random);
    for (size_t j = 0; j < n; j++)
        for (size_t i = 0; i < n; i++) {
            double sum = i == j;
            for (size_t k = 0; k < n; k++) sum += x[k * n + i] * x[k * n + j];
            bool across = (i < p) != (j < p);
            m[j * ld + i] = across ? x[i < j ? i * n + j : j * n + i] : i < p ? sum : -sum;
        }
}

static void small_systems_are_solved_in_any_size_and_part(void **state)
{
    (void)state;
    enum { MOST = 20 };
    test_random random = {0x51a11};
    for (size_t n = 1; n <= MOST; n++)
        for (size_t p = 0; p <= n; p++) {
            size_t ld = pp_small_rows(n);
            double m[MOST * MOST], factor[MOST * MOST], x[MOST], y[MOST];
            assert_true(ld >= n && ld <= MOST && ld % 4 == 0);
            for (size_t i = 0; i < MOST * MOST; i++) m[i] = factor[i] = NAN;
            fill_quasi_definite(n, p, ld, &random, m);
            for (size_t i = 0; i < n; i++) x[i] = random_normal(&random);
            pp_matrix_vector(0, n, n, 1, m, ld, x, 0, y);
            for (size_t j = 0; j < n; j++) /* the lower triangle alone is asked for */
                memcpy(factor + j * ld + j, m + j * ld + j, (n - j) * sizeof *m);
            assert_true(pp_small_factor(n, p, factor));
            pp_small_solve(n, factor, y);
            for (size_t i = 0; i < n; i++) assert_near(y[i], x[i], 1e-10);
            for (size_t j = 0; j < n; j++)
                memcpy(factor + j * ld + j, m + j * ld + j, (n - j) * sizeof *m);
            assert_false(pp_small_factor(n, p < n ? p + 1 : p - 1, factor));
        }
}

/* L (L^-1 b) = b for b that begin at rows of their own; L^-1 b is nought above them. */
static void forward_and_back_to_the_start(pp_memory *memory, size_t n, size_t kd,
                                          const double *factor, test_random *random)
{
    enum { COUNT = 3, STRIDE = 4 };
    pp_error error = {0};
    size_t first[COUNT] = {0, n / 3, n - 1};
    double *b = pp_arena_take_zero(&memory->keep, n * STRIDE, sizeof *b);
    double *x = pp_arena_take(&memory->keep, n * STRIDE, sizeof *x);
    double *again = pp_arena_take_zero(&memory->keep, n * STRIDE, sizeof *again);
    for (size_t c = 0; c < COUNT; c++)
        for (size_t i = first[c]; i < n; i++) b[i * STRIDE + c] = random_normal(random);
    memcpy(x, b, n * STRIDE * sizeof *x);
    assert_ok(pp_band_forward_beside(n, kd, factor, first, COUNT, x, STRIDE, &error), &error);
    assert_ok(pp_band_lower_multiply_beside(n, kd, factor, COUNT, x, again, STRIDE, &error),
              &error);
    for (size_t c = 0; c < COUNT; c++)
        for (size_t i = 0; i < n; i++) {
            assert_near(again[i * STRIDE + c], b[i * STRIDE + c], 1e-12);
            if (i < first[c]) assert_near(x[i * STRIDE + c], 0, 0);
        }
}

/* Sizes at which panels end in every way, against one right-hand side at a time. */
static void bands_solve_and_invert_in_blocks(void **state)
{
    (void)state;
    static const struct {
        size_t n, kd, nb;
    } sizes[] = {{1, 0, 0},    {9, 0, 3},      {7, 6, 6},    {95, 5, 11},
                 {97, 48, 60}, {211, 63, 150}, {200, 77, 77}};
    enum { COUNT = 3, STRIDE = 5 };
    test_random random = {0xba2d};
    pp_memory memory = {0};
    pp_error error = {0};
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        size_t n = sizes[k].n, kd = sizes[k].kd, nb = sizes[k].nb;
        double *factor = pp_arena_take(&memory.keep, n * (kd + 1), sizeof *factor);
        double *near = pp_arena_take(&memory.keep, n * (nb + 1), sizeof *near);
        double *room = pp_arena_take(&memory.keep, pp_band_invert_room(kd, nb), sizeof *room);
        double *x = pp_arena_take(&memory.keep, n * STRIDE, sizeof *x);
        double *one = pp_arena_take(&memory.keep, n, sizeof *one);
        for (size_t i = 0; i < n * (kd + 1); i++) factor[i] = random_normal(&random);
        for (size_t i = 0; i < n; i++) factor[i * (kd + 1)] += 3 * (double)kd + 5;
        assert_ok(pp_band_factor(n, kd, factor, &error), &error);
        for (size_t i = 0; i < n * STRIDE; i++) x[i] = random_normal(&random);
        for (size_t c = 0; c < COUNT; c++) {
            double *beside = pp_arena_take(&memory.keep, n * STRIDE, sizeof *beside);
            memcpy(beside, x, n * STRIDE * sizeof *x);
            for (size_t i = 0; i < n; i++) one[i] = x[i * STRIDE + c];
            assert_ok(pp_band_solve(n, kd, factor, 1, one, &error), &error);
            assert_ok(pp_band_solve_beside(n, kd, factor, COUNT, beside, STRIDE, &error), &error);
            for (size_t i = 0; i < n; i++) {
                assert_near(beside[i * STRIDE + c], one[i], 1e-13);
                assert_near(beside[i * STRIDE + COUNT], x[i * STRIDE + COUNT], 0);
            }
        }
        forward_and_back_to_the_start(&memory, n, kd, factor, &random);
        pp_band_invert_near(n, kd, factor, nb, near, room);
        for (size_t j = 0; j < n; j++) {
            for (size_t i = 0; i < n; i++) one[i] = i == j;
            assert_ok(pp_band_solve(n, kd, factor, 1, one, &error), &error);
            for (size_t i = j; i <= j + nb; i++)
                assert_near(near[j * (nb + 1) + i - j], i < n ? one[i] : 0, 1e-13);
        }
    }
    pp_memory_free(&memory);
}

/* Each in what a page or paper shows: only letters read from right to left are in isolates. */
static void what_turns_the_reading_direction_is_isolated(void **state)
{
    (void)state;
    static const struct {
        const char *given, *shown;
    } cases[] = {
        {"plate 7", "plate 7"},
        {"\u05dc\u05d5\u05d7", "\u2068\u05dc\u05d5\u05d7\u2069"},
        {"a \u05d0, 12 \u05d1 7 mm", "a \u2068\u05d0, 12 \u05d1\u2069 7 mm"},
        {"\u05d0 b \u0628", "\u2068\u05d0\u2069 b \u2068\u0628\u2069"},
        {"\u202e\u05d0", "<U+202E>\u2068\u05d0\u2069"},
        {"\u05d0\u2069\u05d1", "\u2068\u05d0\u2069<U+2069>\u2068\u05d1\u2069"},
        {"\x1b\u05d0\xff", "\\x1b\u2068\u05d0\u2069\\xff"},
        {"\u00fc \u4e2d", "\u00fc \u4e2d"},
        {"", ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pp_text shown = {0};
        pp_text_add_isolated(&shown, cases[i].given);
        assert_string_equal(shown.data ? shown.data : "", cases[i].shown);
        pp_text_free(&shown);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_taken_elsewhere_is_given_back_with_the_rest),
        cmocka_unit_test(what_turns_the_reading_direction_is_isolated),
        cmocka_unit_test(arena_gives_back_to_the_mark),
        cmocka_unit_test(a_trimmed_arena_keeps_what_is_taken_and_nothing_spare),
        cmocka_unit_test(the_end_of_a_large_block_goes_back_and_what_is_before_it_stays),
        cmocka_unit_test(parallel_runs_every_part_and_reports_the_lowest_failure),
        cmocka_unit_test(band_solve_inverts_band_multiply),
        cmocka_unit_test(condition_of_a_band_is_that_of_its_columns),
        cmocka_unit_test(small_systems_are_solved_in_any_size_and_part),
        cmocka_unit_test(bands_solve_and_invert_in_blocks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
