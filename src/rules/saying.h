/* Sentences that stand beside the verdict: built one at a time in a growing text, kept as they are
 * finished. Shared by what states cautions. */
#ifndef PP_RULES_SAYING_H
#define PP_RULES_SAYING_H

#include "rules/counts.h"

enum { PP_CAUTIONS_MOST = 96, PP_NAMES_MOST = 6 };

typedef struct pp_speaker {
    pp_judging *j;
    pp_text text;
    const char **list; /* room for PP_CAUTIONS_MOST */
    size_t count;
    bool failed; /* memory ran out */
} pp_speaker;

/* The text so far becomes a sentence. */
void pp_say_end(pp_speaker *s);
void pp_say_plain(pp_speaker *s, const char *sentence);
/* "A1, A2 and 7 more" */
void pp_say_holes(pp_speaker *s, const uint32_t *holes, size_t count);
/* A length in the job's units. */
void pp_say_length(pp_speaker *s, double mm);
/* A length that is only estimated: two digits. */
void pp_say_estimate(pp_speaker *s, double mm);

/* Was the characteristic judged at all? */
static inline bool pp_is_judged(const pp_judging *j, pp_characteristic which)
{
    return j->out->section[which].verdict != PP_NOT_JUDGED;
}

/* reading_cautions.c: how the files were read. */
void pp_caution_reading(pp_speaker *s);
/* and why something is at best not proven */
void pp_caution_reservations(pp_speaker *s);
/* scope_cautions.c: limits set by hand or from a file of the user's */
void pp_caution_limits(pp_speaker *s);
/* count_cautions.c: decisions without a reference, rounds that hide something, exits missing, holes
 * off the plate */
void pp_caution_counts(pp_speaker *s, const pp_hole_counts *counts);
/* what nobody said */
void pp_caution_scope(pp_speaker *s);

#endif
