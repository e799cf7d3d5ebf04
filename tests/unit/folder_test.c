#include "support/check.h"
#include "support/place.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include "report/bundle/bundle_write.h"
#include "report/folder/folder.h"
#include "report/folder/report_files.h"
#include "report/folder/write.h"
#include "report/tables/csvout.h"

static const char RESULTS[] = "{\n  \"format\": \"plateproof-results\",\n  \"version\": 1\n}\n";

static bool replace_signed; /* what write_report allows */

static pp_status write_report(const char *target, const char *holes, pp_error *error)
{
    pp_arena arena = {0};
    pp_folder folder;
    pp_status status = pp_folder_open(&folder, target, replace_signed, &arena, error);
    if (status == PP_OK) {
        status = pp_folder_add(&folder, "results.json", RESULTS, strlen(RESULTS), error);
        if (status == PP_OK)
            status = pp_folder_add(&folder, "holes.csv", holes, strlen(holes), error);
        if (status == PP_OK) status = pp_folder_commit(&folder, error);
        if (status != PP_OK) pp_folder_abandon(&folder);
    }
    pp_arena_free(&arena);
    return status;
}

static void assert_holes(const char *target, const char *want)
{
    char path[600];
    snprintf(path, sizeof path, "%s/holes.csv", target);
    char *got = test_read(path);
    assert_non_null(got);
    assert_string_equal(got, want);
    free(got);
}

static void a_new_folder_appears_whole(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    const char *target = test_path(&place, "job-report/");
    assert_ok(write_report(target, "first", &error), &error);
    assert_holes(target, "first");
    assert_int_equal(test_count(target), 2);
    assert_int_equal(test_count(place.path), 1); /* nothing hidden stays */
    struct stat facts;
    stat(target, &facts);
    mode_t mask = umask(0);
    umask(mask);
    assert_int_equal(facts.st_mode & 0777, 0777 & ~mask);
    test_place_remove(&place);
}

static void a_report_or_an_empty_folder_is_replaced(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    const char *target = test_path(&place, "r");
    mkdir(target, 0750);
    assert_ok(write_report(target, "first", &error), &error);
    char path[600];
    snprintf(path, sizeof path, "%s/signature.json", target);
    test_write(path, "old signature");
    snprintf(path, sizeof path, "%s/photo.jpg", target);
    test_write(path, "a photograph");
    assert_int_equal(write_report(target, "second", &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "--replace-signed"));
    assert_holes(target, "first");
    replace_signed = true;
    assert_ok(write_report(target, "second", &error), &error);
    replace_signed = false;
    assert_holes(target, "second");
    assert_int_equal(test_count(target), 3); /* results, holes and the photograph */
    char *photo = test_read(path);
    assert_string_equal(photo, "a photograph");
    free(photo);
    assert_int_equal(test_count(place.path), 1);
    struct stat facts;
    stat(target, &facts);
    assert_int_equal(facts.st_mode & 0777, 0750);
    test_place_remove(&place);
}

static void a_link_to_a_folder_stays_a_link(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    mkdir(test_path(&place, "real"), 0755);
    assert_int_equal(symlink("real", test_path(&place, "link")), 0);
    assert_ok(write_report(test_path(&place, "link"), "through", &error), &error);
    assert_holes(test_path(&place, "real"), "through");
    struct stat facts;
    lstat(test_path(&place, "link"), &facts);
    assert_true(S_ISLNK(facts.st_mode));
    test_place_remove(&place);
}

static void what_is_no_report_is_left_alone(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    pp_arena arena = {0};
    const char *target = test_path(&place, "thesis");
    mkdir(target, 0755);
    char path[600];
    snprintf(path, sizeof path, "%s/results.json", target);
    test_write(path, "{\"format\": \"something else\"}");
    assert_int_equal(write_report(target, "x", &error), PP_EINPUT);
    assert_int_equal(pp_folder_check(target, false, &arena, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "--output"));
    assert_int_equal(test_count(target), 1);
    test_write(test_path(&place, "file"), "x");
    assert_int_equal(write_report(test_path(&place, "file"), "x", &error), PP_EINPUT);
    assert_int_equal(write_report(test_path(&place, "no/such/place"), "x", &error), PP_EIO);
    assert_int_equal(write_report("/", "x", &error), PP_EINPUT);
    assert_ok(pp_folder_check(test_path(&place, "free"), false, &arena, &error), &error);
    assert_int_equal(test_count(place.path), 2);
    pp_arena_free(&arena);
    test_place_remove(&place);
}

static void a_full_disk_changes_nothing(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    const char *target = test_path(&place, "r");
    assert_ok(write_report(target, "old", &error), &error);
    struct rlimit before, tight;
    getrlimit(RLIMIT_FSIZE, &before);
    tight = before;
    tight.rlim_cur = 1000; /* write fails beyond, as on a full disk */
    void (*handler)(int) = signal(SIGXFSZ, SIG_IGN);
    setrlimit(RLIMIT_FSIZE, &tight);
    char big[4000];
    memset(big, 'x', sizeof big - 1);
    big[sizeof big - 1] = '\0';
    pp_status status = write_report(target, big, &error);
    setrlimit(RLIMIT_FSIZE, &before);
    signal(SIGXFSZ, handler);
    assert_int_equal(status, PP_EIO);
    assert_non_null(strstr(error.message, "nothing was changed"));
    assert_holes(target, "old");
    assert_int_equal(test_count(place.path), 1);
    test_place_remove(&place);
}

static void a_read_only_place_is_refused(void **state)
{
    (void)state;
    if (geteuid() == 0) {
        print_message("skipped: root may write anywhere\n");
        skip();
    }
    test_place place = test_place_make();
    pp_error error = {0};
    chmod(place.path, 0555);
    assert_int_equal(write_report(test_path(&place, "r"), "x", &error), PP_EIO);
    chmod(place.path, 0755);
    test_place_remove(&place);
}

/* A child that has written half a report and waits; *line tells when. */
static pid_t start_half_a_report(const char *target, int line[2])
{
    assert_int_equal(pipe(line), 0);
    pid_t child = fork();
    if (child == 0) {
        pp_arena arena = {0};
        pp_folder folder;
        pp_error error;
        if (pp_folder_open(&folder, target, false, &arena, &error) != PP_OK) _exit(1);
        pp_folder_add(&folder, "results.json", RESULTS, 20, &error);
        if (write(line[1], "x", 1) != 1) _exit(1);
        for (;;) pause();
    }
    char byte;
    assert_int_equal(read(line[0], &byte, 1), 1);
    return child;
}

static void left_overs_of_killed_runs_go_and_live_ones_stay(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_error error = {0};
    const char *target = test_path(&place, "r");
    int line[2];
    pid_t child = start_half_a_report(target, line);
    assert_int_equal(test_count(place.path), 1); /* the hidden one */
    assert_ok(write_report(target, "meanwhile", &error), &error);
    assert_int_equal(test_count(place.path), 2); /* the live run's is still there */
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
    assert_holes(target, "meanwhile");
    assert_ok(write_report(target, "after", &error), &error);
    assert_int_equal(test_count(place.path), 1);
    assert_holes(target, "after");
    close(line[0]);
    close(line[1]);
    test_place_remove(&place);
}

/* -1: another run took the folder away meanwhile; 0: it stood there, in parts; 1: it was whole */
static int look_at_report(const char *target)
{
    struct stat opened, found;
    int folder = open(target, O_RDONLY | O_DIRECTORY);
    if (folder < 0) return errno == ENOENT ? -1 : 0;
    bool whole = faccessat(folder, "results.json", R_OK, 0) == 0 &&
                 faccessat(folder, "holes.csv", R_OK, 0) == 0;
    bool stands =
        fstat(folder, &opened) == 0 && stat(target, &found) == 0 && opened.st_ino == found.st_ino;
    close(folder);
    return whole ? 1 : stands ? 0 : -1;
}

static int look_until_ended(const char *target, pid_t *children, int count)
{
    int looks = 0;
    for (int ended = 0; ended < count;) {
        int status, seen = look_at_report(target);
        assert_int_not_equal(seen, 0);
        looks += seen == 1;
        if (waitpid(children[ended], &status, WNOHANG) <= 0) continue;
        assert_int_equal(status, 0);
        ended++;
    }
    return looks;
}

static void runs_at_once_leave_one_whole_report(void **state)
{
    (void)state;
    test_place place = test_place_make();
    const char *target = test_path(&place, "r");
    enum { RUNS = 4, EACH = 60 };
    pid_t children[RUNS];
    for (int i = 0; i < RUNS; i++) {
        children[i] = fork();
        if (children[i] != 0) continue;
        char holes[8] = {(char)('a' + i), 0};
        pp_error error;
        for (int k = 0; k < EACH; k++)
            if (write_report(target, holes, &error) != PP_OK) {
                print_error("%s\n", error.message);
                _exit(1);
            }
        _exit(0);
    }
    assert_true(look_until_ended(target, children, RUNS) > 0);
    assert_int_equal(test_count(target), 2);
    assert_int_equal(test_count(place.path), 1);
    test_place_remove(&place);
}

/* What a run may write is known as its own, a bundle's report too, and nothing else is. */
static void every_file_of_a_report_is_known(void **state)
{
    (void)state;
    for (size_t i = 0; i < pp_report_file_count(); i++) {
        assert_true(pp_report_file_is_known(pp_report_file_name(i)));
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(pp_report_file_name(i), pp_report_file_name(k));
    }
    for (int page = 0; page < PP_PAGE_COUNT; page++)
        assert_true(pp_report_file_is_known(pp_report_page_name((pp_report_page)page)));
    for (int table = 0; table < PP_CSV_COUNT; table++)
        assert_true(pp_report_file_is_known(pp_csv_file_name((pp_csv)table)));
    assert_true(pp_report_file_is_known("results.xlsx")); /* first and last of those beside them */
    assert_true(pp_report_file_is_known("history.csv"));
    for (size_t i = 0; i < pp_bundle_file_count(); i++)
        assert_true(pp_report_file_is_known(pp_bundle_file_name(i)));
    assert_true(pp_report_file_is_known("results.qif.gz"));
    assert_false(pp_report_file_is_known("notes.txt"));
    assert_false(pp_report_file_is_known("holes.csv "));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_file_of_a_report_is_known),
        cmocka_unit_test(a_new_folder_appears_whole),
        cmocka_unit_test(a_report_or_an_empty_folder_is_replaced),
        cmocka_unit_test(a_link_to_a_folder_stays_a_link),
        cmocka_unit_test(what_is_no_report_is_left_alone),
        cmocka_unit_test(a_full_disk_changes_nothing),
        cmocka_unit_test(a_read_only_place_is_refused),
        cmocka_unit_test(left_overs_of_killed_runs_go_and_live_ones_stay),
        cmocka_unit_test(runs_at_once_leave_one_whole_report),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
