#include "input/job/value.h"

#include <math.h>
#include <stdio.h>

#include "base/number.h"

static bool is_digit(char c) { return c >= '0' && c <= '9'; }
static bool is_blank(char c) { return c == ' ' || c == '\t'; }

static size_t digits_at(const char *text, size_t from, size_t length)
{
    size_t i = from;
    while (i < length && is_digit(text[i])) i++;
    return i - from;
}

/* How many bytes at the beginning are a decimal number; 0 if none are. */
static size_t decimal_length(const char *text, size_t length)
{
    size_t i = length && (text[0] == '+' || text[0] == '-');
    size_t whole = digits_at(text, i, length), fraction = 0;
    i += whole;
    if (i < length && text[i] == '.') {
        fraction = digits_at(text, i + 1, length);
        if (whole || fraction) i += 1 + fraction;
    }
    if (!whole && !fraction) return 0;
    if (i < length && (text[i] == 'e' || text[i] == 'E')) {
        size_t sign = i + 1 < length && (text[i + 1] == '+' || text[i + 1] == '-');
        size_t exponent = digits_at(text, i + 1 + sign, length);
        if (exponent) i += 1 + sign + exponent;
    }
    return i;
}

/* "5/8", "1-1/4", "1 1/4" at the beginning: its value and how many bytes it takes; 0 if none. */
static size_t read_unsigned_fraction(const char *text, size_t length, double *value)
{
    enum { DIGITS_MAX = 6 }; /* exact in double, and beyond any drawing */
    double part[3] = {0};    /* whole, numerator, denominator; or numerator, denominator */
    char between[2] = "";
    size_t i = 0, parts = 0;
    while (parts < 3) {
        size_t digits = digits_at(text, i, length);
        if (!digits || digits > DIGITS_MAX) return 0;
        for (size_t end = i + digits; i < end; i++)
            part[parts] = 10 * part[parts] + (text[i] - '0');
        parts++;
        if (parts == 3 || i == length || (parts == 2 && between[0] == '/')) break;
        if (text[i] != '/' && text[i] != '-' && text[i] != ' ') break;
        between[parts - 1] = text[i++];
    }
    bool simple = parts == 2 && between[0] == '/';
    bool mixed = parts == 3 && between[0] != '/' && between[1] == '/';
    double below = simple ? part[1] : part[2];
    if ((!simple && !mixed) || below == 0) return 0;
    *value = simple ? part[0] / below : part[0] + part[1] / below;
    return i;
}

static size_t read_fraction(const char *text, size_t length, double *value)
{
    size_t sign = length && (*text == '-' || *text == '+');
    size_t used = read_unsigned_fraction(text + sign, length - sign, value);
    if (used && *text == '-') *value = -*value;
    return used ? sign + used : 0;
}

void pp_range_words(pp_range range, pp_quantity quantity, char *text, size_t size)
{
    const char *unit = quantity == PP_LENGTH        ? " mm"
                       : quantity == PP_FORCE       ? " N"
                       : quantity == PP_STRESS      ? " MPa"
                       : quantity == PP_DENSITY     ? " kg/m3"
                       : quantity == PP_TEMPERATURE ? " C"
                       : quantity == PP_ANGLE       ? " deg"
                       : quantity == PP_SHARE       ? " %"
                       : quantity == PP_EXPANSION   ? " 1/K"
                                                    : "";
    double scale = quantity == PP_SHARE ? 100 : 1;
    double low = range.low * scale, high = range.high * scale;
    if (isinf(low) && isinf(high))
        snprintf(text, size, "any number");
    else if (isinf(high))
        snprintf(text, size, range.above ? "above %g%s" : "%g%s or more", low, unit);
    else if (isinf(low))
        snprintf(text, size, range.below ? "below %g%s" : "%g%s or less", high, unit);
    else
        snprintf(text, size, "%s %g %s %g%s", range.above ? "above" : "from", low,
                 !range.below  ? range.above ? "up to" : "to"
                 : range.above ? "and below"
                               : "to below",
                 high, unit);
}

static bool within(pp_range range, double value)
{
    bool low = range.above ? value > range.low : value >= range.low;
    bool high = range.below ? value < range.high : value <= range.high;
    return low && high;
}

static pp_status no_number(const pp_value_place *place, const char *text, size_t length,
                           pp_error *error)
{
    double unused;
    const char *why = length && pp_number_read(text, length, ',', &unused)
                          ? "it has a decimal comma; write a decimal point"
                          : "it is not a number; write one, with a unit where it needs one";
    return pp_fail_at(error, PP_EINPUT, place->file, place->line, 0, "%s = \"%.*s\": %s",
                      place->name, (int)length, text, why);
}

/* The number at the beginning of the text; how many bytes it takes, 0 if there is none. */
static size_t read_number(const char *text, size_t length, pp_quantity quantity, double *number)
{
    size_t used = quantity == PP_LENGTH ? read_fraction(text, length, number) : 0;
    if (used) return used;
    used = decimal_length(text, length);
    return used && pp_number_read(text, used, '.', number) ? used : 0;
}

static bool convert(const pp_value_kind *kind, const char *unit, size_t length, double number,
                    double *internal, pp_length_unit *written)
{
    if (kind->difference)
        return pp_unit_convert_difference(kind->quantity, unit, length, number, internal);
    if (kind->quantity != PP_LENGTH)
        return pp_unit_convert(kind->quantity, unit, length, number, internal);
    *written = kind->bare;
    if (length && !pp_unit_find_length(unit, length, written)) return false;
    *internal = pp_unit_to_mm(*written, number);
    return true;
}

pp_status pp_value_read(const pp_value_place *place, const char *text, size_t length,
                        const pp_value_kind *kind, double *value, pp_value_unit *written,
                        pp_error *error)
{
    while (length && is_blank(*text)) text++, length--;
    while (length && is_blank(text[length - 1])) length--;

    double number = 0, internal = 0;
    size_t used = read_number(text, length, kind->quantity, &number);
    if (!used || (used < length && text[used] == ',')) return no_number(place, text, length, error);

    const char *unit = text + used;
    size_t unit_length = length - used;
    while (unit_length && is_blank(*unit)) unit++, unit_length--;
    pp_length_unit length_unit = PP_MM;
    if (!convert(kind, unit, unit_length, number, &internal, &length_unit))
        return pp_fail_at(error, PP_EINPUT, place->file, place->line, 0,
                          "%s = \"%.*s\": \"%.*s\" is no unit it can have; write %s", place->name,
                          (int)length, text, (int)unit_length, unit,
                          pp_unit_choices(kind->quantity));
    if (!isfinite(internal) || !within(kind->range, internal)) {
        char words[128];
        pp_range_words(kind->range, kind->quantity, words, sizeof words);
        return pp_fail_at(error, PP_EINPUT, place->file, place->line, 0,
                          "%s = \"%.*s\" is out of range; it must be %s", place->name, (int)length,
                          text, words);
    }
    *value = internal;
    if (written) *written = (pp_value_unit){unit_length > 0, length_unit};
    return PP_OK;
}
