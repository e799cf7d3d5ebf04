#include "holes/aligned.h"

#include "base/parallel.h"

enum { PARTS = 64 };

typedef struct placing {
    const pp_aligning *request;
    pp_aligned out;
    pp_sum square[PARTS]; /* of distances from nominal, tube holes of the face aligned */
    size_t count[PARTS];
    pp_sum common[PARTS]; /* of the shares in common, and how many */
    size_t common_count[PARTS];
} placing;

/* Standard uncertainty of the metal to the plate's edge: of the centre towards the edge, and of the
 * hole's size. */
static double edge_u_of(const pp_aligning *r, const pp_bore *bore, pp_plate_point at,
                        pp_covariance centre)
{
    pp_outline_spec o = r->outline;
    double dx = at.x - o.centre_x, dy = at.y - o.centre_y, nx = 1, ny = 0;
    double diameter = bore->gauged ? 0 : r->uncertainty.diameter / 2;
    double from_centre = hypot(dx, dy);
    if (o.kind == PP_OUTLINE_DISC) {
        if (from_centre > 0) nx = dx / from_centre, ny = dy / from_centre;
    } else if (o.kind == PP_OUTLINE_RECTANGLE) {
        if (o.height / 2 - fabs(dy) < o.width / 2 - fabs(dx)) nx = 0, ny = 1;
    } else {
        pp_edge_place edge = pp_outline_nearest(&o, at.x, at.y);
        nx = edge.inward_x, ny = edge.inward_y;
    }
    return hypot(pp_covariance_along(centre, nx, ny), diameter / 2);
}

/* Standard uncertainty of one coordinate of a hole centre as read. */
static double centre_u(const pp_hole_uncertainty *u, const pp_alignment *alignment,
                       pp_plate_point at)
{
    double r = hypot(at.x - alignment->reference_x, at.y - alignment->reference_y);
    double per_metre = pp_given(u->per_metre) ? u->per_metre : 0;
    double fixed = u->position / 2;
    double growing = per_metre * r / 2000;
    double warm = r * alignment->scale_u;
    return sqrt(fixed * fixed + growing * growing + warm * warm);
}

static pp_status refuse_far(const placing *p, const pp_bore *bore, pp_plate_point at, double beyond,
                            pp_error *error)
{
    const pp_readings *r = &p->request->files->measured;
    size_t row = bore->row - 1;
    bool named = r->name && r->name[row] && r->name[row][0];
    return pp_fail_at(
        error, PP_EINPUT, r->file, r->line ? r->line[row] : 0, 0,
        "hole %s at x %g, y %g mm (aligned) lies %g mm beyond the plate's edge; is its "
        "unit right (length_unit under [holes], a unit in the header), or the outline?",
        named ? r->name[row] : "without a name", at.x, at.y, beyond);
}

/* How far a bore lies from its nominal place, and what that adds to the sums of its part. */
static void place_hole(placing *p, size_t part, size_t b, pp_covariance covariance)
{
    const pp_aligning *r = p->request;
    const pp_nominal *nominal = &r->files->nominal;
    pp_bore *bore = &r->gathered->bores[b];
    pp_offset off = pp_offset_from(pp_nominal_at(nominal, bore->hole), bore->at);
    double square = off.dx * off.dx + off.dy * off.dy;
    bore->position = 2 * sqrt(square);
    if (p->out.errors)
        p->out.errors[b].position = pp_distance_error_of(covariance, off.dx, off.dy, 2);
    if (nominal->kind[bore->hole] != PP_TUBE_HOLE) return;
    double common = pp_common_share(r->errors, bore->hole, covariance);
    if (!isnan(common)) {
        pp_sum_add(&p->common[part], common);
        p->common_count[part]++;
    }
    if (bore->face == (r->gathered->faces[PP_ENTRY] ? PP_ENTRY : PP_EXIT)) {
        pp_sum_add(&p->square[part], square);
        p->count[part]++;
    }
}

static pp_status place_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    placing *p = context;
    const pp_aligning *r = p->request;
    size_t end = pp_part_begin(r->gathered->bore_count, PARTS, part + 1);
    for (size_t b = pp_part_begin(r->gathered->bore_count, PARTS, part); b < end; b++) {
        pp_bore *bore = &r->gathered->bores[b];
        pp_plate_point at = pp_pose_apply(r->poses[bore->face], r->gathered->centre[b]);
        bore->at = at;
        bore->position = NAN;
        if (p->out.errors)
            p->out.errors[b] =
                (pp_bore_error){centre_u(&r->uncertainty, r->alignment, at), {NAN, NAN}};
        pp_covariance c = pp_centre_covariance(r->errors, bore->face, bore->hole, at, true);
        if (r->outline.kind != PP_OUTLINE_NONE) {
            double beyond = pp_outline_beyond(&r->outline, at.x, at.y);
            if (beyond > pp_outline_size(&r->outline) / 2)
                return refuse_far(p, bore, at, beyond, error);
            p->out.edge[b] = pp_outline_margin(&r->outline, at.x, at.y) - bore->diameter_max / 2;
            if (p->out.edge_u) p->out.edge_u[b] = edge_u_of(r, bore, at, c);
        }
        if (bore->hole != PP_NONE) place_hole(p, part, b, c);
    }
    return PP_OK;
}

pp_status pp_bores_align(const pp_aligning *request, int threads, pp_memory *memory,
                         pp_aligned *aligned, pp_error *error)
{
    placing p = {.request = request};
    size_t total = request->gathered->bore_count;
    bool outlined = request->outline.kind != PP_OUTLINE_NONE;
    bool stated = pp_given(request->uncertainty.position);
    if (outlined) PP_TAKE(p.out.edge, &memory->keep, total);
    if (stated) PP_TAKE(p.out.errors, &memory->keep, total);
    if (outlined && stated) PP_TAKE(p.out.edge_u, &memory->keep, total);
    PP_TRY(pp_parallel(threads, PARTS, place_part, &p, error));
    pp_sum square = {0}, common = {0};
    size_t count = 0, common_count = 0;
    for (size_t part = 0; part < PARTS; part++) {
        pp_sum_merge(&square, p.square[part]);
        count += p.count[part];
        pp_sum_merge(&common, p.common[part]);
        common_count += p.common_count[part];
    }
    p.out.common_share = common_count ? pp_sum_value(common) / (double)common_count : NAN;
    p.out.rms = count ? sqrt(pp_sum_value(square) / (double)count) : NAN;
    *aligned = p.out;
    return PP_OK;
}
