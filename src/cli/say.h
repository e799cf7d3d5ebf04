/* What the program prints: one door to standard output and standard error. */
#ifndef PP_CLI_SAY_H
#define PP_CLI_SAY_H

#include <stdio.h>

/* As fprintf, but every text that is put in (%s) is shown as foreign text: it cannot steer the
 * terminal, turn the reading direction or begin a line of its own (base/foreign.h). Line feeds and
 * escapes of the format itself stay. Conversions: %s (with width, precision, -), %d, %u, %ld, %zu,
 * %llu, %f, %g, %%. */
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void
pp_say(FILE *to, const char *format, ...);

#endif
