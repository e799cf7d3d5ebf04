/* Numbers: reading against the C library (in the C locale, which the fuzzer never leaves), and
 * writing against printf. */
#include <ctype.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "fuzz/target.h"

/* The grammar of pp_number_read, written a second time. */
static bool is_decimal(const char *text)
{
    size_t digits = 0;
    text += *text == '+' || *text == '-';
    for (; isdigit((unsigned char)*text); text++) digits++;
    if (*text == '.')
        for (text++; isdigit((unsigned char)*text); text++) digits++;
    if (!digits) return false;
    if (*text != 'e' && *text != 'E') return *text == '\0';
    text++;
    text += *text == '+' || *text == '-';
    if (!isdigit((unsigned char)*text)) return false;
    while (isdigit((unsigned char)*text)) text++;
    return *text == '\0';
}

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

static void check_reading(const char *text)
{
    char bare[4001];
    while (is_blank(*text)) text++;
    size_t length = strlen(text);
    while (length && is_blank(text[length - 1])) length--;
    memcpy(bare, text, length);
    bare[length] = '\0';
    double got = 4711, want = is_decimal(bare) ? strtod(bare, NULL) : NAN;
    bool number = pp_number_read(text, strlen(text), '.', &got);
    FUZZ_CHECK(number == (bool)isfinite(want));
    FUZZ_CHECK(number ? memcmp(&got, &want, sizeof got) == 0 : got == 4711);
}

static void check_writing(double value)
{
    char got[PP_NUMBER_TEXT_MAX], want[512];
    if (!isfinite(value)) {
        FUZZ_CHECK(pp_number_write(got, value) == 0);
        return;
    }
    FUZZ_CHECK(pp_number_write(got, value) == strlen(got));
    snprintf(want, sizeof want, "%.15g", value == 0 ? 0 : value);
    FUZZ_CHECK(strcmp(got, want) == 0);
    for (int decimals = 0; decimals <= 17; decimals++) {
        FUZZ_CHECK(pp_number_write_fixed(got, value, decimals) == strlen(got));
        snprintf(want, sizeof want, "%.*f", decimals, value);
        if (strlen(want) > 18) break; /* may be written with an exponent */
        bool zero = strspn(want, "-0.") == strlen(want);
        FUZZ_CHECK(strcmp(got, zero && want[0] == '-' ? want + 1 : want) == 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size > 4000) return 0;
    char text[4001];
    memcpy(text, data, size);
    text[size] = '\0';
    check_reading(text);
    double value;
    if (size >= sizeof value) {
        memcpy(&value, data, sizeof value);
        check_writing(value);
    }
    if (pp_number_read(text, strlen(text), '.', &value)) check_writing(value);
    return 0;
}
