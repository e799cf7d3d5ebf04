/* Text from outside (file names, cells, titles, keys of a JSON file) made fit to be shown: nothing
 * in it can steer a terminal, turn the reading direction, or pretend to be another line. */
#ifndef PP_BASE_FOREIGN_H
#define PP_BASE_FOREIGN_H

#include "base/text.h"

/* Bytes at `at` (zero-terminated text) that must not be shown as they are: C0 and C1 controls, DEL,
 * the marks that embed, override or isolate a reading direction (Unicode UAX 9: U+061C, U+200E,
 * U+200F, U+202A..E, U+2066..9), line and paragraph separators (U+2028, U+2029), the byte order
 * mark inside a text (U+FEFF), and bytes that are no UTF-8. 0: the character is harmless. */
size_t pp_foreign_steering(const char *at);

/* Add text[length] (or up to its zero) with each such character in letters: ESC as \x1b, U+202E as
 * <U+202E>. */
void pp_text_add_foreign_bytes(pp_text *text, const char *piece, size_t length);
void pp_text_add_foreign(pp_text *text, const char *piece); /* NULL adds nothing */

/* Bytes of the piece at `at` that is read from right to left: from a letter of Hebrew, Arabic or
 * their kin to the last one, with spaces, digits and punctuation between. 0: no such letter is
 * there. Letters: the blocks whose default class is R or AL (Unicode Standard Annex 9, its data
 * file DerivedBidiClass.txt). */
size_t pp_foreign_turned(const char *at);

/* As pp_text_add_foreign, with each such piece in a first-strong isolate (U+2068 ... U+2069,
 * Unicode Standard Annex 9, 3.4): it keeps its own order and turns nothing beside it. For what
 * knows isolates: pages and papers. */
void pp_text_add_isolated(pp_text *text, const char *piece);

/* pp_text_add_foreign into out[room], cut where it does not fit; returns `out`. For a message put
 * together without memory of its own. NULL gives an empty text. */
const char *pp_foreign(const char *piece, char *out, size_t room);

#endif
