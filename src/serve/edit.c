#include "serve/edit.h"

#include <string.h>

#include "input/job/ini.h"

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

static pp_status check_value(const char *value, pp_error *error)
{
    for (const char *at = value; *at; at++) {
        if ((unsigned char)*at < ' ' && *at != '\t')
            return pp_fail(error, PP_EINPUT, "a value stands on one line; take the line feed out");
        if (*at == ';' && at > value && is_blank(at[-1]))
            return pp_fail(
                error, PP_EINPUT,
                "what follows a blank and ; is a comment in a job file; leave the ; out");
    }
    return PP_OK;
}

/* Where line `wanted` (from 1) begins, and where its end (LF, CR LF or the text's) is. */
static void find_line(const char *text, size_t length, long wanted, size_t *begin, size_t *end)
{
    size_t at = 0;
    for (long line = 1; line < wanted && at < length; line++) {
        const char *feed = memchr(text + at, '\n', length - at);
        at = feed ? (size_t)(feed - text) + 1 : length;
    }
    const char *feed = memchr(text + at, '\n', length - at);
    *begin = at;
    *end = feed ? (size_t)(feed - text) : length;
    if (*end > at && text[*end - 1] == '\r') --*end;
}

/* The value of the line [begin, end), from behind the sign to before blanks and a comment. */
static void find_value(const char *text, size_t begin, size_t end, size_t *from, size_t *to)
{
    size_t at = begin;
    while (at < end && text[at] != '=' && text[at] != ':') at++;
    *from = at < end ? at + 1 : end;
    *to = end;
    for (size_t i = *from; i < end; i++)
        if (text[i] == ';' && i > begin && is_blank(text[i - 1])) {
            *to = i;
            break;
        }
    while (*to > *from && is_blank(text[*to - 1])) --*to;
}

static const char *line_end(const char *text, size_t length)
{
    const char *feed = memchr(text, '\n', length);
    return feed && feed > text && feed[-1] == '\r' ? "\r\n" : "\n";
}

static void replace(const char *text, size_t length, long line, const char *value, pp_text *out)
{
    size_t begin, end, from, to;
    find_line(text, length, line, &begin, &end);
    find_value(text, begin, end, &from, &to);
    pp_text_add_bytes(out, text, from);
    if (*value) pp_text_add(out, " ");
    pp_text_add(out, value);
    pp_text_add_bytes(out, text + to, length - to);
}

/* A new line below line `after`. */
static void insert(const char *text, size_t length, long after, const char *key, const char *value,
                   pp_text *out)
{
    size_t begin, end;
    const char *feed = line_end(text, length);
    find_line(text, length, after, &begin, &end);
    pp_text_add_bytes(out, text, end);
    pp_text_print(out, "%s%s = %s", feed, key, value);
    pp_text_add_bytes(out, text + end, length - end);
}

static void append(const char *text, size_t length, const char *section, const char *key,
                   const char *value, pp_text *out)
{
    const char *feed = line_end(text, length);
    pp_text_add_bytes(out, text, length);
    if (length > 0 && text[length - 1] != '\n') pp_text_add(out, feed);
    pp_text_print(out, "%s[%s]%s%s = %s%s", length > 0 ? feed : "", section, feed, key, value,
                  feed);
}

pp_status pp_edit_set(const char *text, size_t length, const char *section, const char *key,
                      const char *value, pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_ini ini;
    long at = 0, last = 0;
    pp_text changed = {0};
    PP_TRY(check_value(value, error));
    PP_TRY(pp_ini_parse("the job file", text, length, memory, &ini, error));
    for (size_t s = 0; s < ini.section_count; s++) {
        const pp_ini_section *here = &ini.sections[s];
        if (strcmp(here->name, section) != 0) continue;
        last = here->line;
        for (size_t e = here->first; e < here->first + here->count; e++) {
            last = ini.entries[e].line;
            if (strcmp(ini.entries[e].key, key) == 0) at = last;
        }
        if (at) break;
    }
    if (at)
        replace(text, length, at, value, &changed);
    else if (!*value)
        pp_text_add_bytes(&changed, text, length); /* absent already */
    else if (last)
        insert(text, length, last, key, value, &changed);
    else
        append(text, length, section, key, value, &changed);
    if (changed.failed) {
        pp_text_free(&changed);
        return pp_fail_memory(error);
    }
    *out = changed;
    return PP_OK;
}
