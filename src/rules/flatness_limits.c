/* The limits of the plate itself: from the job, or a flatness rule. */
#include <math.h>

#include "base/text.h"
#include "rules/flatness_rules.h"
#include "rules/resolving.h"

/* An error about the plate from the flatness table, told at the key that names the table. */
static pp_status at_flatness_rule(pp_resolving *r, pp_status status)
{
    if (status != PP_EINPUT || !r->error) return status;
    return pp_refuse_limit(r, "plate", "flatness_rule", r->error->message);
}

static pp_status plate_size(pp_resolving *r, double *width, double *length)
{
    const pp_job *job = r->job;
    if (job->plate.outline == PP_OUTLINE_NONE || !pp_given(job->plate.thickness))
        return pp_refuse_limit(r, "plate", "flatness_rule",
                               "a flatness rule goes by the plate's size; give [plate] outline and "
                               "thickness");
    pp_outline_spec outline = pp_job_outline(job);
    pp_box box = pp_outline_box(&outline);
    *width = fmin(box.x1 - box.x0, box.y1 - box.y0);
    *length = fmax(box.x1 - box.x0, box.y1 - box.y0);
    return PP_OK;
}

static pp_status apply_flatness_rule(pp_resolving *r, pp_limit *edges)
{
    const pp_job *job = r->job;
    pp_flatness_rules rules;
    const pp_rule_place place = {*job->path ? job->path : NULL,
                                 pp_job_key_line(job, "plate", "flatness_rule"),
                                 job->plate.flatness_rule_place};
    PP_TRY(pp_flatness_rules_read(job->plate.flatness_rule, &place, r->memory, &rules, r->error));
    r->found.flatness_rules_path = rules.file.built_in ? NULL : rules.file.ini.file;
    double width = 0, length = 0, thickness = job->plate.thickness;
    PP_TRY(plate_size(r, &width, &length));
    const pp_flatness_table *whole = pp_flatness_rules_whole(&rules);
    pp_limit *flatness = &r->found.flatness_limit;
    if (whole && !pp_given(flatness->value))
        PP_TRY(at_flatness_rule(
            r, pp_flatness_rules_limit(&rules, whole, &(pp_rolled_size){thickness, width, length},
                                       r->memory, &flatness->value, &flatness->source, r->error)));
    size_t used = whole != NULL;
    for (size_t i = 0; i < r->found.straightedge_count; i++) {
        const pp_flatness_table *table =
            pp_flatness_rules_edge(&rules, job->survey.straightedge.values[i]);
        used += table || pp_given(edges[i].value);
        if (!table || pp_given(edges[i].value)) continue;
        PP_TRY(at_flatness_rule(
            r, pp_flatness_rules_limit(&rules, table, &(pp_rolled_size){thickness, width, length},
                                       r->memory, &edges[i].value, &edges[i].source, r->error)));
    }
    if (used) return PP_OK;
    return pp_refuse_limit_kept(
        r, "plate", "flatness_rule",
        pp_text_kept(&r->memory->keep,
                     "%s goes by straightedges, and the job has none of its "
                     "lengths; give [survey] straightedge = %g mm",
                     rules.file.name, rules.tables[0].length));
}

pp_status pp_resolve_flatness(pp_resolving *r, pp_limit **resolved)
{
    const pp_job *job = r->job;
    pp_error *error = r->error;
    pp_limit *edges;
    size_t count = job->survey.straightedge.count;
    PP_TAKE(edges, &r->memory->keep, count);
    *resolved = edges;
    r->found.straightedge = edges;
    r->found.straightedge_count = count;
    for (size_t i = 0; i < count; i++) {
        edges[i] = pp_limit_absent("straightedge_limit");
        if (!r->set_alone && job->survey.straightedge_limit.count)
            PP_TRY(pp_limit_from_job(r, &edges[i], "survey", "straightedge_limit",
                                     job->survey.straightedge_limit.values[i]));
    }
    bool asked = job->plate.flatness_rule && !r->no_flatness_rule;
    if (!asked || !job->survey.file.path) return PP_OK;
    return apply_flatness_rule(r, edges);
}
