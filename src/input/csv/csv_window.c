#include <string.h>

#include "input/csv/csv_parts.h"

size_t pp_csv_window_room(const pp_file *file)
{
    size_t most = (size_t)PP_CSV_PIECE + PP_CSV_LINE_MAX;
    return (file->size < most ? file->size : most) + PP_CSV_MARGIN;
}

void pp_csv_window_start(pp_csv_window *window, const pp_file *file, char *bytes, size_t offset,
                         size_t piece)
{
    *window = (pp_csv_window){.file = file, .bytes = bytes, .offset = offset, .piece = piece};
}

pp_status pp_csv_window_fill(pp_csv_window *window, pp_error *error)
{
    size_t left = window->end - window->begin, got;
    memmove(window->bytes, window->bytes + window->begin, left);
    window->offset += window->begin;
    size_t at = window->offset + left, size = window->file->size;
    size_t want = at < size ? size - at : 0;
    if (want > window->piece) want = window->piece;
    PP_TRY(pp_file_read(window->file, at, window->bytes + left, want, &got, error));
    if (got < want)
        return pp_fail_at(error, PP_EIO, window->file->path, 0, 0,
                          "became shorter while it was read; wait until it is complete");
    window->begin = 0;
    window->end = left + got;
    window->last = at + got >= size;
    if (window->last && window->end > 0 && window->bytes[window->end - 1] != '\n')
        window->bytes[window->end++] = '\n';
    memset(window->bytes + window->end, 0, 16);
    return PP_OK;
}

pp_status pp_csv_window_line(pp_csv_window *window, long line, const char **begin, size_t *length,
                             bool *found, pp_error *error)
{
    const char *end = NULL;
    for (;;) {
        const char *at = window->bytes + window->begin;
        if (window->end > window->begin) end = memchr(at, '\n', window->end - window->begin);
        if (end || window->last || window->end - window->begin > PP_CSV_LINE_MAX) break;
        PP_TRY(pp_csv_window_fill(window, error));
    }
    *begin = window->bytes + window->begin;
    *found = window->end > window->begin;
    if (!*found) return PP_OK;
    *length = end ? (size_t)(end - *begin) : PP_CSV_LINE_MAX + (size_t)1;
    if (*length > PP_CSV_LINE_MAX)
        return pp_fail_at(error, PP_EINPUT, window->file->path, line, 0,
                          "the line is longer than %d bytes; no table looks like this, export the "
                          "file again as CSV",
                          PP_CSV_LINE_MAX);
    window->begin += *length + 1;
    return PP_OK;
}

bool pp_csv_idle_line(const char *line, size_t length, bool *comment)
{
    size_t at = 0;
    if (length && line[length - 1] == '\r') length--;
    while (at < length && (line[at] == ' ' || line[at] == '\t')) at++;
    *comment = at < length && line[at] == '#';
    return at == length || *comment;
}

bool pp_csv_hash_line(const pp_csv_plan *plan, const char *line, size_t length)
{
    size_t quotes = 0, delimiters = 0;
    for (size_t i = 0; i < length; i++) {
        quotes += line[i] == '"';
        delimiters += line[i] == plan->delimiter;
    }
    return delimiters > 0 && quotes % 2 == 0;
}
