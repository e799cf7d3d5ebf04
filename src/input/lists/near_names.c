/* Names that differ only in what people and spreadsheets change without a thought.
 *
 * Two names are near where they are alike after folding: letters without case and accents (an
 * accent of its own, U+0300..U+036F, is dropped; letters of Latin-1 and Latin Extended-A become
 * their base letter), digits without leading zeros, no blanks of any kind, no ".0" behind a number.
 * Letters: Unicode 15, the decompositions of U+00C0..U+017F. */
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "input/lists/list_parts.h"

/* The base letter of U+00C0 + i, lower case; '?' stands for none. */
static const char LATIN1[] = "aaaaaaaceeeeiiiidnooooo?ouuuuy?saaaaaaaceeeeiiiidnooooo?ouuuuy?y";
static const char EXTENDED_A[] = "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiiiiijjkkklllllll"
                                 "lllnnnnnnnnnoooooooorrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";

/* One character of UTF-8 (the reader has checked it), and how many bytes it takes. */
static unsigned decode(const char *text, size_t *bytes)
{
    const unsigned char *b = (const unsigned char *)text;
    if (b[0] < 0x80) return *bytes = 1, b[0];
    if (b[0] < 0xE0) return *bytes = 2, (b[0] & 0x1Fu) << 6 | (b[1] & 0x3Fu);
    if (b[0] < 0xF0) return *bytes = 3, (b[0] & 0x0Fu) << 12 | (b[1] & 0x3Fu) << 6 | (b[2] & 0x3Fu);
    return *bytes = 4,
           (b[0] & 7u) << 18 | (b[1] & 0x3Fu) << 12 | (b[2] & 0x3Fu) << 6 | (b[3] & 0x3Fu);
}

static bool is_dropped(unsigned c)
{
    return c == ' ' || c == '\t' || c == 0xA0 || c == 0xAD || c == 0xFEFF || c == 0x202F ||
           c == 0x3000 || (c >= 0x2000 && c <= 0x200D) || (c >= 0x0300 && c <= 0x036F);
}

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* A number as a spreadsheet writes a whole one: "12.0". */
static size_t whole_length(const char *text, size_t length)
{
    size_t end = length;
    while (end && text[end - 1] == '0') end--;
    if (end == length || end < 2 || text[end - 1] != '.' || !is_digit(text[end - 2])) return length;
    for (size_t i = 0; i + 1 < end; i++)
        if (!is_digit(text[i])) return length;
    return end - 1;
}

/* `folded` has room for the name and a zero: folding never makes it longer. */
static void fold(const char *name, char *folded)
{
    size_t bytes, length = 0, end = whole_length(name, strlen(name));
    for (size_t i = 0; i < end; i += bytes) {
        unsigned c = decode(name + i, &bytes);
        if (is_dropped(c)) continue;
        if (c < 0x80) {
            bool inside = length && is_digit(folded[length - 1]);
            bool leads = name[i] == '0' && !inside && i + 1 < end && is_digit(name[i + 1]);
            if (!leads) folded[length++] = pp_lower(name[i]);
        } else if (c >= 0xC0 && c <= 0xFF && LATIN1[c - 0xC0] != '?') {
            folded[length++] = LATIN1[c - 0xC0];
        } else if (c >= 0x100 && c <= 0x17F) {
            folded[length++] = EXTENDED_A[c - 0x100];
        } else {
            memcpy(folded + length, name + i, bytes);
            length += bytes;
        }
    }
    folded[length] = '\0';
}

static pp_status fold_all(const char *const *name, size_t count, pp_arena *arena,
                          const char ***folded, pp_error *error)
{
    PP_TAKE(*folded, arena, count);
    for (size_t i = 0; i < count; i++) {
        char *text;
        PP_TAKE(text, arena, strlen(name[i]) + 1);
        fold(name[i], text);
        (*folded)[i] = text;
    }
    return PP_OK;
}

static const char *difference(const char *a, const char *b)
{
    if (pp_same_word(a, strlen(a), b)) return "capital letters";
    for (const char *c = a; *c; c++)
        if ((unsigned char)*c >= 0x80) return "accents or blanks that look alike";
    for (const char *c = b; *c; c++)
        if ((unsigned char)*c >= 0x80) return "accents or blanks that look alike";
    return strchr(a, ' ') || strchr(b, ' ') ? "blanks" : "zeros";
}

enum { SHOWN = 3 };

typedef struct pairs {
    size_t count, first_row;
    const char *list[SHOWN], *nominal[SHOWN];
} pairs;

/* Count rows whose name nobody has while its folded name is that of a hole nobody read. */
static pp_status find_pairs(const pp_nominal *nominal, const pp_readings *r, const uint32_t *key,
                            const bool *read, pp_arena *scratch, pairs *p, pp_error *error)
{
    const char **ours, **theirs;
    pp_names table;
    PP_TRY(fold_all(nominal->name, nominal->count, scratch, &theirs, error));
    PP_TRY(pp_names_build(theirs, nominal->count, scratch, &table, error));
    PP_TRY(fold_all(r->name, r->count, scratch, &ours, error));
    for (size_t i = 0; i < r->count; i++) {
        if (key[i] != PP_NAME_NONE || !r->name[i][0]) continue;
        uint32_t hole = pp_names_find(&table, ours[i]);
        if (hole == PP_NAME_NONE || read[hole]) continue;
        if (p->count == 0) p->first_row = i;
        bool seen = false;
        for (size_t k = 0; k < p->count && k < SHOWN; k++)
            seen = seen || strcmp(p->list[k], r->name[i]) == 0;
        if (seen) continue;
        if (p->count < SHOWN) {
            p->list[p->count] = r->name[i];
            p->nominal[p->count] = nominal->name[hole];
        }
        p->count++;
    }
    return PP_OK;
}

static pp_status tell(const pp_csv_request *request, size_t column, const pairs *p,
                      pp_memory *memory, pp_error *error)
{
    char shown[512] = "", message[1024];
    for (size_t i = 0; i < p->count && i < SHOWN; i++) {
        size_t used = strlen(shown);
        snprintf(shown + used, sizeof shown - used, "%s'%.60s' beside '%.60s'", i ? ", " : "",
                 p->list[i], p->nominal[i]);
    }
    snprintf(message, sizeof message,
             "%zu name%s nearly that of a nominal hole, but for %s: %s; write the names alike in "
             "both lists",
             p->count, p->count == 1 ? " is" : "s are", difference(p->list[0], p->nominal[0]),
             shown);
    pp_row_check check = {.request = request, .memory = memory};
    PP_TRY(pp_check_note(&check, p->first_row, column, message, error));
    return pp_check_end(&check, error);
}

pp_status pp_near_names_check(const pp_csv_request *request, size_t column,
                              const pp_nominal *nominal, const pp_readings *readings,
                              pp_memory *memory, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    uint32_t *key;
    bool *read, strangers = false;
    PP_TAKE(key, &memory->scratch, readings->count);
    PP_TAKE_ZERO(read, &memory->scratch, nominal->count);
    pp_names_find_many(&nominal->names, readings->name, readings->count, key);
    for (size_t i = 0; i < readings->count; i++) {
        if (key[i] != PP_NAME_NONE)
            read[key[i]] = true;
        else
            strangers = strangers || readings->name[i][0];
    }
    pairs p = {0};
    pp_status status = PP_OK;
    if (strangers) status = find_pairs(nominal, readings, key, read, &memory->scratch, &p, error);
    if (status == PP_OK && p.count) status = tell(request, column, &p, memory, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}
