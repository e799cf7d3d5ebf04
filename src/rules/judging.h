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
    pp_finding_rest *rest;
    pp_section *straightedge; /* one per length */
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
/* Those of one nominal hole, its own where it is of kind other. */
pp_diameter_bounds pp_bounds_of_hole(const pp_limits *limits, const pp_nominal *nominal,
                                     uint32_t hole);

/* Ligament limits, likewise. */
typedef struct pp_ligament_bounds {
    double standard, minimum;
} pp_ligament_bounds;
/* Those of the job. */
pp_ligament_bounds pp_ligament_limits(const pp_limits *limits);

/* Standard uncertainty of a flatness, gap or thickness: two heights make one. */
double pp_height_difference_u(const pp_judging *j);
/* Of a position (of the pattern's, where that is asked for) of one bore; with maximum material the
 * bonus adds the diameter's uncertainty. */
pp_distance_error pp_position_error(const pp_job *job, const pp_measures *measures,
                                    pp_characteristic which, size_t bore);
/* Of a bore's diameter: 0 of a plug gauge, which sits at the limit itself. */
double pp_diameter_u(const pp_job *job, const pp_bore *bore);

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

/* Somebody set out to measure holes: a list of attribute checks may stand alone, and then nothing
 * is asked of what was not measured. */
bool pp_were_measured(const pp_judging *j);

/* Count one verdict into a section. */
void pp_count_in(pp_section *section, pp_verdict verdict);

/* The parts of pp_judge, in the order they run. requirements.c: the guarded decision's
 * uncertainties are there; findings.c: every finding, by characteristic; folds.c: sections,
 * figures, verdict, with hole_lists.c: what is listed beside them; counts.c: basis; exceptions.c:
 * what is listed; cautions.c: the sentences beside the verdict, the decision rule, judged and not
 * judged.
 * errors   PP_EINPUT: the guarded decision lacks an uncertainty; PP_ENUMERIC: a probability of
 *          assurance does not settle; PP_ENOMEM
 */
pp_status pp_require_uncertainties(const pp_judging *j, pp_error *error);
pp_status pp_find_all(pp_judging *j, pp_error *error);
pp_status pp_fold_all(pp_judging *j, pp_error *error);
pp_status pp_list_beside(pp_judging *j, pp_error *error);
pp_status pp_list_exceptions(pp_judging *j, pp_error *error);
struct pp_hole_counts;
pp_status pp_state_cautions(pp_judging *j, const struct pp_hole_counts *counts, pp_error *error);

/* What the rows of the table of characteristics name. */
/* requirements.c */
typedef pp_status pp_requirer(const pp_judging *j, pp_characteristic which, pp_error *error);
pp_requirer pp_require_flatness, pp_require_straightedges, pp_require_parallelism,
    pp_require_positions, pp_require_diameters, pp_require_ligaments, pp_require_edges,
    pp_require_drifts, pp_require_other_ligaments, pp_require_pairs;

/* plate_findings.c, hole_findings.c */
typedef pp_status pp_finder(struct pp_finding_maker *m, pp_characteristic which, pp_error *error);
pp_finder pp_find_flatness, pp_find_straightedges, pp_find_parallelism, pp_find_positions,
    pp_find_diameters, pp_find_ligaments, pp_find_edges, pp_find_drifts, pp_find_other_ligaments,
    pp_find_checks, pp_find_extras, pp_find_doubly_claimed, pp_find_misdrilled, pp_find_pairs;

typedef pp_status pp_folder(pp_judging *j, pp_characteristic which, pp_error *error); /* folds.c */
pp_folder pp_fold_plain, pp_fold_plate, pp_fold_straightedges, pp_fold_positions, pp_fold_pattern,
    pp_fold_diameters, pp_fold_ligaments, pp_fold_edges, pp_fold_drifts, pp_fold_pairs;

#endif
