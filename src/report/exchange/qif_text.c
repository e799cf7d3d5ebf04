#include <math.h>
#include <string.h>

#include "base/number.h"
#include "report/exchange/qif_parts.h"
#include "report/page/markup.h"

enum { WAITING = 1 << 18 };

void pp_qif_flush(pp_qif_writer *w, bool all)
{
    if (w->text.failed && w->status == PP_OK) w->status = pp_fail_memory(w->error);
    if (!all && w->text.length < WAITING) return;
    if (w->status == PP_OK && w->text.length)
        w->status = w->sink->write(w->sink->context, w->text.data, w->text.length, w->error);
    w->text.length = 0;
}

void pp_qif_add(pp_qif_writer *w, const char *text) { pp_text_add(&w->text, text); }

void pp_qif_count(pp_qif_writer *w, size_t number)
{
    char digits[24];
    size_t at = sizeof digits;
    do digits[--at] = (char)('0' + number % 10);
    while (number /= 10);
    pp_text_add_bytes(&w->text, digits + at, sizeof digits - at);
}

/* 15 significant digits. */
void pp_qif_decimal(pp_qif_writer *w, double value)
{
    char digits[PP_NUMBER_TEXT_MAX];
    size_t length = pp_number_write(digits, value);
    if (memchr(digits, 'e', length)) { /* very small or very large */
        int decimals = value == 0 ? 0 : 14 - (int)floor(log10(fabs(value)));
        if (decimals < 0) decimals = 0;
        if (decimals > 17) decimals = 17;
        length = pp_number_write_fixed(digits, value, decimals);
        if (decimals > 0)
            while (length > 1 && digits[length - 1] == '0') length--;
        if (length && digits[length - 1] == '.') length--;
    }
    pp_text_add_bytes(&w->text, digits, length);
}

/* XML 1.0 has no U+FFFE and U+FFFF; control characters are dropped by the markup. */
void pp_qif_foreign(pp_qif_writer *w, const char *text)
{
    pp_text *out = &w->text;
    size_t start = out->length;
    pp_markup_add(out, text);
    if (out->failed) return;
    for (size_t i = start; i + 2 < out->length; i++) {
        const unsigned char *at = (const unsigned char *)out->data + i;
        if (at[0] == 0xef && at[1] == 0xbf && at[2] >= 0xbe) memcpy(out->data + i, "???", 3);
    }
}

static void open_tag(pp_qif_writer *w, const char *name)
{
    pp_qif_add(w, "<");
    pp_qif_add(w, name);
    pp_qif_add(w, ">");
}

static void close_tag(pp_qif_writer *w, const char *name)
{
    pp_qif_add(w, "</");
    pp_qif_add(w, name);
    pp_qif_add(w, ">");
}

void pp_qif_text_element(pp_qif_writer *w, const char *name, const char *text)
{
    if (!text || !text[0]) return;
    open_tag(w, name);
    pp_qif_foreign(w, text);
    close_tag(w, name);
}

void pp_qif_decimal_element(pp_qif_writer *w, const char *name, double value)
{
    open_tag(w, name);
    pp_qif_decimal(w, value);
    close_tag(w, name);
}

void pp_qif_count_element(pp_qif_writer *w, const char *name, size_t number)
{
    open_tag(w, name);
    pp_qif_count(w, number);
    close_tag(w, name);
}

void pp_qif_date_element(pp_qif_writer *w, const char *name, const char *date)
{
    if (!date || !date[0]) return;
    open_tag(w, name);
    pp_qif_foreign(w, date);
    pp_qif_add(w, "T00:00:00");
    close_tag(w, name);
}

void pp_qif_ids(pp_qif_writer *w, const char *name, size_t id)
{
    pp_qif_begin_list(w, name, 1);
    pp_qif_count_element(w, "Id", id);
    close_tag(w, name);
}

void pp_qif_begin_list(pp_qif_writer *w, const char *name, size_t count)
{
    pp_qif_add(w, "<");
    pp_qif_add(w, name);
    pp_qif_add(w, " n=\"");
    pp_qif_count(w, count);
    pp_qif_add(w, "\">");
}

void pp_qif_end_list(pp_qif_writer *w, const char *name)
{
    close_tag(w, name);
    pp_qif_add(w, "\n");
}

void pp_qif_begin(pp_qif_writer *w, const char *name, const char *ending, size_t id)
{
    pp_qif_add(w, "<");
    pp_qif_add(w, name);
    pp_qif_add(w, ending);
    pp_qif_add(w, " id=\"");
    pp_qif_count(w, id);
    pp_qif_add(w, "\">");
}

void pp_qif_end(pp_qif_writer *w, const char *name, const char *ending)
{
    pp_qif_add(w, "</");
    pp_qif_add(w, name);
    pp_qif_add(w, ending);
    pp_qif_add(w, ">\n");
    pp_qif_flush(w, false);
}

static void begin_attribute(pp_qif_writer *w, const char *kind, const char *name)
{
    pp_qif_add(w, "<Attribute");
    pp_qif_add(w, kind);
    pp_qif_add(w, " name=\"");
    pp_qif_add(w, name);
    pp_qif_add(w, "\" value=\"");
}

void pp_qif_attribute(pp_qif_writer *w, const char *name, const char *value)
{
    begin_attribute(w, "Str", name);
    pp_qif_foreign(w, value);
    pp_qif_add(w, "\"/>");
}

void pp_qif_attribute_number(pp_qif_writer *w, const char *name, double value)
{
    begin_attribute(w, "D1", name);
    pp_qif_decimal(w, value);
    pp_qif_add(w, "\"/>");
}

void pp_qif_attribute_count(pp_qif_writer *w, const char *name, size_t value)
{
    begin_attribute(w, "I1", name);
    pp_qif_count(w, value);
    pp_qif_add(w, "\"/>");
}

void pp_qif_measured(pp_qif_writer *w, const char *name, double value, double u, double bias)
{
    pp_qif_add(w, "<");
    pp_qif_add(w, name);
    if (isfinite(u)) {
        pp_qif_add(w, " combinedUncertainty=\"");
        pp_qif_decimal(w, u);
        pp_qif_add(w, "\" meanError=\"");
        pp_qif_decimal(w, bias > 0 ? bias : 0);
        pp_qif_add(w, "\"");
    }
    pp_qif_add(w, ">");
    pp_qif_decimal(w, value);
    close_tag(w, name);
}
