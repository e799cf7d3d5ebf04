/* Numbers as text, whatever the locale: correctly rounded both ways. */
#ifndef PP_BASE_NUMBER_H
#define PP_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Read a whole decimal number (optional sign, digits, optional fraction and exponent; blanks around
 * it are allowed) from text[length]; `decimal` is '.' or ','. False unless all of the text is one
 * finite number: hexadecimal, inf, nan, an empty text, thousands marks and what overflows are no
 * numbers. What is too small for a double becomes a subnormal or zero. */
bool pp_number_read(const char *text, size_t length, char decimal, double *value);

/* digits * 10^exponent, correctly rounded, for |exponent| <= PP_NUMBER_EXACT_EXPONENT. */
enum { PP_NUMBER_EXACT_EXPONENT = 27 };
double pp_number_scale(uint64_t digits, int exponent);

/* digits / 10^decimals, decimals at most PP_NUMBER_EXACT_EXPONENT: the same, inline for readers
 * with a scanning loop of their own. Up to 2^53 and 10^22 both operands are doubles, so that the
 * one division rounds once; multiplying by 10^-decimals would round twice. */
enum { PP_NUMBER_EXACT_TENS = 22 };
extern const double PP_NUMBER_TENS[PP_NUMBER_EXACT_TENS + 1];
static inline double pp_number_scale_down(uint64_t digits, unsigned decimals)
{
    if (digits <= (uint64_t)1 << 53 && decimals <= PP_NUMBER_EXACT_TENS)
        return (double)digits / PP_NUMBER_TENS[decimals];
    return pp_number_scale(digits, -(int)decimals);
}

enum { PP_NUMBER_TEXT_MAX = 32 };

/* Write `value` with 15 significant digits as JSON and CSV take it: shortest of the %g kind, a
 * decimal point, "-0" as "0"; zero-terminated; returns the length. NaN and the infinities write
 * nothing (length 0). */
size_t pp_number_write(char text[PP_NUMBER_TEXT_MAX], double value);

/* Write `value` with `decimals` digits after the point (0..17), rounded from the exact value, half
 * to even; what rounds to zero has no sign. A value too long for the text (beyond 1e12 at 17
 * decimals) is written as pp_number_write does. Returns the length; 0 for NaN and the infinities.
 */
size_t pp_number_write_fixed(char text[PP_NUMBER_TEXT_MAX], double value, int decimals);

#endif
