#include "holddown/clamp_forces.h"

#include <string.h>

#include "base/parallel.h"

typedef struct placing {
    const pp_hold_plate *plate;
    const pp_clamp *clamps;
    double *deflection; /* [count * dofs] */
    pp_hold_force *forces;
} placing;

static pp_status place(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    placing *p = context;
    pp_probe probe;
    double *deflection = p->deflection + part * p->plate->mesh->dofs;
    pp_probe_point(&p->plate->compliance, p->clamps[part].x, p->clamps[part].y, 0, 0, &probe);
    p->forces[part] = (pp_hold_force){.force = p->clamps[part].force, .deflection = deflection};
    memcpy(p->forces[part].rigid, probe.rigid, sizeof probe.rigid);
    return pp_hold_deflect(p->plate, &probe, deflection, error);
}

pp_status pp_clamp_forces(const pp_hold_plate *plate, size_t count, const pp_clamp *clamps,
                          pp_memory *memory, pp_hold_force *forces, pp_error *error)
{
    placing p = {.plate = plate, .clamps = clamps, .forces = forces};
    PP_TAKE(p.deflection, &memory->scratch, count * plate->mesh->dofs);
    return pp_parallel(plate->threads, count, place, &p, error);
}
