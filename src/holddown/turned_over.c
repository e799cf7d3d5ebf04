#include "holddown/turned_over.h"

#include <math.h>

/* out[dofs] = field of the plate mirrored about the middle of its box: w(x, -y), or w(-x, y) */
static void mirror(const pp_mesh *mesh, bool about_x, const double *field, double sign, double *out)
{
    for (size_t i = 0; i <= mesh->nx; i++)
        for (size_t j = 0; j <= mesh->ny; j++) {
            size_t to = pp_mesh_node(mesh, i, j);
            size_t from =
                about_x ? pp_mesh_node(mesh, i, mesh->ny - j) : pp_mesh_node(mesh, mesh->nx - i, j);
            for (size_t k = 0; k < 4; k++) { /* slopes across the axis change their sign */
                bool across = about_x ? k >= 2 : k == 1 || k == 3;
                out[4 * to + k] = (across ? -sign : sign) * field[4 * from + k];
            }
        }
}

/* Whether the outline lies on itself turned over about the middle of its box: along x (*about_x)
 * or, where only that does, along y. */
static bool plate_turns(const pp_mesh *mesh, bool *about_x)
{
    *about_x = !pp_outline_is_cut_out(&mesh->shape) || pp_outline_mirrors(&mesh->shape, true);
    return *about_x || pp_outline_mirrors(&mesh->shape, false);
}

/* Stress-free the plate has some shape s with K s = K w_m - f_m + q. Turned over it is -s mirrored,
 * and K (w + w_m mirrored) = reactions - (2 q - f_m mirrored): the survey load is 2 q - f_m. What
 * then lies on the supports is the upper face. */
pp_status pp_hold_plate_turn(const pp_hold_plate *plate, pp_memory *memory, pp_hold_plate *turned,
                             pp_error *error)
{
    pp_hold_plate p = *plate;
    size_t n = p.mesh->dofs;
    double *shape, *load, *own_weight, *upper;
    bool about_x;
    PP_TAKE(shape, &memory->keep, n);
    PP_TAKE(load, &memory->keep, n);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(own_weight, &memory->scratch, n);
    PP_TAKE(upper, &memory->scratch, n);
    if (!plate_turns(p.mesh, &about_x))
        return pp_fail(error, PP_EINPUT, "the outline does not lie on itself turned over");
    for (size_t i = 0; i < n; i++)
        upper[i] = plate->shape[i] - (plate->faces ? plate->faces[i] : 0);
    mirror(p.mesh, about_x, upper, -1, shape);
    mirror(p.mesh, about_x, plate->survey_load, 1, load);
    pp_mesh_uniform_load(p.mesh, own_weight);
    double twice = 2 * p.weight / p.mesh->area; /* a pressure */
    for (size_t i = 0; i < n; i++) load[i] = twice * own_weight[i] - load[i];
    p.shape = shape;
    p.survey_load = load;
    p.touching = NULL;
    p.survey_lift = NULL;
    p.as_surveyed = plate;
    PP_TRY(pp_hold_plate_unload(&p, memory, error));
    pp_arena_release(&memory->scratch, mark);
    *turned = p;
    return PP_OK;
}

pp_status pp_turn_over(const pp_hold_plate *plate, const pp_hold_question *question,
                       const pp_hold_places *holes, pp_memory *memory, pp_turned_plate *turned,
                       pp_turned_over *result, pp_error *error)
{
    pp_hold_gap *gaps;
    pp_turned_over r = {.worst_gap = -INFINITY};
    r.valid = plate_turns(plate->mesh, &r.about_x);
    *result = r;
    if (!r.valid) return PP_OK;
    PP_TAKE(gaps, &memory->keep, holes->count);
    PP_TRY(pp_hold_plate_turn(plate, memory, &turned->plate, error));
    PP_TRY(pp_hold_state_take(&turned->plate, &memory->scratch, &turned->state, error));
    PP_TAKE(turned->answers, &memory->scratch, holes->count);
    PP_TRY(pp_hold_settle(&turned->plate, NULL, 0, NULL, NULL, memory, &turned->state, error));
    PP_TRY(pp_hold_press(
        &turned->plate, &turned->state,
        &(pp_hold_visit){.question = question, .places = holes, .count = holes->count}, memory,
        turned->answers, NULL, error));
    for (size_t i = 0; i < holes->count; i++) {
        const pp_hold_answer *a = &turned->answers[i];
        bool table = plate->table; /* which nothing goes below */
        gaps[i] = (pp_hold_gap){table ? fmax(a->gap, 0) : a->gap,
                                table ? fmax(a->gap_under_foot, 0) : a->gap_under_foot};
        r.worst_gap = fmax(r.worst_gap, gaps[i].under_foot);
    }
    r.gaps = gaps;
    *result = r;
    return PP_OK;
}
