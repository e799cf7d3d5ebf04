/* Patterns, webs and facts of the trade. */
#include "holddown/webs.h"
#include "holes/pattern.h"
#include "input/job/value.h"
#include "plateproof/plateproof.h"
#include "support/limits.h"
#include "table.h"

static pp_pattern made(const pp_pattern_options *options, pp_memory *memory)
{
    pp_pattern pattern = {0};
    pp_error error = {0};
    assert_ok(pp_pattern_make(options, memory, &pattern, &error), &error);
    return pattern;
}

static void lattice(ref_table *t, pp_layout layout, bool on_cell, const char *name, size_t count,
                    const double *want)
{
    for (size_t r = 1; r <= count; r++) {
        pp_memory memory = {0};
        pp_pattern p = made(&(pp_pattern_options){.layout = layout,
                                                  .on_cell = on_cell,
                                                  .pitch = 23.8125,
                                                  .round = true,
                                                  .diameter = 2 * (double)r * 23.8125},
                            &memory);
        ref_row(t, "lattice points in a circle, enumerated", want[r - 1], (double)p.count, 0,
                "holes within %zu pitches, %s", r, name);
        pp_memory_free(&memory);
    }
}

static void lattices(ref_table *t)
{
    static const double hex_hole[] = {7,   19,  37,  61,  91,  127, 187,  241,  301,  367,
                                      439, 517, 613, 721, 823, 931, 1045, 1165, 1303, 1459};
    static const double hex_cell[] = {3, 12, 30, 54, 90, 129, 174, 225, 288, 354};
    static const double square_hole[] = {5,   13,  29,  49,  81,  113, 149, 197,  253,  317,
                                         377, 441, 529, 613, 709, 797, 901, 1009, 1129, 1257};
    static const double square_cell[] = {4, 12, 32, 52, 80, 112, 156, 208, 256, 316};
    lattice(t, PP_TRIANGULAR_30, false, "triangular, hole at the centre", 20, hex_hole);
    lattice(t, PP_TRIANGULAR_60, true, "triangular, three at the centre", 10, hex_cell);
    lattice(t, PP_SQUARE_90, false, "square, hole at the centre", 20, square_hole);
    lattice(t, PP_SQUARE_45, true, "square, four at the centre", 10, square_cell);
}

/* The largest circle between the holes of a regular pattern. */
static void pin(ref_table *t, const char *source, pp_layout layout, double pitch, double hole,
                double want, double tolerance)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_pattern p = made(&(pp_pattern_options){.layout = layout,
                                              .pitch = pitch,
                                              .round = true,
                                              .diameter = 8 * pitch,
                                              .centre_x = 41.7,
                                              .centre_y = -27.9},
                        &memory);
    uint8_t *kind = pp_arena_take_zero(&memory.keep, p.count, 1);
    assert_non_null(kind);
    pp_nominal nominal = {.count = p.count, .x = p.x, .y = p.y, .kind = kind};
    pp_web_request request = {.nominal = &nominal, .pitch = pitch, .hole_diameter = hole};
    size_t count;
    pp_web *webs;
    assert_ok(pp_webs_find(&request, &memory.keep, &count, &webs, &error), &error);
    assert_true(count > 0);
    double radius = INFINITY; /* none may be narrower */
    for (size_t i = 0; i < count; i++) radius = fmin(radius, webs[i].radius);
    bool square = layout == PP_SQUARE_90 || layout == PP_SQUARE_45;
    ref_row(t, source, want, radius, tolerance,
            "pin between %s holes of %g mm at %g mm, radius, mm", square ? "four" : "three", hole,
            pitch);
    pp_memory_free(&memory);
}

static void pins(ref_table *t)
{
    const char *form = "p/sqrt 3 - d/2, computed", *square = "p/sqrt 2 - d/2, computed";
    pin(t, form, PP_TRIANGULAR_30, 32, 25.25, 5.850209, 5e-7);
    pin(t, square, PP_SQUARE_90, 32, 25.25, 10.002417, 5e-7);
    pin(t, form, PP_TRIANGULAR_60, 25, 19.25, 4.808757, 5e-7);
}

/* Seven holes of a triangular pattern, exactly as drawn. */
static void ligaments(ref_table *t, double pitch, double hole, double want)
{
    pp_drilled_hole seven[7];
    pp_ligament_rule rule = {
        .pitch = 0, .standard = want / 2, .minimum = want / 4, .remainder_share = 0.04};
    pp_ligament_count count;
    pp_error error = {0};
    for (int i = 0; i < 7; i++) {
        double angle = i * 1.0471975511965976, x = i ? pitch * cos(angle) : 0,
               y = i ? pitch * sin(angle) : 0;
        seven[i] = (pp_drilled_hole){x, y, x, y, hole};
    }
    assert_ok(pp_judge_ligaments(7, seven, &rule, &count, &error), &error);
    ref_row(t, "p - d", want, count.smallest, 1e-12, "ligament of holes of %g mm at %g mm, mm",
            hole, pitch);
    ref_row(t, "six spokes, six rim pairs", 12, (double)count.pairs, 0,
            "neighbours among seven holes at %g mm", pitch);
}

static double read_length(const char *text)
{
    pp_value_place place = {.name = "length"};
    pp_value_kind kind = {.quantity = PP_LENGTH, .range = {.low = 0, .high = INFINITY}};
    double value = NAN;
    pp_error error = {0};
    assert_ok(pp_value_read(&place, text, strlen(text), &kind, &value, NULL, &error), &error);
    return value;
}

/* What a driller knows by heart, through the program's own reading, tables and webs. */
static void trade(ref_table *t)
{
    const char *practice = "common practice, no source";
    pp_memory memory = {0};
    ref_row(t, practice, 3, 8 * read_length("3/8 in") / 25.4, 1e-12,
            "stack of eight 3/8 in baffles, in");
    ref_row(t, practice, 25.4, read_length("1 in"), 0, "1 in plate, mm");
    ref_row(t, practice, 31.75, read_length("1-1/4 in"), 0,
            "1 in tube at 1.25 diameters, pitch, mm");
    static const double holes[] = {40, 47};
    for (size_t i = 0; i < 2; i++) {
        double hole = holes[i], pitch = 1.25 * hole;
        pp_job job = blank_job(&memory);
        job.plate.thickness = read_length("1 in");
        job.holes.tube_diameter = hole - 0.4;
        job.rules.hole_nominal = (pp_job_limit){hole, 1};
        job.rules.hole_under = (pp_job_limit){0.1, 1};
        job.rules.hole_over = (pp_job_limit){0.1, 1};
        job.rules.hole_over_limit = (pp_job_limit){0.25, 1};
        job.rules.ligament_minimum = (pp_job_limit){3, 1};
        pp_limits l = limits_of(&job, pitch, &memory);
        /* 0.0016 in x 1 in / tube, as mm: 0.0016 x 25.4^2 / tube */
        ref_row(t, "0.0016 T/OD (from memory)", 1.032256 / (hole - 0.4), l.drift_allowance, 1e-12,
                "hole of %g mm through 1 in, drift allowed for, mm", hole);
        ref_row(t, "common practice, no source; p - d", 0.25 * hole, l.ligament_nominal, 1e-12,
                "hole of %g mm at 1.25 diameters, ligament, mm", hole);
        pin(t, "common practice, no source; p/sqrt 3 - d/2", PP_TRIANGULAR_30, pitch, hole,
            hole * (1.25 / 1.7320508075688772 - 0.5), 1e-9);
    }
    pp_memory_free(&memory);
}

void ref_layouts(ref_table *t)
{
    lattices(t);
    pins(t);
    ligaments(t, 32, 25.25, 6.75);
    ligaments(t, 25, 19.25, 5.75);
    trade(t);
}
