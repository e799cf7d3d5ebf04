#include "base/number.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool pp_number_read(const char *text, size_t length, char decimal, double *value)
{
    (void)text, (void)length, (void)decimal, (void)value;
    return false;
}

size_t pp_number_write(char text[PP_NUMBER_TEXT_MAX], double value)
{
    return (size_t)snprintf(text, PP_NUMBER_TEXT_MAX, "%.15g", value);
}

size_t pp_number_write_fixed(char text[PP_NUMBER_TEXT_MAX], double value, int decimals)
{
    return (size_t)snprintf(text, PP_NUMBER_TEXT_MAX, "%.*f", decimals, value);
}
