#include "input/job/plausible.h"

#include <math.h>

typedef struct usual_range {
    const char *section, *key;
    size_t offset; /* of the double in pp_job */
    double least, most;
    const char *usual, *remedy;
} usual_range;

#define AT(member) offsetof(pp_job, member)

/* mm and N; common practice, no source: far beyond what is built or held */
static const usual_range ranges[] = {
    {"plate", "diameter", AT(plate.diameter), 100, 12000, "plates are 0.1 to 12 m across", "mm"},
    {"plate", "width", AT(plate.width), 100, 20000, "plates are 0.1 to 20 m across", "mm"},
    {"plate", "height", AT(plate.height), 100, 20000, "plates are 0.1 to 20 m across", "mm"},
    {"plate", "thickness", AT(plate.thickness), 1, 800, "plates are 1 to 800 mm thick", "mm"},
    {"survey", "uncertainty", AT(survey.uncertainty), 0, 5, "heights are known to 5 mm or better",
     "mm"},
    {"support", "pin_diameter", AT(support.pin_diameter), 1, 300, "pins are 1 to 300 mm thick",
     "mm"},
    {"support", "pin_load_limit", AT(support.pin_load_limit), 100, 5e6,
     "a pin carries 0.1 to 5000 kN", "kN"},
    {"support", "touch_gap", AT(support.touch_gap), 0, 2, "plates touch within 2 mm", "mm"},
    {"foot", "force", AT(foot.force), 100, 5e5, "a pressure foot gives 0.1 to 500 kN", "kN"},
    {"foot", "outer_diameter", AT(foot.outer_diameter), 10, 1500, "a foot is 10 to 1500 mm wide",
     "mm"},
    {"foot", "thrust", AT(foot.thrust), 0, 2e5, "a drill thrusts with up to 200 kN", "kN"},
    {"holddown", "gap_limit", AT(holddown.gap_limit), 0.001, 10, "gaps up to 10 mm are accepted",
     "mm"},
    {"holddown", "force_cap", AT(holddown.force_cap), 100, 1e8, "caps are 0.1 kN to 100 MN", "kN"},
    {"holddown", "clamp_force_limit", AT(holddown.clamp_force_limit), 100, 5e6,
     "a clamp gives 0.1 to 5000 kN", "kN"},
    {"holddown", "clamp_pad", AT(holddown.clamp_pad), 3, 1500, "a clamp covers 3 to 1500 mm", "mm"},
};

static double value_of(const pp_job *job, size_t offset)
{
    return *(const double *)(const void *)((const char *)job + offset);
}

static double short_side(const pp_job *job)
{
    pp_outline_spec outline = pp_job_outline(job);
    return pp_outline_across(&outline);
}

typedef struct doubting {
    const pp_job *job;
    pp_doubt *doubts;
    size_t count;
} doubting;

static void doubt_if(doubting *d, bool doubtful, const char *section, const char *key,
                     const char *usual, const char *remedy)
{
    if (!doubtful || d->count == PP_DOUBTS_MAX) return;
    for (size_t i = 0; i < d->count; i++)
        if (d->doubts[i].key == key) return;
    d->doubts[d->count++] = (pp_doubt){section, key, usual, remedy};
}

/* Values against each other */
static void doubt_pairs(doubting *d)
{
    const pp_job *job = d->job;
    double side = short_side(job), thickness = job->plate.thickness;
    if (side < 100) side = NAN; /* itself the doubtful one: nothing is held against it */
    doubt_if(d, thickness > side / 2, "plate", "thickness",
             "a plate is less than half as thick as it is wide", "mm");
    doubt_if(d, job->holddown.gap_limit > thickness, "holddown", "gap_limit",
             "the gap accepted is less than the plate's thickness", "mm");
    doubt_if(d, job->foot.outer_diameter > side, "foot", "outer_diameter",
             "the foot is smaller than the plate", "mm");
    doubt_if(d, job->holddown.clamp_pad > side / 2, "holddown", "clamp_pad",
             "a clamp is smaller than half the plate", "mm");
    doubt_if(d, job->foot.thrust > 5 * job->foot.force, "foot", "thrust",
             "the foot pushes harder than a fifth of the drill's thrust", "kN");
    doubt_if(d, job->holddown.force_cap < job->foot.force, "holddown", "force_cap",
             "the cap is not below the foot's force", "kN");
}

size_t pp_job_doubts(const pp_job *job, pp_doubt doubts[PP_DOUBTS_MAX])
{
    doubting d = {.job = job, .doubts = doubts};
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const usual_range *r = &ranges[i];
        double value = value_of(job, r->offset);
        doubt_if(&d, value < r->least || value > r->most, r->section, r->key, r->usual, r->remedy);
    }
    doubt_pairs(&d);
    return d.count;
}
