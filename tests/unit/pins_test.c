/* Webs, pins and the softening of a drilled plate. */
#include "support/check.h"

#include "holddown/pin_metal.h"
#include "holddown/softening.h"
#include "linalg/linalg.h"
#include "rules/holddown_rules.h"
#include "support/holdplates.h"
#include "support/random.h"

enum { HOLES_MAX = 2000 };

typedef struct field {
    pp_memory memory;
    double x[HOLES_MAX], y[HOLES_MAX], diameter[HOLES_MAX];
    uint8_t kind[HOLES_MAX];
    pp_nominal nominal;
} field;

static pp_nominal *as_nominal(field *f, size_t count)
{
    f->nominal = (pp_nominal){
        .count = count, .x = f->x, .y = f->y, .kind = f->kind, .diameter = f->diameter};
    return &f->nominal;
}

/* A rhombus of rows x columns of a triangular pattern, or a rectangle of a square one, turned */
static field *lattice(bool triangular, int rows, int columns, double pitch, double turn)
{
    static field made;
    field *f = &made;
    *f = (field){0};
    size_t n = 0;
    for (int j = 0; j < rows; j++)
        for (int i = 0; i < columns; i++) {
            double u = pitch * (i + (triangular ? 0.5 * j : 0));
            double v = pitch * (triangular ? sqrt(0.75) : 1) * j;
            f->x[n] = 411 + u * cos(turn) - v * sin(turn);
            f->y[n] = -237 + u * sin(turn) + v * cos(turn);
            f->diameter[n++] = NAN;
        }
    as_nominal(f, n);
    return f;
}

static pp_pin_request request_of(const field *f, const pp_job *job, double pitch, double hole)
{
    return (pp_pin_request){.job_file = job->path,
                            .outline = pp_job_outline(job),
                            .plate = pp_plate_spec_of(job),
                            .foot = pp_foot_of(job),
                            .gap_limit = job->holddown.gap_limit,
                            .nominal = &f->nominal,
                            .pitch = pitch,
                            .hole_diameter = hole,
                            .pin_diameter = NAN,
                            .clearance = NAN,
                            .spacing = NAN,
                            .threads = 1};
}

/* Common practice, no source: the pin's radius at most p/sqrt 3 - d/2 between three holes of a
 * triangular pattern, p/sqrt 2 - d/2 between four of a square one. For p = 32, d = 25.25 that is
 * 5.850209 and 10.002417 mm. */
static void webs_of_regular_patterns(void **state)
{
    (void)state;
    pp_job job = {.path = "test.ini"};
    pp_error error = {0};
    pp_pin_plan plan;
    field *f = lattice(true, 9, 13, 32, 0.2163);
    pp_pin_request r = request_of(f, &job, 32, 25.25);
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    assert_int_equal(plan.web_count, 2 * 8 * 12); /* two triangles to every rhombus */
    for (size_t k = 0; k < plan.web_count; k++) {
        assert_near(plan.webs[k].radius, 5.850209, 5e-7);
        assert_int_equal(plan.webs[k].holes, 3);
    }
    assert_false(plan.chosen_valid);
    pp_memory_free(&f->memory);

    f = lattice(false, 7, 11, 32, -0.7);
    r = request_of(f, &job, 32, 25.25);
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    assert_int_equal(plan.web_count, 6 * 10); /* each square once, though four triples make it */
    for (size_t k = 0; k < plan.web_count; k++) {
        assert_near(plan.webs[k].radius, 10.002417, 5e-7);
        assert_int_equal(plan.webs[k].holes, 4);
    }
    pp_memory_free(&f->memory);
}

static void a_pin_too_thick_for_any_web_is_refused(void **state)
{
    (void)state;
    pp_job job = {.path = "test.ini"};
    pp_error error = {0};
    pp_pin_plan plan = {.web_count = 77};
    field *f = lattice(true, 6, 6, 32, 0);
    pp_pin_request r = request_of(f, &job, 32, 25.25);
    r.pin_diameter = 10; /* 5 + 1 mm needed, 5.85 there */
    r.clearance = 1;
    assert_int_equal(pp_pins_find(&r, &f->memory, &plan, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "5.850"));
    assert_int_equal(plan.web_count, 77);
    r.clearance = 0.8;
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    r.nominal = NULL;
    assert_int_equal(pp_pins_find(&r, &f->memory, &plan, &error), PP_ENOTHING);
    pp_memory_free(&f->memory);
}

/* A full round field with a lane, two wide bolt holes in the pattern, and pins for it */
static field *round_field(pp_job *job)
{
    field *f = lattice(true, 40, 44, 30, 0);
    size_t n = 0;
    for (size_t h = 0; h < f->nominal.count; h++) {
        double x = f->x[h] - 411 - 30 * 31.5, y = f->y[h] + 237 - 30 * sqrt(0.75) * 19.5;
        if (hypot(x, y) > 470 || fabs(x - 60) < 40) continue;
        f->x[n] = x, f->y[n] = y;
        f->kind[n] = n == 100 || n == 303 ? PP_OTHER_HOLE : PP_TUBE_HOLE;
        f->diameter[n] = n == 100 ? 27.5 : n == 303 ? 5 : NAN;
        n++;
    }
    as_nominal(f, n);
    *job = test_hold_job(PP_OUTLINE_DISC, 1100, 0, 20);
    job->foot.thrust = 1500;
    job->holddown.gap_limit = 0.15;
    return f;
}

static void no_drill_meets_a_pin(void **state)
{
    (void)state;
    pp_job job;
    pp_error error = {0};
    pp_pin_plan plan;
    field *f = round_field(&job);
    pp_pin_request r = request_of(f, &job, 30, 24);
    r.pin_diameter = 9;
    r.clearance = 0.7;
    r.spacing = 260;
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    assert_true(plan.narrow_count > 0); /* around the wide bolt hole */
    assert_true(plan.chosen_valid && plan.pin_count >= 3);
    for (size_t k = 0; k < plan.pin_count + plan.web_count; k++) {
        bool pin = k < plan.pin_count;
        double x = pin ? plan.pin_x[k] : plan.webs[k - plan.pin_count].x;
        double y = pin ? plan.pin_y[k] : plan.webs[k - plan.pin_count].y;
        for (size_t h = 0; h < f->nominal.count; h++) {
            double hole = f->kind[h] == PP_OTHER_HOLE ? f->diameter[h] : 24;
            assert_true(hypot(f->x[h] - x, f->y[h] - y) >= hole / 2 + 4.5 + 0.7 - 1e-6);
        }
        if (pin) assert_true(hypot(x, y) <= 550 - 4.5);
    }
    for (size_t a = 0; a < plan.pin_count; a++)
        for (size_t b = 0; b < a; b++)
            assert_true(hypot(plan.pin_x[a] - plan.pin_x[b], plan.pin_y[a] - plan.pin_y[b]) >=
                        0.4 * plan.spacing);
    pp_memory_free(&f->memory);
}

/* An opening many pitches wide, for a nozzle: its edge is far from where neighbours are looked for.
 */
static void no_pin_stands_in_a_wide_opening(void **state)
{
    (void)state;
    pp_job job;
    pp_error error = {0};
    pp_pin_plan plan;
    field *f = round_field(&job);
    size_t opening = 350, n = 0;
    double cx = f->x[opening], cy = f->y[opening], radius = 110;
    f->x[n] = cx, f->y[n] = cy, f->kind[n] = PP_OTHER_HOLE, f->diameter[n++] = 2 * radius;
    for (size_t h = 1; h < f->nominal.count; h++) { /* no tube holes in it, nor 60 mm around */
        if (hypot(f->x[h] - cx, f->y[h] - cy) < radius + 60) continue;
        f->x[n] = f->x[h], f->y[n] = f->y[h], f->kind[n] = f->kind[h];
        f->diameter[n++] = f->diameter[h];
    }
    as_nominal(f, n);
    pp_pin_request r = request_of(f, &job, 30, 24);
    r.pin_diameter = 9;
    r.clearance = 0.7;
    r.spacing = 50; /* many, whose sag is no matter here */
    r.foot.force = NAN;
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    double least = INFINITY;
    for (size_t k = 0; k < plan.pin_count; k++)
        least = fmin(least, hypot(plan.pin_x[k] - cx, plan.pin_y[k] - cy) - radius - 4.5);
    assert_true(least >= 0.7 - 1e-6 && least < 60);
    pp_memory_free(&f->memory);
}

/* Whatever chose the pins: a list in which a drill would meet one is refused, by distance. */
static void pins_in_a_drills_way_are_refused(void **state)
{
    (void)state;
    pp_error error = {0};
    double hx[] = {0, 100, 400}, hy[] = {0, 0, 0}, diameter[] = {NAN, NAN, 300};
    uint8_t kind[] = {PP_TUBE_HOLE, PP_TUBE_HOLE, PP_OTHER_HOLE};
    pp_nominal nominal = {.count = 3, .x = hx, .y = hy, .kind = kind, .diameter = diameter};
    double x[] = {50, 230.5, 300}, y[] = {0, 0, 0}, metal[3];
    uint32_t nearest;
    assert_ok(
        pp_pins_check_metal(&(pp_pin_clearance){&nominal, 40, 20, 9.5}, 2, x, y, metal, &error),
        &error);
    assert_near(metal[0], 50 - 20 - 10, 1e-12);
    assert_near(metal[1], 169.5 - 150 - 10, 1e-12);
    assert_int_equal(
        pp_pins_check_metal(&(pp_pin_clearance){&nominal, 40, 20, 9.51}, 2, x, y, metal, &error),
        PP_ENUMERIC);
    assert_non_null(strstr(error.message, "(230.5, 0) would stand 9.500 mm from a hole"));
    assert_int_equal(
        pp_pins_check_metal(&(pp_pin_clearance){&nominal, 40, 20, 0}, 3, x, y, metal, &error),
        PP_ENUMERIC);
    assert_near(pp_pin_metal(&nominal, 40, 20, 300, 0, &nearest), -60, 1e-12);
    assert_int_equal(nearest, 2);
}

static void closer_pins_sag_less(void **state)
{
    (void)state;
    pp_job job;
    pp_error error = {0};
    pp_pin_plan found, wide;
    field *f = round_field(&job);
    pp_pin_request r = request_of(f, &job, 30, 24);
    r.pin_diameter = 9;
    assert_ok(pp_pins_find(&r, &f->memory, &found, &error), &error);
    assert_int_equal(pp_pins_judge(&found, 0.15, NAN).sag, PP_CONFORMS);
    assert_int_equal(pp_pins_judge(&found, 0.15, NAN).load, PP_NOT_JUDGED);
    double load = found.largest_pin_force;
    assert_int_equal(pp_pins_judge(&found, 0.15, 0.99 * load).load, PP_DOES_NOT_CONFORM);
    assert_int_equal(pp_pins_judge(&found, 0.15, 1.01 * load).load, PP_CONFORMS);
    assert_true(found.sag > 0 && found.sag <= 0.15 + 1e-6);
    r.spacing = found.spacing / 0.82; /* the spacing tried before it was too wide */
    assert_ok(pp_pins_find(&r, &f->memory, &wide, &error), &error);
    assert_true(wide.pin_count < found.pin_count);
    assert_int_not_equal(pp_pins_judge(&wide, 0.15, NAN).sag, PP_CONFORMS);
    pp_memory_free(&f->memory);
}

/* A square plate on four corner pins: the middle sags by the plate formula's share of 1/D, so the
 * drilled state's sag stands to the solid one's as the rigidities do, by the same constants
 * throughout (the pattern covers all but a rim); and without softening asked for it counts too. */
static void the_drilled_state_counts_too(void **state)
{
    (void)state;
    pp_error error = {0};
    pp_pin_plan plan;
    field *f = lattice(false, 33, 33, 30, 0);
    for (size_t h = 0; h < f->nominal.count; h++) f->x[h] -= 411 + 480, f->y[h] += 237 - 480;
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 1000, 1000, 20);
    job.holddown.gap_limit = 0.15;
    pp_pin_request r = request_of(f, &job, 30, 23);
    r.pin_diameter = 8;
    r.spacing = 900;
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    double e, nu;
    assert_true(pp_softening_constants(PP_SQUARE, 7.0 / 30, 20.0 / 30, &e, &nu));
    assert_true(plan.solid.valid && plan.drilled.valid);
    assert_near(plan.drilled.sag / plan.solid.sag, (1 - nu * nu) / (e * (1 - 0.3 * 0.3)),
                0.15 * plan.drilled.sag / plan.solid.sag);
    assert_near(plan.sag, plan.drilled.sag, 0);
    r.gap_limit = 0.5 * (plan.solid.sag + plan.drilled.sag);
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    assert_int_equal(pp_pins_judge(&plan, r.gap_limit, NAN).sag, PP_DOES_NOT_CONFORM);
    r.spacing = NAN; /* set closer until both hold */
    assert_ok(pp_pins_find(&r, &f->memory, &plan, &error), &error);
    assert_int_equal(pp_pins_judge(&plan, r.gap_limit, NAN).sag, PP_CONFORMS);
    assert_true(plan.spacing < 900);
    for (size_t k = 0; k < plan.pin_count; k++) {
        assert_true(plan.metal[k] >= -1e-6);
        assert_true(plan.drilled.force[k] <= plan.drilled.largest_force);
    }
    pp_memory_free(&f->memory);
}

/* Values by hand from the polynomials: triangular, mu 0.25, thickness 2 pitches or more:
 * E ratio -0.0029 + 0.2126/4 + 3.9906/16 - 6.173/64 + 3.4307/256 = 0.21661;
 * nu 0.9966 - 4.1978/4 + 9.0478/16 - 7.9955/64 + 2.2398/256 = 0.39647.
 * Square, mu 0.4, thickness a pitch: E ratio a third of the way from the 0.5 row (0.45931) to the
 * 2.0 row (0.45889). */
static void effective_constants_of_patterns(void **state)
{
    (void)state;
    double e, nu, e_half, e_two;
    assert_true(pp_softening_constants(PP_TRIANGULAR, 0.25, 2, &e, &nu));
    assert_near(e, -0.0029 + 0.2126 / 4 + 3.9906 / 16 - 6.173 / 64 + 3.4307 / 256, 1e-12);
    assert_near(nu, 0.9966 - 4.1978 / 4 + 9.0478 / 16 - 7.9955 / 64 + 2.2398 / 256, 1e-12);
    assert_true(pp_softening_constants(PP_TRIANGULAR, 0.25, 7, &e_two, &nu));
    assert_near(e_two, e, 0);
    assert_true(pp_softening_constants(PP_SQUARE, 0.4, 0.5, &e_half, &nu));
    assert_true(pp_softening_constants(PP_SQUARE, 0.4, 2, &e_two, &nu));
    assert_true(pp_softening_constants(PP_SQUARE, 0.4, 1, &e, &nu));
    assert_near(e, e_half + (e_two - e_half) / 3, 1e-12);
    assert_false(pp_softening_constants(PP_TRIANGULAR, 0.09, 2, &e, &nu));
    assert_false(pp_softening_constants(PP_SQUARE, 0.61, 2, &e, &nu));
    /* within the range: between nothing and the solid plate, stiffer with more ligament */
    for (int kind = PP_TRIANGULAR; kind <= PP_SQUARE; kind++)
        for (double ratio = 0.1; ratio < 3; ratio *= 1.3) {
            double before = 0;
            for (double mu = 0.1; mu <= 0.6; mu += 0.0173) {
                assert_true(pp_softening_constants((pp_pattern_kind)kind, mu, ratio, &e, &nu));
                assert_true(e > before && e < 1);
                assert_true(nu > -0.12 && nu < 0.72);
                before = e;
            }
        }
}

static void the_drilled_part_is_found(void **state)
{
    (void)state;
    pp_job job;
    pp_error error = {0};
    pp_mesh mesh;
    pp_softening soft;
    field *f = round_field(&job);
    assert_ok(pp_mesh_make(pp_job_outline(&job), 24, &f->memory, &mesh, &error), &error);
    pp_drilling drilling = {
        .nominal = &f->nominal, .pitch = 30, .hole_diameter = 24, .thickness = 20};
    assert_ok(pp_softening_find(&mesh, &drilling, &f->memory, &soft, &error), &error);
    assert_int_equal(soft.kind, PP_TRIANGULAR);
    assert_near(soft.efficiency, 0.2, 1e-12);
    /* a circle of 470 mm and half a hole's area about it, less a lane of 80 mm: 72 % of the disc */
    assert_near(soft.share, 0.66, 0.07);
    assert_int_equal(soft.region[12 * 24 + 3], 1);
    assert_int_equal(soft.region[12 * 24 + 0], 0); /* the rim is not drilled */
    drilling.hole_diameter = 28;                   /* mu 0.067 */
    assert_int_equal(pp_softening_find(&mesh, &drilling, &f->memory, &soft, &error), PP_EINPUT);
    drilling.hole_diameter = 24;
    drilling.pitch = NAN;
    assert_int_equal(pp_softening_find(&mesh, &drilling, &f->memory, &soft, &error), PP_EINPUT);
    pp_memory_free(&f->memory);
}

/* A softened plate gives more: with the same constants throughout as much as its rigidity says. */
static void a_softened_plate_gives_more(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 1200, 900, 20);
    pp_mesh mesh;
    assert_ok(pp_mesh_make(pp_job_outline(&job), 12, &memory, &mesh, &error), &error);
    size_t size = mesh.dofs * (mesh.half_bandwidth + 1);
    double *one = pp_arena_take(&memory.keep, size, 8), *two = pp_arena_take(&memory.keep, size, 8);
    unsigned char *part = pp_arena_take_zero(&memory.keep, mesh.nx * mesh.ny, 1);
    for (size_t c = 0; c < mesh.nx * mesh.ny; c++) part[c] = c % 3 != 0;
    const pp_plate_part same[] = {{0.37, 0.3}, {0.37, 0.3}};
    assert_ok(pp_mesh_stiffness(&mesh, 0.3, one, &error), &error);
    assert_ok(pp_mesh_stiffness_parts(&mesh, part, 2, same, NULL, two, &error), &error);
    for (size_t i = 0; i < size; i++) assert_near(two[i], 0.37 * one[i], 1e-14 * one[0]);
    pp_memory_free(&memory);
}

static void level(double x, double y, double w[4])
{
    (void)x, (void)y;
    w[0] = w[1] = w[2] = w[3] = 0;
}

/* The middle of an inner panel of a flat slab on rows of columns gives by 0.00581 q a^4 / D
 * (Timoshenko and Woinowsky-Krieger, table of flat slabs, from memory). Here six by six pins carry
 * the weight, and the plate overhangs by a / sqrt 6, where a free edge bends it over the outer pins
 * as a further panel would: q c^2 / 2 = q a^2 / 12. */
static void a_panel_on_rows_of_pins_sags_by_the_handbook(void **state)
{
    (void)state;
    enum { ROWS = 6, CELLS = 48 };
    static double x[ROWS * ROWS], y[ROWS * ROWS];
    const double panel = 300, side = (ROWS - 1 + 2 / sqrt(6)) * panel;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_state rest;
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, side, side, 12);
    job.survey.laid = PP_LAID_FREE;
    job.support.seat = PP_SEAT_LEVEL;
    for (int i = 0; i < ROWS; i++)
        for (int j = 0; j < ROWS; j++) {
            x[i * ROWS + j] = (i - 0.5 * (ROWS - 1)) * panel;
            y[i * ROWS + j] = (j - 0.5 * (ROWS - 1)) * panel;
        }
    pp_place_list pins = {.count = ROWS * ROWS, .x = x, .y = y};
    pp_hold_setup given = pp_hold_setup_of(&job, 0.005, &pins, NULL);
    assert_ok(pp_mesh_make(pp_job_outline(&job), CELLS, &memory, &mesh, &error), &error);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, level, &memory), &given, NULL, 2, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &rest, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &rest, &error), &error);
    pp_probe middle;
    pp_probe_point(&plate.compliance, 0, 0, 0, 0, &middle);
    double load = plate.weight / (side * side);
    double sag = -pp_probe_field(&middle, rest.field) * plate.compliance.rigidity /
                 (load * panel * panel * panel * panel);
    assert_near(sag, 0.00581, 0.01 * 0.00581);
    pp_memory_free(&memory);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(webs_of_regular_patterns),
        cmocka_unit_test(a_pin_too_thick_for_any_web_is_refused),
        cmocka_unit_test(no_drill_meets_a_pin),
        cmocka_unit_test(no_pin_stands_in_a_wide_opening),
        cmocka_unit_test(pins_in_a_drills_way_are_refused),
        cmocka_unit_test(closer_pins_sag_less),
        cmocka_unit_test(a_panel_on_rows_of_pins_sags_by_the_handbook),
        cmocka_unit_test(the_drilled_state_counts_too),
        cmocka_unit_test(effective_constants_of_patterns),
        cmocka_unit_test(the_drilled_part_is_found),
        cmocka_unit_test(a_softened_plate_gives_more),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
