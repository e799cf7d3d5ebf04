/* Machine time by hand. 18 to 19 s a hole of 40 or 47 mm in 25 mm plate, 40 to 42 s for the
 * roughing pass of a stack: common practice, no source. */
#include "answer/holddown_words.h"
#include "holddown/machine_time.h"
#include "support/check.h"

static pp_machine_rates rates_of(double per_hole, double per_setup, double per_tool)
{
    return (pp_machine_rates){.seconds_per_hole = per_hole,
                              .seconds_per_setup = per_setup,
                              .holes_per_tool = per_tool,
                              .seconds_roughing = NAN,
                              .seconds_finishing = NAN};
}

static void hours_add_up(void **state)
{
    (void)state;
    pp_machine_rates rates = rates_of(18.5, 600, 800);
    rates.seconds_roughing = 41;
    rates.seconds_finishing = 18.5;
    const pp_machine_work work = {.holes = 2401, .setups = 4, .clamps = 3, .force_to_close = 30200};
    pp_machine_time t = pp_machine_time_of(&rates, &work);
    assert_true(t.valid);
    assert_near(t.drilling, 12.338472222222222, 1e-12); /* 44,418.5 s */
    assert_near(t.setting_up, 4 / 6.0, 1e-12);
    assert_near(t.reclamping, 0.5, 1e-12);
    assert_near(t.total, 13.005138888888889, 1e-12);
    assert_near(t.roughing, 27.344722222222222, 1e-12); /* 98,441 s */
    assert_near(t.finishing, t.drilling, 1e-12);
    assert_int_equal(t.tools, 4); /* three last for 2,400 */
    assert_near(t.stronger_foot, 30200, 0);
}

static void what_is_not_given_is_not_made_up(void **state)
{
    (void)state;
    pp_machine_rates rates = rates_of(NAN, 600, 800);
    pp_machine_work work = {.holes = 100, .setups = 1, .force_to_close = 9000};
    assert_false(pp_machine_time_of(&rates, &work).valid);
    work.clamps = 1; /* without hours, too, a foot that spares the clamp is worth knowing */
    assert_near(pp_machine_time_of(&rates, &work).stronger_foot, 9000, 0);
    work.clamps = 0;
    rates = rates_of(18, NAN, NAN);
    pp_machine_time t = pp_machine_time_of(&rates, &work);
    assert_near(t.total, 0.5, 1e-12);
    assert_int_equal(t.tools, 0);
    assert_true(isnan(t.roughing) && isnan(t.stronger_foot)); /* no clamps: nothing to save */
    work.setups = 0;                                          /* no plan: nothing to time */
    assert_false(pp_machine_time_of(&rates, &work).valid);
}

/* What is printed adds up as printed, each part to a tenth of an hour. */
static void the_hours_said_add_up(void **state)
{
    (void)state;
    pp_text text = {0};
    pp_machine_time_say(&text, PP_MM,
                        &(pp_machine_time){.valid = true,
                                           .drilling = 1.66,
                                           .setting_up = 0.66,
                                           .total = 2.32,
                                           .roughing = NAN,
                                           .finishing = NAN,
                                           .stronger_foot = NAN});
    assert_string_equal(text.data, "Machine time 2.4 h: drilling 1.7 h, setting up 0.7 h.");
    pp_text_free(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_add_up),
        cmocka_unit_test(what_is_not_given_is_not_made_up),
        cmocka_unit_test(the_hours_said_add_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
