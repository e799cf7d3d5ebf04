#include "input/job/ini.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ini.h>

/* The text on its way into inih, and what has come out of it. */
typedef struct parse {
    const char *file, *at, *end;
    long line; /* of the line handed over last, from 1 */
    pp_arena *arena;
    size_t section_count, entry_count;
    pp_ini_section *sections;
    pp_ini_entry *entries;
    pp_status status; /* of the first failure, which ends the reading */
    pp_error *error;
} parse;

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void
refuse(parse *p, const char *format, ...)
{
    char what[PP_ERROR_TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    p->status = pp_fail_at(p->error, PP_EINPUT, p->file, p->line, 0, "%s", what);
}

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

/* Bytes of the UTF-8 character at text[length > 0]; 0 if there is none (Unicode 15, table 3-7). */
static size_t utf8_character(const unsigned char *text, size_t length)
{
    unsigned char lead = text[0];
    if (lead < 0x80) return 1;
    size_t size = lead >= 0xc2 && lead <= 0xdf   ? 2
                  : lead >= 0xe0 && lead <= 0xef ? 3
                  : lead >= 0xf0 && lead <= 0xf4 ? 4
                                                 : 0;
    if (!size || size > length) return 0;
    for (size_t i = 1; i < size; i++)
        if ((text[i] & 0xc0) != 0x80) return 0;
    bool overlong = (lead == 0xe0 && text[1] < 0xa0) || (lead == 0xf0 && text[1] < 0x90);
    bool surrogate = lead == 0xed && text[1] > 0x9f;
    bool beyond = lead == 0xf4 && text[1] > 0x8f;
    return overlong || surrogate || beyond ? 0 : size;
}

static void check_characters(parse *p, const char *line, size_t length)
{
    for (size_t i = 0; i < length;) {
        unsigned char c = (unsigned char)line[i];
        if ((c < 0x20 && c != '\t') || c == 0x7f) {
            refuse(p,
                   "byte %zu of the line is a control character (0x%02x); write "
                   "the file as plain text",
                   i + 1, c);
            return;
        }
        size_t size = utf8_character((const unsigned char *)line + i, length - i);
        if (!size) {
            refuse(p, "byte %zu of the line is not UTF-8; save the file as UTF-8", i + 1);
            return;
        }
        i += size;
    }
}

/* Blank + ; begins a comment. */
static size_t without_comment(const char *line, size_t length)
{
    for (size_t i = 1; i < length; i++)
        if (line[i] == ';' && is_blank(line[i - 1])) return i;
    return length;
}

static void trim(const char **text, size_t *length)
{
    while (*length && is_blank(**text)) (*text)++, (*length)--;
    while (*length && is_blank((*text)[*length - 1])) (*length)--;
}

static void begin_section(parse *p, const char *line, size_t length)
{
    const char *close = memchr(line, ']', length);
    if (!close) {
        refuse(p, "the section has no ]; write [name]");
        return;
    }
    if (close != line + length - 1) {
        refuse(p, "there is text after the ] of the section; put it on a line of its own, or "
                  "behind a blank and a ;");
        return;
    }
    const char *name = line + 1;
    size_t size = length - 2;
    trim(&name, &size);
    if (size > PP_INI_SECTION_MAX) {
        refuse(p, "the section's name is longer than %d bytes; shorten it", PP_INI_SECTION_MAX);
        return;
    }
    char *kept = pp_arena_text(p->arena, name, size);
    if (!kept) {
        p->status = pp_fail_memory(p->error);
        return;
    }
    p->sections[p->section_count++] =
        (pp_ini_section){.name = kept, .line = p->line, .first = p->entry_count};
}

/* One physical line, checked and trimmed; false when the reading ends here. */
static bool next_line(parse *p, const char **line, size_t *length)
{
    if (p->status != PP_OK || p->at == p->end) return false;
    const char *newline = memchr(p->at, '\n', (size_t)(p->end - p->at));
    const char *stop = newline ? newline : p->end;
    *line = p->at;
    *length = (size_t)(stop - p->at);
    p->at = newline ? newline + 1 : p->end;
    p->line++;
    if (*length && (*line)[*length - 1] == '\r') (*length)--;
    check_characters(p, *line, *length);
    trim(line, length);
    if (*length && (**line == ';' || **line == '#')) *length = 0;
    *length = without_comment(*line, *length);
    trim(line, length);
    return p->status == PP_OK;
}

/* inih asks for a line of at most size - 1 bytes. It gets key lines only: the sections are kept
 * here, and stand-ins keep its own count of lines right. */
static char *hand_over(char *out, int size, void *stream)
{
    parse *p = stream;
    const char *line;
    size_t length;
    if (!next_line(p, &line, &length)) return NULL;
    if (length && *line == '[') {
        begin_section(p, line, length);
        if (p->status != PP_OK) return NULL;
        length = 0;
    }
    if (length > PP_INI_LINE_MAX || length >= (size_t)size) {
        refuse(p, "the line is %zu bytes long, and at most %d are read; shorten it", length,
               PP_INI_LINE_MAX);
        return NULL;
    }
    memcpy(out, line, length);
    out[length] = '\0';
    return out;
}

static int keep_entry(void *user, const char *section, const char *key, const char *value)
{
    (void)section;
    parse *p = user;
    if (p->status != PP_OK) return 0;
    if (!p->section_count || !*key) {
        if (*key)
            refuse(p, "\"%s\" stands above the first section; put its [section] before it", key);
        else
            refuse(p, "there is no key before the =; write key = value");
        return 0;
    }
    pp_ini_entry entry = {pp_arena_text(p->arena, key, strlen(key)),
                          pp_arena_text(p->arena, value, strlen(value)), p->line};
    if (!entry.key || !entry.value) {
        p->status = pp_fail_memory(p->error);
        return 0;
    }
    p->entries[p->entry_count++] = entry;
    p->sections[p->section_count - 1].count++;
    return 1;
}

static size_t count_of(char c, const char *text, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) count += text[i] == c;
    return count;
}

pp_status pp_ini_parse(const char *file, const char *text, size_t length, pp_memory *memory,
                       pp_ini *ini, pp_error *error)
{
    static const char bom[] = "\xef\xbb\xbf";
    if (length >= 3 && memcmp(text, bom, 3) == 0) text += 3, length -= 3;
    parse p = {
        .file = file, .at = text, .end = text + length, .arena = &memory->keep, .error = error};
    PP_TAKE(p.sections, p.arena, count_of('[', text, length));
    PP_TAKE(p.entries, p.arena, count_of('=', text, length) + count_of(':', text, length));
    const char *name = pp_arena_text(p.arena, file, strlen(file));
    if (!name) return pp_fail_memory(error);

    int wrong = ini_parse_stream(hand_over, &p, keep_entry, &p);
    if (wrong > 0 && (p.status == PP_OK || wrong < p.line))
        return pp_fail_at(error, PP_EINPUT, file, wrong, 0,
                          "the line is neither a [section] nor key = value; correct it, or begin "
                          "it with ; to make it a comment");
    if (p.status != PP_OK) return p.status;
    if (wrong < 0) return pp_fail_memory(error);
    *ini = (pp_ini){name, p.section_count, p.entry_count, p.sections, p.entries};
    return PP_OK;
}

static pp_status cannot_read(const char *path, int why, pp_error *error)
{
    if (why == ENOENT)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "there is no such file; check the name");
    return pp_fail_at(error, PP_EIO, path, 0, 0, "the file could not be read (%s); check it",
                      strerror(why));
}

/* All of an open ordinary file. */
static pp_status read_all(int handle, const char *path, pp_arena *arena, const char **text,
                          size_t *length, pp_error *error)
{
    struct stat about;
    if (fstat(handle, &about) != 0) return cannot_read(path, errno, error);
    if (!S_ISREG(about.st_mode))
        return pp_fail_at(error, PP_EIO, path, 0, 0, "this is %s; name an ordinary file",
                          S_ISDIR(about.st_mode) ? "a folder" : "not an ordinary file");
    if (about.st_size > PP_INI_FILE_MAX)
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "the file is larger than %d MiB, which no job or rule file is; check "
                          "the name",
                          PP_INI_FILE_MAX / (1024 * 1024));
    size_t size = (size_t)about.st_size, done = 0;
    char *data;
    PP_TAKE(data, arena, size + 1);
    while (done < size) {
        ssize_t got = read(handle, data + done, size - done);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return cannot_read(path, errno, error);
        if (got == 0) break;
        done += (size_t)got;
    }
    *text = data;
    *length = done;
    return PP_OK;
}

pp_status pp_ini_read(const char *path, pp_memory *memory, pp_ini *ini, pp_error *error)
{
    /* O_NONBLOCK: opening a pipe nobody writes to must not wait */
    int handle = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (handle < 0) return cannot_read(path, errno, error);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const char *text = "";
    size_t length = 0;
    pp_status status = read_all(handle, path, &memory->scratch, &text, &length, error);
    close(handle);
    if (status == PP_OK) status = pp_ini_parse(path, text, length, memory, ini, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

const char *pp_path_beside(pp_arena *arena, const char *file, const char *written)
{
    const char *slash = strrchr(file, '/');
    size_t folder = slash && *written != '/' ? (size_t)(slash - file) + 1 : 0;
    size_t length = strlen(written);
    char *path = pp_arena_take(arena, folder + length + 1, 1);
    if (!path) return NULL;
    memcpy(path, file, folder);
    memcpy(path + folder, written, length + 1);
    return path;
}
