#include "plateproof/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/foreign.h"

static void set(pp_error *error, pp_status status, const char *file, long line, long column,
                const char *format, va_list arguments)
{
    char message[PP_ERROR_TEXT_MAX]; /* the arguments may point into *error itself */
    vsnprintf(message, sizeof message, format, arguments);
    char where[PP_ERROR_FILE_MAX];
    snprintf(where, sizeof where, "%s", file ? file : "");
    *error = (pp_error){.status = status, .line = line, .column = column};
    memcpy(error->file, where, sizeof where);
    memcpy(error->message, message, sizeof message);
}

pp_status pp_fail(pp_error *error, pp_status status, const char *format, ...)
{
    if (error) {
        va_list arguments;
        va_start(arguments, format);
        set(error, status, NULL, 0, 0, format, arguments);
        va_end(arguments);
    }
    return status;
}

pp_status pp_fail_at(pp_error *error, pp_status status, const char *file, long line, long column,
                     const char *format, ...)
{
    if (error) {
        va_list arguments;
        va_start(arguments, format);
        set(error, status, file, line, column, format, arguments);
        va_end(arguments);
    }
    return status;
}

pp_status pp_fail_memory(pp_error *error)
{
    return pp_fail(error, PP_ENOMEM,
                   "memory ran out; close other programs or use a larger machine");
}

/* The next line feed of a message that is ours: before a blank pair, or before the file at fault
 * again (several problems of one file). Any other came in with a foreign text. NULL: none. */
static const char *next_line(const pp_error *error, const char *from)
{
    size_t file = strlen(error->file);
    for (const char *at = strchr(from, '\n'); at; at = strchr(at + 1, '\n'))
        if (strncmp(at + 1, "  ", 2) == 0 ||
            (file && strncmp(at + 1, error->file, file) == 0 && at[1 + file] == ':'))
            return at;
    return NULL;
}

static void show_message(const pp_error *error, char *text, size_t room)
{
    char line[PP_ERROR_TEXT_MAX];
    size_t used = 0;
    for (const char *at = error->message; *at && used + 1 < room;) {
        const char *end = next_line(error, at);
        size_t length = end ? (size_t)(end - at) : strlen(at);
        snprintf(line, sizeof line, "%.*s", (int)length, at);
        if (at > error->message) text[used++] = '\n';
        pp_foreign(line, text + used, room - used);
        used += strlen(text + used);
        at += length + (end != NULL);
    }
    text[used < room ? used : room - 1] = '\0';
}

void pp_error_format(const pp_error *error, char *text, unsigned long size)
{
    char file[PP_ERROR_FILE_MAX], where[PP_ERROR_FILE_MAX + 64] = "";
    if (size == 0) return;
    pp_foreign(error->file, file, sizeof file);
    if (file[0] && error->line && error->column)
        snprintf(where, sizeof where, "%s:%ld:%ld: ", file, error->line, error->column);
    else if (file[0] && error->line)
        snprintf(where, sizeof where, "%s:%ld: ", file, error->line);
    else if (file[0])
        snprintf(where, sizeof where, "%s: ", file);
    snprintf(text, size, "%s", where);
    size_t length = strlen(text);
    show_message(error, text + length, size - length);
}
