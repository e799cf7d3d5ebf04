/* How a file was read, in words and as a JSON-ready list of parts: the same on the page, on the
 * certificate and in a preview. */
#ifndef PP_ANSWER_READING_WORDS_H
#define PP_ANSWER_READING_WORDS_H

#include "answer/results.h"
#include "base/reading.h"
#include "base/text.h"

/* "comma", "point", ... of a character that stands between cells or digits; NULL for 0. */
const char *pp_mark_words(char mark);
/* Where a unit was found: "header"; for results.json and for people alike. NULL: no unit. */
const char *pp_unit_origin_words(pp_unit_origin origin);

/* "Columns x (X-Ist, mm by the header), ...; ignored: Seite. 120 rows; skipped: 2 blank lines." */
void pp_reading_words(pp_text *text, const pp_table_reading *reading);

/* How the measured list met the nominal one: "134 rows matched by name; ..." */
void pp_matching_words(pp_text *text, const pp_results *results);

/* Rows of the measured list with and without a name. */
void pp_matching_count(const pp_results *results, size_t *by_name, size_t *by_place);

/* The job file's words for the frame and for the side the exit face was measured from. */
const char *pp_align_words(pp_align align);
const char *pp_exit_view_words(pp_exit_view view);

#endif
