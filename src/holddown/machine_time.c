#include "holddown/machine_time.h"

static const double SECONDS_PER_HOUR = 3600;

static double hours(double count, double seconds) { return count * seconds / SECONDS_PER_HOUR; }

pp_machine_time pp_machine_time_of(const pp_job *job, const pp_machine_work *work)
{
    pp_machine_time t = {.stronger_foot = NAN};
    double holes = (double)work->holes;
    double per_setup =
        pp_given(job->machine.seconds_per_setup) ? job->machine.seconds_per_setup : 0;
    t.valid = pp_given(job->machine.seconds_per_hole) && work->setups > 0;
    if (!t.valid) return t;
    t.drilling = hours(holes, job->machine.seconds_per_hole);
    t.setting_up = hours((double)work->setups, per_setup);
    t.reclamping = hours((double)(work->setups - 1), per_setup);
    t.total = t.drilling + t.setting_up;
    t.roughing = hours(holes, job->roughing.seconds_roughing);
    t.finishing = hours(holes, job->roughing.seconds_finishing);
    if (job->machine.holes_per_tool > 0) /* not where it is not given */
        t.tools = (size_t)ceil(holes / job->machine.holes_per_tool);
    if (work->clamps > 0) t.stronger_foot = work->force_to_close;
    return t;
}
