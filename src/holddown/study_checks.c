#include "holddown/study_checks.h"

#include <math.h>

static pp_status check_given(const pp_job *job, const pp_flatness *flatness,
                             const pp_nominal *nominal, pp_error *error)
{
    const char *missing = NULL;
    if (!flatness || !flatness->surface_valid)
        missing = "a survey and the plate's outline ([survey] file, [plate] outline)";
    else if (job->support.kind == PP_SUPPORT_NONE)
        missing = "what the plate lies on ([support] kind)";
    else if (!pp_given(job->foot.force))
        missing = "the foot's force ([foot] force)";
    else if (!pp_given(job->holddown.gap_limit))
        missing = "the largest gap to accept ([holddown] gap_limit)";
    else if (!nominal || nominal->count == 0)
        missing = "the nominal holes ([holes] nominal)";
    if (missing)
        return pp_fail(error, PP_ENOTHING, "nothing to hold down: the job does not give %s; add it",
                       missing);
    if (!(job->plate.thickness > 0))
        return pp_fail_at(error, PP_EINPUT, job->path, 0, 0,
                          "the plate's thickness is not given, and its stiffness grows with the "
                          "cube of it; give thickness under [plate]");
    return PP_OK;
}

/* A pattern that is larger than its plate is a wrong size or unit, of one of them. */
static pp_status check_holes_inside(const pp_job *job, const pp_nominal *n, const pp_mesh *mesh,
                                    pp_error *error)
{
    size_t count = 0, farthest = 0;
    double most = -1;
    for (size_t i = 0; i < n->count; i++) {
        double from = hypot(n->x[i] - mesh->centre_x, n->y[i] - mesh->centre_y);
        if (pp_mesh_inside(mesh, n->x[i], n->y[i])) continue;
        count++;
        if (from > most) most = from, farthest = i;
    }
    if (count == 0) return PP_OK;
    bool disc = mesh->outline == PP_OUTLINE_DISC, rectangle = mesh->outline == PP_OUTLINE_RECTANGLE;
    return pp_fail_at(
        error, PP_EINPUT, job->path,
        pp_job_key_line(job, "plate",
                        disc        ? "diameter"
                        : rectangle ? "width"
                                    : "outline"),
        0,
        "%zu of %zu nominal holes lie beyond the plate, the farthest, %s, %.6g mm from its centre; "
        "check %s and centre under [plate], and the unit of the nominal list",
        count, n->count, n->name ? n->name[farthest] : "one", most,
        disc        ? "diameter"
        : rectangle ? "width, height"
                    : "outline, its sizes");
}

pp_status pp_study_check(const pp_job *job, const pp_flatness *flatness, const pp_nominal *nominal,
                         pp_error *error)
{
    PP_TRY(check_given(job, flatness, nominal, error));
    return check_holes_inside(job, nominal, flatness->surface.mesh, error);
}
