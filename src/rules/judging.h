/* Inside pp_judge: what its parts share (judging.c), and the parts. */
#ifndef PP_RULES_JUDGING_H
#define PP_RULES_JUDGING_H

#include "base/text.h"
#include "rules/decide.h"

typedef struct pp_judging {
    const pp_job *job;
    const pp_limits *limits;
    const pp_flatness *flatness;
    const pp_measures *measures;
    const pp_hole_files *files;
    pp_memory *memory;
    int threads;
    double guard; /* standard uncertainties: 0 simple, PP_GUARD */
    pp_finding *findings;
    /* noted while they are made, by characteristic: */
    double largest_u[PP_CHARACTERISTICS]; /* of what is judged */
    size_t unsure[PP_CHARACTERISTICS];    /* not proven within every limit */
    pp_judgement *out;
} pp_judging;

/* Diameter limits of one hole; NaN where there is none. `upper` is for all but the remainder,
 * `outer` for every hole; where only one of the two is given it is both. */
typedef struct pp_diameter_bounds {
    double lower, upper, outer;
} pp_diameter_bounds;
pp_diameter_bounds pp_bounds_of_hole(const pp_limits *limits, const pp_nominal *nominal,
                                     uint32_t hole);

/* Ligament limits, likewise. */
typedef struct pp_ligament_bounds {
    double standard, minimum;
} pp_ligament_bounds;
pp_ligament_bounds pp_ligament_limits(const pp_limits *limits);

/* Limit of a position with its maximum-material bonus. */
double pp_position_limit_of(const pp_judgement *judgement, double limit, uint32_t hole,
                            uint8_t face);

/* Ligaments i and k are of one pair. */
static inline bool pp_same_pair(const pp_measures *m, size_t i, size_t k)
{
    return m->ligaments[i].a == m->ligaments[k].a && m->ligaments[i].b == m->ligaments[k].b;
}

/* ligament_face = exit: an entry ligament whose exit was read too does not count. */
bool pp_passed_over(const pp_judging *j, size_t ligament);

/* The limit of the pattern's own place; NaN where the pattern is laid on itself (best-fit). */
double pp_pattern_limit(const pp_judging *j);

/* A bore that counts: a tube hole, not plugged. */
bool pp_counts(const pp_measures *measures, const pp_bore *bore);

/* Bore i holds a hole's last face. */
static inline bool pp_last_of_hole(const pp_measures *m, size_t i)
{
    return i + 1 >= m->extra_first || m->bores[i + 1].hole != m->bores[i].hole;
}

/* findings.c: every finding, by characteristic. */
pp_status pp_find_all(pp_judging *j, pp_error *error);
/* requirements.c: the guarded decision's uncertainties are there. */
pp_status pp_require_uncertainties(const pp_judging *j, pp_error *error);
/* folds.c: sections, figures, verdict, basis. */
pp_status pp_fold_all(pp_judging *j, pp_error *error);
/* rework.c: exceptions and the holes to plug. */
pp_status pp_list_rework(pp_judging *j, pp_error *error);
/* cautions.c: the sentences beside the verdict, the decision rule, judged and not judged. */
pp_status pp_state_cautions(pp_judging *j, pp_error *error);

#endif
