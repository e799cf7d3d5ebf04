#include "holddown/setups.h"

#include <math.h>

/* How many pads cover each hole */
static pp_status count_pads(size_t holes, size_t clamp_count, const pp_clamp *clamps,
                            pp_arena *scratch, uint32_t **pads, pp_error *error)
{
    PP_TAKE_ZERO(*pads, scratch, holes);
    for (size_t k = 0; k < clamp_count; k++)
        for (size_t b = 0; b < clamps[k].block_count; b++) (*pads)[clamps[k].blocks[b]]++;
    return PP_OK;
}

static pp_status order_clamps(const pp_mesh *mesh, size_t count, const pp_clamp *clamps,
                              pp_arena *keep, const size_t **tighten, pp_error *error)
{
    size_t *order;
    PP_TAKE(order, keep, count);
    for (size_t k = 0; k < count; k++) { /* few: by insertion */
        double from = hypot(clamps[k].x - mesh->centre_x, clamps[k].y - mesh->centre_y);
        size_t at = k;
        for (; at > 0; at--) {
            const pp_clamp *before = &clamps[order[at - 1]];
            if (hypot(before->x - mesh->centre_x, before->y - mesh->centre_y) <= from) break;
            order[at] = order[at - 1];
        }
        order[at] = k;
    }
    *tighten = order;
    return PP_OK;
}

pp_status pp_setups_list(const pp_mesh *mesh, size_t holes, size_t clamp_count,
                         const pp_clamp *clamps, pp_memory *memory, pp_setup_list *list,
                         pp_error *error)
{
    pp_setup_list made = {0};
    if (clamp_count == 0) {
        *list = made;
        return PP_OK;
    }
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_drill_setup *setups;
    uint32_t *pads;
    PP_TRY(count_pads(holes, clamp_count, clamps, &memory->scratch, &pads, error));
    PP_TAKE(setups, &memory->keep, clamp_count + 1);
    setups[made.count++] = (pp_drill_setup){.lifted = -1, .hole_count = holes};
    for (size_t h = 0; h < holes; h++) {
        setups[0].hole_count -= pads[h] > 0;
        made.unreached += pads[h] > 1;
    }
    for (size_t k = 0; k < clamp_count; k++) {
        uint32_t *own;
        size_t n = 0;
        PP_TAKE(own, &memory->keep, clamps[k].block_count);
        for (size_t b = 0; b < clamps[k].block_count; b++)
            if (pads[clamps[k].blocks[b]] == 1) own[n++] = clamps[k].blocks[b];
        if (n) setups[made.count++] = (pp_drill_setup){(long)k, n, own};
    }
    made.setups = setups;
    PP_TRY(order_clamps(mesh, clamp_count, clamps, &memory->keep, &made.tighten, error));
    pp_arena_release(&memory->scratch, mark);
    *list = made;
    return PP_OK;
}
