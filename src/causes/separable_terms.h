/* Which error terms the holes measured can tell apart. */
#ifndef PP_CAUSES_SEPARABLE_TERMS_H
#define PP_CAUSES_SEPARABLE_TERMS_H

#include "causes/error_field.h"

/* A term enters only if this share of its squared size is left beside those already in (a variance
 * inflation of at most 25), and lost motion only with so many holes of each direction. */
#define PP_SCREEN_LEFT 0.04
#define PP_SCREEN_REVERSALS 5

enum { PP_SCREEN_KINDS = PP_ROBUST_TERMS_MAX }; /* terms and extra columns together */

typedef struct pp_screen {
    /* shift x, shift y, rotation, then the extra columns and the terms that entered */
    pp_field_model model;
    bool entered[PP_SCREEN_KINDS];       /* the extra columns follow the terms */
    double longest[PP_SCREEN_KINDS];     /* vector of the unit field */
    const char *partner[PP_FIELD_KINDS]; /* of what did not enter: what it looks like, or what is
                                            missing */
    /* the partner of what did not enter, for beside the partner: bit k set for field kind k */
    uint32_t looks_like[PP_FIELD_KINDS];
} pp_screen;

/* Screen the extra columns of the field and then the terms, in their order.
 * kept_out  why a term takes no part, [PP_FIELD_KINDS], NULL where nothing keeps it out; NULL: all
 *           may
 * errors   PP_ENOMEM */
pp_status pp_screen_terms(const pp_error_field *field, const char *const *kept_out, int threads,
                          pp_arena *scratch, pp_screen *screen, pp_error *error);

/* Where a kind stands in the model; -1: it did not enter. */
int pp_screen_place(const pp_screen *screen, int kind);

/* What the kind is called in results.json. */
const char *pp_term_name(pp_term_kind kind);
/* What people read for that name. */
const char *pp_term_said(const char *name);

#endif
