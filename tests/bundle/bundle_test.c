/* Straight passage, bending and uncertainty of a tube against closed forms.
 *
 * Beams: Young & Budynas, Roark's Formulas for Stress and Strain, 7th ed. (2002), table 8.1 (simply
 * supported, load between: F = 48 EI w / L^3 midway, 3 EI L w / (a b)^2 elsewhere); four supports
 * and two clamping plates by superposition; recalled from memory, and each checked by the
 * equilibrium that the test itself states. At most five discs decide: Helly's theorem in four
 * dimensions. */
#include "base/constants.h"
#include "support/check.h"
#include "support/random.h"

#include "bundle/bending.h"
#include "bundle/placing.h"
#include "bundle/uncertainty.h"

static const double DIAMETER = 25.37, WALL = 2.13, MODULUS = 195300;

static void three_holes_share_a_half_and_two_quarters(void **state)
{
    (void)state;
    /* the middle one 0.3 off the line of the outer two: they give way by 0.15 each */
    const pp_disc discs[] = {
        {-40, 1.1, 2.3, 12.87}, {260, 1.4, 2.3, 12.87}, {560, 1.1, 2.3, 12.87}};
    pp_passage p;
    pp_share share[3];
    pp_passage_find(discs, 3, &p, share);
    assert_near(p.radius, 12.87 - 0.3 / 2, 1e-10);
    assert_near(p.bound, p.radius, 1e-9);
    assert_near(share[0].l, 0.25, 1e-7);
    assert_near(share[1].l, 0.5, 1e-7);
    assert_near(share[2].l, 0.25, 1e-7);
}

static void the_middle_hole_may_stand_anywhere_between(void **state)
{
    (void)state;
    /* margin = D - OD - d wherever it stands; its share stays a half, the others by the far gap */
    const pp_disc discs[] = {{0, 0, 0, 13.1}, {150, 0, -0.46, 13.1}, {600, 0, 0, 13.1}};
    pp_passage p;
    pp_share share[3];
    pp_passage_find(discs, 3, &p, share);
    assert_near(p.radius, 13.1 - 0.46 / 2, 1e-10);
    assert_near(share[0].l, 0.5 * 450 / 600, 1e-7);
    assert_near(share[1].l, 0.5, 1e-7);
    assert_near(share[2].l, 0.5 * 150 / 600, 1e-7);
}

static void one_small_hole_decides_alone(void **state)
{
    (void)state;
    const pp_disc discs[] = {
        {0, 0.02, 0, 13}, {300, -0.03, 0.01, 13.2}, {620, 0, 0.01, 12.6}, {900, 0, 0, 13.1}};
    pp_passage p;
    pp_share share[4];
    pp_passage_find(discs, 4, &p, share);
    assert_near(p.radius, 12.6, 1e-9);
    assert_near(share[2].l, 1, 1e-6);
}

/* discs of 30 plates, drilled with scatter */
static size_t drill(test_random *random, pp_disc discs[PP_EDGES_MAX])
{
    size_t count = 0;
    for (int plate = 0; plate < 30; plate++) {
        double x = 0.15 * random_normal(random), y = 0.15 * random_normal(random);
        for (int edge = 0; edge < 2; edge++)
            discs[count++] =
                (pp_disc){351.7 * plate + 12.3 * edge, x + 0.01 * random_normal(random),
                          y + 0.01 * random_normal(random), 13 + 0.02 * random_normal(random)};
    }
    return count;
}

static void value_and_bound_meet_and_five_discs_decide(void **state)
{
    (void)state;
    test_random random = {71};
    for (int trial = 0; trial < 200; trial++) {
        pp_disc discs[PP_EDGES_MAX];
        pp_share share[PP_EDGES_MAX];
        pp_passage p;
        size_t count = drill(&random, discs), decide = 0;
        pp_passage_find(discs, count, &p, share);
        assert_true(p.bound >= p.radius && p.bound - p.radius < 5e-9);
        assert_true(pp_passage_at_least(discs, count) <= p.radius);
        double least = INFINITY, l = 0, vx = 0, vsx = 0, bound = 0;
        for (size_t i = 0; i < count; i++) {
            least = fmin(least, pp_passage_slack(&p, &discs[i]));
            decide += share[i].l > 1e-5;
            assert_true(hypot(share[i].vx, share[i].vy) <= share[i].l + 1e-12);
            l += share[i].l;
            vx += share[i].vx;
            vsx += share[i].vx * discs[i].s;
            bound += share[i].l * discs[i].r - share[i].vx * discs[i].x - share[i].vy * discs[i].y;
        }
        assert_near(least, p.radius, 1e-9); /* the line does reach it */
        assert_near(l, 1, 1e-12);           /* the shares are a proof, made here again */
        assert_near(vx, 0, 1e-12);
        assert_near(vsx, 0, 1e-8);
        assert_near(bound, p.radius, 5e-9);
        assert_in_range(decide, 3, 5);
    }
}

static void moving_the_whole_set_changes_nothing(void **state)
{
    (void)state;
    test_random random = {5};
    pp_disc discs[PP_EDGES_MAX], other[PP_EDGES_MAX];
    pp_passage p, q;
    size_t count = drill(&random, discs);
    pp_passage_find(discs, count, &p, NULL);
    for (size_t i = 0; i < count; i++) { /* turned, sheared along s, shifted, stations doubled */
        const pp_disc *d = &discs[i];
        other[i] = (pp_disc){2 * d->s - 77, 0.6 * d->x - 0.8 * d->y + 0.001 * d->s + 5,
                             0.8 * d->x + 0.6 * d->y - 0.002 * d->s, d->r};
    }
    pp_passage_find(other, count, &q, NULL);
    assert_near(q.radius, p.radius, 1e-9);
    for (size_t i = 0; i < count; i++) { /* pushed in from the rear */
        other[i] = discs[count - 1 - i];
        other[i].s = -other[i].s;
    }
    pp_passage_find(other, count, &q, NULL);
    assert_near(q.radius, p.radius, 1e-9);
    for (size_t i = 0; i < count; i++) /* seen in a mirror */
        other[i] = (pp_disc){discs[i].s, -discs[i].x, discs[i].y, discs[i].r};
    pp_passage_find(other, count, &q, NULL);
    assert_near(q.radius, p.radius, 1e-9);
}

/* ---- bending ---- */

static double stiffness(void)
{
    double bore = DIAMETER - 2 * WALL;
    return MODULUS * PP_PI / 64 * (pow(DIAMETER, 4) - pow(bore, 4));
}

static void a_beam_on_three_supports(void **state)
{
    (void)state;
    pp_tube_beam beam = pp_tube_beam_of(DIAMETER, WALL, MODULUS, DIAMETER + 0.2);
    double radius = DIAMETER / 2 + 0.1, play = 0.13, d = 2.9, length = 940;
    pp_bent bent;
    pp_edge_force edge[3];
    const pp_disc midway[] = {
        {0, 0, 0, radius + play}, {length / 2, 0, d, radius + play}, {length, 0, 0, radius + play}};
    pp_bending_find(midway, 3, &beam, &bent, edge);
    assert_true(bent.solved);
    double force = 48 * stiffness() * (d - 2 * play) / pow(length, 3);
    assert_near(edge[1].fy / force, 1, 1e-6);
    assert_near(edge[0].fy / force, -0.5, 1e-6);
    assert_near(bent.forces / force, 2, 1e-6);
    assert_near(bent.contact / force, 1, 1e-6);
    double moment = force * length / 4, inertia = stiffness() / MODULUS;
    assert_near(bent.stress / (moment * DIAMETER / 2 / inertia), 1, 1e-6);
    assert_near(bent.energy / (force * (d - 2 * play) / 2), 1, 1e-6);

    double a = 310, b = length - a, at_rest = 0.13; /* off the middle */
    const pp_disc off[] = {
        {0, 0, 0, radius + play}, {a, d, 0, radius + at_rest}, {length, 0, 0, radius + play}};
    pp_bending_find(off, 3, &beam, &bent, edge);
    force = 3 * stiffness() * length * (d - 2 * play) / (a * a * b * b);
    assert_near(edge[1].fx / force, 1, 1e-6);
}

static void a_beam_on_four_supports(void **state)
{
    (void)state;
    /* the second and third of equal spans s raised by d: F = 6 EI (d - 2 g) / (5 s^3) each, from
     * the three-moment equation with M1 = M2 */
    pp_tube_beam beam = pp_tube_beam_of(DIAMETER, WALL, MODULUS, DIAMETER);
    double radius = DIAMETER / 2, play = 0.21, d = 1.7, s = 420;
    const pp_disc discs[] = {{0, 0, 0, radius + play},
                             {s, d, 0, radius + play},
                             {2 * s, d, 0, radius + play},
                             {3 * s, 0, 0, radius + play}};
    pp_bent bent;
    pp_bending_find(discs, 4, &beam, &bent, NULL);
    double force = 6 * stiffness() * (d - 2 * play) / (5 * s * s * s);
    assert_near(bent.contact / force, 1, 1e-6);
    assert_near(bent.forces / force, 4, 1e-6);
}

static void two_thick_plates_clamp(void **state)
{
    (void)state;
    /* two plates of thickness T with no play, T and L between: M = 6 EI d / (L^2 (1 + 2 T / L)) */
    pp_tube_beam beam = pp_tube_beam_of(DIAMETER, WALL, MODULUS, DIAMETER);
    double r = DIAMETER / 2, thick = 50, length = 200, d = 0.83;
    const pp_disc discs[] = {
        {0, 0, 0, r}, {thick, 0, 0, r}, {thick + length, 0, d, r}, {2 * thick + length, 0, d, r}};
    pp_bent bent;
    pp_bending_find(discs, 4, &beam, &bent, NULL);
    double moment = 6 * stiffness() * d / (length * length * (1 + 2 * thick / length));
    assert_near(bent.stress * beam.section / moment, 1, 1e-4); /* the play floor of 1e-6 mm */
}

static void an_arc_strains_the_skin_by_r_over_R(void **state)
{
    (void)state;
    /* holes on a circle of radius R: stress E (OD / 2) / R away from the ends (Euler-Bernoulli) */
    pp_tube_beam beam = pp_tube_beam_of(DIAMETER, WALL, MODULUS, DIAMETER);
    const double arc = 400e3;
    pp_disc discs[21];
    pp_edge_force edge[21];
    pp_bent bent;
    for (int i = 0; i < 21; i++) {
        double s = 300.0 * (i - 10);
        discs[i] = (pp_disc){s, s * s / (2 * arc), 0, DIAMETER / 2};
    }
    pp_bending_find(discs, 21, &beam, &bent, edge);
    assert_near(edge[10].moment / beam.section / (MODULUS * DIAMETER / 2 / arc), 1, 1e-4);
}

static void energy_never_falls_as_the_tube_goes_in(void **state)
{
    (void)state;
    test_random random = {19};
    pp_tube_beam beam = pp_tube_beam_of(DIAMETER, WALL, MODULUS, DIAMETER);
    for (int trial = 0; trial < 20; trial++) {
        pp_disc discs[PP_EDGES_MAX];
        pp_bent bent, worst;
        double before = 0;
        drill(&random, discs);
        for (size_t n = 3; n <= 12; n++) {
            pp_bending_find(discs, n, &beam, &bent, NULL);
            assert_true(bent.solved);
            assert_true(bent.energy >= before * (1 - 1e-6) - 1e-6);
            before = bent.energy;
        }
        pp_bending_going_in(discs, 12, &beam, &worst);
        assert_true(worst.stress >= bent.stress && worst.forces >= bent.forces);
    }
}

/* ---- uncertainty ---- */

static void three_equal_discs_are_known_to_sqrt_three_eighths(void **state)
{
    (void)state;
    const pp_disc discs[] = {{0, 0, 0, 13},     {12, 0, 0, 13.5}, {300, 0.4, 0, 13},
                             {312, 0, 0, 13.5}, {600, 0, 0, 13},  {612, 0, 0, 13.5}};
    const uint8_t plate[] = {0, 0, 1, 1, 2, 2};
    const float u_centre[] = {0.03f, 0.03f, 0.03f, 0.03f, 0.03f, 0.03f};
    const float u_radius[] = {0.01f, 0.01f, 0.01f, 0.01f, 0.01f, 0.01f};
    const bool apart[6] = {false};
    double placed[3] = {0, 0, 0};
    pp_disc_doubts doubts = {6, discs, plate, u_centre, u_radius, apart, placed};
    pp_passage p;
    pp_share share[6];
    pp_passage_find(discs, 6, &p, share);
    double want = 3.0 / 8 * (0.02 * 0.02 + 4 * 0.03 * 0.03);
    assert_near(pp_margin_uncertainty(&doubts, &p, share), sqrt(want), 1e-6);
    placed[1] = 0.05; /* the middle plate pushes with a half */
    assert_near(pp_margin_uncertainty(&doubts, &p, share), sqrt(want + 4 * 0.25 * 0.05 * 0.05),
                1e-6);
}

static void a_tie_is_not_taken_for_certainty(void **state)
{
    (void)state;
    /* all holes alike and in line: no share is determined, the formula alone would say nearly 0 */
    pp_disc discs[12];
    uint8_t plate[12];
    float u_centre[12], u_radius[12];
    bool apart[12] = {false};
    double placed[6] = {0};
    for (int i = 0; i < 12; i++) {
        discs[i] = (pp_disc){300.0 * (i / 2) + 12 * (i % 2), 0, 0, 13};
        plate[i] = (uint8_t)(i / 2);
        u_centre[i] = 0.03f;
        u_radius[i] = 0.01f;
    }
    pp_disc_doubts doubts = {12, discs, plate, u_centre, u_radius, apart, placed};
    pp_passage p;
    pp_share share[12];
    pp_passage_find(discs, 12, &p, share);
    double want = sqrt(3.0 / 8 * (0.02 * 0.02 + 4 * 0.03 * 0.03));
    assert_near(pp_margin_uncertainty(&doubts, &p, share), want, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_holes_share_a_half_and_two_quarters),
        cmocka_unit_test(the_middle_hole_may_stand_anywhere_between),
        cmocka_unit_test(one_small_hole_decides_alone),
        cmocka_unit_test(value_and_bound_meet_and_five_discs_decide),
        cmocka_unit_test(moving_the_whole_set_changes_nothing),
        cmocka_unit_test(a_beam_on_three_supports),
        cmocka_unit_test(a_beam_on_four_supports),
        cmocka_unit_test(two_thick_plates_clamp),
        cmocka_unit_test(an_arc_strains_the_skin_by_r_over_R),
        cmocka_unit_test(energy_never_falls_as_the_tube_goes_in),
        cmocka_unit_test(three_equal_discs_are_known_to_sqrt_three_eighths),
        cmocka_unit_test(a_tie_is_not_taken_for_certainty),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
