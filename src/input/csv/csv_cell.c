#include <math.h>
#include <stdio.h>

#include "base/number.h"
#include "base/text.h"
#include "input/csv/csv_parts.h"

bool pp_csv_word_code(const pp_csv_column *column, const char *text, size_t length, int *code)
{
    for (size_t i = 0; i < column->word_count; i++) {
        if (!pp_same_word(text, length, column->words[i].word)) continue;
        *code = column->words[i].code;
        return true;
    }
    return false;
}

bool pp_csv_whole(const char *text, size_t length, uint32_t *count)
{
    enum { MOST = 1000000000 };
    double value;
    if (!pp_number_read(text, length, '.', &value)) return false;
    if (value < 1 || value > MOST || value != floor(value)) return false;
    *count = (uint32_t)value;
    return true;
}

/* Well-formed UTF-8 (Unicode 15, table 3-7). */
bool pp_csv_utf8(const char *text, size_t length)
{
    const unsigned char *at = (const unsigned char *)text, *end = at + length;
    while (at < end) {
        unsigned char c = *at++;
        if (c < 0x80) continue;
        int more;
        unsigned low = 0x80, high = 0xBF;
        if (c >= 0xC2 && c <= 0xDF) {
            more = 1;
        } else if (c >= 0xE0 && c <= 0xEF) {
            more = 2;
            if (c == 0xE0) low = 0xA0;  /* longer than need be */
            if (c == 0xED) high = 0x9F; /* surrogates */
        } else if (c >= 0xF0 && c <= 0xF4) {
            more = 3;
            if (c == 0xF0) low = 0x90;
            if (c == 0xF4) high = 0x8F; /* beyond U+10FFFF */
        } else {
            return false;
        }
        for (; more > 0; more--, low = 0x80, high = 0xBF)
            if (at == end || *at < low || *at > high)
                return false;
            else
                at++;
    }
    return true;
}

void pp_csv_put_empty(const pp_csv_plan *plan, const pp_csv_values *values, size_t column,
                      size_t row)
{
    const pp_csv_column *c = &plan->columns[column];
    switch (c->type) {
    case PP_CSV_LENGTH:
    case PP_CSV_NUMBER:
        values[column].number[row] = NAN;
        break;
    case PP_CSV_TEXT:
        values[column].text[row] = "";
        break;
    case PP_CSV_WORD:
        values[column].code[row] = (int8_t)c->empty;
        break;
    case PP_CSV_COUNT:
        values[column].count[row] = (uint32_t)c->empty;
        break;
    }
}

void pp_csv_put_missing(const pp_csv_plan *plan, const pp_csv_values *values, size_t from,
                        size_t row)
{
    for (size_t cell = from; cell < plan->cells; cell++)
        if (plan->ops[cell].type != PP_CSV_SKIP)
            pp_csv_put_empty(plan, values, plan->ops[cell].column, row);
}

const char *pp_csv_shown(const char *text, size_t length, char shown[PP_CSV_SHOWN_MAX])
{
    enum { MOST = 40 };
    bool cut = length > MOST;
    if (cut) {
        length = MOST;
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80) length--;
    }
    bool utf8 = pp_csv_utf8(text, length);
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        shown[i] = c < 0x20 || c == 0x7F || (c >= 0x80 && !utf8) ? '?' : text[i];
    }
    snprintf(shown + length, PP_CSV_SHOWN_MAX - length, "%s", cut ? "..." : "");
    return shown;
}
