/* Patterns that are searched for: a step or several in the drilling order, one half of the plate
 * against the other, every second hole, an oscillation over the job.
 *
 * Each is a known function of the hole (1 or 0, or cosine and sine) times a shift in x and y that
 * is fitted, at a place that is searched. What the search costs is counted by `pp_family_tries`: as
 * many independent looks as its best place is worth (docs/theory/diagnosis.md).
 */
#ifndef PP_CAUSES_FAMILIES_H
#define PP_CAUSES_FAMILIES_H

#include <stdbool.h>
#include <stddef.h>

typedef enum pp_family {
    PP_FAMILY_STEP,        /* 1 from hole `first` of the order on */
    PP_FAMILY_HALF_PLATE,  /* 1 beyond `split` along `axis` */
    PP_FAMILY_OSCILLATION, /* cosine and sine, `periods` over the job */
    PP_FAMILY_ALTERNATE,   /* 1 at every second hole of the order */
    PP_FAMILIES
} pp_family;

enum { PP_FAMILY_PARTS_MAX = 2, PP_STEP_ENDS = 8, PP_COMPONENTS_MAX = 8 };

typedef struct pp_component {
    pp_family family;
    size_t first;   /* step: item, from 0 */
    int axis;       /* half plate: 0 x, 1 y */
    double split;   /* half plate: mm from the centroid */
    double periods; /* oscillation */
} pp_component;

/* The same family at the same place (hole, label, line or number of periods). */
bool pp_component_same(const pp_component *a, const pp_component *b);

/* Functions of the hole a family has: 2 (cosine, sine) for the oscillation, else 1. */
int pp_family_parts(pp_family family);
bool pp_family_needs_order(pp_family family);
/* Periods of an oscillation that are looked at, at most, for so many holes. */
double pp_family_periods_most(size_t holes);
double pp_family_tries(pp_family family, size_t holes);
/* The statistic (chi squared, 2 df, 4 for the oscillation) at which a family passes its level. */
double pp_family_cost(pp_family family, size_t holes);

/* P(chi squared > x) for 1, 2 or 4 degrees of freedom. */
double pp_chi_squared_upper(double x, int df);
/* The x of which P(chi squared, 1 df, > x) = p, 1e-12 < p < 1. */
double pp_chi_squared_1_of(double p);

#endif
