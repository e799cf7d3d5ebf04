#include "report/page/markup.h"

#include <string.h>

#include "base/foreign.h"

/* Bytes of the well-formed character that begins here. */
static size_t character_length(unsigned char first)
{
    return first < 0x80 ? 1 : first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
}

static void add_ascii(pp_text *text, char c)
{
    switch (c) {
    case '&':
        pp_text_add(text, "&amp;");
        break;
    case '<':
        pp_text_add(text, "&lt;");
        break;
    case '>':
        pp_text_add(text, "&gt;");
        break;
    case '"':
        pp_text_add(text, "&quot;");
        break;
    case '\'':
        pp_text_add(text, "&#39;");
        break;
    default:
        if (c >= 0x20 && c != 0x7f) pp_text_add_bytes(text, &c, 1);
    }
}

static void add_steering(pp_text *text, const char *at, size_t length)
{
    pp_text shown = {0};
    pp_text_add_foreign_bytes(&shown, at, length);
    for (size_t i = 0; !shown.failed && i < shown.length; i++) add_ascii(text, shown.data[i]);
    text->failed = text->failed || shown.failed;
    pp_text_free(&shown);
}

static void add(pp_text *text, const char *untrusted, bool isolated)
{
    const char *end_of_turn = NULL;
    for (const char *c = untrusted ? untrusted : ""; *c;) {
        bool ascii = (unsigned char)*c < 0x80;
        size_t steering = ascii ? 0 : pp_foreign_steering(c);
        size_t turned = isolated && !ascii && !end_of_turn ? pp_foreign_turned(c) : 0;
        size_t length = ascii      ? 1
                        : steering ? steering
                                   : character_length((unsigned char)*c); /* whole */
        if (turned) {
            end_of_turn = c + turned;
            pp_text_add(text, "\u2068");
        }
        if (ascii)
            add_ascii(text, *c);
        else if (steering) /* would turn the reading direction or part lines: shown in letters */
            add_steering(text, c, steering);
        else
            pp_text_add_bytes(text, c, length);
        c += length;
        if (c != end_of_turn) continue;
        end_of_turn = NULL;
        pp_text_add(text, "\u2069");
    }
}

void pp_markup_add(pp_text *text, const char *untrusted) { add(text, untrusted, true); }

void pp_markup_add_plain(pp_text *text, const char *untrusted) { add(text, untrusted, false); }

void pp_markup_json(pp_text *text, const char *untrusted)
{
    pp_text_add(text, "\"");
    for (const char *c = untrusted ? untrusted : ""; *c; c++) {
        unsigned char byte = (unsigned char)*c;
        if (byte < 0x20 || byte == 0x7f || strchr("\"\\<>&'", byte))
            pp_text_print(text, "\\u%04x", byte);
        else if (byte == 0xe2 && (unsigned char)c[1] == 0x80 &&
                 ((unsigned char)c[2] == 0xa8 || (unsigned char)c[2] == 0xa9)) {
            pp_text_print(text, "\\u20%02x", (unsigned char)c[2] - 0x80);
            c += 2;
        } else
            pp_text_add_bytes(text, c, 1);
    }
    pp_text_add(text, "\"");
}
