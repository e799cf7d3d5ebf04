/* What piece the report is about: the texts that page and certificate both show, in one order. */
#ifndef PP_ANSWER_IDENTITY_H
#define PP_ANSWER_IDENTITY_H

#include "answer/results.h"

typedef struct pp_named_text {
    const char *name, *value; /* value: NULL or "" where the job does not say */
} pp_named_text;

#define PP_DATE_SOURCE_NAME "Report date taken from" /* shown where the date is no clock's */

enum { PP_IDENTITY_COUNT = 25 };
/* Every text that identifies plate and report, in the order reports show it: what it is called, and
 * the text as written, NULL where there is none. */
void pp_identity_list(const pp_results *results, pp_named_text list[PP_IDENTITY_COUNT]);

#endif
