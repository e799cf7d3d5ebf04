#include "answer/for_people.h"

#include <math.h>
#include <stdio.h>

#include "base/compare.h"
#include "base/number.h"

/* Decimals of a measured length: a micrometre, and a tenth of a thousandth of an inch. */
enum { MM_DECIMALS = 3, INCH_DECIMALS = 4, PLACE_MM_DECIMALS = 1, PLACE_INCH_DECIMALS = 2 };
enum {
    EXTRA_LIMIT_DECIMALS = 1, /* a limit shows at most so many more than a measured length */
    DECIMALS_MAX = 12
};
static const double GRAVITY = 9.80665;                /* m/s2, standard (CGPM 1901) */
static const double NEWTON_PER_LBF = 4.4482216152605; /* exact: 0.45359237 kg * GRAVITY */
static const double KG_PER_LB = 0.45359237;           /* exact */
static const double MPA_PER_KSI = 6.894757293168361;  /* 1000 lbf per in2 */
static const char NOT_GIVEN[] = "\u2013";

static int base_decimals(pp_length_unit units)
{
    return units == PP_INCH ? INCH_DECIMALS : MM_DECIMALS;
}

static double in_units(pp_length_unit units, double mm)
{
    return units == PP_INCH ? mm / 25.4 : mm;
}

const char *pp_people_unit(pp_length_unit units) { return units == PP_INCH ? "in" : "mm"; }

/* `value` with `decimals`; never "-0.000" */
static void add_fixed(pp_text *text, double value, int decimals)
{
    if (isnan(value))
        pp_text_add(text, NOT_GIVEN);
    else
        pp_text_add_fixed(text, value, decimals);
}

static void add_with_unit(pp_text *text, double value, int decimals, const char *unit)
{
    add_fixed(text, value, decimals);
    if (isnan(value)) return;
    pp_text_add(text, " ");
    pp_text_add(text, unit);
}

static void add_length(pp_text *text, pp_length_unit units, double mm, int decimals)
{
    add_with_unit(text, in_units(units, mm), decimals, pp_people_unit(units));
}

/* decimals such that `significant` digits show, from 0 to `most` */
static int decimals_for(double value, int significant, int most)
{
    if (isnan(value) || value == 0) return 0;
    int decimals = significant - 1 - (int)floor(log10(fabs(value)));
    return decimals < 0 ? 0 : decimals > most ? most : decimals;
}

/* fewest decimals (of least..most) that show `value` to within `tolerance` */
static int exact_decimals(double value, int least, int most, double tolerance)
{
    for (int decimals = least; decimals < most; decimals++) {
        double scale = pow(10, decimals);
        if (fabs(round(value * scale) / scale - value) <= tolerance) return decimals;
    }
    return most;
}

void pp_people_length(pp_text *text, pp_length_unit units, double mm)
{
    add_length(text, units, mm, base_decimals(units));
}

void pp_people_place(pp_text *text, pp_length_unit units, double mm)
{
    add_length(text, units, mm, units == PP_INCH ? PLACE_INCH_DECIMALS : PLACE_MM_DECIMALS);
}

void pp_people_size(pp_text *text, pp_length_unit units, double mm)
{
    double value = in_units(units, mm);
    add_length(text, units, mm, exact_decimals(value, 0, base_decimals(units) + 1, 1e-9));
}

static int decimals_of_limit(pp_length_unit units, double limit)
{
    int base = base_decimals(units);
    if (isnan(limit)) return base;
    return exact_decimals(in_units(units, limit), base, base + EXTRA_LIMIT_DECIMALS,
                          in_units(units, PP_ALLOWANCE));
}

void pp_people_limit(pp_text *text, pp_length_unit units, double limit)
{
    add_length(text, units, limit, decimals_of_limit(units, limit));
}

void pp_people_limit_of(pp_text *text, pp_length_unit units, pp_quantity quantity, double limit)
{
    if (quantity == PP_SHARE)
        pp_people_share(text, limit);
    else
        pp_people_limit(text, units, limit);
}

static double printed(double value, int decimals)
{
    char shown[PP_NUMBER_TEXT_MAX];
    double back = value;
    pp_number_read(shown, pp_number_write_fixed(shown, value, decimals), '.', &back);
    return back;
}

/* does `value`, printed, lie on the same side of the printed limit as it does in truth? */
static bool reads_right(double value, int decimals, double limit, int limit_decimals)
{
    double shown = printed(value, decimals), shown_limit = printed(limit, limit_decimals);
    return value > limit ? shown > shown_limit : shown < shown_limit;
}

int pp_people_decimals(pp_length_unit units, double mm, double limit)
{
    int base = base_decimals(units);
    if (isnan(mm) || isnan(limit) || pp_equals(mm, limit)) return base;
    double value = in_units(units, mm), bound = in_units(units, limit);
    int limit_decimals = decimals_of_limit(units, limit);
    for (int decimals = base; decimals <= limit_decimals; decimals++)
        if (reads_right(value, decimals, bound, limit_decimals)) return decimals;
    /* within the limit's own rounding: only more digits of both tell them apart */
    int decimals = limit_decimals + 1;
    while (decimals < DECIMALS_MAX && !reads_right(value, decimals, bound, decimals)) decimals++;
    return decimals;
}

void pp_people_limit_beside(pp_text *text, pp_length_unit units, double limit, double mm)
{
    int own = decimals_of_limit(units, limit);
    int both = pp_people_decimals(units, mm, limit);
    add_length(text, units, limit, own > both ? own : both);
}

void pp_people_against(pp_text *text, pp_length_unit units, double mm, double limit)
{
    add_length(text, units, mm, pp_people_decimals(units, mm, limit));
}

void pp_people_out_of_place(pp_text *text, pp_length_unit units, double position, double limit)
{
    pp_people_against(text, units, position / 2, limit / 2);
    pp_text_add(text, " out of place (position ");
    pp_people_against(text, units, position, limit);
    pp_text_add(text, ")");
}

void pp_people_number(pp_text *text, pp_length_unit units, double mm, int decimals)
{
    add_fixed(text, in_units(units, mm), decimals);
}

void pp_people_force(pp_text *text, pp_length_unit units, double newton)
{
    if (units == PP_INCH) {
        add_with_unit(text, newton / NEWTON_PER_LBF, 0, "lbf");
    } else if (fabs(newton) < 1000) {
        add_with_unit(text, newton, 0, "N");
    } else {
        add_with_unit(text, newton / 1000, decimals_for(newton / 1000, 3, 2), "kN");
    }
}

void pp_people_mass(pp_text *text, pp_length_unit units, double weight_newton)
{
    double kg = weight_newton / GRAVITY, value = units == PP_INCH ? kg / KG_PER_LB : kg;
    add_with_unit(text, value, decimals_for(value, 3, 2), units == PP_INCH ? "lb" : "kg");
}

void pp_people_stress(pp_text *text, pp_length_unit units, double mpa)
{
    double value = units == PP_INCH ? mpa / MPA_PER_KSI : mpa;
    add_with_unit(text, value, decimals_for(value, 3, 2), units == PP_INCH ? "ksi" : "MPa");
}

void pp_people_temperature(pp_text *text, pp_length_unit units, double celsius)
{
    double value = units == PP_INCH ? celsius * 1.8 + 32 : celsius;
    add_with_unit(text, value, exact_decimals(value, 0, 1, 1e-9),
                  units == PP_INCH ? "\u00b0F" : "\u00b0C");
}

void pp_people_area(pp_text *text, pp_length_unit units, double mm2)
{
    double value = mm2;
    const char *unit = "mm\u00b2";
    if (units == PP_INCH)
        value = mm2 / (25.4 * 25.4), unit = "in\u00b2";
    else if (mm2 >= 1e5)
        value = mm2 / 1e6, unit = "m\u00b2";
    else if (mm2 >= 1e3)
        value = mm2 / 100, unit = "cm\u00b2";
    add_with_unit(text, value, decimals_for(value, 3, 3), unit);
}

void pp_people_slope(pp_text *text, pp_length_unit units, double mm_per_m)
{
    if (units == PP_INCH)
        add_with_unit(text, mm_per_m * 12 / 1000, 4, "in/ft");
    else
        add_with_unit(text, mm_per_m, 3, "mm/m");
}

void pp_people_angle(pp_text *text, double degrees)
{
    add_fixed(text, degrees, exact_decimals(degrees, 0, 4, 1e-9));
    if (!isnan(degrees)) pp_text_add(text, "\u00b0");
}

void pp_people_share(pp_text *text, double share)
{
    add_with_unit(text, share * 100, exact_decimals(share * 100, 0, 2, 1e-9), "%");
}

void pp_people_count(pp_text *text, size_t count)
{
    enum { GROUPED_FROM = 10000 };
    char digits[32];
    int length = snprintf(digits, sizeof digits, "%zu", count);
    for (int i = 0; i < length; i++) {
        if (count >= GROUPED_FROM && i && (length - i) % 3 == 0)
            pp_text_add(text, "\u202f"); /* narrow no-break space, as ISO 80000-1 groups digits */
        pp_text_add_bytes(text, &digits[i], 1);
    }
}
