/* Out-of-flat areas and maps of fields known in closed form. */
#include "base/constants.h"
#include "support/check.h"

#include "flatness/areas.h"
#include "flatness/map.h"
#include "support/surveys.h"

typedef struct shape { /* a function of x, y from the centre with its derivatives */
    double w, wx, wy, wxy;
} shape;
typedef shape (*shape_function)(double x, double y);

typedef struct fixture {
    pp_memory memory;
    pp_error error;
    pp_mesh mesh;
    double *field;
    size_t count;
    const pp_area *areas;
} fixture;

static void setup(fixture *f, pp_job job, shape_function function)
{
    *f = (fixture){0};
    job.plate.centre_x = 113.7, job.plate.centre_y = -58.3;
    assert_ok(pp_mesh_make(pp_job_outline(&job), 32, &f->memory, &f->mesh, &f->error), &f->error);
    const pp_mesh *m = &f->mesh;
    f->field = pp_arena_take(&f->memory.keep, m->dofs, sizeof *f->field);
    for (size_t j = 0; j <= m->ny; j++)
        for (size_t i = 0; i <= m->nx; i++) {
            double *at = f->field + 4 * pp_mesh_node(m, i, j);
            shape s = function(m->x0 + (double)i * m->hx - m->centre_x,
                               m->y0 + (double)j * m->hy - m->centre_y);
            at[0] = s.w, at[1] = m->hx * s.wx, at[2] = m->hy * s.wy, at[3] = m->hx * m->hy * s.wxy;
        }
}

static void find(fixture *f, pp_area_side side, double threshold, const pp_nominal *nominal)
{
    pp_area_request request = {&f->mesh, f->field, side, threshold, nominal};
    assert_ok(pp_areas_find(&request, &f->memory, &f->count, &f->areas, &f->error), &f->error);
}

/* z = c r^2 less half its height, as a dome upside down: c = 2.3e-6, R = 1600 */
static const double bow = 2.3e-6;
static shape bowl(double x, double y)
{
    return (shape){bow * (x * x + y * y) - bow * 1600 * 1600 / 2, 2 * bow * x, 2 * bow * y, 0};
}

static void a_bowl_is_low_within_a_circle(void **state)
{
    (void)state;
    fixture f;
    setup(&f, test_disc_job(3200), bowl);
    /* below -1.1 mm where c r^2 < c R^2/2 - 1.1: r0^2 = R^2/2 - 1.1/c */
    double r0 = sqrt(1600.0 * 1600 / 2 - 1.1 / bow);
    find(&f, PP_AREA_LOW, 1.1, NULL);
    assert_int_equal(f.count, 1);
    assert_near(f.areas[0].area / (PP_PI * r0 * r0), 1, 1e-4); /* (12.5 / 2 / 895)^2 = 5e-5 */
    assert_near(f.areas[0].peak, bow * 1600 * 1600 / 2, 1e-9);
    assert_near(f.areas[0].x, f.mesh.centre_x, 0.01);
    assert_near(f.areas[0].y, f.mesh.centre_y, 0.01);
    assert_near(f.areas[0].xmin, f.mesh.centre_x - r0, 0.1);
    assert_near(f.areas[0].ymax, f.mesh.centre_y + r0, 0.1);
    assert_int_equal(f.areas[0].side, PP_AREA_LOW);

    /* and high in a ring that the rim cuts off: PP_PI (R^2 - r1^2) */
    double r1 = sqrt(1600.0 * 1600 / 2 + 1.1 / bow);
    find(&f, PP_AREA_HIGH, 1.1, NULL);
    assert_int_equal(f.count, 1);
    assert_near(f.areas[0].area / (PP_PI * (1600.0 * 1600 - r1 * r1)), 1, 2e-4);
    assert_near(f.areas[0].peak, bow * 1600 * 1600 / 2, 1e-9);
    assert_near(hypot(f.areas[0].x - f.mesh.centre_x, f.areas[0].y - f.mesh.centre_y), 1600, 1e-3);
    assert_near(f.areas[0].xmin, f.mesh.centre_x - 1600, 1e-3);

    find(&f, PP_AREA_HIGH, bow * 1600 * 1600 / 2 + 1e-6, NULL); /* never so high */
    assert_int_equal(f.count, 0);
    find(&f, PP_AREA_GAP, -10, NULL); /* everywhere above -10: the whole disc */
    assert_int_equal(f.count, 1);
    assert_near(f.areas[0].area / (PP_PI * 1600 * 1600), 1, 3e-5);
    pp_memory_free(&f.memory);
}

/* z = 2 sin(3 PP_PI x / L) sin(2 PP_PI y / M) on a rectangle from its corner: 3 x 2 bumps of either
 * sign
 */
static const double length = 2700, breadth = 1900;
static shape bumps(double x, double y)
{
    double k = 3 * PP_PI / length, m = 2 * PP_PI / breadth;
    double a = k * (x + length / 2), b = m * (y + breadth / 2);
    return (shape){2 * sin(a) * sin(b), 2 * k * cos(a) * sin(b), 2 * m * sin(a) * cos(b),
                   2 * k * m * cos(a) * cos(b)};
}

/* Where sin a sin b > t in one bump of PP_PI x PP_PI: 2 int acos(t / sin a) da, by the midpoint
 * rule. */
static double bump_area(double t)
{
    enum { STEPS = 200000 };
    double from = asin(t), width = (PP_PI - 2 * from) / STEPS, sum = 0;
    for (int k = 0; k < STEPS; k++) sum += 2 * acos(t / sin(from + (k + 0.5) * width)) * width;
    return sum;
}

static void bumps_come_apart(void **state)
{
    (void)state;
    fixture f;
    setup(&f, test_rectangle_job(length, breadth), bumps);
    double scale = length / (3 * PP_PI) * breadth / (2 * PP_PI);
    double x[] = {113.7, 113.7, 113.7 - 900, 113.7 + 900, 9e9};
    double y[] = {-58.3 - 475, -58.3 + 475, -58.3 - 475, -58.3 + 480, 0};
    pp_nominal nominal = {.count = 5, .x = x, .y = y};
    for (int side = PP_AREA_HIGH; side <= PP_AREA_LOW; side++) {
        find(&f, (pp_area_side)side, 0.7, &nominal);
        assert_int_equal(f.count, 3);
        size_t holes = 0;
        for (size_t k = 0; k < 3; k++) {
            assert_near(f.areas[k].area / (scale * bump_area(0.35)), 1, 3e-4);
            assert_near(f.areas[k].peak, 2, 1e-4); /* (k h)^4 / 384 = 2e-5 each way */
            holes += f.areas[k].holes;
            if (k) assert_true(f.areas[k - 1].area >= f.areas[k].area);
        }
        /* two holes in each sign: centre column's lower bump is low, and so on; one is off */
        assert_int_equal(holes, 2);
    }
    /* at threshold 0 the bumps of one sign meet in points only, and stay apart */
    find(&f, PP_AREA_HIGH, 1e-9, NULL);
    assert_int_equal(f.count, 3);
    assert_near(f.areas[0].area / (length * breadth / 6), 1, 1e-4);
    pp_memory_free(&f.memory);
}

static shape valley(double x, double y)
{
    (void)x;
    return (shape){1e-6 * y * y, 0, 2e-6 * y, 0};
}

/* A valley along a line of samples, narrower than their distance, still parts its two banks. */
static void a_narrow_valley_parts_its_banks(void **state)
{
    (void)state;
    fixture f;
    setup(&f, test_rectangle_job(2000, 2000), valley);
    find(&f, PP_AREA_HIGH, 1e-6 * 3 * 3, NULL);
    assert_int_equal(f.count, 2);
    assert_near(f.areas[0].area, 2000.0 * (1000 - 3), 2000 * 3);
    assert_near(f.areas[0].peak, 1, 1e-9);
    pp_memory_free(&f.memory);
}

static shape slope(double x, double y) { return (shape){1e-3 * x + 5e-4 * y, 1e-3, 5e-4, 0}; }

static void a_slope_peaks_at_the_outline(void **state)
{
    (void)state;
    fixture f;
    setup(&f, test_disc_job(3200), slope);
    find(&f, PP_AREA_HIGH, 0.9, NULL);
    assert_int_equal(f.count, 1);
    /* circular segment beyond the line at distance d = 0.9 / |slope| */
    double s = hypot(1e-3, 5e-4), r = 1600, d = 0.9 / s;
    assert_near(f.areas[0].area / (r * r * acos(d / r) - d * sqrt(r * r - d * d)), 1, 1e-4);
    assert_near(f.areas[0].peak, s * r, 1e-8);
    assert_near(f.areas[0].x - f.mesh.centre_x, r * 1e-3 / s, 0.1);
    pp_memory_free(&f.memory);
    setup(&f, test_rectangle_job(2000, 1000), slope);
    find(&f, PP_AREA_LOW, 1.2, NULL);
    assert_int_equal(f.count, 1);
    /* triangle at the corner (-1000, -500): slope there -1.25, 0.05 to spare: legs 50, 100 */
    assert_near(f.areas[0].area, 50.0 * 100 / 2, 1e-6);
    assert_near(f.areas[0].peak, 1.25, 1e-9);
    assert_near(f.areas[0].xmax, 113.7 - 950, 1e-6);
    assert_near(f.areas[0].ymax, -58.3 - 400, 1e-6);
    pp_memory_free(&f.memory);
}

static void the_map_covers_the_plate(void **state)
{
    (void)state;
    fixture f;
    setup(&f, test_rectangle_job(2700, 1900), bumps);
    pp_map map = pp_map_grid(&f.mesh);
    assert_int_equal(map.columns, 101);
    assert_int_equal(map.rows, 71); /* 100 * 1900 / 2700 = 70.4 */
    assert_near(map.x0 + map.dx * 100, 113.7 + 1350, 1e-9);
    assert_near(map.y0 + map.dy * 70, -58.3 + 950, 1e-9);
    const double *values;
    assert_ok(pp_map_sample(&map, &f.mesh, f.field, &f.memory, &values, &f.error), &f.error);
    for (size_t k = 0; k < map.rows * map.columns; k += 13) {
        double x = (double)(k % 101) * map.dx - 1350, y = (double)(k / 101) * map.dy - 950;
        assert_near(values[k], bumps(x, y).w, 1e-4);
    }
    pp_memory_free(&f.memory);
    setup(&f, test_disc_job(3200), bowl);
    map = pp_map_grid(&f.mesh);
    assert_ok(pp_map_sample(&map, &f.mesh, f.field, &f.memory, &values, &f.error), &f.error);
    assert_true(isnan(values[0]) && isnan(values[101 * 101 - 1]));
    size_t inside = 0;
    for (size_t k = 0; k < 101 * 101; k++) inside += !isnan(values[k]);
    assert_int_equal(inside, 7845); /* lattice points within 50 steps: Gauss circle, N(50) */
    assert_near(values[50 * 101], bow * 1600 * 1600 / 2, 1e-9); /* on the rim */
    pp_memory_free(&f.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bowl_is_low_within_a_circle),
        cmocka_unit_test(bumps_come_apart),
        cmocka_unit_test(a_narrow_valley_parts_its_banks),
        cmocka_unit_test(a_slope_peaks_at_the_outline),
        cmocka_unit_test(the_map_covers_the_plate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
