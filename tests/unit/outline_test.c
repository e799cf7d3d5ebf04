/* Outlines that are more than a disc or a rectangle: sizes and centres against the closed forms of
 * circular segments, distances and chords against points taken densely, and the elements cut at
 * them against integrals that are known. */
#include "base/constants.h"
#include "support/check.h"

#include "elements/mesh.h"

static const double L_X[] = {-800, 800, 800, 200, 200, -800};
static const double L_Y[] = {-500, -500, 100, 100, 600, 600};

enum { SHAPES = 6 };

static pp_outline_spec shape(int which)
{
    const pp_outline_spec shapes[SHAPES] = {
        {.kind = PP_OUTLINE_SEGMENT, .diameter = 2000, .cut_height = 600, .cut_angle_deg = 90},
        {.kind = PP_OUTLINE_SEGMENT, .diameter = 2000, .cut_height = 1250, .cut_angle_deg = 37},
        {.kind = PP_OUTLINE_DOUBLE_SEGMENT,
         .diameter = 1600,
         .cut_height = 300,
         .cut_angle_deg = -20},
        {.kind = PP_OUTLINE_ANNULUS, .diameter = 1900, .inner_diameter = 640},
        {.kind = PP_OUTLINE_POLYGON, .corner_count = 6, .corner_x = L_X, .corner_y = L_Y},
        {.kind = PP_OUTLINE_SEGMENT, .diameter = 900, .cut_height = 225, .cut_angle_deg = 180}};
    pp_outline_spec s = shapes[which];
    s.centre_x = 313.5, s.centre_y = -77.25;
    return s;
}

/* A circular segment beyond a chord at distance d from the centre: area, and its moment about the
 * centre (2/3 of the cube of half the chord). Any handbook of mensuration. */
static double segment_area(double r, double d)
{
    return r * r * acos(d / r) - d * sqrt(r * r - d * d);
}
static double segment_moment(double r, double d) { return 2.0 / 3 * pow(r * r - d * d, 1.5); }

static void want_of(const pp_outline_spec *s, double *area, double *along)
{
    double r = s->diameter / 2, d = r - s->cut_height;
    *along = 0; /* of the centre from that of the circle, towards the cut */
    if (s->kind == PP_OUTLINE_ANNULUS) {
        *area = PP_PI * (r * r - s->inner_diameter * s->inner_diameter / 4);
    } else if (s->kind == PP_OUTLINE_DOUBLE_SEGMENT) {
        *area = PP_PI * r * r - 2 * segment_area(r, d);
    } else {
        *area = PP_PI * r * r - segment_area(r, d);
        *along = -segment_moment(r, d) / *area;
    }
}

static void areas_and_centres_are_those_of_mensuration(void **state)
{
    (void)state;
    for (int which = 0; which < SHAPES; which++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_mesh mesh;
        pp_outline_spec s = shape(which);
        assert_ok(pp_mesh_make(s, 32, &memory, &mesh, &error), &error);
        double area, along, x, y;
        if (s.kind == PP_OUTLINE_POLYGON) { /* two rectangles */
            area = 1600.0 * 600 + 1000.0 * 500;
            x = -300 * 1000.0 * 500 / area;
            y = (-200 * 1600.0 * 600 + 350 * 1000.0 * 500) / area;
        } else {
            want_of(&s, &area, &along);
            x = along * cos(s.cut_angle_deg * PP_PI / 180);
            y = along * sin(s.cut_angle_deg * PP_PI / 180);
        }
        assert_near(mesh.area / area, 1, 1e-7);
        assert_near(mesh.centre_x, s.centre_x + x, 1e-4);
        assert_near(mesh.centre_y, s.centre_y + y, 1e-4);
        pp_memory_free(&memory);
    }
}

typedef struct densely {
    double x, y, least; /* nearest distance to the outline so far */
    double last_x, last_y, first_x, first_y;
    pp_box box;
} densely;

static void to_piece(densely *d, double x0, double y0, double x1, double y1)
{
    for (int i = 0; i <= 400; i++) {
        double s = i / 400.0;
        d->least = fmin(d->least, hypot(x0 + s * (x1 - x0) - d->x, y0 + s * (y1 - y0) - d->y));
    }
}

static void see(void *context, double x, double y, bool begins)
{
    densely *d = context;
    if (begins && !isnan(d->first_x)) to_piece(d, d->last_x, d->last_y, d->first_x, d->first_y);
    if (begins)
        d->first_x = x, d->first_y = y;
    else
        to_piece(d, d->last_x, d->last_y, x, y);
    d->last_x = x, d->last_y = y;
    d->box.x0 = fmin(d->box.x0, x), d->box.x1 = fmax(d->box.x1, x);
    d->box.y0 = fmin(d->box.y0, y), d->box.y1 = fmax(d->box.y1, y);
}

static densely trace(const pp_outline_spec *s, double x, double y)
{
    densely d = {.x = x, .y = y, .least = INFINITY, .first_x = NAN};
    d.box = (pp_box){INFINITY, INFINITY, -INFINITY, -INFINITY};
    pp_outline_trace(s, see, &d);
    to_piece(&d, d.last_x, d.last_y, d.first_x, d.first_y);
    return d;
}

static void distances_and_boxes_are_those_of_the_traced_edge(void **state)
{
    (void)state;
    for (int which = 0; which < SHAPES; which++) {
        pp_outline_spec s = shape(which);
        pp_box box = pp_outline_box(&s);
        for (int k = 0; k < 40; k++) {
            double x = s.centre_x + 1200 * sin(1.7 * k), y = s.centre_y + 1100 * sin(2.9 * k + 1);
            densely d = trace(&s, x, y);
            assert_near(fabs(pp_outline_margin(&s, x, y)), d.least, 3);
            pp_edge_place at = pp_outline_nearest(&s, x, y);
            assert_near(pp_outline_margin(&s, at.x, at.y), 0, 1e-9 * 2000);
            double in_x = at.x + 2 * at.inward_x, in_y = at.y + 2 * at.inward_y;
            if (d.least > 5 && pp_outline_margin(&s, x, y) > 0)
                assert_true(pp_outline_margin(&s, in_x, in_y) > 0);
            if (k) continue;
            assert_near(d.box.x0, box.x0, 0.5);
            assert_near(d.box.x1, box.x1, 0.5);
            assert_near(d.box.y0, box.y0, 0.5);
            assert_near(d.box.y1, box.y1, 0.5);
        }
    }
}

static void chords_are_where_the_plate_is(void **state)
{
    (void)state;
    for (int which = 0; which < SHAPES; which++) {
        pp_outline_spec s = shape(which);
        for (int k = 0; k < 60; k++) {
            double angle = 0.31 * k, off = 900 * sin(1.3 * k), ex = cos(angle), ey = sin(angle);
            double ox = s.centre_x - off * ey, oy = s.centre_y + off * ex;
            pp_chord chords[PP_CHORDS_MAX];
            size_t count = pp_outline_chords(&s, ox, oy, ex, ey, chords);
            for (double at = -1400; at < 1400; at += 7.3) {
                bool on = false, near = false;
                for (size_t c = 0; c < count; c++) {
                    on = on || (at >= chords[c].begin && at <= chords[c].end);
                    near = near || fabs(at - chords[c].begin) < 1e-6 ||
                           fabs(at - chords[c].end) < 1e-6;
                }
                if (!near)
                    assert_int_equal(on, pp_outline_margin(&s, ox + at * ex, oy + at * ey) > 0);
            }
        }
    }
}

/* Hermite cubics hold quadratic surfaces exactly, so their energy is their curvature over the area.
 */
static void quadratic_surfaces_have_the_energy_of_their_area(void **state)
{
    (void)state;
    const double nu = 0.3;
    for (int which = 0; which < SHAPES; which++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_mesh m;
        assert_ok(pp_mesh_make(shape(which), 21, &memory, &m, &error), &error);
        size_t column = m.half_bandwidth + 1;
        double *band = pp_arena_take(&memory.keep, m.dofs * column, sizeof *band);
        double *w = pp_arena_take(&memory.keep, m.dofs, sizeof *w);
        assert_ok(pp_mesh_stiffness(&m, nu, band, &error), &error);
        const double a = 2e-6, b = -1.5e-6, c = 0.7e-6; /* w = a x^2 + b y^2 + c x y */
        for (size_t j = 0; j <= m.ny; j++)
            for (size_t i = 0; i <= m.nx; i++) {
                double x = m.x0 + (double)i * m.hx, y = m.y0 + (double)j * m.hy;
                double *at = w + 4 * pp_mesh_node(&m, i, j);
                at[0] = a * x * x + b * y * y + c * x * y;
                at[1] = m.hx * (2 * a * x + c * y);
                at[2] = m.hy * (2 * b * y + c * x);
                at[3] = m.hx * m.hy * c;
            }
        double sum = 0;
        for (size_t d = 0; d < m.dofs; d++) {
            sum += band[d * column] * w[d] * w[d];
            for (size_t k = 1; k < column && d + k < m.dofs; k++)
                sum += 2 * band[d * column + k] * w[d] * w[d + k];
        }
        /* dofs that touch no cell have a diagonal of one and no part in it */
        unsigned char *active = pp_arena_take(&memory.keep, m.nodes, 1);
        memset(active, 0, m.nodes);
        for (size_t j = 0; j < m.ny; j++)
            for (size_t i = 0; i < m.nx; i++)
                if (m.fraction[j * m.nx + i] > 0)
                    for (size_t k = 0; k < 4; k++)
                        active[pp_mesh_node(&m, i + (k & 1), j + (k >> 1))] = 1;
        for (size_t d = 0; d < m.dofs; d++)
            if (!active[d / 4]) sum -= band[d * column] * w[d] * w[d];
        double want = m.area * (4 * a * a + 4 * b * b + 8 * nu * a * b + 2 * (1 - nu) * c * c);
        assert_near(sum / want, 1, 3e-6);
        pp_memory_free(&memory);
    }
}

static void mirror_images_are_known(void **state)
{
    (void)state;
    static const bool about_x[SHAPES] = {false, false, false, true, false, true};
    static const bool about_y[SHAPES] = {true, false, false, true, false, false};
    for (int which = 0; which < SHAPES; which++) {
        pp_outline_spec s = shape(which);
        assert_int_equal(pp_outline_mirrors(&s, true), about_x[which]);
        assert_int_equal(pp_outline_mirrors(&s, false), about_y[which]);
    }
}

typedef struct loops {
    double x, y, first_x, first_y;
    size_t count, closed;
} loops;

static void follow(void *context, double x, double y, bool begins)
{
    loops *l = context;
    if (begins) {
        l->closed += l->count > 0 && hypot(l->x - l->first_x, l->y - l->first_y) < 1e-9;
        l->count++, l->first_x = x, l->first_y = y;
    }
    l->x = x, l->y = y;
}

/* Else a drawn rim has a gap where the opening begins. */
static void a_ring_s_rim_is_closed_before_its_opening(void **state)
{
    (void)state;
    pp_outline_spec ring = {.kind = PP_OUTLINE_ANNULUS, .diameter = 1800, .inner_diameter = 600};
    loops l = {0};
    pp_outline_trace(&ring, follow, &l);
    assert_int_equal(l.count, 2);
    assert_int_equal(l.closed, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(areas_and_centres_are_those_of_mensuration),
        cmocka_unit_test(distances_and_boxes_are_those_of_the_traced_edge),
        cmocka_unit_test(a_ring_s_rim_is_closed_before_its_opening),
        cmocka_unit_test(chords_are_where_the_plate_is),
        cmocka_unit_test(quadratic_surfaces_have_the_energy_of_their_area),
        cmocka_unit_test(mirror_images_are_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
