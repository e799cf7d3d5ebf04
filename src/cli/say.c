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

static void add_text(pp_text *line, const char *spec, const char *text)
{
    size_t before = line->length, length = text ? strlen(text) : 0;
    int width = digits_after(spec, 0), most = digits_after(spec, '.');
    if (most >= 0 && (size_t)most < length) length = (size_t)most;
    bool left = strchr(spec, '-') != NULL;
    for (int pad = width - (int)length; !left && pad > 0; pad--) pp_text_add(line, " ");
    pp_text_add_foreign_bytes(line, text ? text : "", length);
    for (int pad = width - (int)(line->length - before); left && pad > 0; pad--)
        pp_text_add(line, " ");
}

static void add_number(pp_text *line, const char *spec, va_list *arguments)
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
    pp_text_add(line, digits);
}

void pp_say(FILE *to, const char *format, ...)
{
    pp_text line = {0};
    va_list arguments;
    va_start(arguments, format);
    while (*format) {
        size_t plain = strcspn(format, "%");
        pp_text_add_bytes(&line, format, plain);
        format += plain;
        if (!*format) break;
        char spec[SPEC_MAX];
        format += cut_spec(format, spec);
        if (strcmp(spec, "%%") == 0)
            pp_text_add(&line, "%");
        else if (spec[strlen(spec) - 1] == 's')
            add_text(&line, spec, va_arg(arguments, const char *));
        else
            add_number(&line, spec, &arguments);
    }
    va_end(arguments);
    if (line.failed)
        fputs("plateproof: memory ran out\n", stderr);
    else
        fwrite(line.data ? line.data : "", 1, line.length, to);
    pp_text_free(&line);
}
