/* Who may ask: only the person at this screen. The rules are pure functions of what a request says,
 * so that they can be tried without a server.
 *
 * A page elsewhere that the same browser has open can make requests too: it does not know the
 * token, does not get the cookie sent (SameSite=Strict), cannot forge Host, Origin or
 * Sec-Fetch-Site (Fetch standard, "forbidden request-header"), and cannot read an answer. */
#ifndef PP_SERVE_GUARD_H
#define PP_SERVE_GUARD_H

#include <stdbool.h>

enum { PP_SECRET_BYTES = 16, PP_SECRET_LETTERS = 2 * PP_SECRET_BYTES + 1 };

typedef struct pp_guard {
    unsigned port;
    char cookie_name[32];           /* of this port: cookies do not know ports */
    char cookie[PP_SECRET_LETTERS]; /* as long as the server runs */
    char token[PP_SECRET_LETTERS];  /* exchanged once for the cookie; then another is drawn */
} pp_guard;

/* Draw the secrets (libsodium; sodium_init was called). */
void pp_guard_begin(pp_guard *guard, unsigned port);
void pp_guard_renew_token(pp_guard *guard);

/* Compare with a secret in a time that does not depend on how much of it is right; NULL is wrong.
 */
bool pp_guard_same(const char *given, const char secret[PP_SECRET_LETTERS]);

/* Host: 127.0.0.1:PORT or localhost:PORT, as written (a name that was made to lead here, DNS
 * rebinding, says its own name). */
bool pp_guard_host(const char *host, unsigned port);

/* What the browser says about the page that asks, of a request that only reads: no other site.
 * `site` is Sec-Fetch-Site, NULL where a browser does not send it. */
bool pp_guard_reads(const char *site);

/* The same of a request that changes something: Origin must be this very server. */
bool pp_guard_writes(const char *origin, const char *site, const char *host);

#endif
