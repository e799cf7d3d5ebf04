#include "base/text.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/number.h"

char pp_lower(char c) { return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c; }

bool pp_same_word(const char *text, size_t length, const char *word)
{
    size_t i = 0;
    while (i < length && word[i] && pp_lower(text[i]) == pp_lower(word[i])) i++;
    return i == length && !word[i];
}

bool pp_text_reserve(pp_text *text, size_t more)
{
    if (text->failed) return false;
    if (more < text->room - text->length && text->room) return true;
    size_t need = text->length + more + 1;
    size_t room = text->room ? text->room : 256;
    while (room < need && room <= SIZE_MAX / 2) room *= 2;
    char *data = need > text->length ? realloc(text->data, room) : NULL;
    if (!data) {
        text->failed = true;
        return false;
    }
    text->data = data;
    text->room = room;
    return true;
}

void pp_text_add_bytes(pp_text *text, const char *bytes, size_t length)
{
    if (!pp_text_reserve(text, length)) return;
    if (length) memcpy(text->data + text->length, bytes, length);
    text->length += length;
    text->data[text->length] = '\0';
}

void pp_text_add(pp_text *text, const char *piece)
{
    pp_text_add_bytes(text, piece, strlen(piece));
}

void pp_text_print(pp_text *text, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    va_list again;
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length >= 0 && pp_text_reserve(text, (size_t)length)) {
        vsnprintf(text->data + text->length, (size_t)length + 1, format, again);
        text->length += (size_t)length;
    } else {
        text->failed = true;
    }
    va_end(again);
}

void pp_text_add_number(pp_text *text, double value)
{
    char digits[PP_NUMBER_TEXT_MAX];
    pp_text_add_bytes(text, digits, pp_number_write(digits, value));
}

void pp_text_add_fixed(pp_text *text, double value, int decimals)
{
    char digits[PP_NUMBER_TEXT_MAX];
    pp_text_add_bytes(text, digits, pp_number_write_fixed(digits, value, decimals));
}

void pp_text_clear(pp_text *text)
{
    text->length = 0;
    if (text->data) text->data[0] = '\0';
}

void pp_text_free(pp_text *text)
{
    free(text->data);
    *text = (pp_text){0};
}

char *pp_text_kept(struct pp_arena *arena, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    va_list again;
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    char *text = length < 0 ? NULL : pp_arena_take(arena, (size_t)length + 1, 1);
    if (text) vsnprintf(text, (size_t)length + 1, format, again);
    va_end(again);
    return text;
}
