/* The tools of the study: which tool drilled which hole, from the list or from the wear found. */
#include <math.h>

#include "causes/study.h"
#include "causes/tool_runs.h"

/* What the measured list says of the tool of every nominal hole: of the latest round that says
 * anything, the first row. */
static pp_status take_labels(const pp_cause_study *s, const char ***tool, double **used,
                             pp_error *error)
{
    const pp_measures *m = s->measures;
    const pp_readings *r = m->readings;
    pp_arena *scratch = &s->memory->scratch;
    uint32_t *round;
    PP_TAKE_ZERO(*tool, scratch, m->nominal->count);
    PP_TAKE_ZERO(round, scratch, m->nominal->count);
    PP_TAKE(*used, scratch, m->nominal->count);
    for (size_t i = 0; i < m->nominal->count; i++) (*used)[i] = NAN;
    for (size_t row = 0; row < r->count; row++) {
        uint32_t hole = m->hole_of_row[row];
        if (hole >= m->nominal->count || !r->tool[row] || !r->tool[row][0]) continue;
        if ((*tool)[hole] && r->round[row] <= round[hole]) continue;
        (*tool)[hole] = r->tool[row], round[hole] = r->round[row];
        if (r->tool_used && r->tool_used[row] >= 0) (*used)[hole] = r->tool_used[row];
    }
    return PP_OK;
}

pp_status pp_cause_study_list_tools(pp_cause_study *s, pp_error *error)
{
    if (!s->wear_tested) return PP_OK;
    pp_arena *scratch = &s->memory->scratch;
    pp_tool_holes holes = {.count = s->wear_count,
                           .diameter = s->wear_diameter,
                           .place = s->wear_place,
                           .change_count = s->wear.change_count,
                           .change_at = s->wear.changes};
    if (s->measures->readings->tool) {
        const char **label, **tool;
        double *label_used, *used;
        PP_TRY(take_labels(s, &label, &label_used, error));
        PP_TAKE(tool, scratch, s->wear_count);
        PP_TAKE(used, scratch, s->wear_count);
        for (size_t i = 0; i < s->wear_count; i++) {
            uint32_t hole = s->field.hole[s->wear_place[i]];
            tool[i] = label[hole], used[i] = label_used[hole];
        }
        holes.tool = tool, holes.tool_used = used;
    }
    return pp_tool_runs_find(&holes, &s->memory->keep, scratch, &s->d.tool_run_count,
                             &s->d.tool_runs, error);
}
