/* Bending, straightedge, hold-down. */
#include "flatness/straightedge.h"
#include "holddown/curvature.h"
#include "support/bending.h"
#include "support/holdcase.h"
#include "support/liftoff.h"
#include "table.h"

static void coefficients(ref_table *t)
{
    FILE *file = fopen(PP_SOURCE_DIR "/data/reference/plate_bending/coefficients.csv", "r");
    assert_non_null(file);
    char line[200], name[80];
    const char *source = "series and closed forms, computed";
    while (fgets(line, sizeof line, file)) {
        double nu, value, tolerance;
        size_t cells;
        if (strstr(line, "handbooks"))
            source = "Timoshenko & Woinowsky-Krieger, Roark; from memory but ss";
        if (line[0] == '#') continue;
        assert_int_equal(
            sscanf(line, "%79[^,],%zu,%lf,%lf,%lf", name, &cells, &nu, &value, &tolerance), 5);
        ref_row(t, source, value, bending_coefficient(name, cells, nu), tolerance * fabs(value),
                "%s, %zu cells, nu %g", name, cells, nu);
    }
    fclose(file);
}

/* Steel plates under their own weight: E = 200 GPa, nu = 0.3, 7850 kg/m3, g = 9.80665 m/s2. */
static void sags(ref_table *t)
{
    static const struct {
        const char *name, *what;
        size_t cells;
        double side, thin, thick, tolerance; /* sag of 20 and 50 mm, mm; relative */
    } cases[] = {
        {"disc_rim_pressure", "disc of 2 m on its rim", 16, 1000, 0.669384, 0.107101, 1e-5},
        {"disc_three_points_pressure_centre", "disc of 2 m on 3 rim points", 24, 1000, 1.206255,
         0.193001, 3e-3},
        {"disc_four_points_pressure_centre", "disc of 2 m on 4 rim points", 24, 1000, 0.876639,
         0.140262, 3e-3},
        {"ss_square_pressure", "square of 2 m on its edges", 16, 2000, 0.683000, 0.109280, 5e-5},
        {"clamped_square_pressure", "square of 2 m, clamped", 16, 2000, 0.212737, 0.0340379, 1e-4},
        {"corner_square_pressure_centre", "square of 2 m on corners, centre", 16, 2000, 4.288386,
         0.686142, 3e-5},
        {"corner_square_pressure_mid_edge", "square of 2 m on corners, mid edge", 16, 2000,
         2.983855, 0.477417, 3e-5},
        {"flat_slab_pressure_centre", "columns every 1 m, panel centre", 32, 1000, 0.0609512,
         0.00975218, 5e-4},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double coefficient = bending_coefficient(cases[i].name, cases[i].cells, 0.3);
        for (int thick = 0; thick < 2; thick++) {
            double h = thick ? 50 : 20, want = thick ? cases[i].thick : cases[i].thin;
            double q = 7850e-9 * 9.80665 * h, d = 200000 * h * h * h / (12 * (1 - 0.09));
            ref_row(t, "series and closed forms, computed", want,
                    coefficient * q * pow(cases[i].side, 4) / d, cases[i].tolerance * want,
                    "sag, %s, %g mm thick, mm", cases[i].what, h);
        }
    }
}

static void bowl(const void *context, size_t count, const double *x, const double *y,
                 double *height)
{
    const double *c = context;
    for (size_t i = 0; i < count; i++) height[i] = *c * (x[i] * x[i] + y[i] * y[i]);
}

/* A bow of `depth` over the whole diameter shows depth (L/diameter)^2 under a straightedge of L. */
static void straightedges(ref_table *t)
{
    const double diameter = 3185, depth = 4.17;
    static const double lengths[] = {517, 1000, 3000};
    for (int dome = 0; dome < 2; dome++) {
        double c = (dome ? -4 : 4) * depth / (diameter * diameter);
        pp_relief relief = {.outline = PP_OUTLINE_DISC,
                            .radius = diameter / 2,
                            .feature = diameter / 32,
                            .hollow = fmax(2 * c, 0),
                            .hump = fmax(-2 * c, 0),
                            .heights = bowl,
                            .context = &c};
        for (int k = 0; k < 3; k++) {
            pp_memory memory = {0};
            pp_error error = {0};
            pp_straightedge e;
            assert_ok(pp_straightedge_on_relief(&relief, NULL, lengths[k], 2, &memory, &e, &error),
                      &error);
            ref_row(t, "closed form depth (L/diameter)^2", depth * pow(lengths[k] / diameter, 2),
                    e.gap, 1e-9, "gap under a straightedge of %g mm, %s, mm", lengths[k],
                    dome ? "dome from below" : "dish");
            ref_row(t, "closed form", dome, e.underside, 0,
                    "found from below, straightedge of %g mm, %s", lengths[k],
                    dome ? "dome" : "dish");
            pp_memory_free(&memory);
        }
    }
}

static void closed_forms(ref_table *t, const char *name, const holdcase *s)
{
    const pp_hold *centre = &s->holddown.holes[0];
    if (strcmp(name, "disc_dome") == 0) {
        /* F R^2 (3 + nu)/(16 pi (1 + nu) D) at the centre of a disc on its rim; 2 mm to 0.2 mm */
        double d = 210000 * 50.0 * 50 * 50 / (12 * (1 - 0.09));
        double drop = 2000.0 * 2000 * 3.3 / (16 * BENDING_PI * 1.3 * d);
        const char *source = "Timoshenko & Woinowsky-Krieger, disc on its rim";
        ref_row(t, source, 1.8 / drop, centre->force_to_close, 5e-4 * 1.8 / drop,
                "disc_dome, force to close the centre, N");
        ref_row(t, source, 1e4 * drop, centre->gap - centre->gap_under_foot, 5 * drop,
                "disc_dome, foot of 10 kN closes, mm");
    }
    if (strcmp(name, "strip_bow") == 0) { /* 48 E I/L^3; a plate is a little stiffer */
        double beam = 48 * 210000.0 * (500 * 25.0 * 25 * 25 / 12) / (3000.0 * 3000 * 3000) * 2.7;
        ref_row(t, "beam on two supports, 48 E I/L^3", beam, centre->force_to_close, 0.02 * beam,
                "strip_bow, force to close the middle, N");
    }
}

static void hold_down(ref_table *t, const char *name)
{
    static const char *const key[COLUMNS] = {"gap_F0", "gap_foot", "F_close", "tilt"};
    const char *source = "independent numpy and scipy program, finer mesh";
    enum { HOLES = 4 }; /* the first few of each job; the test holds all of them */
    holdcase s;
    holdcase_read(name, &s);
    holdcase_solve(&s, 32, 2);
    ref_row(t, source, holdcase_expected(&s, "weight_kN", "value"), s.holddown.plate_weight / 1000,
            holdcase_expected(&s, "weight_kN", "tol"), "%s, weight, kN", name);
    double stress = holdcase_expected(&s, "flat_stress_max_MPa", "value");
    ref_row(t, source, stress, s.holddown.flattening_as_fitted,
            stress * holdcase_expected(&s, "flat_stress_max_MPa", "tol_rel"),
            "%s, stress of flattening, MPa", name);
    const json_t *tables = json_object_get(s.expected, "expected");
    for (column c = 0; c < COLUMNS; c++) {
        const json_t *table = json_object_get(tables, key[c]);
        for (size_t i = 0; i < HOLES && i < s.holddown.count; i++) {
            const json_t *want = json_array_get(json_object_get(table, "value"), i);
            double tolerance = json_number_value(json_array_get(json_object_get(table, "tol"), i));
            if (fabs(json_number_value(want)) < 4 * tolerance) continue; /* it would be blind */
            ref_row(t, source, json_number_value(want), holdcase_value(&s.holddown.holes[i], c),
                    tolerance, "%s, hole %s, %s", name, s.nominal.name[i], key[c]);
        }
    }
    closed_forms(t, name, &s);
    holdcase_release(&s);
}

/* A heavy plate with one support raised, on a mesh as the study has it */
static void lift_off(ref_table *t)
{
    const char *source = "closed form, w = w' = w'' = 0 where it comes down";
    for (int disc = 0; disc < 2; disc++) {
        const char *what = disc ? "disc raised at its centre" : "strip raised at its end";
        test_liftoff l;
        test_lifted(disc, 32, &l);
        ref_row(t, source, l.closed_force, l.force, 0.01 * l.closed_force, "%s, force, N", what);
        ref_row(t, source, l.closed_length, l.length, l.cell, "%s, lift-off within, mm", what);
    }
}

/* How a dome stiffens the plate that presses it flat, edges free to move in the plane. The disc:
 * w/h + A (w/h)^3 = B q a^4/(E h^4), A = 0.262. The square: a buckled one on simple supports bears
 * sigma b^2/(E h^2) = 3.615 + 1.234 (w/h)^2; both are one term of the same equations. */
static void stiffening(ref_table *t)
{
    pp_plate_spec plate = {.elastic_modulus = 200000, .poisson_ratio = 0.3, .thickness = 10};
    pp_mesh disc = {.outline = PP_OUTLINE_DISC, .shape = {.kind = PP_OUTLINE_DISC}};
    pp_mesh square = {.outline = PP_OUTLINE_RECTANGLE,
                      .width = 1000,
                      .height = 1000,
                      .shape = {.kind = PP_OUTLINE_RECTANGLE}};
    static const double heights[] = {5, 10, 20};
    for (size_t k = 0; k < sizeof heights / sizeof *heights; k++) {
        double share = heights[k] / plate.thickness;
        ref_row(t, "Timoshenko & Woinowsky-Krieger, table 82; from memory", 0.262 * share * share,
                pp_curvature_stiffening(&plate, &disc, heights[k]) - 1, 1e-3 * share * share,
                "disc, dome of %g thicknesses, stiffer by", share);
        ref_row(t, "Volmir, Flexible plates and shells; from memory", 1.234 / 3.615 * share * share,
                pp_curvature_stiffening(&plate, &square, heights[k]) - 1, 1e-3 * share * share,
                "square, dome of %g thicknesses, stiffer by", share);
    }
}

void ref_plate(ref_table *t)
{
    lift_off(t);
    stiffening(t);
    coefficients(t);
    sags(t);
    straightedges(t);
    hold_down(t, "disc_dome");
    hold_down(t, "strip_bow");
    hold_down(t, "gravity_flattens");
    hold_down(t, "rect_free");
}
