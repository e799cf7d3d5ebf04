/* The inside of resolving limits, shared by what resolves those of holes and those of the plate. */
#ifndef PP_RULES_RESOLVING_H
#define PP_RULES_RESOLVING_H

#include "rules/hole_rules.h"
#include "rules/limits.h"

/* The limits on their way: the job and its rules, and what has been found so far. */
typedef struct pp_resolving {
    const pp_job *job;
    double pitch;
    bool set_alone;        /* what the rule sets give where the job's own limits are left out */
    bool no_flatness_rule; /* and no flatness rule is asked */
    pp_memory *memory;
    pp_error *error;
    pp_hole_rules rules;
    const pp_rule_row *hole_row; /* the tube's row of the hole table; NULL */
    pp_limits found;
} pp_resolving;

/* A limit of the job, or none where the sets are asked alone. */
pp_job_limit pp_limit_given(const pp_resolving *r, const pp_job_limit *of_job);

/* Refuse with PP_EINPUT at that key of the job; the second takes a text that may be NULL for want
 * of memory. */
pp_status pp_refuse_limit(pp_resolving *r, const char *section, const char *key, const char *what);
pp_status pp_refuse_limit_kept(pp_resolving *r, const char *section, const char *key,
                               const char *what);

/* Give a limit its value; a source that is NULL, for want of memory, fails. errors: PP_ENOMEM */
pp_status pp_limit_set(pp_resolving *r, pp_limit *limit, double value, const char *source);

/* The job's own value if it gives one, else the rule's with its source (NaN: none).
 * errors   PP_ENOMEM */
pp_status pp_limit_choose(pp_resolving *r, pp_limit *limit, const pp_job_limit *of_job,
                          double value, const char *source);

/* A limit that only the job gives; nothing where the value is NaN. errors: PP_ENOMEM */
pp_status pp_limit_from_job(pp_resolving *r, pp_limit *limit, const char *section, const char *key,
                            double value);

/* The limits of the holes, and those of the ligaments with the nominal ligament: by the job, or by
 * the tube's row of the set.
 * errors   PP_EINPUT: no row or formula for the tube, no nominal size, limits out of order;
 *          PP_ENOMEM */
pp_status pp_resolve_holes(pp_resolving *r);
pp_status pp_resolve_ligaments(pp_resolving *r);

/* r->found.straightedge, and flatness_limit where the job does not give it. *edges: the
 * straightedges, to be written to.
 * errors   PP_EINPUT: the rule is wrong, or says nothing of such a plate; PP_EIO: it cannot be
 *          read; PP_ENOMEM */
pp_status pp_resolve_flatness(pp_resolving *r, pp_limit **edges);

#endif
