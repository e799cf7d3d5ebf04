#include "holes/pattern.h"

#include <stdlib.h>

#include "holes/pitch.h"
#include "support/check.h"

static pp_memory memory;
static pp_error error;

static int release(void **state)
{
    (void)state;
    pp_memory_free(&memory);
    return 0;
}

static pp_pattern made(pp_pattern_options options)
{
    pp_pattern pattern = {0};
    assert_ok(pp_pattern_make(&options, &memory, &pattern, &error), &error);
    return pattern;
}

static size_t count_round(pp_layout layout, bool on_cell, double pitch, double diameter)
{
    return made((pp_pattern_options){.layout = layout,
                                     .on_cell = on_cell,
                                     .pitch = pitch,
                                     .round = true,
                                     .diameter = diameter})
        .count;
}

/* Lattice points within radius R: the counts are those of the hexagonal and the square lattice
 * (Gauss's circle problem), computed apart by enumeration. A turn changes none of them. */
static void round_fields_have_the_lattice_counts(void **state)
{
    (void)state;
    static const size_t hex_hole[] = {7,   19,  37,  61,  91,  127, 187,  241,  301,  367,
                                      439, 517, 613, 721, 823, 931, 1045, 1165, 1303, 1459};
    static const size_t hex_cell[] = {3, 12, 30, 54, 90, 129, 174, 225, 288, 354};
    static const size_t square_hole[] = {5,   13,  29,  49,  81,  113, 149, 197,  253,  317,
                                         377, 441, 529, 613, 709, 797, 901, 1009, 1129, 1257};
    static const size_t square_cell[] = {4, 12, 32, 52, 80, 112, 156, 208, 256, 316};
    /* pitches without an exact square root or binary fraction: points on the circle must count */
    static const double pitches[] = {1, 31.75, 23.8125, 0.1, 4321.7};
    for (size_t p = 0; p < sizeof pitches / sizeof *pitches; p++)
        for (size_t r = 1; r <= 20; r++) {
            double pitch = pitches[p], diameter = 2 * (double)r * pitch;
            assert_int_equal(count_round(PP_TRIANGULAR_30, false, pitch, diameter),
                             hex_hole[r - 1]);
            assert_int_equal(count_round(PP_TRIANGULAR_60, false, pitch, diameter),
                             hex_hole[r - 1]);
            assert_int_equal(count_round(PP_SQUARE_90, false, pitch, diameter), square_hole[r - 1]);
            assert_int_equal(count_round(PP_SQUARE_45, false, pitch, diameter), square_hole[r - 1]);
            if (r > 10) continue;
            assert_int_equal(count_round(PP_TRIANGULAR_30, true, pitch, diameter), hex_cell[r - 1]);
            assert_int_equal(count_round(PP_TRIANGULAR_60, true, pitch, diameter), hex_cell[r - 1]);
            assert_int_equal(count_round(PP_SQUARE_90, true, pitch, diameter), square_cell[r - 1]);
            assert_int_equal(count_round(PP_SQUARE_45, true, pitch, diameter), square_cell[r - 1]);
        }
}

/* Published counts leave room for tie rods and differ from book to book: ours, with the outer tube
 * limit half an inch inside the shell, lies between 0.95 and 1.2 of them. Plausibility only. */
static void counts_are_like_those_of_handbooks(void **state)
{
    (void)state;
    static const struct {
        pp_layout layout;
        double tube, pitch, shell; /* in */
        double count;              /* Ludwig, Applied Process Design, vol. III, table 10-9 */
    } cases[] = {
        {PP_TRIANGULAR_30, 0.75, 0.9375, 37, 1269}, {PP_TRIANGULAR_30, 0.75, 1, 37, 1127},
        {PP_SQUARE_90, 0.75, 1, 37, 965},           {PP_TRIANGULAR_30, 1, 1.25, 37, 699},
        {PP_SQUARE_90, 1, 1.25, 37, 595},           {PP_TRIANGULAR_30, 0.75, 1, 25, 493},
        {PP_TRIANGULAR_30, 1, 1.25, 25, 307},       {PP_SQUARE_90, 1, 1.25, 25, 255},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double best = 0;
        for (int cell = 0; cell < 2; cell++) {
            pp_pattern p = made((pp_pattern_options){.layout = cases[i].layout,
                                                     .on_cell = cell,
                                                     .pitch = cases[i].pitch * 25.4,
                                                     .hole = cases[i].tube * 25.4,
                                                     .margin = 0.25 * 25.4,
                                                     .round = true,
                                                     .diameter = cases[i].shell * 25.4});
            best = fmax(best, (double)p.count);
        }
        if (!(best > 0.95 * cases[i].count && best < 1.2 * cases[i].count))
            print_error("case %zu: %g against %g\n", i, best, cases[i].count);
        assert_true(best > 0.95 * cases[i].count && best < 1.2 * cases[i].count);
    }
}

static double nearest_distance(const pp_pattern *p, size_t hole)
{
    double best = INFINITY;
    for (size_t k = 0; k < p->count; k++)
        if (k != hole) best = fmin(best, hypot(p->x[k] - p->x[hole], p->y[k] - p->y[hole]));
    return best;
}

static void neighbours_are_one_pitch_apart(void **state)
{
    (void)state;
    for (int layout = 0; layout < 4; layout++)
        for (int cell = 0; cell < 2; cell++) {
            pp_pattern p = made((pp_pattern_options){.layout = (pp_layout)layout,
                                                     .on_cell = cell,
                                                     .pitch = 31.75,
                                                     .width = 400,
                                                     .height = 290,
                                                     .centre_x = 217.3,
                                                     .centre_y = -88.1});
            double row_x = INFINITY, row_y = INFINITY;
            for (size_t i = 0; i < p.count; i++) {
                assert_near(nearest_distance(&p, i), 31.75, 1e-12);
                assert_true(fabs(p.x[i] - 217.3) <= 200 && fabs(p.y[i] + 88.1) <= 145);
                for (size_t k = 0; k < p.count; k++) { /* a neighbour along x, or along y */
                    if (fabs(p.y[k] - p.y[i]) < 1e-9 && p.x[k] > p.x[i])
                        row_x = fmin(row_x, p.x[k] - p.x[i]);
                    if (fabs(p.x[k] - p.x[i]) < 1e-9 && p.y[k] > p.y[i])
                        row_y = fmin(row_y, p.y[k] - p.y[i]);
                }
            }
            static const double along_x[] = {1, 1.7320508075688772, 1, 1.4142135623730951};
            static const double along_y[] = {1.7320508075688772, 1, 1, 1.4142135623730951};
            assert_near(row_x, 31.75 * along_x[layout], 1e-11);
            assert_near(row_y, 31.75 * along_y[layout], 1e-11);
        }
}

static void holes_keep_clear_of_rim_and_lanes(void **state)
{
    (void)state;
    const pp_lane lanes[] = {{false, 3.7, 40}, {true, -101.5, 22.2}};
    pp_pattern_options options = {.layout = PP_TRIANGULAR_30,
                                  .pitch = 31.75,
                                  .round = true,
                                  .diameter = 1000,
                                  .hole = 25.7,
                                  .margin = 12,
                                  .lane_count = 2,
                                  .lanes = lanes};
    pp_pattern with = made(options);
    for (size_t i = 0; i < with.count; i++) {
        assert_true(hypot(with.x[i], with.y[i]) <= 500 - 12 - 12.85 + 1e-6);
        assert_true(fabs(with.y[i] - 3.7) >= 20 + 12.85 - 1e-6);
        assert_true(fabs(with.x[i] + 101.5) >= 11.1 + 12.85 - 1e-6);
    }
    /* nothing else is left out */
    options.lane_count = 0;
    pp_pattern without = made(options);
    size_t left_out = 0;
    for (size_t i = 0; i < without.count; i++)
        left_out += fabs(without.y[i] - 3.7) < 20 + 12.85 - 1e-6 ||
                    fabs(without.x[i] + 101.5) < 11.1 + 12.85 - 1e-6;
    assert_true(left_out > 50);
    assert_int_equal(with.count + left_out, without.count);
}

/* Names by row and column are those that the report finds from the coordinates alone. */
static void rows_and_columns_are_those_of_the_report(void **state)
{
    (void)state;
    const pp_lane lane = {false, 0, 60};
    for (int layout = 0; layout < 4; layout++) {
        pp_pattern p = made((pp_pattern_options){.layout = (pp_layout)layout,
                                                 .on_cell = true,
                                                 .pitch = 32,
                                                 .round = true,
                                                 .diameter = 700,
                                                 .lane_count = 1,
                                                 .lanes = &lane});
        uint8_t *kind = calloc(p.count, 1);
        pp_nominal nominal = {.count = p.count, .x = p.x, .y = p.y, .kind = kind};
        const uint32_t *rows, *columns;
        assert_ok(pp_labels_find(&nominal, 32, &memory, &rows, &columns, &error), &error);
        for (size_t i = 0; i < p.count; i++) {
            assert_int_equal(p.row[i], rows[i]);
            assert_int_equal(p.column[i], columns[i]);
        }
        free(kind);
    }
}

static void the_list_is_csv_with_its_unit(void **state)
{
    (void)state;
    pp_pattern p = made((pp_pattern_options){
        .layout = PP_SQUARE_90, .pitch = 25.4, .width = 25.4, .height = 25.4, .on_cell = true});
    pp_text csv = {0};
    pp_pattern_csv(&p, PP_MM, &csv);
    assert_string_equal(csv.data, "hole,x_mm,y_mm\nR001C001,-12.7,-12.7\nR001C002,12.7,-12.7\n"
                                  "R002C001,-12.7,12.7\nR002C002,12.7,12.7\n");
    csv.length = 0;
    pp_pattern_csv(&p, PP_INCH, &csv);
    assert_string_equal(csv.data, "hole,x_in,y_in\nR001C001,-0.5,-0.5\nR001C002,0.5,-0.5\n"
                                  "R002C001,-0.5,0.5\nR002C002,0.5,0.5\n");
    csv.length = 0;
    p = made((pp_pattern_options){
        .layout = PP_TRIANGULAR_30, .pitch = 32, .round = true, .diameter = 64});
    pp_pattern_csv(&p, PP_MM, &csv);
    assert_non_null(strstr(csv.data, "\nR001C002,-16,-27.712813\n"));
    assert_non_null(strstr(csv.data, "\nR002C003,0,0\n"));
    pp_text_free(&csv);
    /* four digits where there are a thousand columns */
    p = made((pp_pattern_options){
        .layout = PP_SQUARE_90, .pitch = 1, .width = 1000, .height = 2.5, .on_cell = false});
    char name[PP_PATTERN_NAME_MAX];
    assert_int_equal(pp_pattern_name(&p, p.count - 1, name), 9);
    assert_string_equal(name, "R003C1001");
}

static void refused(pp_pattern_options options, pp_status want, const char *words)
{
    pp_pattern pattern = {.count = 77};
    error = (pp_error){0};
    pp_status status = pp_pattern_make(&options, &memory, &pattern, &error);
    if (status != want || !strstr(error.message, words))
        print_error("got %d, %s; wanted %s\n", status, error.message, words);
    assert_int_equal(status, want);
    assert_non_null(strstr(error.message, words));
    assert_int_equal(pattern.count, 77);
}

static void senseless_fields_are_refused(void **state)
{
    (void)state;
    const pp_lane all = {true, 0, 1000};
    refused((pp_pattern_options){.width = 5, .height = 5}, PP_EINPUT, "pitch is not above zero");
    refused((pp_pattern_options){.pitch = NAN, .width = 5, .height = 5}, PP_EINPUT, "pitch is not");
    refused((pp_pattern_options){.pitch = 5, .width = NAN, .height = 5}, PP_EINPUT, "no size");
    refused((pp_pattern_options){.pitch = 5, .width = 5, .height = 5, .hole = 6}, PP_EINPUT,
            "larger than the pitch");
    refused((pp_pattern_options){.pitch = 5, .width = 5, .height = 5, .margin = -1}, PP_EINPUT,
            "below zero");
    refused((pp_pattern_options){.pitch = 5, .width = 9, .height = 3, .hole = 4}, PP_ENOTHING,
            "too small");
    refused(
        (pp_pattern_options){
            .pitch = 25, .width = 900, .height = 900, .lane_count = 1, .lanes = &all},
        PP_ENOTHING, "no hole fits");
    refused((pp_pattern_options){.pitch = 0.001, .width = 9000, .height = 9000}, PP_EINPUT,
            "more than 10000000 holes");
    refused((pp_pattern_options){.pitch = 1e-300, .width = 1e300, .height = 1}, PP_EINPUT,
            "more than 10000000 holes");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(round_fields_have_the_lattice_counts),
        cmocka_unit_test(counts_are_like_those_of_handbooks),
        cmocka_unit_test(neighbours_are_one_pitch_apart),
        cmocka_unit_test(holes_keep_clear_of_rim_and_lanes),
        cmocka_unit_test(rows_and_columns_are_those_of_the_report),
        cmocka_unit_test(the_list_is_csv_with_its_unit),
        cmocka_unit_test(senseless_fields_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, release);
}
