/* The work list in words, the same on the page, on paper, in the tables and on the terminal. */
#ifndef PP_ANSWER_WORK_WORDS_H
#define PP_ANSWER_WORK_WORDS_H

#include "answer/results.h"
#include "base/text.h"

/* What stands on every work list. */
#define PP_WORK_CAUTION                                                                            \
    "Not a repair instruction. What may be cut, repaired or accepted is decided by the drawing, "  \
    "the pressure-vessel code, the customer and the authorised inspector. Measure again after "    \
    "every cut."

/* "ream", "decide", "second opinion", "re-measure", "nothing": for people and machine files alike.
 */
const char *pp_todo_words(pp_todo todo);
/* "settled", "large beside", ... of a fault in machine files; NULL: nothing to add. */
const char *pp_todo_reason_words(pp_todo_reason reason);

enum { PP_TODO_ORDER = PP_TODOS };
/* The order in which people are shown them: what the shop can do first. */
extern const pp_todo PP_TODO_SHOWN[PP_TODO_ORDER];

/* What to do, in a sentence or two: "Ream to 25.830 mm (25.815 to 25.845 mm), then measure again."
 */
void pp_work_instruction(pp_text *text, const pp_results *results, const pp_work_row *row);

/* What is wrong, everything of either face: "diameter 25.550 mm, below 25.600 by 0.050 mm (entry
 * face); ligament 3.120 mm ... (to B4, exit face)". */
void pp_work_faults(pp_text *text, const pp_results *results, const pp_work_row *row);

/* Where it is: "row 12, column 5; x 812.3 mm, y -40.0 mm", the row and column as the program counts
 * them, and only where the name does not hold two numbers of its own, which are counted otherwise.
 */
void pp_work_where(pp_text *text, const pp_results *results, const pp_work_row *row);

/* Where it lies off its place: "0.150 mm right, 0.020 mm down (entry face)"; nothing for a hole
 * that was not measured or is extra. */
void pp_work_error(pp_text *text, const pp_results *results, const pp_work_row *row);

/* "12 to ream, 11 to decide, 9 to re-measure" */
void pp_work_counts(pp_text *text, const pp_work_list *list);

typedef struct pp_work_offset {
    double dx, dy, position, direction_deg; /* from +x towards +y, 0 .. 360 */
} pp_work_offset;
/* Position and direction of the row's worse bore, for tables: false where there is none. */
bool pp_work_offset_of(const pp_measures *measures, const pp_work_row *row, pp_work_offset *out);

#endif
