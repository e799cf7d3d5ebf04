#include "report/page/markup.h"

#include <string.h>

#include "base/foreign.h"

/* Bytes of the well-formed character that begins here. */
static size_t character_length(unsigned char first)
{
    return first < 0x80 ? 1 : first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
}

void pp_markup_add(pp_text *text, const char *untrusted)
{
    if (!untrusted) return;
    for (const char *c = untrusted; *c; c++) {
        size_t steering = (unsigned char)*c >= 0x80 ? pp_foreign_steering(c) : 0;
        if (steering) { /* it would turn the reading direction or part lines: shown in letters */
            pp_text shown = {0};
            pp_text_add_foreign_bytes(&shown, c, steering);
            if (!shown.failed) pp_markup_add(text, shown.data);
            text->failed = text->failed || shown.failed;
            pp_text_free(&shown);
            c += steering - 1;
            continue;
        }
        if ((unsigned char)*c >= 0x80) { /* whole: its later bytes mean nothing by themselves */
            size_t length = character_length((unsigned char)*c);
            pp_text_add_bytes(text, c, length);
            c += length - 1;
            continue;
        }
        switch (*c) {
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
            if (*c >= 0x20 && *c != 0x7f) pp_text_add_bytes(text, c, 1);
        }
    }
}

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
