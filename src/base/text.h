/* Text that grows: building messages, pages and files in memory. */
#ifndef PP_BASE_TEXT_H
#define PP_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* ASCII only, whatever the locale: elsewhere I has another lower case. */
char pp_lower(char c);
/* text[length] is `word` (zero-terminated), in any case. */
bool pp_same_word(const char *text, size_t length, const char *word);

/* Zero-initialise; `failed` stays set once memory ran out, so that a writer checks it once. */
typedef struct pp_text {
    char *data; /* zero-terminated when length > 0 */
    size_t length, room;
    bool failed;
} pp_text;

/* Room for `more` bytes behind the text and a zero, to be written in place; false if memory ran
 * out. */
bool pp_text_reserve(pp_text *text, size_t more);
void pp_text_add(pp_text *text, const char *piece);
void pp_text_add_bytes(pp_text *text, const char *bytes, size_t length);
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void pp_text_print(pp_text *text, const char *format, ...);
void pp_text_add_number(pp_text *text, double value); /* 15 significant digits */
void pp_text_add_fixed(pp_text *text, double value, int decimals);
/* Empty it, its room kept. */
void pp_text_clear(pp_text *text);
void pp_text_free(pp_text *text);

struct pp_arena;
/* Formatted text that lives in `arena`; NULL when memory ran out. */
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
char *
pp_text_kept(struct pp_arena *arena, const char *format, ...);

#endif
