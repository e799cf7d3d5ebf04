/* Is the right family of causes named as often as is asked, and a wrong one no more often?
 *
 *     asked_simulation [PLATES [FIRST [WORD]]]   that many plates a cell, 100 unless said; FIRST
 *                                                shifts the seeds; only rows with WORD in "table:
 * row"
 *
 * The figures asked for are shares of plates, too, so many a cell: each table says how many. A
 * difference is marked where it is worse than 19 of 20 such pairs of samples of one share differ.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "diagnosis_tally.h"

enum { NO_TERM = PP_TERM_KINDS, NO_PATTERN = PP_PATTERN_KINDS };

typedef struct share3 { /* %, < 0: not asked */
    double right, unclear, wrong;
} share3;

typedef struct cell {
    int effect, pattern;
    share3 asked;
    int plates; /* that the figures asked for were counted on; 0: as the table says */
} cell;

typedef struct table {
    const char *name;
    size_t holes;
    double times; /* sigma */
    sequence sequence;
    double correlation;
    int plates;
    size_t count;
    const cell *cells;
} table;

#define TERM(kind, right, unclear, wrong)                                                          \
    {                                                                                              \
        PP_TERM_##kind, NO_PATTERN, {right, unclear, wrong}, 0                                     \
    }
#define PATTERN(kind, right, unclear, wrong, plates)                                               \
    {                                                                                              \
        NO_TERM, PP_PATTERN_##kind, {right, unclear, wrong}, plates                                \
    }

static const cell SWEEPS_400_1[] = {TERM(SCALE, 99.5, 0.5, 1),
                                    TERM(SCALE_XY, 99.5, 0.5, 1),
                                    TERM(SQUARENESS, 99.5, 0.5, 1),
                                    TERM(BOW_X, 95, 1, 1),
                                    TERM(BOW_Y, 91, 3, 1),
                                    TERM(LOST_MOTION_X, 100, 0, 1),
                                    TERM(LOST_MOTION_Y, 100, 0, 1),
                                    TERM(DRIFT_X, 92, 8, 1),
                                    TERM(DRIFT_Y, 88, 12, 1),
                                    TERM(GROWTH, 100, 0, 1),
                                    PATTERN(STEP, 18, 74, 6, 250),
                                    PATTERN(BLOCKS, 74, 26, 3, 100),
                                    PATTERN(HALF_PLATE, 17, 72, 7, 250),
                                    PATTERN(ALTERNATE, 100, 0, 2, 250),
                                    PATTERN(OSCILLATION, 80, 9, 14, 250)};
static const cell SWEEPS_400_2[] = {TERM(SCALE, 100, 0, 3),
                                    TERM(SCALE_XY, 100, 0, 3),
                                    TERM(SQUARENESS, 100, 0, 3),
                                    TERM(BOW_X, 100, 0, 3),
                                    TERM(BOW_Y, 100, 0, 3),
                                    TERM(LOST_MOTION_X, 100, 0, 3),
                                    TERM(LOST_MOTION_Y, 100, 0, 3),
                                    TERM(DRIFT_X, 100, 0, 3),
                                    TERM(DRIFT_Y, 100, 0, 3),
                                    TERM(GROWTH, 100, 0, 3),
                                    PATTERN(STEP, 84, 6, 14, 125),
                                    PATTERN(BLOCKS, 95, 5, 0, 60),
                                    PATTERN(HALF_PLATE, 99, 1, 5, 125),
                                    PATTERN(ALTERNATE, 100, 0, 1, 125),
                                    PATTERN(OSCILLATION, 88, 7, 16, 125)};
static const cell SWEEPS_400_4[] = {TERM(SCALE, 100, 0, 3),
                                    TERM(SCALE_XY, 100, 0, 3),
                                    TERM(SQUARENESS, 100, 0, 3),
                                    TERM(BOW_X, 100, 0, 4),
                                    TERM(BOW_Y, 100, 0, 4),
                                    TERM(LOST_MOTION_X, 100, 0, 4),
                                    TERM(LOST_MOTION_Y, 100, 0, 4),
                                    TERM(DRIFT_X, 100, 0, 4),
                                    TERM(DRIFT_Y, 100, 0, 4),
                                    TERM(GROWTH, 100, 0, 4),
                                    PATTERN(STEP, 100, 0, 4, 55),
                                    PATTERN(BLOCKS, 93, 3, 10, 30),
                                    PATTERN(HALF_PLATE, 100, 0, 4, 55),
                                    PATTERN(ALTERNATE, 100, 0, 2, 55),
                                    PATTERN(OSCILLATION, 96, 2, 8, 55)};
static const cell SWEEPS_100_1[] = {TERM(SCALE, 95, 3.5, 2.5),
                                    TERM(SCALE_XY, 95, 3.5, 2.5),
                                    TERM(SQUARENESS, 95, 3.5, 2.5),
                                    TERM(BOW_X, 24, 3, 2),
                                    TERM(BOW_Y, 18, 3, 3),
                                    TERM(LOST_MOTION_X, 79, 0, 3),
                                    TERM(LOST_MOTION_Y, 73, 4, 2),
                                    TERM(DRIFT_X, 11, 54, 2),
                                    TERM(DRIFT_Y, 5, 47, 2),
                                    TERM(GROWTH, 71, 2, 3),
                                    PATTERN(STEP, 0, 51, 4, 250),
                                    PATTERN(BLOCKS, 17, 69, 13, 250),
                                    PATTERN(HALF_PLATE, 1, 16, 14, 250),
                                    PATTERN(ALTERNATE, 76, 10, 3, 250),
                                    PATTERN(OSCILLATION, 50, 23, 14, 250)};
static const cell SWEEPS_100_2[] = {TERM(SCALE, 99.5, 0.5, 2),
                                    TERM(SCALE_XY, 99.5, 0.5, 2),
                                    TERM(SQUARENESS, 99.5, 0.5, 2),
                                    TERM(BOW_X, 93, 3, 2),
                                    TERM(BOW_Y, 84, 4, 2),
                                    TERM(LOST_MOTION_X, 100, 0, 2),
                                    TERM(LOST_MOTION_Y, 100, 0, 2),
                                    TERM(DRIFT_X, 64, 36, 2),
                                    TERM(DRIFT_Y, 30, 69, 2),
                                    TERM(GROWTH, 100, 0, 2),
                                    PATTERN(STEP, 18, 70, 5, 125),
                                    PATTERN(BLOCKS, 63, 33, 9, 125),
                                    PATTERN(HALF_PLATE, 18, 62, 3, 125),
                                    PATTERN(ALTERNATE, 100, 0, 3, 125),
                                    PATTERN(OSCILLATION, 82, 14, 9, 125)};
static const cell SWEEPS_100_4[] = {
    PATTERN(STEP, 72, 25, 5, 55), PATTERN(BLOCKS, 97, 3, 5, 55), PATTERN(HALF_PLATE, 95, 3, 2, 55),
    PATTERN(ALTERNATE, 100, 0, 3, 55), PATTERN(OSCILLATION, 85, 7, 8, 55)};
static const cell ROWS_400[] = {TERM(SCALE, 0, 100, -1),
                                TERM(SCALE_XY, 0, 100, -1),
                                TERM(SQUARENESS, 0, 100, -1),
                                TERM(BOW_X, 100, 0, -1),
                                TERM(BOW_Y, 100, 0, -1),
                                TERM(LOST_MOTION_X, 100, 0, -1),
                                TERM(LOST_MOTION_Y, 0, 0, -1),
                                TERM(DRIFT_X, 0, 100, -1),
                                TERM(DRIFT_Y, 0, 100, -1),
                                TERM(GROWTH, 100, 0, -1),
                                PATTERN(STEP, 70, 27, 3, 0),
                                PATTERN(BLOCKS, 100, 0, -1, 0),
                                PATTERN(HALF_PLATE, 53, 47, 0, 0),
                                PATTERN(ALTERNATE, 100, 0, -1, 0),
                                PATTERN(OSCILLATION, 100, 0, -1, 0)};
/* of the terms only the range over all of them is asked for: its lower end */
static const cell CORRELATED_400[] = {
    TERM(SCALE, 87, -1, -1),           TERM(SCALE_XY, 87, -1, -1),
    TERM(SQUARENESS, 87, -1, -1),      TERM(BOW_X, 87, -1, -1),
    TERM(BOW_Y, 87, -1, -1),           TERM(LOST_MOTION_X, 87, -1, -1),
    TERM(LOST_MOTION_Y, 87, -1, -1),   TERM(DRIFT_X, 87, -1, -1),
    TERM(DRIFT_Y, 87, -1, -1),         TERM(GROWTH, 87, -1, -1),
    PATTERN(STEP, 37, 63, 0, 0),       PATTERN(BLOCKS, 83, 13, 7, 0),
    PATTERN(HALF_PLATE, 80, 17, 3, 0), PATTERN(OSCILLATION, 83, 10, 10, 0)};
static const cell RANDOM_400[] = {TERM(SCALE, 93, -1, 7),
                                  TERM(SCALE_XY, 93, -1, 7),
                                  TERM(SQUARENESS, 93, -1, 7),
                                  TERM(BOW_X, 93, -1, 7),
                                  TERM(BOW_Y, 93, -1, 7),
                                  TERM(LOST_MOTION_X, 93, -1, 7),
                                  TERM(LOST_MOTION_Y, 93, -1, 7),
                                  TERM(DRIFT_X, 93, -1, 7),
                                  TERM(DRIFT_Y, 93, -1, 7),
                                  TERM(GROWTH, 93, -1, 7),
                                  PATTERN(STEP, 93, -1, 7, 0),
                                  PATTERN(BLOCKS, 93, -1, 7, 0),
                                  PATTERN(HALF_PLATE, 93, -1, 7, 0),
                                  PATTERN(ALTERNATE, 93, -1, 7, 0),
                                  PATTERN(OSCILLATION, 93, -1, 7, 0)};
static const cell SWEEPS_2000[] = {TERM(DRIFT_X, 95, -1, -1), TERM(DRIFT_Y, 95, -1, -1),
                                   PATTERN(STEP, 95, -1, -1, 0), PATTERN(HALF_PLATE, 95, -1, -1, 0),
                                   PATTERN(OSCILLATION, 95, -1, -1, 0)};

#define CELLS(list) (sizeof(list) / sizeof *(list)), (list)
static const table TABLES[] = {
    {"sweeps, N = 400, 1 sigma", 400, 1, ACROSS, 0, 300, CELLS(SWEEPS_400_1)},
    {"sweeps, N = 400, 2 sigma", 400, 2, ACROSS, 0, 80, CELLS(SWEEPS_400_2)},
    {"sweeps, N = 400, 4 sigma", 400, 4, ACROSS, 0, 25, CELLS(SWEEPS_400_4)},
    {"sweeps, N = 100, 1 sigma", 100, 1, ACROSS, 0, 300, CELLS(SWEEPS_100_1)},
    {"sweeps, N = 100, 2 sigma", 100, 2, ACROSS, 0, 80, CELLS(SWEEPS_100_2)},
    {"sweeps, N = 100, 4 sigma", 100, 4, ACROSS, 0, 25, CELLS(SWEEPS_100_4)},
    {"row by row, N = 400, 2 sigma", 400, 2, ROWS, 0, 30, CELLS(ROWS_400)},
    {"sweeps, errors correlated .5, N = 400, 2 sigma", 400, 2, ACROSS, 0.5, 30,
     CELLS(CORRELATED_400)},
    {"random order, N = 400, 2 sigma", 400, 2, RANDOM, 0, 30, CELLS(RANDOM_400)},
    {"sweeps, N = 2000, 1 sigma", 2000, 1, ACROSS, 0, 20, CELLS(SWEEPS_2000)}};

/* Half the band of the difference between two shares of one probability, in %; each sample with a
 * success and a failure more (Agresti and Caffo, The American Statistician 54 (2000) 280). */
static double band(double share, double n, double other, double m)
{
    double p = (share * n / 100 + 1) / (n + 2), q = (other * m / 100 + 1) / (m + 2);
    return 196 * sqrt(p * (1 - p) / (n + 2) + q * (1 - q) / (m + 2));
}

typedef struct verdict {
    int compared, worse, better;
} verdict;

/* more: of what is compared, more is better */
static void compare(double asked, int asked_plates, int count, const tally *t, bool more,
                    verdict *v)
{
    if (asked < 0) {
        printf("      -        ");
        return;
    }
    double own = tally_percent(count, t), half = band(asked, asked_plates, own, t->plates);
    double better = more ? own - asked : asked - own;
    v->compared++, v->worse += better<-half, v->better += better> half;
    printf(" %5.1f %+5.1f/%2.0f%c", own, own - asked, half,
           better < -half  ? '!'
           : better > half ? '+'
                           : ' ');
}

static const char *row_name(const cell *c)
{
    static const char *const TERM_NAME[] = {"scale",   "scale x-y",     "squareness",    "bow x",
                                            "bow y",   "lost motion x", "lost motion y", "drift x",
                                            "drift y", "growth"};
    static const char *const PATTERN_NAME[] = {"step", "six blocks", "half plate", "swing",
                                               "every second hole"};
    return c->effect == NO_TERM ? PATTERN_NAME[c->pattern] : TERM_NAME[c->effect];
}

static void print_cell(const table *t, const cell *c, int runs, uint64_t seed, verdict *v)
{
    plan p = tally_sound_plate(t->holes, t->sequence);
    p.effect = (pp_term_kind)c->effect, p.pattern = (pp_error_pattern_kind)c->pattern;
    p.filled = p.by_family = true, p.correlation = t->correlation;
    bool drifts = p.effect == PP_TERM_DRIFT_X || p.effect == PP_TERM_DRIFT_Y;
    p.size = t->times * SIMULATED_SIGMA * (drifts ? 4.0 / 3 : 1);
    tally own = tally_plates(&p, runs, seed);
    int plates = c->plates ? c->plates : t->plates;
    printf("%-18s %4d  %5.1f/%5.1f/%5.1f ", row_name(c), plates, c->asked.right, c->asked.unclear,
           c->asked.wrong);
    compare(c->asked.right, plates, own.right, &own, true, v);
    compare(c->asked.unclear, plates, own.unclear, &own, false, v);
    compare(c->asked.wrong, plates, own.named, &own, false, v);
    tally_print(own.wrong, own.wrong_patterns);
}

/* Of the rows that have `word` in "table: row". */
static void print_table(const table *t, int runs, uint64_t seed, const char *word, verdict *v)
{
    bool begun = false;
    for (size_t k = 0; k < t->count; k++) {
        char name[96];
        snprintf(name, sizeof name, "%s: %s", t->name, row_name(&t->cells[k]));
        if (!strstr(name, word)) continue;
        if (!begun)
            printf("\n%s\n%-18s %4s  %-17s  %-14s  %-14s  %-14s named wrongly\n", t->name, "", "of",
                   "asked", "right", "unclear", "wrong");
        begun = true;
        print_cell(t, &t->cells[k], runs, seed + 1000003u * (k + 1), v);
    }
}

int main(int argc, char **argv)
{
    int runs = atoi(argc > 1 ? argv[1] : "100");
    int first = atoi(argc > 2 ? argv[2] : "1");
    const char *word = argc > 3 ? argv[3] : "";
    if (runs < 1 || first < 1) {
        fprintf(stderr, "asked_simulation [PLATES [FIRST [WORD]]]\n");
        return 2;
    }
    verdict all = {0};
    printf(
        "%d plates a cell, seeds from %d. Asked: right/unclear/wrong, %%. Then each of ours, the "
        "difference and half\nits band: ! worse, + better than the band\n",
        runs, first);
    for (size_t i = 0; i < sizeof TABLES / sizeof *TABLES; i++)
        print_table(&TABLES[i], runs, 100000007u * (uint64_t)first + 16000048u * i, word, &all);
    printf("\n%d figures compared: %d worse, %d better than their bands\n", all.compared, all.worse,
           all.better);
    return 0;
}
