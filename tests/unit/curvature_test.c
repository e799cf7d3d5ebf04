/* What flattening a dome takes beyond bending: rings, and the way down. */
#include "holddown/curvature.h"
#include "holddown/ring_stretch.h"
#include "support/check.h"
#include "support/holdplates.h"

static const double NU = 0.3;

/* Timoshenko and Woinowsky-Krieger, table 82 (from memory): 0.262. The ring by the same quadrature
 * in numpy, 20,000 steps: c of the deflection between its edges, 0.373779, 0.453261 and 0.487891,
 * times (1 - bore^2)^2 for the whole dome's. */
static void a_ring_stretches_less_the_wider_it_is_open(void **state)
{
    (void)state;
    assert_near(pp_ring_stretch(0, NU), 0.262, 0.001);
    assert_near(pp_ring_stretch(0.001, NU), pp_ring_stretch(0, NU), 1e-4);
    assert_near(pp_ring_stretch(0.3, NU), 0.373779 * 0.91 * 0.91, 1e-4);
    assert_near(pp_ring_stretch(0.5, NU), 0.453261 * 0.75 * 0.75, 1e-4);
    assert_near(pp_ring_stretch(0.7, NU), 0.487891 * 0.51 * 0.51, 1e-4);
    assert_true(pp_ring_stretch(0.99, NU) < 1e-3);
}

/* 20 mm high over a radius of 1 m */
static void dome(double x, double y, double w[4])
{
    w[0] = -20e-6 * (x * x + y * y);
    w[1] = -40e-6 * x, w[2] = -40e-6 * y, w[3] = 0;
}

static pp_curvature dome_on(pp_outline_spec outline, double thickness)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_mesh mesh;
    pp_curvature c;
    pp_plate_spec plate = {.elastic_modulus = 200000, .poisson_ratio = NU, .thickness = thickness};
    assert_ok(pp_mesh_make(outline, 24, &memory, &mesh, &error), &error);
    assert_ok(pp_curvature_of(&plate, &mesh, test_field(&mesh, dome, &memory), 0, NULL, &memory, &c,
                              &error),
              &error);
    pp_memory_free(&memory);
    return c;
}

/* A ring is domed as a whole: over its outer diameter, not over its own width. */
static void a_ring_is_domed_over_its_opening_too(void **state)
{
    (void)state;
    const pp_outline_spec ring = {
        .kind = PP_OUTLINE_ANNULUS, .diameter = 2000, .inner_diameter = 1600};
    pp_curvature c = dome_on(ring, 20);
    assert_near(c.double_height, 20, 1e-6);
    assert_near(c.stiffening, 1 + pp_ring_stretch(0.8, NU), 1e-9);
    c = dome_on(ring, 20 / 3.0);
    assert_near(c.stiffening, 1 + 9 * pp_ring_stretch(0.8, NU), 1e-9);
}

/* The others are domed over the shorter side of their box, and nobody knows what that takes. */
static void other_outlines_have_a_height_and_no_estimate(void **state)
{
    (void)state;
    static const double x[] = {-1000, 1000, 1000, 400, -1000}, y[] = {-800, -800, 300, 800, 800};
    const struct {
        pp_outline_spec outline;
        double across;
    } tried[] = {
        {{.kind = PP_OUTLINE_SEGMENT, .diameter = 2000, .cut_height = 500, .cut_angle_deg = 90},
         1500},
        {{.kind = PP_OUTLINE_DOUBLE_SEGMENT,
          .diameter = 2000,
          .cut_height = 400,
          .cut_angle_deg = 90},
         1200},
        {{.kind = PP_OUTLINE_POLYGON, .corner_count = 5, .corner_x = x, .corner_y = y}, 1600}};
    for (size_t k = 0; k < sizeof tried / sizeof *tried; k++) {
        pp_curvature c = dome_on(tried[k].outline, 20);
        assert_near(c.double_height, 20e-6 * tried[k].across * tried[k].across / 4, 1e-6);
        assert_true(isnan(c.stiffening));
    }
}

/* By hand, of one that is twice as stiff: three times at the first push, 1 + 1.5/2 half way, and
 * nothing when flat. The force on the way is (1 - a)(1 + m (1 + a) a): with m = 4 it is highest at
 * a = 1/2, 0.5 * 4 = 2. */
static void forces_follow_the_dome_down(void **state)
{
    (void)state;
    assert_near(pp_curvature_on_the_way(2, 1), 3, 1e-12);
    assert_near(pp_curvature_on_the_way(2, 0.5), 1.75, 1e-12);
    assert_near(pp_curvature_on_the_way(2, 0), 1, 1e-12);
    assert_near(pp_curvature_peak(2), 1, 1e-12);
    assert_near(pp_curvature_peak(1.5), 1, 1e-12);
    assert_near(pp_curvature_peak(5), 2, 1e-12);
    for (double a = 0; a <= 1; a += 0.01)
        assert_true((1 - a) * pp_curvature_on_the_way(5, a) <= pp_curvature_peak(5) + 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ring_stretches_less_the_wider_it_is_open),
        cmocka_unit_test(a_ring_is_domed_over_its_opening_too),
        cmocka_unit_test(other_outlines_have_a_height_and_no_estimate),
        cmocka_unit_test(forces_follow_the_dome_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
