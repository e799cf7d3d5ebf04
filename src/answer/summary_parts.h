/* Inside the summary: what the rows of the plate (summary.c) and of the holes share. */
#ifndef PP_ANSWER_SUMMARY_PARTS_H
#define PP_ANSWER_SUMMARY_PARTS_H

#include "answer/summary.h"

enum { PP_SUMMARY_ROWS_MAX = PP_CHARACTERISTICS + 64 };

/* Rows are made one after the other in one growing text; `keep` moves a finished piece out of it.
 */
typedef struct pp_summary_writer {
    const pp_results *results;
    const pp_judgement *judgement;
    const pp_limits *limits;
    pp_length_unit units;
    pp_arena *keep;
    pp_text text;
    pp_summary_row *rows;
    size_t count;
} pp_summary_writer;

/* What was written since the last piece, moved out into `keep`; "" when memory ran out, which the
 * text remembers. */
const char *pp_summary_finish(pp_summary_writer *w);
/* A new row, everything but characteristic, verdict, name and source "". */
pp_summary_row *pp_summary_add_row(pp_summary_writer *w, pp_characteristic which,
                                   pp_verdict verdict, const char *source);
/* Expanded uncertainty of a section's result; "" where it is not known. */
const char *pp_summary_uncertainty(pp_summary_writer *w, const pp_section *section);
/* "at most 0.300 mm", "at least 3.000 mm"; "" without a limit. */
const char *pp_summary_at_most(pp_summary_writer *w, double limit);
const char *pp_summary_at_least(pp_summary_writer *w, double limit);

/* Every row of the holes. */
void pp_summary_hole_rows(pp_summary_writer *w);
/* How the holes were aligned and at what temperature measured; "" without holes. */
const char *pp_summary_how_taken(pp_summary_writer *w);
/* What the probabilities beside the counts assume; "" without any. */
const char *pp_summary_assumed(pp_summary_writer *w);

#endif
