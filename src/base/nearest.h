/* The nearest known word, for messages about a misspelt one. */
#ifndef PP_BASE_NEAREST_H
#define PP_BASE_NEAREST_H

#include <stddef.h>

/* How many letters must be put in, taken out, changed, or swapped with their neighbour to turn `a`
 * into `b`; letters compare in any case, '-' and ' ' as '_'. Texts are compared as far as 63
 * bytes. Optimal string alignment (Damerau 1964). */
size_t pp_nearest_distance(const char *a, const char *b);

/* Index of the word nearest to `word`, the first of several; `count` when there are no words. */
size_t pp_nearest_find(const char *word, size_t count, const char *const *words);

#endif
