/* The free plate's compliance, and whole contact states checked against the plate's own equations:
 * K (w - w_m) = reactions - survey load - foot, assembled afresh here. */
#include "support/check.h"

#include "holddown/under_foot.h"
#include "linalg/linalg.h"
#include "support/holdplates.h"

static void wavy(double x, double y, double w[4])
{
    double a = x / 700, b = y / 900;
    w[0] = 0.9 * a * a - 0.5 * a * b + 0.31 * b * b * b + 1.7;
    w[1] = (1.8 * a - 0.5 * b) / 700;
    w[2] = (-0.5 * a + 0.93 * b * b) / 900;
    w[3] = -0.5 / 700 / 900;
}

static pp_mesh make_mesh(const pp_job *job, size_t cells, pp_memory *memory)
{
    pp_mesh mesh;
    pp_error error = {0};
    assert_ok(pp_mesh_make(pp_job_outline(job), cells, memory, &mesh, &error), &error);
    return mesh;
}

static void the_near_inverse_is_the_inverse(void **state)
{
    (void)state;
    static const pp_outline outlines[] = {PP_OUTLINE_DISC, PP_OUTLINE_RECTANGLE};
    for (int o = 0; o < 2; o++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_job job = test_hold_job(outlines[o], 2300, 1400, 31);
        pp_mesh mesh = make_mesh(&job, 14, &memory);
        size_t n = mesh.dofs;
        double *band = pp_arena_take(&memory.keep, n * (mesh.half_bandwidth + 1), sizeof *band);
        assert_ok(pp_mesh_stiffness(&mesh, 0.3, band, &error), &error);
        pp_compliance c;
        const double reach = 210, rigidity = 5.3e8;
        assert_ok(pp_compliance_make(&mesh, band, rigidity, reach, &memory, &c, &error), &error);
        double *x = pp_arena_take(&memory.keep, n, sizeof *x);
        static const double at[][2] = {{17, 33}, {-640, 210}, {700, -610}, {0, 690}, {-1049, 0}};
        for (size_t k = 0; k < sizeof at / sizeof *at; k++) {
            pp_probe ring, centre, slope;
            pp_probe_ring(&c, at[k][0], at[k][1], reach, &ring);
            pp_probe_point(&c, at[k][0], at[k][1], 0, 0, &centre);
            pp_probe_point(&c, at[k][0], at[k][1], 0, 1, &slope);
            memset(x, 0, n * sizeof *x);
            for (size_t i = 0; i < ring.count; i++) x[ring.dof[i]] = ring.value[i];
            assert_ok(pp_compliance_solve(&c, 1, x, &error), &error);
            double height = pp_probe_field(&centre, x), tilt = pp_probe_field(&slope, x);
            assert_near(pp_probe_between(&c, &centre, &ring) / height, 1, 1e-9);
            assert_near(pp_probe_between(&c, &slope, &ring), tilt, 1e-9 * fabs(height) / 100);
        }
        pp_memory_free(&memory);
    }
}

static void a_ring_over_the_rim_stands_on_the_plate(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 0, 20);
    pp_mesh mesh = make_mesh(&job, 12, &memory);
    double *band = pp_arena_take(&memory.keep, mesh.dofs * (mesh.half_bandwidth + 1), 8);
    assert_ok(pp_mesh_stiffness(&mesh, 0.3, band, &error), &error);
    pp_compliance c;
    assert_ok(pp_compliance_make(&mesh, band, 1e8, 60, &memory, &c, &error), &error);
    pp_probe probe;
    pp_probe_ring(&c, 980, 0, 60, &probe);
    /* of the 8 places only the three towards -x and the two across at x = 980 are within; +-y: r =
     * hypot(980, 60) = 981.8 < 1000. Their mean stands for the whole force. */
    double across = 60 * cos(0.7853981633974483);
    double mean_x = (980 - 60 + 2 * (980 - across) + 2 * 980) / 5;
    assert_near(probe.rigid[0], 1, 1e-14);
    assert_near(probe.rigid[1], mean_x / c.length, 1e-12);
    assert_near(probe.rigid[2], 0, 1e-12);
    pp_memory_free(&memory);
}

/* K w for the plate's rigidity, w the field of a state */
static double *plate_force(const pp_hold_plate *plate, const double *field, pp_memory *memory)
{
    const pp_mesh *m = plate->mesh;
    pp_error error = {0};
    double *band = pp_arena_take(&memory->keep, m->dofs * (m->half_bandwidth + 1), sizeof *band);
    double *force = pp_arena_take(&memory->keep, m->dofs, sizeof *force);
    assert_ok(pp_mesh_stiffness(m, 0.3, band, &error), &error);
    pp_band_multiply(m->dofs, m->half_bandwidth, band, field, force);
    for (size_t i = 0; i < m->dofs; i++) force[i] *= plate->compliance.rigidity;
    return force;
}

/* A node beyond the rim that touches no active cell is inert: its dofs mean nothing. */
static bool inert(const pp_mesh *m, size_t i, size_t j)
{
    for (size_t b = j ? j - 1 : 0; b <= j && b < m->ny; b++)
        for (size_t a = i ? i - 1 : 0; a <= i && a < m->nx; a++)
            if (m->fraction[b * m->nx + a] > 0) return false;
    return true;
}

static void add_force(const pp_probe *probe, double force, double *load)
{
    for (size_t k = 0; k < probe->count; k++) load[probe->dof[k]] += force * probe->value[k];
}

/* Put a force on a settled plate, build the whole deflection field from the answer, and hold it
 * against the plate's equations and the contact conditions. */
static void check_pressed(const pp_hold_plate *plate, const pp_hold_state *at_rest, double x,
                          double y, double force, pp_memory *memory)
{
    size_t m = plate->points.count, n = plate->mesh->dofs;
    pp_error error = {0};
    pp_contact_work work;
    pp_probe foot, support;
    double *g = pp_arena_take(&memory->keep, m, 8), *d = pp_arena_take(&memory->keep, m, 8);
    double *tmp = pp_arena_take(&memory->keep, 2 * m, 8), motion[3], whole[3];
    double *r = pp_arena_take(&memory->keep, m, 8), *gap = pp_arena_take(&memory->keep, m, 8);
    double *u = pp_arena_take(&memory->keep, n, 8), *w = pp_arena_take(&memory->keep, n, 8);
    assert_ok(pp_contact_work_take(m, &memory->keep, &work, &error), &error);
    pp_probe_ring(&plate->compliance, x, y, plate->foot_radius, &foot);
    pp_influence_probe(&plate->influence, &foot, g);
    pp_contact_columns(&at_rest->base, 1, g, foot.rigid, d, motion, tmp);
    assert_ok(pp_contact_solve(&at_rest->base, d, force, false, &work, &error), &error);
    pp_contact_state(&at_rest->base, &work, force, motion, r, gap, whole);

    /* w = shape - Ks^-1 (survey load + foot) + sum r_i u_i + rigid motion */
    memcpy(u, plate->survey_load, n * sizeof *u);
    add_force(&foot, force, u);
    assert_ok(pp_compliance_solve(&plate->compliance, 1, u, &error), &error);
    for (size_t i = 0; i < n; i++) w[i] = plate->shape[i] - u[i];
    pp_influence_field(&plate->influence, n, r, w);
    const pp_mesh *mesh = plate->mesh;
    for (size_t node = 0; node < mesh->nodes; node++) {
        size_t fast = (mesh->x_fastest ? mesh->nx : mesh->ny) + 1;
        size_t i = mesh->x_fastest ? node % fast : node / fast;
        size_t j = mesh->x_fastest ? node / fast : node % fast;
        double px = mesh->x0 + (double)i * mesh->hx - mesh->centre_x;
        double py = mesh->y0 + (double)j * mesh->hy - mesh->centre_y;
        for (size_t k = 0; k < 4 && inert(mesh, i, j); k++)
            w[4 * node + k] = plate->shape[4 * node + k];
        if (inert(mesh, i, j)) continue;
        w[4 * node] += whole[0] + (whole[1] * px + whole[2] * py) / plate->compliance.length;
        w[4 * node + 1] += whole[1] * mesh->hx / plate->compliance.length;
        w[4 * node + 2] += whole[2] * mesh->hy / plate->compliance.length;
    }

    double *bent = pp_arena_take(&memory->keep, n, sizeof *bent);
    for (size_t i = 0; i < n; i++) bent[i] = w[i] - plate->shape[i];
    double *force_on = plate_force(plate, bent, memory), largest = 0;
    for (size_t i = 0; i < m; i++) {
        largest = fmax(largest, r[i]);
        double lift = plate->survey_lift ? plate->survey_lift[i] : 0;
        pp_probe_point(&plate->compliance, plate->supports.x[i], plate->supports.y[i], 0, 0,
                       &support);
        add_force(&support, -r[i], force_on);
        double y_i = pp_probe_field(&support, w) - plate->supports.height[i] + lift;
        assert_near(y_i, gap[i], 2e-6); /* same gap */
        assert_true(y_i >= -2e-6);      /* no penetration */
        assert_true(r[i] >= -at_rest->base.eps * gap[i] - 1e-6 * plate->weight); /* no pull */
        assert_near(r[i] * y_i, 0, 2e-6 * plate->weight + at_rest->base.eps * y_i * y_i);
    }
    add_force(&foot, force, force_on);
    for (size_t i = 0; i < n; i++)
        assert_near(force_on[i] + plate->survey_load[i], 0, 1e-6 * (plate->weight + force));
    assert_true(largest > 0);
}

static void check_plate(pp_job job, const pp_place_list *pins, const pp_place_list *three)
{
    static const double at[][2] = {{10, 20}, {-500, 300}, {620, -250}, {300, 610}};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_mesh mesh = make_mesh(&job, 12, &memory);
    pp_hold_plate plate;
    pp_hold_state at_rest;
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.01, pins, three);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, wavy, &memory), &setup, NULL, 1, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &at_rest, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &at_rest, &error), &error);
    for (size_t k = 0; k < sizeof at / sizeof *at; k++)
        for (double force = 700; force < 50000; force *= 7.3)
            check_pressed(&plate, &at_rest, at[k][0], at[k][1], force, &memory);
    pp_memory_free(&memory);
}

static void contact_conditions_hold_on_plates(void **state)
{
    (void)state;
    double px[] = {-700, 0, 690, -710, 20, 700, 0}, py[] = {-600, -640, -600, 600, 610, 590, 10};
    double pz[] = {0, 0.3, -0.2, 0.1, 0, 0, 0.4};
    double tx[] = {-600, 640, 20}, ty[] = {-500, -480, 600};
    pp_place_list pins = {7, px, py, pz, NULL, NULL}, three = {3, tx, ty, pz + 4, NULL, NULL};
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2100, 0, 22);
    job.support.seat = PP_SEAT_REST;
    job.foot.outer_diameter = 160;
    job.foot.inner_diameter = 90;
    check_plate(job, NULL, NULL);
    job.survey.laid = PP_LAID_FREE;
    check_plate(job, NULL, NULL);
    check_plate(job, &pins, NULL);
    job.survey.laid = PP_LAID_ON_SUPPORTS;
    check_plate(job, &pins, NULL);
    job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 1700, 35);
    job.survey.laid = PP_LAID_ON_THREE_POINTS;
    check_plate(job, NULL, &three);
    check_plate(job, &pins, &three);
}

/* On a thin sheet the foot changes contact almost everywhere: hundreds of supports let go. Places
 * in a chain are then solved about a nearer base; one by one from the sheet at rest they must come
 * out the same. */
static void a_chain_of_places_on_a_thin_sheet(void **state)
{
    (void)state;
    enum { PLACES = 90 };
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 1800, 1500, 4);
    job.survey.laid = PP_LAID_FREE;
    job.foot.outer_diameter = job.foot.inner_diameter = 90;
    job.foot.thrust = 700;
    pp_mesh mesh = make_mesh(&job, 24, &memory);
    pp_hold_plate plate;
    pp_hold_state at_rest;
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.01, NULL, NULL);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, wavy, &memory), &setup, NULL, 1, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &at_rest, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &at_rest, &error), &error);
    double x[PLACES], y[PLACES];
    for (int k = 0; k < PLACES; k++) x[k] = -700 + 15.5 * k, y[k] = 220 + 60 * sin(0.3 * k);
    pp_hold_places places = {PLACES, x, y};
    pp_hold_question question = {.force = 15000, .thrust = 700, .gap_limit = 0.2, .force_cap = NAN};
    pp_hold_answer together[PLACES], alone;
    assert_ok(
        pp_hold_press(&plate, &at_rest,
                      &(pp_hold_visit){.question = &question, .places = &places, .count = PLACES},
                      &memory, together, NULL, &error),
        &error);
    size_t m = plate.points.count, most = 0;
    pp_contact_work work;
    double *g = pp_arena_take(&memory.keep, m, 8), *d = pp_arena_take(&memory.keep, m, 8);
    double *tmp = pp_arena_take(&memory.keep, 2 * m, 8), motion[3];
    assert_ok(pp_contact_work_take(m, &memory.keep, &work, &error), &error);
    for (uint32_t k = 0; k < PLACES; k += 7) {
        assert_ok(
            pp_hold_press(
                &plate, &at_rest,
                &(pp_hold_visit){.question = &question, .places = &places, .count = 1, .which = &k},
                &memory, &alone, NULL, &error),
            &error);
        assert_near(together[k].gap_under_foot, alone.gap_under_foot, 1e-6);
        assert_near(together[k].gap_in_thrust, alone.gap_in_thrust, 1e-6);
        assert_near(together[k].held_gap, alone.held_gap, 1e-6);
        assert_near(together[k].tilt, alone.tilt, 1e-8);
        assert_near(together[k].force_to_close, alone.force_to_close,
                    1e-4 * alone.force_to_close + 0.01);
        assert_near(together[k].largest_support, alone.largest_support, 0.5);
        pp_probe foot;
        pp_probe_ring(&plate.compliance, x[k], y[k], plate.foot_radius, &foot);
        pp_influence_probe(&plate.influence, &foot, g);
        pp_contact_columns(&at_rest.base, 1, g, foot.rigid, d, motion, tmp);
        pp_contact_work_begin(&work);
        assert_ok(pp_contact_solve(&at_rest.base, d, 15000, false, &work, &error), &error);
        if (work.changed_count > most) most = work.changed_count;
        check_pressed(&plate, &at_rest, x[k], y[k], 15000, &memory);
    }

    assert_true(most > 120); /* so that the nearer base was called for */
    pp_memory_free(&memory);
}

/* Over the same three supports as when surveyed nothing has changed: the shape is as it was. */
static void on_its_three_survey_supports_a_plate_lies_as_surveyed(void **state)
{
    (void)state;
    double tx[] = {-600, 640, 20}, ty[] = {-500, -480, 600}, tz[3] = {0};
    pp_place_list three = {3, tx, ty, tz, NULL, NULL};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 1700, 9);
    job.survey.laid = PP_LAID_ON_THREE_POINTS;
    pp_mesh mesh = make_mesh(&job, 12, &memory);
    pp_hold_plate plate;
    pp_hold_state at_rest;
    pp_hold_setup setup = pp_hold_setup_of(&job, 0, &three, &three);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, wavy, &memory), &setup, NULL, 1, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &at_rest, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &at_rest, &error), &error);
    assert_int_equal(at_rest.base.active, 3);
    /* statics: each reaction over the weight is the centre's share of its corner */
    double area = (tx[1] - tx[0]) * (ty[2] - ty[0]) - (tx[2] - tx[0]) * (ty[1] - ty[0]);
    for (int k = 0; k < 3; k++) {
        int a = (k + 1) % 3, b = (k + 2) % 3;
        assert_near(at_rest.base.v[k] / plate.weight, (tx[a] * ty[b] - tx[b] * ty[a]) / area, 1e-9);
    }
    for (size_t i = 3; i < mesh.dofs; i += 4) /* twist: free of any rigid motion */
        assert_near(at_rest.field[i], plate.shape[i], 1e-7);
    pp_memory_free(&memory);
}

static void turning_over_twice_changes_nothing(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2100, 0, 22);
    pp_mesh mesh = make_mesh(&job, 11, &memory);
    job.support.seat = PP_SEAT_REST;
    pp_hold_plate plate, once, twice;
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.01, NULL, NULL);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, wavy, &memory), &setup, NULL, 1, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_plate_turn(&plate, &memory, &once, &error), &error);
    assert_ok(pp_hold_plate_turn(&once, &memory, &twice, &error), &error);
    double total = 0;
    for (size_t i = 0; i < mesh.dofs; i++) {
        assert_near(twice.shape[i], plate.shape[i], 0);
        assert_near(twice.survey_load[i], plate.survey_load[i], 1e-9 * plate.weight);
        if (i % 4 == 0) total += once.survey_load[i];
    }
    assert_near(total, plate.weight, 1e-6 * plate.weight);
    pp_memory_free(&memory);
}

/* Clamps that change no contact change the plate all the same. */
static void a_state_settled_again_is_pressed_with_the_forces_it_has(void **state)
{
    (void)state;
    enum { PINS = 5, PLACES = 3 };
    double x[PINS] = {-500, 500, 500, -500, 0}, y[PINS] = {-350, -350, 350, 350, 0};
    double at_x[PLACES] = {-240, 30, 380}, at_y[PLACES] = {10, 180, -130};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_place_list pins = {.count = PINS, .x = x, .y = y};
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 1200, 900, 20);
    pp_mesh mesh = make_mesh(&job, 12, &memory);
    pp_hold_setup given = pp_hold_setup_of(&job, 0.005, &pins, NULL);
    pp_hold_plate plate;
    pp_hold_state whole, again;
    assert_ok(pp_hold_plate_make(&mesh, pp_arena_take_zero(&memory.keep, mesh.dofs, sizeof(double)),
                                 &given, NULL, 1, &memory, &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &whole, &error), &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &again, &error), &error);
    pp_probe probe;
    double *deflection = pp_arena_take(&memory.keep, mesh.dofs, sizeof *deflection);
    pp_probe_point(&plate.compliance, 250, 100, 0, 0, &probe);
    assert_ok(pp_hold_deflect(&plate, &probe, deflection, &error), &error);
    pp_hold_force clamp = {.force = 100, .deflection = deflection};
    memcpy(clamp.rigid, probe.rigid, sizeof clamp.rigid);
    assert_ok(pp_hold_settle(&plate, NULL, 1, &clamp, NULL, &memory, &again, &error), &error);
    clamp.force = 200;
    assert_ok(pp_hold_resettle(&plate, 1, &clamp, &memory, &again, &error), &error);
    assert_int_equal(again.changed_count, 0);
    assert_ok(pp_hold_settle(&plate, NULL, 1, &clamp, NULL, &memory, &whole, &error), &error);
    pp_hold_places places = {.count = PLACES, .x = at_x, .y = at_y};
    pp_hold_question question = {
        .force = 300, .thrust = NAN, .gap_limit = 0.3, .force_cap = NAN, .only_gap = true};
    pp_hold_visit visit = {.question = &question, .places = &places, .count = PLACES};
    pp_hold_answer want[PLACES], got[PLACES];
    assert_ok(pp_hold_press(&plate, &whole, &visit, &memory, want, NULL, &error), &error);
    assert_ok(pp_hold_press(&plate, &again, &visit, &memory, got, NULL, &error), &error);
    for (size_t k = 0; k < PLACES; k++)
        assert_near(got[k].gap_under_foot, want[k].gap_under_foot, 1e-9);
    pp_memory_free(&memory);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_near_inverse_is_the_inverse),
        cmocka_unit_test(a_ring_over_the_rim_stands_on_the_plate),
        cmocka_unit_test(contact_conditions_hold_on_plates),
        cmocka_unit_test(a_chain_of_places_on_a_thin_sheet),
        cmocka_unit_test(on_its_three_survey_supports_a_plate_lies_as_surveyed),
        cmocka_unit_test(turning_over_twice_changes_nothing),
        cmocka_unit_test(a_state_settled_again_is_pressed_with_the_forces_it_has),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
