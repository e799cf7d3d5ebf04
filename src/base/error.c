#include "plateproof/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

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

void pp_error_format(const pp_error *error, char *text, unsigned long size)
{
    char where[PP_ERROR_FILE_MAX + 64] = "";
    if (error->file[0] && error->line && error->column)
        snprintf(where, sizeof where, "%s:%ld:%ld: ", error->file, error->line, error->column);
    else if (error->file[0] && error->line)
        snprintf(where, sizeof where, "%s:%ld: ", error->file, error->line);
    else if (error->file[0])
        snprintf(where, sizeof where, "%s: ", error->file);
    snprintf(text, size, "%s%s", where, error->message);
}
