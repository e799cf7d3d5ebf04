/* The order holes are drilled in: every hole once, rows to and fro, sweeps that keep drift apart.
 */
#include "holddown/drilling_order.h"
#include "support/check.h"

enum { ROWS = 21, COLUMNS = 10, HOLES = ROWS * COLUMNS };

typedef struct field {
    pp_memory memory;
    double x[HOLES], y[HOLES];
    uint32_t holes[HOLES];
    pp_drilling_path path;
} field;

/* A triangular field, listed in a scrambled order; rows are not quite straight. */
static field *make(pp_drilling_order order, size_t count)
{
    static field made;
    pp_error error = {0};
    made = (field){0};
    for (uint32_t i = 0; i < HOLES; i++) {
        uint32_t k = (i * 89 + 5) % HOLES, row = k / COLUMNS, column = k % COLUMNS;
        made.x[i] = 32.0 * column + (row % 2 ? 16 : 0);
        made.y[i] = 32 * sqrt(0.75) * row + ((double)(column % 3) - 1) * 0.2;
        made.holes[i] = i;
    }
    assert_ok(pp_drilling_order_make(&(pp_drilling_pattern){made.x, made.y, 32, order}, count,
                                     made.holes, &made.memory.scratch, &made.path, &error),
              &error);
    return &made;
}

static double travelled(const field *f)
{
    double sum = 0;
    for (size_t k = 1; k < HOLES; k++)
        sum += hypot(f->x[f->holes[k]] - f->x[f->holes[k - 1]],
                     f->y[f->holes[k]] - f->y[f->holes[k - 1]]);
    return sum;
}

static void check_each_once(const field *f)
{
    bool seen[HOLES] = {false};
    for (size_t k = 0; k < HOLES; k++) {
        assert_false(seen[f->holes[k]]);
        seen[f->holes[k]] = true;
    }
}

/* Correlation of the place in the order with y: what a drift would be mistaken for. */
static double likeness(const field *f)
{
    double sum_y = 0, sum_s = 0, sum_ys = 0;
    for (size_t k = 0; k < HOLES; k++) sum_y += f->y[f->holes[k]] / HOLES;
    double yy = 0;
    for (size_t k = 0; k < HOLES; k++) {
        double y = f->y[f->holes[k]] - sum_y, s = (double)k - (HOLES - 1) / 2.0;
        yy += y * y, sum_s += s * s, sum_ys += y * s;
    }
    return sum_ys / sqrt(yy * sum_s);
}

static void rows_run_to_and_fro(void **state)
{
    (void)state;
    field *f = make(PP_ORDER_BY_ROWS, HOLES);
    check_each_once(f);
    assert_int_equal(f->path.sweeps, 1);
    assert_near(f->path.travel, travelled(f), 1e-9);
    assert_near(f->path.travel_by_rows, f->path.travel, 0);
    assert_true(f->path.travel < 1.02 * 32 * (HOLES - 1)); /* nearly a pitch from hole to hole */
    assert_true(likeness(f) > 0.99);
    pp_memory_free(&f->memory);
}

static void sweeps_keep_drift_apart_from_place(void **state)
{
    (void)state;
    field *f = make(PP_ORDER_INTERLEAVED, HOLES);
    check_each_once(f);
    assert_int_equal(f->path.sweeps, 4);
    assert_near(f->path.travel, travelled(f), 1e-9);
    assert_true(f->path.travel > f->path.travel_by_rows);
    assert_true(f->path.travel < 1.5 * f->path.travel_by_rows);
    assert_true(fabs(likeness(f)) < 0.2);
    for (size_t k = 1; k < COLUMNS; k++) /* the first row is whole */
        assert_near(f->y[f->holes[k]], f->y[f->holes[0]], 0.5);
    assert_near(f->y[f->holes[COLUMNS]] - f->y[f->holes[0]], 4 * 32 * sqrt(0.75), 0.5);
    pp_memory_free(&f->memory);
}

static void few_rows_are_not_swept(void **state)
{
    (void)state;
    double x[] = {0, 30, 60, 0, 30, 60}, y[] = {0, 0, 0, 30, 30, 30};
    uint32_t holes[] = {4, 0, 5, 2, 1};
    static const uint32_t expected[] = {0, 1, 2, 5, 4};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_drilling_path path;
    assert_ok(pp_drilling_order_make(&(pp_drilling_pattern){x, y, NAN, PP_ORDER_INTERLEAVED}, 5,
                                     holes, &memory.scratch, &path, &error),
              &error);
    assert_memory_equal(holes, expected, sizeof holes);
    assert_int_equal(path.sweeps, 1);
    assert_near(path.travel, 120, 1e-12);
    assert_ok(pp_drilling_order_make(&(pp_drilling_pattern){x, y, 30, PP_ORDER_BY_ROWS}, 0, holes,
                                     &memory.scratch, &path, &error),
              &error);
    assert_near(path.travel, 0, 0);
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_run_to_and_fro),
        cmocka_unit_test(sweeps_keep_drift_apart_from_place),
        cmocka_unit_test(few_rows_are_not_swept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
