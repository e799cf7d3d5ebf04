#include "base/foreign.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum { SHOWN_MAX = 12 }; /* of one character: "<U+202E>" */

/* The code point at `at` and its bytes; 0 bytes when it is no UTF-8 (RFC 3629: no surrogates, no
 * longer form than needed, nothing above U+10FFFF). */
static size_t decode(const unsigned char *at, uint32_t *point)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    size_t length = at[0] < 0x80 ? 1 : at[0] >= 0xf0 ? 4 : at[0] >= 0xe0 ? 3 : 2;
    if (at[0] >= 0x80 && (at[0] < 0xc2 || at[0] > 0xf4)) return 0;
    uint32_t value = length == 1 ? at[0] : at[0] & (0x7fu >> length);
    for (size_t i = 1; i < length; i++) {
        if ((at[i] & 0xc0) != 0x80) return 0;
        value = value << 6 | (at[i] & 0x3fu);
    }
    if (value < least[length] || value > 0x10ffff || (value >= 0xd800 && value <= 0xdfff)) return 0;
    *point = value;
    return length;
}

static bool steers(uint32_t point)
{
    return point < 0x20 || (point >= 0x7f && point <= 0x9f) || point == 0x061c || point == 0x200e ||
           point == 0x200f || (point >= 0x2028 && point <= 0x202e) ||
           (point >= 0x2066 && point <= 0x2069) || point == 0xfeff;
}

size_t pp_foreign_steering(const char *at)
{
    uint32_t point;
    size_t length = decode((const unsigned char *)at, &point);
    if (length == 0) return 1;
    return steers(point) ? length : 0;
}

/* The character at `at` in letters; returns the bytes it took there, *written those of `out`. */
static size_t show(const char *at, char out[SHOWN_MAX], size_t *written)
{
    uint32_t point;
    size_t length = decode((const unsigned char *)at, &point);
    int count;
    if (length == 0 || (length == 1 && steers(point)))
        count = snprintf(out, SHOWN_MAX, "\\x%02x", (unsigned)(unsigned char)*at);
    else if (steers(point))
        count = snprintf(out, SHOWN_MAX, "<U+%04X>", (unsigned)point);
    else
        memcpy(out, at, length), count = (int)length;
    *written = (size_t)count;
    return length ? length : 1;
}

void pp_text_add_foreign_bytes(pp_text *text, const char *piece, size_t length)
{
    char shown[SHOWN_MAX], rest[5] = "";
    for (size_t i = 0, written; i < length;) {
        const char *at = piece + i;
        if (length - i < 4) { /* decode may look at four bytes */
            memcpy(rest, at, length - i);
            rest[length - i] = '\0';
            at = rest;
        }
        i += show(at, shown, &written);
        pp_text_add_bytes(text, shown, written);
    }
}

void pp_text_add_foreign(pp_text *text, const char *piece)
{
    if (piece) pp_text_add_foreign_bytes(text, piece, strlen(piece));
}

static bool turns(uint32_t point)
{
    return (point >= 0x0590 && point <= 0x08ff) || (point >= 0xfb1d && point <= 0xfdff) ||
           (point >= 0xfe70 && point <= 0xfefe) || (point >= 0x10800 && point <= 0x10fff) ||
           (point >= 0x1e800 && point <= 0x1efff);
}

/* Without a direction of its own, or a digit: ASCII but its letters, general punctuation. */
static bool follows(uint32_t point)
{
    bool letter = (point >= 'A' && point <= 'Z') || (point >= 'a' && point <= 'z');
    return (point < 0x80 && !letter) || (point >= 0x2010 && point <= 0x205e);
}

size_t pp_foreign_turned(const char *at)
{
    uint32_t point;
    size_t end = 0;
    for (size_t i = 0, length; at[i]; i += length) {
        length = decode((const unsigned char *)at + i, &point);
        if (length == 0 || steers(point)) break;
        if (turns(point))
            end = i + length;
        else if (i == 0 || !follows(point))
            break;
    }
    return end;
}

void pp_text_add_isolated(pp_text *text, const char *piece)
{
    static const char begin[] = "\u2068", end[] = "\u2069";
    if (!piece) return;
    for (size_t length; *piece; piece += length) {
        size_t turned = pp_foreign_turned(piece);
        for (length = turned ? turned : 1; !turned && piece[length];) {
            if (pp_foreign_turned(piece + length)) break;
            length++;
        }
        if (turned) pp_text_add(text, begin);
        pp_text_add_foreign_bytes(text, piece, length);
        if (turned) pp_text_add(text, end);
    }
}

const char *pp_foreign(const char *piece, char *out, size_t room)
{
    char shown[SHOWN_MAX];
    size_t length = 0, written;
    for (const char *at = piece ? piece : ""; *at;) {
        at += show(at, shown, &written);
        if (length + written + 1 > room) break;
        memcpy(out + length, shown, written);
        length += written;
    }
    if (room) out[length] = '\0';
    return out;
}
