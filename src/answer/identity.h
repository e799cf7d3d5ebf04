/* What piece the report is about: the texts that page and certificate both show, in one order. */
#ifndef PP_ANSWER_IDENTITY_H
#define PP_ANSWER_IDENTITY_H

#include "answer/results.h"

typedef struct pp_named_text {
    const char *name, *value; /* value: NULL or "" where the job does not say */
} pp_named_text;

#define PP_DATE_SOURCE_NAME "Report date taken from" /* shown where the date is no clock's */

enum { PP_IDENTITY_COUNT = 32, PP_IDENTITY_SIZES = 6, PP_IDENTITY_ROOM = 96 };

typedef struct pp_identity {
    pp_named_text texts[PP_IDENTITY_COUNT];
    char size[PP_IDENTITY_SIZES][PP_IDENTITY_ROOM]; /* behind some of the texts */
} pp_identity;

/* Every text that identifies plate and report, in the order reports show it: what it is called, and
 * the text as written, NULL where there is none. Then the sizes that the limits hang on, in the
 * job's units, and how many tube holes there should be according to whom. The texts point into
 * *identity, which must stay where it is.
 * errors  PP_ENOMEM */
pp_status pp_identity_make(const pp_results *results, pp_identity *identity, pp_error *error);

#endif
