/* Values that no plate, foot or shop has: a slip of the unit, most likely. */
#ifndef PP_INPUT_JOB_PLAUSIBLE_H
#define PP_INPUT_JOB_PLAUSIBLE_H

#include "input/job/job.h"

typedef struct pp_doubt {
    const char *section, *key;
    const char *usual;  /* what is usual, in words: "a pressure foot gives 0.5 to 100 kN" */
    const char *remedy; /* how the unit would be written: "8 kN" */
} pp_doubt;

enum { PP_DOUBTS_MAX = 24 };

/* The doubtful values of the job, in the order of its sections: doubts[PP_DOUBTS_MAX]; their
 * number. What is usual is common practice, no source, and generous. */
size_t pp_job_doubts(const pp_job *job, pp_doubt doubts[PP_DOUBTS_MAX]);

#endif
