/* Numbers as text, whatever the locale: correctly rounded both ways. */
#ifndef PP_BASE_NUMBER_H
#define PP_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* Read a whole decimal number (optional sign, digits, optional fraction and exponent; blanks around
 * it are allowed) from text[length]; `decimal` is '.' or ','. False unless all of the text is one
 * finite number: hexadecimal, inf, nan, an empty text and thousands marks are no numbers. */
bool pp_number_read(const char *text, size_t length, char decimal, double *value);

enum { PP_NUMBER_TEXT_MAX = 32 };

/* Write `value` with 15 significant digits as JSON and CSV take it: shortest of the %g kind, a
 * decimal point, "-0" as "0"; returns the length. NaN writes nothing (length 0). */
size_t pp_number_write(char text[PP_NUMBER_TEXT_MAX], double value);

/* Write `value` with `decimals` digits after the point (0..17); returns the length. */
size_t pp_number_write_fixed(char text[PP_NUMBER_TEXT_MAX], double value, int decimals);

#endif
