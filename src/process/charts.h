/* Control charts of a figure, plate after plate: individuals and their moving range, and shares of
 * holes. What is meant by a signal, and how often one comes of nothing: docs/theory/history.md.
 *
 * Plates count from 1, in the order given. Arrays live in the arena given. */
#ifndef PP_PROCESS_CHARTS_H
#define PP_PROCESS_CHARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

/* A rule as data: how many of how many points in a row do what. */
typedef enum pp_rule_kind {
    PP_RULE_BEYOND,   /* outside the limits: the only one that is a signal, the others are hints */
    PP_RULE_ONE_SIDE, /* n in a row on one side of the centre */
    PP_RULE_RISING    /* n in a row rising, or falling */
} pp_rule_kind;

typedef struct pp_run_rule {
    const char *name; /* "beyond", "run of 7" */
    pp_rule_kind kind;
    size_t n;
    const char *source;
} pp_run_rule;

enum { PP_RUN_RULES = 3 };
extern const pp_run_rule pp_run_rules[PP_RUN_RULES];

typedef struct pp_point_list {
    size_t count;
    const size_t *points; /* plates, from 1 */
} pp_point_list;

enum { PP_CHART_PLATES_MIN = 2, PP_CHART_PLATES_SURE = 20 };

typedef struct pp_individuals {
    size_t points, base; /* plates; how many of them the limits come from */
    double centre, lower, upper;
    double range_centre, range_upper; /* of the moving range */
    bool provisional;                 /* fewer than PP_CHART_PLATES_SURE */
    double autocorrelation;           /* lag 1 */
    bool correlated;                  /* beyond 2 / sqrt(points): limits are too narrow */
    pp_point_list found[PP_RUN_RULES], range_beyond;
} pp_individuals;

/* The chart of value[count], count >= PP_CHART_PLATES_MIN.
 *
 * base     limits from the first `base` plates, then held; 0: from all
 * errors   PP_ENOTHING with fewer plates than that, PP_ENOMEM
 *
 * Limits mean +- 2.660 mean moving range, ranges to 3.267 of it (ISO 7870-2; 3/d2 and D4 for
 * pairs).
 */
pp_status pp_individuals_chart(const double *value, size_t count, size_t base, pp_arena *arena,
                               pp_individuals *chart, pp_error *error);

typedef struct pp_shares {
    size_t points;
    double centre;
    const double *share, *lower, *upper, *binomial_lower, *binomial_upper; /* [points] */
    double chi_squared, p; /* of more spread than binomial counts have */
    double spread;         /* times the binomial one */
    bool widened;          /* the limits are, by the spread */
    pp_point_list beyond;
} pp_shares;

/* The chart of out[i] of of[i] holes. Holes of one plate share its errors: where the shares spread
 * more than binomial counts would (chi-squared, 1 %), the limits are widened by that (Laney,
 * Quality Engineering 14 (2002) 531; from memory).
 * errors   PP_ENOTHING: fewer than two plates, or so few out (under 5 a plate on average) that no
 *          limits hold; PP_ENOMEM */
pp_status pp_shares_chart(const double *out, const double *of, size_t count, pp_arena *arena,
                          pp_shares *chart, pp_error *error);

typedef struct pp_trend {
    size_t points;
    double slope, standard_error, p, lower, upper; /* per plate, or per day; 95 % */
    double intercept, scatter, plain_error;        /* plain: as if nothing were correlated */
    double autocorrelation;                        /* of what the line leaves, lag 1 */
    bool widened;                                  /* the standard error allows for it */
} pp_trend;

/* Least squares of y on x[count], count >= 4, x not all the same. A run of plates that wanders
 * looks like a trend: under 30 plates a trend found where the autocorrelation is widened is no
 * proof. errors: PP_ENOTHING: too few points, or x all the same */
pp_status pp_trend_fit(const double *x, const double *y, size_t count, pp_trend *trend,
                       pp_error *error);

#endif
