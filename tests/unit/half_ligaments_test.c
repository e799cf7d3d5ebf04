/* What one hole leaves of the metal to its neighbours. */
#include "support/seven_holes.h"

#include "support/random.h"

#define SAMPLED JOB_HEAD JOB_HOLES "align = as-measured\ncoverage = sample\n"

/* C is 0.1 towards E and 0.2 wide: towards E it leaves 16 - 12.95 - 0.1, towards NE half a 0.1
 * less. */
static void it_is_counted_from_half_way_to_the_nearest_neighbour(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){SAMPLED "[rules]\n" SIZES, SEVEN,
                                  "hole,x,y,diameter\nC,0.1,0,25.9\nNE,16,27.712813,25.7\n", NULL});
    const pp_measures *m = &run.measures;
    assert_int_equal(m->half_ligaments.neighbours_most, 6);
    assert_near(m->half_ligaments.of[m->bore_of[PP_ENTRY][named(&run, "C")]].value, 2.95, 1e-9);
    assert_near(m->half_ligaments.of[m->bore_of[PP_ENTRY][named(&run, "NE")]].value, 3.15, 1e-6);
    pp_memory_free(&run.memory);
}

static void write_readings(test_random *r, char *text, size_t room)
{
    static const char *const NAMES[] = {"C", "E", "NE", "NW", "W", "SW", "SE"};
    static const double X[] = {0, 32, 16, -16, -32, -16, 16};
    static const double Y[] = {0, 0, 27.712813, 27.712813, 0, -27.712813, -27.712813};
    size_t n = (size_t)snprintf(text, room, "hole,x,y,diameter\n");
    for (int i = 0; i < 7; i++)
        n += (size_t)snprintf(text + n, room - n, "%s,%.6f,%.6f,%.6f\n", NAMES[i],
                              X[i] + 2 * random_normal(r), Y[i] + 2 * random_normal(r),
                              25.7 + random_normal(r));
}

/* However holes lie: this is what the bound on a whole plate's pairs stands on. */
static void two_neighbours_have_at_least_the_sum_between_them(void **state)
{
    (void)state;
    test_random r = {7};
    double least_spare = INFINITY;
    for (int round = 0; round < 100; round++) {
        char text[512];
        holes_run run;
        write_readings(&r, text, sizeof text);
        run_texts(&run, (holes_texts){SAMPLED "[rules]\n" SIZES, SEVEN, text, NULL});
        const pp_measures *m = &run.measures;
        assert_int_equal(m->ligament_count, 12);
        for (size_t i = 0; i < m->ligament_count; i++) {
            const pp_ligament *l = &m->ligaments[i];
            double spare = l->value - m->half_ligaments.of[m->bore_of[PP_ENTRY][l->a]].value -
                           m->half_ligaments.of[m->bore_of[PP_ENTRY][l->b]].value;
            assert_true(spare >= -1e-9);
            least_spare = fmin(least_spare, spare);
        }
        pp_memory_free(&run.memory);
    }
    assert_true(least_spare < 0.1); /* and no less than that, where both are worst to each other */
}

/* Nothing is taken where every hole is asked for: a large plate has millions. */
static void only_a_sample_asks_for_it(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES "align = as-measured\n[rules]\n" SIZES, SEVEN,
                                  "hole,x,y,diameter\nC,0.1,0,25.9\n", NULL});
    assert_null(run.measures.half_ligaments.of);
    pp_memory_free(&run.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_counted_from_half_way_to_the_nearest_neighbour),
        cmocka_unit_test(two_neighbours_have_at_least_the_sum_between_them),
        cmocka_unit_test(only_a_sample_asks_for_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
