/* How long the machine is busy with a plate in its set-ups. */
#ifndef PP_HOLDDOWN_MACHINE_TIME_H
#define PP_HOLDDOWN_MACHINE_TIME_H

#include "input/job/job.h"

typedef struct pp_machine_time {
    bool valid;           /* seconds_per_hole is given, and there are set-ups */
    double drilling;      /* hours: every hole once */
    double setting_up;    /* hours: every set-up, the first too; 0 without seconds_per_setup */
    double reclamping;    /* hours of it: every set-up but the first */
    double total;         /* hours: drilling and setting up */
    double roughing;      /* hours: every hole in the first of two passes; NaN: not given */
    double finishing;     /* hours: in the second */
    size_t tools;         /* that all holes use up, by holes_per_tool; 0: not given */
    double stronger_foot; /* N: foot that would close every gap by itself, in one set-up; NaN: none
                             within force_cap, or not asked for (no clamps); also where not valid */
} pp_machine_time;

typedef struct pp_machine_work {
    size_t holes, setups, clamps;
    double force_to_close; /* largest over all holes, N; NaN: some hole needs more than the cap */
} pp_machine_work;

/* How fast the shop is; NaN: not stated. */
typedef struct pp_machine_rates {
    double seconds_per_hole, seconds_per_setup, holes_per_tool;
    double seconds_roughing, seconds_finishing; /* of one hole in each of two passes */
} pp_machine_rates;

/* [machine] and [roughing], as they stand in the job. */
pp_machine_rates pp_machine_rates_of(const pp_job *job);

/* What that comes to; not valid without seconds_per_hole or set-ups. */
pp_machine_time pp_machine_time_of(const pp_machine_rates *rates, const pp_machine_work *work);

#endif
