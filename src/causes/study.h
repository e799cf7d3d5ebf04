/* Everything found out, before it becomes results: shared by the files of the diagnosis only. */
#ifndef PP_CAUSES_STUDY_H
#define PP_CAUSES_STUDY_H

#include "causes/diagnosis.h"
#include "causes/field_placement.h"
#include "causes/lean.h"
#include "causes/patterns.h"
#include "causes/wear.h"

typedef struct pp_cause_study {
    const pp_cause_options *options;
    const pp_measures *measures;
    int threads;
    pp_memory *memory;
    pp_error_field field;
    pp_patterns found;
    bool *kept;               /* [field.count] */
    pp_field_placement whole; /* of the error field */
    pp_lean lean;
    bool wear_tested;
    pp_wear wear;
    uint32_t *wear_place; /* place in the order of each diameter */
    double *wear_diameter;
    size_t wear_count;
    size_t term_count;
    pp_term *terms;
    size_t pattern_count;
    pp_error_pattern *patterns;
    const char *wander; /* the words in `unclear` where an irregular wander explains it; or NULL */
    pp_cause_weight weight;
    pp_diagnosis d;
} pp_cause_study;

/* The holes' values x[holes], y[holes] (mm, in drilling order) as one vector field of the study. */
pp_vectors pp_cause_study_vectors(const pp_cause_study *study, const double *x, const double *y);

/* --- pattern_list.c --- */
/* The patterns of the final fit, with estimates and p; adjusted and judged later.
 * errors   PP_ENOMEM */
pp_status pp_cause_study_list_patterns(pp_cause_study *study, pp_error *error);
/* What rivals the terms and patterns found: fills `unclear`. errors: PP_ENOMEM */
pp_status pp_cause_study_find_rivals(pp_cause_study *study, pp_error *error);

/* --- statements.c --- */
/* Which of what was found matters and is a cause, and all that is said of it. errors: PP_ENOMEM */
pp_status pp_cause_study_say(pp_cause_study *study, pp_error *error);

/* --- study_tools.c --- */
/* The runs of each tool, for d.tool_runs; none where the drilling order or diameters lack.
 * errors   PP_ENOMEM */
pp_status pp_cause_study_list_tools(pp_cause_study *study, pp_error *error);

/* --- diagnosis_totals.c --- */
/* Scatter, misdrilled holes, temperature, means for the picture. errors: PP_ENOMEM */
pp_status pp_cause_study_write(pp_cause_study *study, pp_error *error);

#endif
