/* The way over the plate: every place once, no longer than walking the lanes, near the shortest. */
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "holes/route.h"
#include "support/check.h"
#include "support/random.h"

typedef struct way {
    pp_memory memory;
    uint32_t *order;
    double length;
} way;

static way find(size_t count, const double *x, const double *y)
{
    way w = {0};
    pp_error error = {0};
    w.order = pp_arena_take(&w.memory.keep, count, sizeof *w.order);
    assert_ok(pp_route_find(count, x, y, &w.memory.scratch, w.order, &w.length, &error), &error);
    return w;
}

static void assert_all_once(const way *w, size_t count)
{
    bool *seen = calloc(count, 1);
    for (size_t i = 0; i < count; i++) {
        assert_true(w->order[i] < count);
        assert_false(seen[w->order[i]]);
        seen[w->order[i]] = true;
    }
    free(seen);
}

static double length_of(const uint32_t *order, size_t count, const double *x, const double *y)
{
    double length = 0;
    for (size_t i = 1; i < count; i++)
        length += hypot(x[order[i]] - x[order[i - 1]], y[order[i]] - y[order[i - 1]]);
    return length;
}

/* A lattice of 12 by 10 can be walked to and fro without a detour: 119 steps of 30 mm. */
static void a_lattice_is_walked_without_a_detour(void **state)
{
    (void)state;
    enum { COLUMNS = 12, ROWS = 10, COUNT = COLUMNS * ROWS };
    double x[COUNT], y[COUNT];
    for (int i = 0; i < COUNT; i++) {
        int place = (i * 47) % COUNT; /* in no order */
        x[i] = 30.0 * (place % COLUMNS);
        y[i] = 30.0 * (place / COLUMNS);
    }
    way w = find(COUNT, x, y);
    assert_all_once(&w, COUNT);
    assert_near(w.length, length_of(w.order, COUNT, x, y), 1e-9);
    assert_true(w.length <= 1.12 * 119 * 30);
    assert_near(y[w.order[0]], 0, 1e-9); /* begins at the lower left */
    assert_near(x[w.order[0]], 0, 1e-9);
    pp_memory_free(&w.memory);
}

/* Random places: the shortest closed way is about 0.7124 sqrt(n A) (Beardwood, Halton, Hammersley
 * 1959, the constant after Johnson and McGeoch); lanes alone give about 0.92, this at most 0.85. */
static void random_places_are_walked_near_the_shortest(void **state)
{
    (void)state;
    enum { COUNT = 900 };
    double x[COUNT], y[COUNT], side = 1000;
    test_random seed = {11};
    for (int i = 0; i < COUNT; i++) {
        x[i] = side * random_unit(&seed);
        y[i] = side * random_unit(&seed);
    }
    way w = find(COUNT, x, y);
    assert_all_once(&w, COUNT);
    double lanes = 0.92 * sqrt(COUNT) * side;
    assert_true(w.length < 0.85 / 0.92 * lanes);
    assert_true(w.length > 0.6 * sqrt(COUNT) * side); /* nobody gets below */
    pp_memory_free(&w.memory);
}

/* None, one, all in one place, all on one line. */
static void odd_lists_have_a_way_too(void **state)
{
    (void)state;
    double x[5] = {3, 1, 2, 5, 4}, y[5] = {7, 7, 7, 7, 7};
    way w = find(0, x, y);
    assert_near(w.length, 0, 0);
    pp_memory_free(&w.memory);
    w = find(1, x, y);
    assert_int_equal(w.order[0], 0);
    pp_memory_free(&w.memory);
    w = find(5, x, y);
    assert_near(w.length, 4, 1e-12);
    assert_int_equal(w.order[0], 1);
    pp_memory_free(&w.memory);
    w = find(5, y, y);
    assert_all_once(&w, 5);
    assert_near(w.length, 0, 0);
    pp_memory_free(&w.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lattice_is_walked_without_a_detour),
        cmocka_unit_test(random_places_are_walked_near_the_shortest),
        cmocka_unit_test(odd_lists_have_a_way_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
