/* Nothing outside one folder can be opened, by either way of opening (openat2(2),
 * path_resolution(7)).
 */
#include "serve/beneath.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/check.h"
#include "support/place.h"

typedef struct place {
    test_place made;
    const char *top;
    int root;
} place;

static void put(int folder, const char *name, const char *text)
{
    int handle = openat(folder, name, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    assert_true(handle >= 0);
    assert_int_equal(write(handle, text, strlen(text)), strlen(text));
    close(handle);
}

/*   secret          outside
 *   in/a.csv  in/deep/b.csv  in/pipe
 *   in/out -> ../secret   in/up -> ..   in/abs -> /etc   in/near -> deep/b.csv */
static int build(void **state)
{
    place *p = calloc(1, sizeof *p);
    if (!p) return -1;
    p->made = test_place_make();
    p->top = p->made.path;
    int top = open(p->top, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    mkdirat(top, "in", 0700);
    mkdirat(top, "in/deep", 0700);
    put(top, "secret", "secret");
    put(top, "in/a.csv", "a");
    put(top, "in/deep/b.csv", "b");
    mkfifoat(top, "in/pipe", 0600);
    if (symlinkat("../secret", top, "in/out") || symlinkat("..", top, "in/up") ||
        symlinkat("/etc", top, "in/abs") || symlinkat("deep/b.csv", top, "in/near"))
        return -1;
    p->root = openat(top, "in", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    close(top);
    *state = p;
    return p->root >= 0 ? 0 : -1;
}

static int remove_all(void **state)
{
    place *p = *state;
    static const char *const NAMES[] = {"in/a.csv", "in/deep/b.csv", "in/pipe", "in/out",
                                        "in/up",    "in/abs",        "in/near", "secret"};
    int top = open(p->top, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) unlinkat(top, NAMES[i], 0);
    unlinkat(top, "in/deep", AT_REMOVEDIR);
    unlinkat(top, "in", AT_REMOVEDIR);
    close(top);
    close(p->root);
    rmdir(p->top);
    free(p);
    return 0;
}

typedef int (*opener)(int root, const char *path, int flags);

/* What stands first in what is opened; '-' where it is refused. */
static char first_of(opener open_it, int root, const char *path)
{
    char first = '-';
    int handle = open_it(root, path, O_RDONLY | O_NONBLOCK);
    if (handle < 0) return '-';
    if (read(handle, &first, 1) != 1) first = '?';
    close(handle);
    return first;
}

static void both_ways_stay_below(void **state)
{
    place *p = *state;
    static const opener WAYS[] = {pp_beneath_open, pp_beneath_open_by_steps};
    static const char *const OUT[] = {"../secret",
                                      "deep/../../secret",
                                      "out",
                                      "up/secret",
                                      "abs/passwd",
                                      "/etc/passwd",
                                      "deep/../../in/a.csv",
                                      "up/in/a.csv",
                                      "nothing",
                                      "/proc/self/root/etc/passwd"};
    for (size_t way = 0; way < 2; way++) {
        assert_int_equal(first_of(WAYS[way], p->root, "a.csv"), 'a');
        assert_int_equal(first_of(WAYS[way], p->root, "deep/b.csv"), 'b');
        assert_int_equal(first_of(WAYS[way], p->root, "deep/../a.csv"), 'a');
        for (size_t i = 0; i < sizeof OUT / sizeof *OUT; i++)
            assert_int_equal(first_of(WAYS[way], p->root, OUT[i]), '-');
    }
    assert_int_equal(first_of(pp_beneath_open_by_steps, p->root, "near"), '-'); /* no link at all */
}

static void only_ordinary_files(void **state)
{
    place *p = *state;
    struct stat found;
    int handle = pp_beneath_open_file(p->root, "a.csv", &found);
    assert_true(handle >= 0);
    assert_int_equal(found.st_size, 1);
    close(handle);
    assert_int_equal(pp_beneath_open_file(p->root, "pipe", NULL), -1); /* does not wait */
    assert_int_equal(errno, EINVAL);
    assert_int_equal(pp_beneath_open_file(p->root, "deep", NULL), -1);
    assert_int_equal(pp_beneath_open_file(p->root, "", NULL), -1);
}

typedef struct swapping {
    int root;
    atomic_bool done;
} swapping;

/* in/swap is now the folder deep, now a link to where the secret is. */
static void *swap_links(void *context)
{
    swapping *s = context;
    while (!atomic_load(&s->done)) {
        if (symlinkat("deep", s->root, "swap") != 0) break;
        unlinkat(s->root, "swap", 0);
        if (symlinkat("..", s->root, "swap") != 0) break;
        unlinkat(s->root, "swap", 0);
    }
    return NULL;
}

static void swapped_links_lead_nowhere_else(void **state)
{
    place *p = *state;
    swapping s = {.root = p->root};
    pthread_t other;
    assert_int_equal(pthread_create(&other, NULL, swap_links, &s), 0);
    for (int i = 0; i < 20000; i++) {
        char found = first_of(pp_beneath_open, p->root, "swap/secret");
        char steps = first_of(pp_beneath_open_by_steps, p->root, "swap/secret");
        if (found != '-' || steps != '-') fail_msg("the secret came out");
    }
    atomic_store(&s.done, true);
    pthread_join(other, NULL);
}

static void names_over_the_wire(void **state)
{
    (void)state;
    static const char *const GOOD[] = {"a.csv", "a/b/c.ini", "with blank.csv",
                                       "Platte \xc3\xa4.ini"};
    static const char *const BAD[] = {"",      "/",       "/etc",   "a/",   "a//b",    ".",
                                      "..",    "../a",    "a/../b", "a/..", ".hidden", "a/.b",
                                      "a\nb",  "a\\b",    "a\x7f",  "\xff", "\xc3",    "\xc0\xae",
                                      "a/./b", "\xed\xa0" /* cut off */};
    for (size_t i = 0; i < sizeof GOOD / sizeof *GOOD; i++) assert_true(pp_beneath_proper(GOOD[i]));
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        if (pp_beneath_proper(BAD[i])) fail_msg("\"%s\" was taken", BAD[i]);
    char longest[PP_BENEATH_PATH_MAX + 1];
    memset(longest, 'a', sizeof longest);
    longest[PP_BENEATH_PATH_MAX] = '\0';
    assert_false(pp_beneath_proper(longest));
    longest[PP_BENEATH_PATH_MAX - 1] = '\0';
    assert_true(pp_beneath_proper(longest));
}

static void written_names_are_put_together(void **state)
{
    (void)state;
    char path[PP_BENEATH_PATH_MAX];
    assert_true(pp_beneath_join("/srv/plates", "k2", "../data/./m.csv", path));
    assert_string_equal(path, "data/m.csv");
    assert_true(pp_beneath_join("/srv/plates", "k2", "/srv/plates/x/m.csv", path));
    assert_string_equal(path, "x/m.csv");
    assert_true(pp_beneath_join("/srv/plates", "", "m.csv", path));
    assert_string_equal(path, "m.csv");
    assert_false(pp_beneath_join("/srv/plates", "k2", "../../m.csv", path));
    assert_false(pp_beneath_join("/srv/plates", "k2", "/srv/plates2/m.csv", path));
    assert_false(pp_beneath_join("/srv/plates", "k2", "/etc/passwd", path));
    assert_false(pp_beneath_join("/srv/plates", "k2", "/srv/plates/../m.csv", path));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(both_ways_stay_below, build, remove_all),
        cmocka_unit_test_setup_teardown(only_ordinary_files, build, remove_all),
        cmocka_unit_test_setup_teardown(swapped_links_lead_nowhere_else, build, remove_all),
        cmocka_unit_test(names_over_the_wire),
        cmocka_unit_test(written_names_are_put_together),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
