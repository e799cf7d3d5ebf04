/* The sample answer in the making: shared by the files that fill it in, sample_*.c. */
#ifndef PP_TESTS_SAMPLE_DRAFT_H
#define PP_TESTS_SAMPLE_DRAFT_H

#include "support/sample_results.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OTHERS = 2, SURVEY_SIDE = 9, MAP_COLUMNS = 17, MAP_ROWS = 17 };

static const double PITCH = 32, TUBE = 25.4, NOMINAL_SIZE = 25.7048, LOWER = 25.6032,
                    UPPER = 25.7556, UPPER_LIMIT = 25.9588, POSITION_LIMIT = 0.3,
                    LIGAMENT_STANDARD = 5.4052, LIGAMENT_MINIMUM = 3.048, EDGE_MINIMUM = 20,
                    U_CENTRE = 0.005, U_DIAMETER = 0.002, GUARD = 1.645, DISC_MARGIN = 60;

#define TAKE(pointer, count)                                                                       \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero(&s->memory.keep, (count), sizeof *(pointer));               \
        if (!(pointer)) abort();                                                                   \
    } while (0)

/* The parts that are filled in before they are const. */
typedef struct draft {
    uint32_t *pair_a, *pair_b;
    unsigned rings;
    size_t tubes, count;
    double radius;
    uint64_t random;
    double *x, *y;
    const char **name;
    uint8_t *kind;
    uint32_t *row_first; /* first hole of each row; [rows + 1] */
    bool *plugged;
    pp_bore *bores;
    uint32_t *bore_of[2];
    pp_ligament *ligaments;
    pp_finding *findings;
    pp_finding_rest *rest;
    size_t rest_count;
    uint32_t *exceptions;
    bool conforming;
} draft;

/* From a generator of its own: the same on every machine. */
double sample_uniform(draft *d);
double sample_normal(draft *d);
char *sample_name(pp_sample *s, const char *format, unsigned a, unsigned b);

void sample_make_nominal(pp_sample *s, const pp_sample_options *o, draft *d);
void sample_make_measures(pp_sample *s, draft *d);
void sample_make_flatness(pp_sample *s, draft *d);
void sample_make_holddown(pp_sample *s, draft *d);
void sample_make_judgement(pp_sample *s, draft *d);

#endif
