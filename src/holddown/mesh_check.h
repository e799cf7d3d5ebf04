/* What the mesh has to do with the answers: some holes solved again on a finer one. mm, N. */
#ifndef PP_HOLDDOWN_MESH_CHECK_H
#define PP_HOLDDOWN_MESH_CHECK_H

#include "holddown/under_foot.h"

typedef struct pp_mesh_check_request {
    const pp_mesh *mesh; /* of the study, and the surface that lies on the supports there */
    const double *shape;
    const pp_hold_setup *setup;
    const pp_drilling *drilling; /* NULL: solid throughout */
    const pp_hold_question *question;
    const pp_hold_places *holes;
    const pp_hold_answer *answers; /* of the study */
    size_t cells; /* of the one finer mesh, on the long side; 0: eleven for every eight of the
                     study's, then five for four where a force still moves by PP_MESH_MOVES */
    int threads;
} pp_mesh_check_request;

typedef struct pp_mesh_check {
    size_t cells;  /* of the finest mesh, on the long side; 0: nothing near the limit */
    size_t solved; /* holes */
    const double *gap_u, *force_u; /* [holes] how far gap under the foot and force to close may be
                                      off for the mesh; NaN: not asked, far from any limit */
    double moves; /* largest change of a force to close from the study's mesh to the finest, as a
                     share of it */
    double unsettled;          /* the same between the two finest meshes */
    size_t worst;              /* the hole of `moves` */
    double force, finer_force; /* its force on the study's mesh and on the finest */
} pp_mesh_check;

#define PP_MESH_MOVES 0.03 /* of a force to close: more calls for a finer mesh, and is said */

/* Holes whose gap under the foot is near gap_limit or whose force to close is near the foot's (and
 * those of the largest forces beside them) are solved on a finer mesh, and where a force moves by
 * more than PP_MESH_MOVES on a finer one still. Both figures come nearer by the square of the cell
 * (order 2, see docs/theory/holddown), so the rest of the way beyond the finest is known: the
 * uncertainty is the whole way. Holes beyond those solved that are near a limit, or no farther from
 * it than the largest of the solved, get that one. Nothing near: nothing is solved.
 *
 * memory   keep: the lists
 * errors   PP_EINPUT, PP_ENUMERIC: the plate cannot be meshed, laid or settled on finer cells;
 *          PP_ENOMEM */
pp_status pp_mesh_check_make(const pp_mesh_check_request *request, pp_memory *memory,
                             pp_mesh_check *check, pp_error *error);

enum { PP_MESH_CHECK_HOLES = 48 };

#endif
