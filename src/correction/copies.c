/* The same plate under two names. */
#include <math.h>

#include "base/names.h"
#include "correction/parts.h"

/* mm: what two drilled holes' errors never agree to all over a plate, and copies do, whatever
 * shift, turn or scale was laid over them; and over how many of the holes. */
static const double ALIKE = 1e-3, SHARE = 0.9;

/* Of the holes that both plates have: how many, and how many with the same error. */
static void count_alike(const pp_drilled_plate *a, const pp_names *names, const pp_drilled_plate *b,
                        size_t *common, size_t *alike)
{
    *common = *alike = 0;
    for (size_t i = 0; i < b->count; i++) {
        uint32_t at = pp_names_find(names, b->holes.name[i]);
        if (at == PP_NAME_NONE || !a->good[at] || !b->good[i]) continue;
        ++*common;
        *alike += fabs(a->rx[at] - b->rx[i]) < ALIKE && fabs(a->ry[at] - b->ry[i]) < ALIKE;
    }
}

pp_status pp_refuse_copies(const pp_drilled_plate *plates, size_t count, pp_arena *scratch,
                           pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    for (size_t p = 1; p < count; p++) {
        pp_names names;
        PP_TRY(pp_names_build(plates[p].holes.name, plates[p].count, scratch, &names, error));
        for (size_t k = 0; k < p; k++) {
            size_t common, alike;
            count_alike(&plates[p], &names, &plates[k], &common, &alike);
            if (common >= PP_CORRECTION_HOLES_MIN && (double)alike > SHARE * (double)common)
                return pp_fail_at(error, PP_EINPUT, plates[p].report.folder, 0, 0,
                                  "has the errors of %.200s, hole by hole: one plate under two "
                                  "names is one plate; name one of the reports",
                                  plates[k].report.folder);
        }
        pp_arena_release(scratch, mark);
    }
    return PP_OK;
}
