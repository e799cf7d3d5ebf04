/* Measures built by hand, as the stages alignment and matching would make them: every nominal hole
 * a tube hole, one bore per hole on the entry face. */
#ifndef PP_TESTS_MEASURES_H
#define PP_TESTS_MEASURES_H

#include <stdbool.h>

#include "support/check.h"

#include "rules/cause_rules.h"

typedef struct test_plate {
    pp_memory memory;
    size_t room;
    double *nx, *ny, *order;
    uint8_t *kind;
    const char **name;
    pp_bore *bores;
    uint32_t *bore_of[2], *hole_of_row, *round;
    bool *plugged;
    long *line;
    pp_nominal nominal;
    pp_readings readings;
    pp_measures measures;
    pp_job job;
} test_plate;

#define TEST_TAKE(pointer, plate, count)                                                           \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero(&(plate)->memory.keep, (count), sizeof *(pointer));         \
        assert_non_null(pointer);                                                                  \
    } while (0)

/* A plate of `count` nominal holes at x, y, none measured yet. `room` for bores. */
static inline void test_plate_begin(test_plate *p, size_t count, const double *x, const double *y,
                                    size_t room)
{
    memset(p, 0, sizeof *p);
    p->room = room;
    TEST_TAKE(p->nx, p, count);
    TEST_TAKE(p->ny, p, count);
    TEST_TAKE(p->kind, p, count);
    TEST_TAKE(p->name, p, count);
    TEST_TAKE(p->plugged, p, count);
    TEST_TAKE(p->bores, p, room);
    TEST_TAKE(p->order, p, room);
    TEST_TAKE(p->line, p, room);
    TEST_TAKE(p->hole_of_row, p, room);
    TEST_TAKE(p->round, p, room);
    for (int face = 0; face < 2; face++) TEST_TAKE(p->bore_of[face], p, count);
    for (size_t i = 0; i < count; i++) {
        p->nx[i] = x[i], p->ny[i] = y[i];
        char text[24];
        int length = snprintf(text, sizeof text, "T%zu", i + 1);
        p->name[i] = pp_arena_text(&p->memory.keep, text, (size_t)length);
        p->bore_of[0][i] = p->bore_of[1][i] = PP_NONE;
    }
    p->nominal = (pp_nominal){
        .count = count, .name = p->name, .x = p->nx, .y = p->ny, .kind = p->kind, .file = "n.csv"};
    p->measures = (pp_measures){.nominal = &p->nominal,
                                .readings = &p->readings,
                                .pitch = 31.75,
                                .tube_count = count,
                                .bores = p->bores,
                                .bore_of = {p->bore_of[0], p->bore_of[1]},
                                .plugged = p->plugged,
                                .hole_of_row = p->hole_of_row};
    p->job.holes.position_limit = 0.5;
    p->job.holes.expansion = 11.5e-6;
    p->job.holes.uncertainty_diameter = NAN;
}

/* A measured hole (PP_NONE: an extra one); bores must be added in nominal order, entry first. */
static inline pp_bore *test_plate_measure(test_plate *p, uint32_t hole, pp_face face, double x,
                                          double y, double diameter, double order)
{
    size_t b = p->measures.bore_count++;
    assert_true(b < p->room);
    p->bores[b] = (pp_bore){.hole = hole,
                            .row = (uint32_t)b + 1,
                            .readings = 1,
                            .round = 1,
                            .face = (uint8_t)face,
                            .at = {x, y},
                            .diameter_min = diameter,
                            .diameter_max = diameter,
                            .diameter_mean = diameter,
                            .position = NAN,
                            .smallest_ligament = NAN};
    if (hole != PP_NONE) {
        p->bore_of[face][hole] = (uint32_t)b;
        p->bores[b].position = 2 * hypot(x - p->nx[hole], y - p->ny[hole]);
        p->measures.measured += face == PP_ENTRY;
    }
    p->measures.faces[face] = true;
    p->order[b] = order;
    p->hole_of_row[b] = hole;
    p->round[b] = 1;
    p->readings.round = p->round;
    p->readings.count = b + 1;
    p->readings.order = isnan(order) ? p->readings.order : p->order;
    return &p->bores[b];
}

static inline void test_plate_end(test_plate *p) { pp_memory_free(&p->memory); }

/* Diagnosed by the job's own position limit. */
static inline pp_status test_diagnose(test_plate *p, int threads, pp_diagnosis *d, pp_error *error)
{
    pp_cause_weight weight = pp_cause_weight_of(p->job.holes.position_limit, &p->measures);
    const pp_cause_options options = pp_cause_options_of(&p->job);
    return pp_diagnose(&options, &p->measures, weight, threads, &p->memory, d, error);
}

#endif
