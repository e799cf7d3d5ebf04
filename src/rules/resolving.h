/* The inside of resolving limits, shared by what resolves those of holes and those of the plate. */
#ifndef PP_RULES_RESOLVING_H
#define PP_RULES_RESOLVING_H

#include "rules/hole_rules.h"
#include "rules/limits.h"

/* The limits on their way: the job and its rules, and what has been found so far. */
typedef struct pp_resolving {
    const pp_job *job;
    double pitch;
    pp_memory *memory;
    pp_error *error;
    pp_hole_rules rules;
    const pp_rule_row *hole_row; /* the tube's row of the hole table; NULL */
    pp_limits found;
} pp_resolving;

/* Refuse with PP_EINPUT at that key of the job; the second takes a text that may be NULL for want
 * of memory. */
pp_status pp_refuse_limit(pp_resolving *r, const char *section, const char *key, const char *what);
pp_status pp_refuse_limit_kept(pp_resolving *r, const char *section, const char *key,
                               const char *what);

/* A limit that only the job gives; nothing where the value is NaN. */
pp_status pp_limit_from_job(pp_resolving *r, pp_limit *limit, const char *section, const char *key,
                            double value);

/* r->found.straightedge, and flatness_limit where the job does not give it. *edges: the
 * straightedges, to be written to. */
pp_status pp_resolve_flatness(pp_resolving *r, pp_limit **edges);

#endif
