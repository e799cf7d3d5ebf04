/* Who may ask. The values are what browsers send (Fetch standard, RFC 9110 7.2, RFC 6454 7). */
#include "serve/guard.h"

#include <string.h>

#include <sodium.h>

#include "support/check.h"

static void host_is_this_port_of_this_machine(void **state)
{
    (void)state;
    assert_true(pp_guard_host("127.0.0.1:4711", 4711));
    assert_true(pp_guard_host("localhost:4711", 4711));
    static const char *const OTHERS[] = {
        "127.0.0.1",           "localhost",        "127.0.0.1:4712",
        "plates.example:4711", "127.0.0.1:47110",  "127.0.0.1:4711.",
        "localhost:4711 ",     "LOCALHOST:4711",   "127.0.0.1.a:4711",
        "[::1]:4711",          "0.0.0.0:4711",     "127.1:4711",
        "user@localhost:4711", "127.0.0.1:4711/x", "",
        "2130706433:4711"};
    for (size_t i = 0; i < sizeof OTHERS / sizeof *OTHERS; i++)
        assert_false(pp_guard_host(OTHERS[i], 4711));
    assert_false(pp_guard_host(NULL, 4711));
}

static void reading_is_refused_to_other_sites(void **state)
{
    (void)state;
    assert_true(pp_guard_reads(NULL));
    assert_true(pp_guard_reads("same-origin"));
    assert_true(pp_guard_reads("none")); /* typed by the person */
    assert_false(pp_guard_reads("cross-site"));
    assert_false(pp_guard_reads("same-site")); /* another port of this machine */
    assert_false(pp_guard_reads(""));
}

static void changing_wants_this_origin(void **state)
{
    (void)state;
    const char *host = "127.0.0.1:4711";
    assert_true(pp_guard_writes("http://127.0.0.1:4711", "same-origin", host));
    assert_true(pp_guard_writes("http://127.0.0.1:4711", NULL, host));
    assert_false(pp_guard_writes(NULL, "same-origin", host));
    assert_false(pp_guard_writes("null", NULL, host));
    assert_false(pp_guard_writes("https://127.0.0.1:4711", NULL, host));
    assert_false(pp_guard_writes("http://127.0.0.1:4711.example", NULL, host));
    assert_false(pp_guard_writes("http://localhost:4711", NULL, host));
    assert_false(pp_guard_writes("http://127.0.0.1:4712", NULL, host));
    assert_false(pp_guard_writes("http://127.0.0.1:4711", "cross-site", host));
    assert_false(pp_guard_writes("http://127.0.0.1:4711", "none", host));
}

static void secrets_are_drawn_and_compared_whole(void **state)
{
    (void)state;
    pp_guard a = {0}, b = {0};
    assert_true(sodium_init() >= 0);
    pp_guard_begin(&a, 1);
    pp_guard_begin(&b, 1);
    assert_int_equal(strlen(a.cookie), 32); /* 128 bits */
    assert_string_not_equal(a.cookie, b.cookie);
    assert_string_not_equal(a.cookie, a.token);
    assert_true(pp_guard_same(a.cookie, a.cookie));
    assert_false(pp_guard_same(b.cookie, a.cookie));
    assert_false(pp_guard_same(NULL, a.cookie));
    assert_false(pp_guard_same("", a.cookie));
    char longer[64];
    strcpy(longer, a.cookie);
    strcat(longer, "0");
    assert_false(pp_guard_same(longer, a.cookie));
    longer[31] = '\0';
    assert_false(pp_guard_same(longer, a.cookie));
    char used[PP_SECRET_LETTERS];
    strcpy(used, a.token);
    pp_guard_renew_token(&a);
    assert_false(pp_guard_same(used, a.token));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(host_is_this_port_of_this_machine),
        cmocka_unit_test(reading_is_refused_to_other_sites),
        cmocka_unit_test(changing_wants_this_origin),
        cmocka_unit_test(secrets_are_drawn_and_compared_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
