#include "serve/guard.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

static void draw(char secret[PP_SECRET_LETTERS])
{
    unsigned char bytes[PP_SECRET_BYTES];
    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2hex(secret, PP_SECRET_LETTERS, bytes, sizeof bytes);
    sodium_memzero(bytes, sizeof bytes);
}

void pp_guard_begin(pp_guard *guard, unsigned port)
{
    guard->port = port;
    snprintf(guard->cookie_name, sizeof guard->cookie_name, "plateproof_%u", port);
    draw(guard->cookie);
    draw(guard->token);
}

void pp_guard_renew_token(pp_guard *guard) { draw(guard->token); }

bool pp_guard_same(const char *given, const char secret[PP_SECRET_LETTERS])
{
    return given && strlen(given) == PP_SECRET_LETTERS - 1 &&
           sodium_memcmp(given, secret, PP_SECRET_LETTERS - 1) == 0;
}

bool pp_guard_host(const char *host, unsigned port)
{
    char here[32];
    if (!host) return false;
    snprintf(here, sizeof here, "127.0.0.1:%u", port);
    if (strcmp(host, here) == 0) return true;
    snprintf(here, sizeof here, "localhost:%u", port);
    return strcmp(host, here) == 0;
}

bool pp_guard_reads(const char *site)
{
    return !site || strcmp(site, "same-origin") == 0 || strcmp(site, "none") == 0;
}

bool pp_guard_writes(const char *origin, const char *site, const char *host)
{
    static const char SCHEME[] = "http://";
    if (!origin || !host || strncmp(origin, SCHEME, sizeof SCHEME - 1) != 0) return false;
    if (strcmp(origin + sizeof SCHEME - 1, host) != 0) return false;
    return !site || strcmp(site, "same-origin") == 0;
}
