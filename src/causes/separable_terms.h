/* Which error terms the holes measured can tell apart. */
#ifndef PP_CAUSES_SEPARABLE_TERMS_H
#define PP_CAUSES_SEPARABLE_TERMS_H

#include "causes/error_field.h"

/* A term enters only if this share of its squared size is left beside those already in (a variance
 * inflation of at most 25), and lost motion only with so many holes of each direction. */
#define PP_SCREEN_LEFT 0.04
#define PP_SCREEN_REVERSALS 5

typedef struct pp_screen {
    pp_field_model model; /* shift x, shift y, rotation, then the terms that entered */
    bool entered[PP_FIELD_KINDS];
    double longest[PP_FIELD_KINDS];      /* vector of the unit field */
    const char *partner[PP_FIELD_KINDS]; /* of what did not enter: what it looks like, or what is
                                            missing */
    /* the partner of what did not enter, for beside the partner: bit k set for field kind k */
    uint32_t looks_like[PP_FIELD_KINDS];
} pp_screen;

/* Screen the terms in their order. PP_OK always, but for memory of the threads. */
pp_status pp_screen_terms(const pp_error_field *field, int threads, pp_arena *scratch,
                          pp_screen *screen, pp_error *error);

/* What the kind is called for people. */
const char *pp_term_name(pp_term_kind kind);

#endif
