#include "holddown/machine_time.h"

static const double SECONDS_PER_HOUR = 3600;

static double hours(double count, double seconds) { return count * seconds / SECONDS_PER_HOUR; }

pp_machine_rates pp_machine_rates_of(const pp_job *job)
{
    return (pp_machine_rates){.seconds_per_hole = job->machine.seconds_per_hole,
                              .seconds_per_setup = job->machine.seconds_per_setup,
                              .holes_per_tool = job->machine.holes_per_tool,
                              .seconds_roughing = job->roughing.seconds_roughing,
                              .seconds_finishing = job->roughing.seconds_finishing};
}

pp_machine_time pp_machine_time_of(const pp_machine_rates *rates, const pp_machine_work *work)
{
    pp_machine_time t = {.stronger_foot = NAN};
    double holes = (double)work->holes;
    double per_setup = pp_given(rates->seconds_per_setup) ? rates->seconds_per_setup : 0;
    if (work->clamps > 0) t.stronger_foot = work->force_to_close;
    t.valid = pp_given(rates->seconds_per_hole) && work->setups > 0;
    if (!t.valid) return t;
    t.drilling = hours(holes, rates->seconds_per_hole);
    t.setting_up = hours((double)work->setups, per_setup);
    t.reclamping = hours((double)(work->setups - 1), per_setup);
    t.total = t.drilling + t.setting_up;
    t.roughing = hours(holes, rates->seconds_roughing);
    t.finishing = hours(holes, rates->seconds_finishing);
    if (rates->holes_per_tool > 0) /* not where it is not given */
        t.tools = (size_t)ceil(holes / rates->holes_per_tool);
    return t;
}
