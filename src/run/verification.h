/* Does a report folder hold? Three answers, kept apart: are the bytes as somebody signed them, do
 * the same inputs give the same numbers, and are the pages those of these numbers. */
#ifndef PP_RUN_VERIFICATION_H
#define PP_RUN_VERIFICATION_H

#include "verify/compare.h"
#include "verify/sign.h"

typedef enum pp_answer {
    PP_ANSWER_NONE, /* there is nothing to say: no signature, not recomputed, no pages */
    PP_ANSWER_HOLDS,
    PP_ANSWER_FAILS
} pp_answer;

typedef struct pp_verification_options {
    pp_recorded_options inputs;
    const pp_key_list *trusted; /* NULL: any key will do */
    const pp_key_list *revoked; /* NULL: none */
    bool signature_only;        /* neither inputs nor pages are looked at */
    const char *date;           /* YYYY-MM-DD, of reports whose job gives none */
    int threads;
} pp_verification_options;

typedef struct pp_verification {
    pp_recorded recorded;
    pp_signature signature;
    pp_differences *comparison;
    pp_answer signed_answer, recomputation, pages;
    size_t extra_count; /* files in the folder that are no part of a report; not judged */
    const char *const *extra;
    bool inputs_there; /* every input was found and opened */
    bool inputs_same;  /* and is the very file that was recorded */
    bool recomputed;
    pp_error why_not; /* why it could not be recomputed: file and line; the message only where the
                         inputs are the very files */
} pp_verification;

/* Look at FOLDER. To be released with pp_verification_free.
 * errors  PP_EIO, PP_EINPUT: FOLDER is no report; PP_ENOMEM. What does not hold is no error. */
pp_status pp_verify(const char *folder, const pp_verification_options *options, pp_memory *memory,
                    pp_verification *verification, pp_error *error);
void pp_verification_free(pp_verification *verification);

/* Signature (if asked for or there), recomputation and pages: none fails, and the numbers were
 * recomputed (or only the signature was asked for). */
bool pp_verification_holds(const pp_verification *v, const pp_verification_options *options);

#endif
