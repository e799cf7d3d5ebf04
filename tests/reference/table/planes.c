/* Reference planes and zones. */
#include "support/nist.h"
#include "support/surveys.h"
#include "table.h"

static const double UP[3] = {0, 0, 1};

static void practice_pairs(ref_table *t)
{
    const char *pair = "NIST practice pair", *zone = "computed three independent ways";
    FILE *file = nist_open("expected", ".csv");
    char line[1024];
    assert_non_null(fgets(line, sizeof line, file));
    while (fgets(line, sizeof line, file)) {
        nist_expected e = nist_row(line);
        double fit[6], offset = 0;
        nist_fit(e.name, fit);
        point_set p = nist_points(e.name);
        planes r = planes_of(&p, UP, 2);
        for (int k = 0; k < 3; k++) offset += (r.ls.plane.point[k] - fit[k]) * fit[3 + k];
        ref_row(t, pair, 0, nist_angle(r.ls.plane.normal, fit + 3), 1e-12,
                "%s least squares, normal off by, rad", e.name);
        ref_row(t, pair, 0, offset, 1e-10, "%s least squares, plane off by, mm", e.name);
        ref_row(t, zone, e.ls_flatness, r.ls.flatness, 1e-10, "%s least squares, flatness, mm",
                e.name);
        ref_row(t, zone, e.ls_rms, r.ls.rms, 1e-10, "%s least squares, rms, mm", e.name);
        ref_row(t, zone, e.mz_flatness, r.mz.flatness, 1.5e-13, "%s minimum zone, mm", e.name);
        ref_row(t, zone, 0, nist_angle(r.mz.plane.normal, e.mz_normal), 1e-12,
                "%s minimum zone, normal off by, rad", e.name);
        points_free(&p);
    }
    fclose(file);
}

static void pearson(ref_table *t)
{
    const char *published = "Pearson, Phil. Mag. 2 (1901) 559", *computed = "computed, 20 digits";
    point_set p = points_pearson();
    planes r = planes_of(&p, UP, 1);
    const double *n = r.ls.plane.normal, *c = r.ls.plane.point;
    ref_row(t, published, -0.5455611975, -n[0] / n[2], 1e-10, "Pearson's line, slope");
    ref_row(t, published, 5.7840437745, c[2] + n[0] / n[2] * c[0], 1e-10,
            "Pearson's line, intercept");
    ref_row(t, published, 0.618572759437, 10 * r.ls.rms * r.ls.rms, 1e-12,
            "Pearson's line, sum of squared distances");
    ref_row(t, computed, 0.24871123003, r.ls.rms, 5e-12, "Pearson's line, rms");
    ref_row(t, computed, 0.72648865281940414, r.ls.flatness, 1e-14,
            "Pearson's line, least-squares flatness");
    ref_row(t, "closed form 3/(2 sqrt 5)", 0.67082039324993691, r.mz.flatness, 1e-15,
            "Pearson's line, minimum zone");
    points_free(&p);
}

/* Closed forms to their 15 digits and more. */
static void zone_of(ref_table *t, point_set p, const char *form, double width, const char *name)
{
    planes r = planes_of(&p, UP, 1);
    ref_row(t, form, width, r.mz.flatness, 5e-15, "minimum zone of a regular %s", name);
    points_free(&p);
}

static void corners(ref_table *t)
{
    const double rows[][3] = {{0, 0, 0}, {1000, 0, 1}, {1000, 1000, 0}, {0, 1000, 1}};
    point_set p = points_from(4, rows);
    planes r = planes_of(&p, UP, 1);
    ref_row(t, "closed form", 1, r.ls.flatness, 1e-13, "corners 0, 1, 0, 1, least squares");
    ref_row(t, "closed form", 1, r.mz.flatness, 1e-13, "corners 0, 1, 0, 1, minimum zone");
    points_free(&p);
}

/* Continuous shapes of 1 mm, by 20,000 points or more. Only a few of a disc lie near the ends of a
 * saddle, so that its peaks are missed by a little more. */
enum { MANY = 20001, ACROSS = 3 };

static void discs(ref_table *t)
{
    pp_memory memory = {0};
    test_points p = test_points_take(&memory, MANY);
    test_fill_disc(&p, 1000);
    point_set dish = {MANY, p.x, p.y, p.z};
    for (size_t i = 0; i < MANY; i++) p.z[i] = 1e-6 * (p.x[i] * p.x[i] + p.y[i] * p.y[i]);
    planes r = planes_of(&dish, UP, 2);
    ref_row(t, "closed form c R^2", 1, r.ls.flatness, 1e-4, "dish c r^2, least squares");
    ref_row(t, "closed form c R^2", 1, r.mz.flatness, 1e-4, "dish c r^2, minimum zone");
    ref_row(t, "closed form c R^2/2", 0.5, r.ls.peak, 1e-4, "dish c r^2, peak");
    ref_row(t, "closed form c R^2/2", 0.5, r.ls.valley, 1e-4, "dish c r^2, valley");
    ref_row(t, "closed form c R^2/sqrt 12", 0.28867513, r.ls.rms, 1e-5, "dish c r^2, rms");
    for (size_t i = 0; i < MANY; i++) p.z[i] = 1e-6 * (p.x[i] * p.x[i] - p.y[i] * p.y[i]);
    r = planes_of(&dish, UP, 2);
    ref_row(t, "closed form 2 c R^2", 2, r.ls.flatness, 5e-3, "saddle c (x^2 - y^2), flatness");
    ref_row(t, "closed form c R^2/sqrt 6", 0.40824829, r.ls.rms, 1e-4, "saddle c (x^2 - y^2), rms");
    pp_memory_free(&memory);
}

static void trough(ref_table *t)
{
    point_set p = points_new(MANY * ACROSS);
    for (size_t i = 0; i < p.count; i++) {
        p.x[i] = 1000 * (((double)(i / ACROSS) + 0.5) / MANY - 0.5);
        p.y[i] = 1000 * (((double)(i % ACROSS) + 0.5) / ACROSS - 0.5);
        p.z[i] = 4e-6 * p.x[i] * p.x[i];
    }
    planes r = planes_of(&p, UP, 2);
    ref_row(t, "closed form c L^2/4", 1, r.ls.flatness, 2e-4, "trough c x^2, flatness");
    ref_row(t, "closed form c L^2/6", 2.0 / 3, r.ls.peak, 2e-4, "trough c x^2, peak");
    ref_row(t, "closed form c L^2/12", 1.0 / 3, r.ls.valley, 2e-4, "trough c x^2, valley");
    ref_row(t, "closed form (c L^2/4) sqrt(4/45)", 0.29814240, r.ls.rms, 1e-5, "trough c x^2, rms");
    points_free(&p);
}

void ref_planes(ref_table *t)
{
    practice_pairs(t);
    pearson(t);
    zone_of(t, points_tetrahedron(), "closed form 1/sqrt 2", 0.70710678118654752, "tetrahedron");
    zone_of(t, points_octahedron(), "closed form sqrt(2/3)", 0.81649658092772603, "octahedron");
    zone_of(t, points_icosahedron(), "closed form (3 sqrt 3 + sqrt 15)/3", 3.02304525630468,
            "icosahedron");
    zone_of(t, points_cube(), "closed form", 1, "cube");
    corners(t);
    discs(t);
    trough(t);
}
