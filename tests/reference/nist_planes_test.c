/* Reference planes against the practice pairs of data/reference/nist_planes: least-squares planes
 * as published with the sets, flatness of both zones to 20 digits, and the rows that touch. */
#include "support/nist.h"

static const double UP[3] = {0, 0, 1};

static void check_least_squares(const nist_expected *e, const planes *r)
{
    double fit[6];
    nist_fit(e->name, fit);
    assert_true(nist_angle(r->ls.plane.normal, fit + 3) < 1e-12);
    double offset = 0, sense = 0; /* the largest and least deviation are along mz_n */
    for (int k = 0; k < 3; k++) {
        offset += (r->ls.plane.point[k] - fit[k]) * fit[3 + k];
        sense += r->ls.plane.normal[k] * e->mz_normal[k];
    }
    assert_near(offset, 0, 1e-10);
    assert_near(r->ls.flatness, e->ls_flatness, 1e-10);
    assert_near(r->ls.peak, sense > 0 ? e->ls_max : -e->ls_min, 1e-10);
    assert_near(r->ls.valley, sense > 0 ? -e->ls_min : e->ls_max, 1e-10);
    assert_near(r->ls.rms, e->ls_rms, 1e-10);
}

/* "30 369": the rows, from 1, of one side of the witness */
static void check_side(const char *rows, const pp_minimum_zone *mz, int side)
{
    char text[64] = "";
    for (int k = 0; k < mz->witness_count; k++)
        if (mz->witness[k].side == side)
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s%zu", *text ? " " : "",
                     mz->witness[k].index + 1);
    assert_string_equal(text, rows);
}

static void check_zone(const nist_expected *e, const point_set *p, const planes *r)
{
    /* all that the sets' decimals leave once read as doubles: half an ulp of coordinates to 1e3 */
    assert_near(r->mz.flatness, e->mz_flatness, 1.5e-13);
    assert_true(nist_angle(r->mz.plane.normal, e->mz_normal) < 1e-12);
    assert_zone_proven(p, &r->mz, 1e-11);
    assert_int_equal(r->mz.exact, 1);
    double sense = 0;
    for (int k = 0; k < 3; k++) sense += r->mz.plane.normal[k] * e->mz_normal[k];
    check_side(e->upper, &r->mz, sense > 0 ? 1 : -1);
    check_side(e->lower, &r->mz, sense > 0 ? -1 : 1);
}

static void planes_are_those_of_the_practice_pairs(void **state)
{
    (void)state;
    FILE *file = nist_open("expected", ".csv");
    char line[1024];
    int sets = 0;
    assert_non_null(fgets(line, sizeof line, file));
    while (fgets(line, sizeof line, file)) {
        nist_expected e = nist_row(line);
        point_set p = nist_points(e.name);
        assert_int_equal(p.count, e.points);
        planes r = planes_of(&p, UP, 2);
        check_least_squares(&e, &r);
        check_zone(&e, &p, &r);
        points_free(&p);
        sets++;
    }
    fclose(file);
    assert_int_equal(sets, 20);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(planes_are_those_of_the_practice_pairs)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
