/* A connection that does not say in time what it wants is shut down; others are left alone. */
#include "serve/watch.h"

#include <sys/socket.h>
#include <unistd.h>

#include "support/check.h"

static bool is_shut(int socket)
{
    char byte;
    return recv(socket, &byte, 1, MSG_DONTWAIT) == 0; /* the end; -1 while it is open */
}

static void late_ones_are_dropped(void **state)
{
    (void)state;
    pp_watch watch = {0};
    int slow[2], busy[2];
    pp_watch_begin(&watch);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, slow), 0);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, busy), 0);
    pp_watched *first = pp_watch_add(&watch, slow[0], 1000);
    pp_watched *second = pp_watch_add(&watch, busy[0], 1000);
    pp_watch_set(&watch, second, 0); /* has said what it wants */
    pp_watch_drop_late(&watch, 1000 + PP_IDLE_SECONDS - 1);
    assert_false(is_shut(slow[1]));
    pp_watch_drop_late(&watch, 1000 + PP_IDLE_SECONDS);
    assert_true(is_shut(slow[1]));
    assert_false(is_shut(busy[1]));
    pp_watch_remove(&watch, first);
    assert_ptr_equal(pp_watch_add(&watch, slow[0], 1000), first); /* free again */
    for (int i = 0; i < 2; i++) close(slow[i]), close(busy[i]);
}

static void places_run_out(void **state)
{
    (void)state;
    pp_watch watch = {0};
    pp_watch_begin(&watch);
    for (int i = 0; i < PP_CONNECTIONS_MAX; i++) assert_non_null(pp_watch_add(&watch, i, 0));
    assert_null(pp_watch_add(&watch, PP_CONNECTIONS_MAX, 0));
}

static void so_many_a_second(void **state)
{
    (void)state;
    pp_watch watch = {0};
    pp_watch_begin(&watch);
    for (int i = 0; i < PP_PACE_MAX; i++) assert_true(pp_watch_pace(&watch, 7));
    assert_false(pp_watch_pace(&watch, 7));
    assert_true(pp_watch_pace(&watch, 8));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_ones_are_dropped),
        cmocka_unit_test(places_run_out),
        cmocka_unit_test(so_many_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
