/* What of a term repeats from plate to plate: its mean, shrunk by how well it is known, and whether
 * correcting it will help the next plate. */
#ifndef PP_CORRECTION_TERMS_H
#define PP_CORRECTION_TERMS_H

#include "correction/plate.h"

enum { PP_CORRECTION_PLATES_MAX = 64 };

typedef enum pp_correction_state {
    PP_TERM_CORRECTED,
    PP_TERM_DOES_NOT_REPEAT,
    PP_TERM_DRIFTS,
    PP_TERM_LAST_DIFFERS,
    PP_TERM_WITHIN_GAUGE,
    PP_TERM_TEMPERATURE_UNKNOWN,
    PP_TERM_NOT_FROM_ONE,
    PP_TERM_TOO_SMALL,
    PP_TERM_NEVER_FOUND,
    PP_TERM_UNTESTED
} pp_correction_state;
/* "corrected", "does not repeat", ... as correction.json has it. */
const char *pp_correction_state_words(pp_correction_state state);

/* Of one term, plate by plate in order of drilling; bows as of the next list's radius. */
typedef struct pp_term_series {
    size_t plates;
    double value[PP_CORRECTION_PLATES_MAX], standard_error[PP_CORRECTION_PLATES_MAX];
    bool found[PP_CORRECTION_PLATES_MAX];
    double gauge;      /* standard uncertainty that all plates share; 0: none */
    double reach;      /* mm: its largest effect, of a term of one, over the next holes */
    double least;      /* mm: what matters, for one or two plates; 0: no limit */
    bool is_scale;     /* the common scale, which a warm plate has too */
    bool temperatures; /* the drilling temperature of every plate is known */
    bool is_bow;
} pp_term_series;

typedef struct pp_learned_term {
    double mean, between, within, variance; /* of single plates: standard deviations, variance */
    double applied;                         /* c, 0: not corrected */
    double probability_better;              /* NaN: nothing to say it by (one plate) */
    pp_correction_state state;
    double line_value, line_error; /* drifting: the next plate by the line, its prediction error */
} pp_learned_term;

/* Learn the terms of series[PP_STATIC_TERMS]; untested terms have NaN values.
 * *last_differs  the last plate is none of the others' kind: nothing may be corrected */
void pp_terms_learn(const pp_term_series *series, pp_learned_term *learned, bool *last_differs);

/* c of the mean of `values`, by positive-part shrinkage: max(0, 1 - V/m^2) m, V = v/P + gauge^2
 * (garrote form: Breiman, Technometrics 37 (1995) 373; from memory). */
double pp_term_shrink(const double *value, const double *standard_error, size_t plates,
                      double gauge);

#endif
