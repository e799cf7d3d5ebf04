#include "cli/say.h"

#include <stdarg.h>
#include <string.h>

#include "base/foreign.h"

enum { SPEC_MAX = 16, NUMBER_MAX = 400 };

/* "%-15.12s" at `format` into spec, with its length; the conversion is its last letter. */
static size_t cut_spec(const char *format, char spec[SPEC_MAX])
{
    size_t length = 1 + strspn(format + 1, "-+ #0123456789.");
    length += strspn(format + length, "zl");
    length += format[length] != '\0';
    if (length >= SPEC_MAX) length = SPEC_MAX - 1;
    memcpy(spec, format, length);
    spec[length] = '\0';
    return length;
}

static int digits_after(const char *spec, char mark)
{
    const char *at = mark ? strchr(spec, mark) : spec;
    int value = 0;
    if (!at) return -1;
    for (at++; *at && strchr("-+ #", *at); at++)
        ;
    if (*at < '0' || *at > '9') return -1;
    for (; *at >= '0' && *at <= '9'; at++) value = 10 * value + (*at - '0');
    return value;
}

/* One character of a foreign text, in letters where it must be; returns its bytes there. */
static size_t put_character(FILE *to, const char *at, size_t left)
{
    char one[5] = "", shown[16];
    unsigned char first = (unsigned char)*at;
    size_t length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : first >= 0xc0 ? 2 : 1;
    if (length > left) length = left;
    memcpy(one, at, length);
    if (length > 1 && pp_foreign_steering(one) == 1) length = 1; /* no UTF-8: byte by byte */
    one[length] = '\0';
    fputs(pp_foreign(one, shown, sizeof shown), to);
    return length;
}

static void pad(FILE *to, int count)
{
    for (; count > 0; count--) fputc(' ', to);
}

static void put_text(FILE *to, const char *spec, const char *text)
{
    size_t length = text ? strlen(text) : 0;
    int width = digits_after(spec, 0), most = digits_after(spec, '.');
    if (most >= 0 && (size_t)most < length) length = (size_t)most;
    bool left = strchr(spec, '-') != NULL;
    if (!left) pad(to, width - (int)length);
    for (size_t i = 0; i < length;) i += put_character(to, text + i, length - i);
    if (left) pad(to, width - (int)length);
}

static void put_number(FILE *to, const char *spec, va_list *arguments)
{
    char digits[NUMBER_MAX];
    char kind = spec[strlen(spec) - 1];
    if (kind == 'f' || kind == 'g')
        snprintf(digits, sizeof digits, spec, va_arg(*arguments, double));
    else if (strchr(spec, 'z'))
        snprintf(digits, sizeof digits, spec, va_arg(*arguments, size_t));
    else if (strstr(spec, "ll"))
        snprintf(digits, sizeof digits, spec, va_arg(*arguments, unsigned long long));
    else if (strchr(spec, 'l'))
        snprintf(digits, sizeof digits, spec, va_arg(*arguments, long));
    else
        snprintf(digits, sizeof digits, spec, va_arg(*arguments, int));
    fputs(digits, to);
}

/* Without memory of its own: what says that memory ran out must not need any. */
void pp_say(FILE *to, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    while (*format) {
        size_t plain = strcspn(format, "%");
        fwrite(format, 1, plain, to);
        format += plain;
        if (!*format) break;
        char spec[SPEC_MAX];
        format += cut_spec(format, spec);
        if (strcmp(spec, "%%") == 0)
            fputc('%', to);
        else if (spec[strlen(spec) - 1] == 's')
            put_text(to, spec, va_arg(arguments, const char *));
        else
            put_number(to, spec, &arguments);
    }
    va_end(arguments);
}
