/* A history's file: what is added, refused and replaced, which report of a plate counts, what is
 * never touched. */
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "support/check.h"
#include "support/place.h"

#include "history/add.h"
#include "history/questions.h"

typedef struct place {
    test_place folder;
    char path[300];
    pp_memory memory;
    pp_history history;
    pp_error error;
} place;

static int open_place(void **state)
{
    place *p = calloc(1, sizeof *p);
    p->folder = test_place_make();
    snprintf(p->path, sizeof p->path, "%s/shop.history", p->folder.path);
    *state = p;
    return 0;
}

static int close_place(void **state)
{
    place *p = *state;
    pp_history_close(&p->history);
    pp_memory_free(&p->memory);
    test_place_remove(&p->folder);
    free(p);
    return 0;
}

static const pp_kept_figure FLAT = {"flatness.minimum_zone.flatness", "mm", 0.5, NAN, 1.0, NAN};

/* A report of a plate with one figure; its hash is of one letter. */
static pp_kept_report report(const char *plate, const char *date, char letter,
                             const pp_kept_figure *figure)
{
    pp_kept_report r = {.folder = "/nowhere",
                        .order_number = "",
                        .item = "",
                        .plate_id = plate,
                        .serial = "",
                        .stage = "",
                        .report_number = "1",
                        .revision = "",
                        .inspection_date = date,
                        .machine = "borer",
                        .machine_serial = "",
                        .drilling_temperature = NAN,
                        .size_x = NAN,
                        .size_y = NAN,
                        .thickness = NAN,
                        .scale_u = NAN,
                        .verdict = "conforms",
                        .basis = "",
                        .tool_version = "0",
                        .figure_count = 1,
                        .figures = figure};
    memset(r.results_sha256, letter, 64), memset(r.inputs_sha256, 'i', 64);
    return r;
}

static pp_added add(place *p, const pp_kept_report *r, bool replace, char *why)
{
    pp_added fate;
    char text[PP_ADDED_TEXT_MAX];
    assert_ok(pp_history_add(&p->history, r, replace, "2026-01-01T00:00:00Z", &p->memory, &fate,
                             why ? why : text, &p->error),
              &p->error);
    return fate;
}

static void open_history(place *p)
{
    assert_ok(pp_history_open(p->path, PP_HISTORY_CREATE, &p->history, &p->error), &p->error);
}

static void a_report_is_added_once(void **state)
{
    place *p = *state;
    char why[PP_ADDED_TEXT_MAX];
    open_history(p);
    pp_kept_report first = report("P1", "2026-01-01", 'a', &FLAT),
                   other = report("P1", "2026-01-01", 'b', &FLAT);
    assert_int_equal(add(p, &first, false, NULL), PP_ADDED_NEW);
    assert_int_equal(add(p, &first, false, NULL), PP_ADDED_ALREADY_THERE);
    assert_int_equal(add(p, &other, false, why), PP_ADDED_REFUSED);
    assert_non_null(strstr(why, "aaaa"));
    assert_non_null(strstr(why, "bbbb"));
    assert_int_equal(add(p, &other, true, NULL), PP_ADDED_REPLACED);
    pp_list_answer list;
    assert_ok(pp_ask_list(&p->history, &p->memory.keep, &list, &p->error), &p->error);
    assert_int_equal(list.reports, 1);
    assert_int_equal(list.replaced, 1);
}

static void the_latest_stage_counts_in_order_of_dates(void **state)
{
    place *p = *state;
    pp_history_rows rows;
    const pp_selection all = {0};
    open_history(p);
    pp_kept_figure later = FLAT;
    later.value = 0.7;
    pp_kept_report one = report("P1", "2026-02-01", 'a', &FLAT),
                   two = report("P2", "2026-01-01", 'b', &FLAT),
                   again = report("P1", "2026-01-15", 'c', &later);
    one.stage = "after drilling", again.stage = "after rework";
    add(p, &one, false, NULL), add(p, &two, false, NULL), add(p, &again, false, NULL);
    assert_ok(pp_history_select(&p->history, &all, PP_WANT_FIGURE, PP_ROWS_BRIEF, FLAT.name,
                                &p->memory.keep, &rows, &p->error),
              &p->error);
    assert_int_equal(rows.count, 2);
    assert_string_equal(rows.rows[0].label, "P2");
    assert_string_equal(rows.rows[1].label, "P1");
    assert_near(rows.rows[1].value, 0.7, 0);
    assert_near(rows.rows[1].upper, 1.0, 0);
}

static void an_event_sets_the_earlier_plates_aside(void **state)
{
    static const char *const DATES[] = {"2026-01-01", "2026-01-02", "2026-01-03", "2026-01-04"};
    place *p = *state;
    pp_chart_answer chart;
    const pp_selection all = {0};
    open_history(p);
    for (int i = 0; i < 4; i++) {
        char name[] = {'P', (char)('1' + i), 0};
        pp_kept_report r = report(name, DATES[i], (char)('a' + i), &FLAT);
        add(p, &r, false, NULL);
    }
    assert_ok(pp_history_note(&p->history, "new screw", "borer", "2026-01-03",
                              "2026-01-05T00:00:00Z", &p->error),
              &p->error);
    assert_ok(pp_ask_chart(&p->history, &all, "flatness", 0, &p->memory.keep, &chart, &p->error),
              &p->error);
    assert_int_equal(chart.rows.count, 2);
    assert_int_equal(chart.earlier_count, 2);
    assert_string_equal(chart.earlier[0].label, "P1");
    assert_string_equal(chart.rows.event->text, "new screw");
    assert_int_equal(
        pp_history_note(&p->history, "x", "lathe", "2026-01-03", "2026-01-05T00:00:00Z", &p->error),
        PP_EINPUT);
}

static void limits_are_those_of_the_latest_plate(void **state)
{
    place *p = *state;
    pp_used_limits limits;
    const pp_selection all = {0};
    open_history(p);
    const pp_kept_figure wide = {"holes.position.largest", "mm", 0.2, NAN, 0.5, NAN},
                         narrow = {"holes.position.largest", "mm", 0.2, NAN, 0.4, NAN};
    pp_kept_report one = report("P1", "2026-01-01", 'a', &wide),
                   two = report("P2", "2026-01-02", 'b', &narrow);
    add(p, &one, false, NULL), add(p, &two, false, NULL);
    assert_ok(pp_ask_limits(&p->history, &all, &p->memory.keep, &limits, &p->error), &p->error);
    assert_near(limits.position, 0.4, 0);
    assert_true(limits.several);
    assert_true(isnan(limits.lower));
}

static void other_files_are_never_touched(void **state)
{
    place *p = *state;
    char before[] = "hole,x,y\nA,1,2\n", after[64] = {0};
    int handle = open(p->path, O_CREAT | O_RDWR, 0600);
    assert_int_equal(write(handle, before, sizeof before), sizeof before);
    assert_int_equal(pp_history_open(p->path, PP_HISTORY_CREATE, &p->history, &p->error),
                     PP_EINPUT);
    assert_int_equal(pread(handle, after, sizeof after, 0), sizeof before);
    assert_string_equal(after, before);
    close(handle);
}

static void a_history_that_is_not_there_is_not_made_by_a_question(void **state)
{
    place *p = *state;
    assert_int_equal(pp_history_open(p->path, PP_HISTORY_READ, &p->history, &p->error), PP_EIO);
    assert_int_equal(access(p->path, F_OK), -1);
}

static void network_shares_are_known(void **state)
{
    (void)state;
    assert_true(pp_history_is_network(0x6969));      /* NFS */
    assert_true(pp_history_is_network(0xff534d42));  /* CIFS */
    assert_true(pp_history_is_network(0xfe534d42));  /* SMB 2 */
    assert_false(pp_history_is_network(0xef53));     /* ext4 */
    assert_false(pp_history_is_network(0x01021994)); /* tmpfs */
}

static void dates_are_dates(void **state)
{
    (void)state;
    assert_true(pp_is_iso_date("2024-02-29"));
    assert_false(pp_is_iso_date("2023-02-29"));
    assert_false(pp_is_iso_date("2023-13-01"));
    assert_false(pp_is_iso_date("01.02.2023"));
    assert_false(pp_is_iso_date("2023-1-01"));
}

int main(void)
{
#define IN_PLACE(test) cmocka_unit_test_setup_teardown(test, open_place, close_place)
    const struct CMUnitTest tests[] = {
        IN_PLACE(a_report_is_added_once),
        IN_PLACE(the_latest_stage_counts_in_order_of_dates),
        IN_PLACE(an_event_sets_the_earlier_plates_aside),
        IN_PLACE(limits_are_those_of_the_latest_plate),
        IN_PLACE(other_files_are_never_touched),
        IN_PLACE(a_history_that_is_not_there_is_not_made_by_a_question),
        cmocka_unit_test(network_shares_are_known),
        cmocka_unit_test(dates_are_dates),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
