/* Limits resolved from rule set, tables and the job: each with its value and source. */
#ifndef PP_RULES_LIMITS_H
#define PP_RULES_LIMITS_H

#include "input/job/job.h"

typedef struct pp_limit {
    double value;         /* mm, or what its quantity is measured in; NaN: not given, not judged */
    const char *name;     /* its key: "hole_under" */
    const char *words;    /* where people read it: "hole, below nominal" */
    const char *source;   /* clause, table and how sure: "job file, line 31", "... (from memory)" */
    pp_quantity quantity; /* of the value: a length, or a share 0..1 */
    bool of_plate;        /* of the plate itself, not of its holes */
    bool by_hand;         /* the job sets it although a rule set may give it, and another value */
    double of_set;        /* what the set gives where the job sets it; NaN: none */
    const char *set_source; /* and its source; NULL where the job does not set it */
} pp_limit;

typedef struct pp_limits {
    const char *set; /* "tema-style" */
    pp_table table;
    const char *note;                             /* about the set as a whole; may be NULL */
    const char *rules_path, *flatness_rules_path; /* of the user's own files; NULL: built in */
    pp_limit hole_nominal, hole_under, hole_over, hole_over_limit;
    double diameter_lower, diameter_upper,
        diameter_upper_limit; /* nominal -under, +over, +over_limit */
    pp_limit ligament_standard, ligament_minimum;
    double metal_nominal;    /* pitch - hole nominal; NaN where either is not known */
    double ligament_nominal; /* the same, where it is a ligament: NaN for a baffle */
    pp_limit drift_limit;
    double drift_allowance; /* of the set, information; NaN when it has none */
    const char *drift_allowance_source;
    pp_limit position_limit, pattern_limit, edge_minimum, other_minimum;
    pp_limit pitch_error_limit;
    pp_limit remainder_share; /* 0..1 */
    pp_limit flatness_limit, parallelism_limit;
    size_t straightedge_count;
    const pp_limit *straightedge; /* per length of the survey section */
    size_t count;                 /* every limit above that has a value, for lists */
    const pp_limit *all;
} pp_limits;

/* Resolve every limit of the job. `pitch` is the one in force (NaN without holes).
 * errors: PP_EINPUT when a table has no row for the tube or pitch, naming the keys to give. */
pp_status pp_limits_resolve(const pp_job *job, double pitch, pp_memory *memory, pp_limits *limits,
                            pp_error *error);

/* The same where no hole is judged (a survey, a hold-down study): limits of holes and ligaments
 * that the set can't give are left out instead of refused; hole_nominal of the job holds.
 * errors   PP_EINPUT: the set is wrong, or gives no limit of flatness; PP_EIO: it cannot be read;
 *          PP_ENOMEM */
pp_status pp_limits_resolve_unjudged(const pp_job *job, double pitch, pp_memory *memory,
                                     pp_limits *limits, pp_error *error);

/* As pp_limits_resolve, for those who want the limits of holes also where the ligaments' can't be
 * found. out: *no_ligaments why they could not (in memory->keep), NULL where they were found.
 * errors   PP_EINPUT, PP_EIO as pp_limits_resolve; PP_ENOMEM */
pp_status pp_limits_resolve_or_say(const pp_job *job, double pitch, pp_memory *memory,
                                   pp_limits *limits, const char **no_ligaments, pp_error *error);

/* The limit of that name, with words and quantity but no value. A name that is not known becomes
 * its own words. */
pp_limit pp_limit_absent(const char *name);

/* Diameter that the drill makes of a tube hole, for whoever has to keep clear of it: hole_nominal
 * in force, else the tube's (too small by the clearance); NaN when neither is known. */
double pp_limits_drilled(const pp_limits *limits, const pp_job *job);

#endif
