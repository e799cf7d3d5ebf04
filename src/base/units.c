#include "base/units.h"

#include "base/constants.h"
#include "base/text.h"

/* Exact by definition: the inch (1959), the pound and the pound-force with standard gravity
 * 9.80665 m/s2. */
#define MM_PER_INCH 25.4
#define N_PER_LBF 4.4482216152605
#define KG_PER_LB 0.45359237

double pp_unit_mm(pp_length_unit unit)
{
    switch (unit) {
    case PP_MM:
        return 1;
    case PP_CM:
        return 10;
    case PP_M:
        return 1000;
    case PP_INCH:
        return MM_PER_INCH;
    case PP_UM:
        return 0.001;
    }
    return 1;
}

double pp_unit_to_mm(pp_length_unit unit, double value)
{
    /* 0.001 is no double: dividing rounds once */
    return unit == PP_UM ? value / 1000 : value * pp_unit_mm(unit);
}

const char *pp_unit_name(pp_length_unit unit)
{
    static const char *const NAMES[] = {
        [PP_MM] = "mm", [PP_CM] = "cm", [PP_M] = "m", [PP_INCH] = "in", [PP_UM] = "um"};
    return NAMES[unit];
}

bool pp_unit_find_length(const char *name, size_t length, pp_length_unit *unit)
{
    /* the micro sign and the Greek letter, as UTF-8 */
    static const struct {
        const char *word;
        pp_length_unit unit;
    } WORDS[] = {{"mm", PP_MM},        {"cm", PP_CM},       {"m", PP_M},     {"in", PP_INCH},
                 {"inch", PP_INCH},    {"inches", PP_INCH}, {"\"", PP_INCH}, {"um", PP_UM},
                 {"\xC2\xB5m", PP_UM}, {"\xCE\xBCm", PP_UM}};
    if (length > 1 && name[length - 1] == '.') length--;
    for (size_t i = 0; i < sizeof WORDS / sizeof WORDS[0]; i++) {
        if (!pp_same_word(name, length, WORDS[i].word)) continue;
        *unit = WORDS[i].unit;
        return true;
    }
    return false;
}

/* internal = (value + shift) * factor / divisor: a factor that is no double is written as the
 * quotient of two that are, so that the result rounds as little as can be. */
typedef struct conversion {
    const char *name;
    double factor, divisor, shift;
} conversion;

static const conversion FORCES[] = {{"N", 1, 1, 0}, {"kN", 1000, 1, 0}, {"lbf", N_PER_LBF, 1, 0}};
static const conversion STRESSES[] = {
    {"MPa", 1, 1, 0},
    {"GPa", 1000, 1, 0},
    {"psi", N_PER_LBF, MM_PER_INCH *MM_PER_INCH, 0},
    {"ksi", 1000 * N_PER_LBF, MM_PER_INCH *MM_PER_INCH, 0},
    {"N/mm2", 1, 1, 0},
};
static const conversion DENSITIES[] = {
    {"kg/m3", 1, 1, 0},
    {"lb/in3", KG_PER_LB * 1e9, MM_PER_INCH *MM_PER_INCH *MM_PER_INCH, 0},
    {"g/cm3", 1000, 1, 0},
};
#define DEGREE_SIGN "\xC2\xB0" /* UTF-8 */
static const conversion TEMPERATURES[] = {
    {"C", 1, 1, 0},   {"degC", 1, 1, 0},   {DEGREE_SIGN "C", 1, 1, 0},
    {"F", 5, 9, -32}, {"degF", 5, 9, -32}, {DEGREE_SIGN "F", 5, 9, -32},
};
static const conversion ANGLES[] = {
    {"deg", 1, 1, 0}, {DEGREE_SIGN, 1, 1, 0}, {"rad", 180, PP_PI, 0}};
static const conversion SHARES[] = {{"%", 1, 100, 0}};
static const conversion EXPANSIONS[] = {
    {"1/K", 1, 1, 0}, {"/K", 1, 1, 0}, {"1/C", 1, 1, 0}, {"1/F", 9, 5, 0}};

static bool convert_by(const conversion *table, size_t count, const char *name, size_t length,
                       double value, double *internal)
{
    for (size_t i = 0; i < count; i++) {
        const conversion *c = &table[i];
        if (!pp_same_word(name, length, c->name)) continue;
        *internal = (value + c->shift) * c->factor / c->divisor;
        return true;
    }
    return false;
}

#define CONVERT_BY(table)                                                                          \
    convert_by(table, sizeof(table) / sizeof(table)[0], name, length, value, internal)

bool pp_unit_convert(pp_quantity quantity, const char *name, size_t length, double value,
                     double *internal)
{
    if (length == 0) {
        *internal = value;
        return true;
    }
    pp_length_unit unit;
    switch (quantity) {
    case PP_LENGTH:
        if (!pp_unit_find_length(name, length, &unit)) return false;
        *internal = pp_unit_to_mm(unit, value);
        return true;
    case PP_FORCE:
        return CONVERT_BY(FORCES);
    case PP_STRESS:
        return CONVERT_BY(STRESSES);
    case PP_DENSITY:
        return CONVERT_BY(DENSITIES);
    case PP_TEMPERATURE:
        return CONVERT_BY(TEMPERATURES);
    case PP_ANGLE:
        return CONVERT_BY(ANGLES);
    case PP_SHARE:
        return CONVERT_BY(SHARES);
    case PP_EXPANSION:
        return CONVERT_BY(EXPANSIONS);
    case PP_NUMBER:
        return false;
    }
    return false;
}

bool pp_unit_convert_difference(pp_quantity quantity, const char *name, size_t length, double value,
                                double *internal)
{
    double zero, reading;
    if (!pp_unit_convert(quantity, name, length, value, &reading)) return false;
    if (quantity != PP_TEMPERATURE) {
        *internal = reading;
        return true;
    }
    bool fahrenheit = pp_unit_convert(quantity, name, length, 0, &zero) && zero != 0;
    *internal = fahrenheit ? value * 5 / 9 : reading;
    return true;
}

const char *pp_unit_choices(pp_quantity quantity)
{
    switch (quantity) {
    case PP_LENGTH:
        return "mm, cm, m, in or um";
    case PP_FORCE:
        return "N, kN or lbf";
    case PP_STRESS:
        return "MPa, GPa, psi or ksi";
    case PP_DENSITY:
        return "kg/m3 or lb/in3";
    case PP_TEMPERATURE:
        return "C or F";
    case PP_ANGLE:
        return "deg or rad";
    case PP_SHARE:
        return "%";
    case PP_EXPANSION:
        return "1/K";
    case PP_NUMBER:
        return "no unit";
    }
    return "";
}
