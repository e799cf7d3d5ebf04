/* How often the diagnosis raises a false alarm, and how often it finds and names what is there.
 *
 *     diagnosis_simulation [RUNS]         200 plates a row of the clean ones by default; half of it
 *                                         for one cause planted, a quarter for the large ones
 *     diagnosis_simulation --large [RUNS]   plates of 2000 holes: sound ones, and a quarter as many
 *                                         for each cause and for several at once
 *     diagnosis_simulation --together [RUNS]  several causes at once on plates of 400 holes
 *     diagnosis_simulation --sound [RUNS [WORD]]  plates without a cause only, of the rows that
 *                                         have that word in their name
 *     diagnosis_simulation --check RUNS   five rows of clean plates and two of patterns only; exit
 * 1 when an alarm rate exceeds 6 % by more than three standard errors, or a pattern is not found
 *
 * The same numbers on every machine: the random numbers are our own, one seed a plate.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "diagnosis_tally.h"

enum { TERMS = PP_TERM_KINDS };
static const double SIGMA = SIMULATED_SIGMA;
static const double ALLOWED = 0.06, LEAST_FOUND = 0.8;

static plan clean(const char *name, size_t holes, sequence order)
{
    plan p = tally_sound_plate(holes, order);
    p.name = name;
    return p;
}

/* --- nothing planted ---------------------------------------------------------------------- */

enum { CHECKED_ROWS = 5, CLEAN_MOST = 32 };

static size_t list_even(plan *rows)
{
    size_t n = 0;
    rows[n++] = clean("four interleaved sweeps, N = 400", 400, SWEEPS);
    rows[n++] = clean("row by row, N = 400", 400, ROWS);
    rows[n++] = clean("random order, N = 400", 400, RANDOM);
    rows[n] = clean("errors correlated 0.5 along the order", 400, SWEEPS);
    rows[n++].correlation = 0.5;
    rows[n] = clean("scatter 13 times as large at the rim", 400, SWEEPS);
    rows[n++].rim = 13;
    rows[n] = clean("row by row, errors correlated 0.5", 400, ROWS);
    rows[n++].correlation = 0.5;
    rows[n] = clean("random order, errors correlated 0.5", 400, RANDOM);
    rows[n++].correlation = 0.5;
    rows[n] = clean("errors correlated 0.2", 400, SWEEPS);
    rows[n++].correlation = 0.2;
    rows[n] = clean("errors correlated 0.8", 400, SWEEPS);
    rows[n++].correlation = 0.8;
    rows[n] = clean("errors and diameters correlated 0.5", 400, SWEEPS);
    rows[n].diameter_correlation = 0.5;
    rows[n++].correlation = 0.5;
    rows[n] = clean("both faces read", 400, SWEEPS);
    rows[n++].both_faces = true;
    rows[n++] = clean("N = 60, four sweeps", 60, SWEEPS);
    rows[n++] = clean("N = 100, four sweeps", 100, SWEEPS);
    rows[n++] = clean("N = 100, row by row", 100, ROWS);
    rows[n++] = clean("N = 100, random order", 100, RANDOM);
    rows[n] = clean("N = 100, errors correlated 0.5", 100, SWEEPS);
    rows[n++].correlation = 0.5;
    return n;
}

static size_t list_uneven(plan *rows)
{
    size_t n = 0;
    rows[n] = clean("N = 100, scatter 13 times at the rim", 100, SWEEPS);
    rows[n++].rim = 13;
    rows[n] = clean("row by row, scatter 13 times at the rim", 400, ROWS);
    rows[n++].rim = 13;
    rows[n] = clean("scatter 7 times as large at the end", 400, SWEEPS);
    rows[n++].end = 7;
    rows[n] = clean("N = 100, scatter 7 times at the end", 100, SWEEPS);
    rows[n++].end = 7;
    rows[n] = clean("Student t tails, 3 degrees of freedom", 400, SWEEPS);
    rows[n++].tails = 3;
    rows[n] = clean("scatter of x to y as .5 to 1.4", 400, SWEEPS);
    rows[n].scatter[0] = 0.5, rows[n++].scatter[1] = 1.4;
    return n;
}

static size_t list_beyond(plan *rows)
{
    size_t n = 0;
    rows[n] = clean("beyond: waves of .5 sigma over x and y", 400, SWEEPS);
    rows[n++].waves = 0.5;
    rows[n] = clean("beyond: eight local dents", 400, SWEEPS);
    rows[n++].dents = true;
    rows[n] = clean("beyond: a random walk of .6 sigma", 400, SWEEPS);
    rows[n++].walk = 0.6;
    return n;
}

static void print_found(const tally *t) { tally_print(t->found, t->patterns); }

static void print_calibration(const tally *t)
{
    printf("\n(estimate - truth) / standard error on the plates of the first row\n");
    for (int k = 0; k < TERMS; k++) {
        if (!t->tested[k]) continue;
        double mean = t->z[k] / t->tested[k];
        printf("  %-8s mean %+.2f, standard deviation %.2f\n", tally_term_name(k), mean,
               sqrt(t->z2[k] / t->tested[k] - mean * mean));
    }
}

static tally print_clean_row(const plan *p, int runs, uint64_t seed)
{
    tally t = tally_plates(p, runs, seed);
    printf("%-42s %5.1f%% %5.1f%% %5.1f%% ", p->name, tally_percent(t.said, &t),
           tally_percent(t.named, &t), tally_percent(t.structure, &t));
    print_found(&t);
    return t;
}

/* `word`: only the rows that have it in their name; NULL: all */
static int print_clean(int runs, bool check, const char *word)
{
    plan plans[CLEAN_MOST];
    size_t rows = list_even(plans);
    rows += list_uneven(plans + rows);
    size_t within = check ? CHECKED_ROWS : rows;
    if (!check) rows += list_beyond(plans + rows);
    int failed = 0;
    tally first = {0};
    printf("%-42s %6s %6s %6s  %s\n", "no cause planted", "said", "named", "left",
           "found, times (also where not told apart)");
    for (size_t i = 0; i < (check ? within : rows); i++) {
        if (word && !strstr(plans[i].name, word)) continue;
        tally t = print_clean_row(&plans[i], runs, 1000003u * (uint64_t)(i + 1));
        double slack = 3 * sqrt(ALLOWED * (1 - ALLOWED) / t.plates);
        if (i < within) failed |= (double)t.said / t.plates > ALLOWED + slack;
        if (i == 0) first = t;
    }
    if (!check && first.plates > 0) print_calibration(&first);
    return failed;
}

/* --- one cause planted -------------------------------------------------------------------- */

static void print_heads(int runs, const char *what)
{
    printf("\n%d plates a row, %s\n%-36s %6s %8s %6s  %s\n", runs, what, "one cause planted",
           "right", "unclear", "wrong", "found, times (also where not told apart)");
}

static tally print_effect(const plan *p, int runs, uint64_t seed)
{
    tally t = tally_plates(p, runs, seed);
    printf("%-36s %5.0f%% %7.0f%% %5.0f%% ", p->name, tally_percent(t.right, &t),
           tally_percent(t.unclear, &t), tally_percent(t.named, &t));
    if (p->tool_life) printf(" tool changes a plate %.2f,", (double)t.changes / t.plates);
    print_found(&t);
    return t;
}

static void print_terms(int runs, size_t holes, double times)
{
    static const struct {
        pp_term_kind kind;
        const char *name;
        double size;
        size_t tool_life;
    } effects[] = {{PP_TERM_SCALE, "scale common, .03 mm at the rim", 0.03, 0},
                   {PP_TERM_SCALE_XY, "scale x-y, .03 mm", 0.03, 0},
                   {PP_TERM_SQUARENESS, "squareness, .03 mm", 0.03, 0},
                   {PP_TERM_BOW_X, "bow of x axis, .03 mm", 0.03, 0},
                   {PP_TERM_BOW_Y, "bow of y axis, .03 mm", 0.03, 0},
                   {PP_TERM_LOST_MOTION_X, "lost motion x, .03 mm", 0.03, 0},
                   {PP_TERM_LOST_MOTION_Y, "lost motion y, .03 mm", 0.03, 0},
                   {PP_TERM_DRIFT_X, "drift x, .04 mm over the job", 0.04, 0},
                   {PP_TERM_DRIFT_Y, "drift y, .04 mm over the job", 0.04, 0},
                   {PP_TERM_GROWTH, "growth in time, .03 mm at the rim", 0.03, 0},
                   {PP_TERM_WEAR, "wear -.1 um a hole, tools of 150", -1e-4, 150},
                   {PP_TERM_WEAR, "wear -.05 um a hole, tools of 150", -5e-5, 150}};
    for (size_t i = 0; i < sizeof effects / sizeof *effects; i++) {
        if (times != 1 && effects[i].tool_life) continue;
        plan p = clean(effects[i].name, holes, SWEEPS);
        p.effect = effects[i].kind, p.size = times * effects[i].size;
        p.tool_life = effects[i].tool_life;
        print_effect(&p, runs, 2000003u * (uint64_t)(i + 1));
    }
}

static void print_patterns(int runs, size_t holes, double times, sequence order)
{
    static const struct {
        pp_error_pattern_kind kind;
        const char *name;
    } patterns[] = {{PP_PATTERN_STEP, "step, any place and direction"},
                    {PP_PATTERN_BLOCKS, "six blocks, normal shifts"},
                    {PP_PATTERN_HALF_PLATE, "half plate"},
                    {PP_PATTERN_ALTERNATE, "every second hole"},
                    {PP_PATTERN_OSCILLATION, "swing, 1.5 to 6 times"}};
    for (size_t i = 0; i < sizeof patterns / sizeof *patterns; i++) {
        plan p = clean(patterns[i].name, holes, order);
        p.pattern = patterns[i].kind, p.size = times * SIGMA;
        print_effect(&p, runs, 3000017u * (uint64_t)(i + 1));
    }
}

static int at_least_one(int runs) { return runs > 0 ? runs : 1; }

/* Several causes on one plate, each of `times` sigma: right is all of them told apart. */
static void print_together(int runs, size_t holes, double times)
{
    enum { NO = PP_TERM_KINDS, NONE = PP_PATTERN_KINDS };
    static const struct {
        const char *name;
        struct {
            int effect, pattern;
        } of[PLANTED_MOST];
    } rows[] = {
        {"scale, lost motion x, drift x",
         {{PP_TERM_SCALE, NONE}, {PP_TERM_LOST_MOTION_X, NONE}, {PP_TERM_DRIFT_X, NONE}}},
        {"squareness, step", {{PP_TERM_SQUARENESS, NONE}, {NO, PP_PATTERN_STEP}, {NO, NONE}}},
        {"swing, scale", {{NO, PP_PATTERN_OSCILLATION}, {PP_TERM_SCALE, NONE}, {NO, NONE}}},
        {"step, half plate", {{NO, PP_PATTERN_STEP}, {NO, PP_PATTERN_HALF_PLATE}, {NO, NONE}}},
        {"step, drift y", {{NO, PP_PATTERN_STEP}, {PP_TERM_DRIFT_Y, NONE}, {NO, NONE}}},
        {"bow of x axis, half plate",
         {{PP_TERM_BOW_X, NONE}, {NO, PP_PATTERN_HALF_PLATE}, {NO, NONE}}},
        {"six blocks, scale x-y", {{NO, PP_PATTERN_BLOCKS}, {PP_TERM_SCALE_XY, NONE}, {NO, NONE}}},
        {"every second hole, growth",
         {{NO, PP_PATTERN_ALTERNATE}, {PP_TERM_GROWTH, NONE}, {NO, NONE}}}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        plan p[PLANTED_MOST];
        for (int k = PLANTED_MOST - 1; k >= 0; k--) {
            p[k] = clean(rows[i].name, holes, SWEEPS);
            p[k].effect = (pp_term_kind)rows[i].of[k].effect;
            p[k].pattern = (pp_error_pattern_kind)rows[i].of[k].pattern;
            bool drifts =
                p[k].effect == PP_TERM_DRIFT_X || p[k].effect == PP_TERM_DRIFT_Y; /* over a job */
            p[k].size = times * (drifts ? 4 : 3) * SIGMA / 3;
            bool last = k + 1 == PLANTED_MOST ||
                        (rows[i].of[k + 1].effect == NO && rows[i].of[k + 1].pattern == NONE);
            p[k].beside = last ? NULL : &p[k + 1];
        }
        print_effect(&p[0], runs, 4000037u * (uint64_t)(i + 1));
    }
}

static void print_planted(int runs)
{
    static const struct {
        size_t holes;
        double times;
        sequence order;
        const char *what;
    } tables[] = {{400, 1, SWEEPS, "N = 400, four sweeps, one sigma"},
                  {400, 2, SWEEPS, "N = 400, four sweeps, two sigma"},
                  {400, 4, SWEEPS, "N = 400, four sweeps, four sigma"},
                  {100, 1, SWEEPS, "N = 100, four sweeps, one sigma"},
                  {100, 2, SWEEPS, "N = 100, four sweeps, two sigma"},
                  {100, 4, SWEEPS, "N = 100, four sweeps, four sigma"},
                  {400, 2, ROWS, "N = 400, row by row, two sigma"},
                  {400, 2, RANDOM, "N = 400, random order, two sigma"}};
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        int each = at_least_one(tables[i].times == 1 ? runs / 2 : runs / 4);
        print_heads(each, tables[i].what);
        if (tables[i].times < 4 && tables[i].order == SWEEPS)
            print_terms(each, tables[i].holes, tables[i].times);
        print_patterns(each, tables[i].holes, tables[i].times, tables[i].order);
    }
}

/* The same with 2000 holes */
static void print_large(int runs)
{
    static const struct {
        const char *name;
        sequence order;
        double correlation;
    } rows[] = {{"N = 2000, four sweeps", SWEEPS, 0},
                {"N = 2000, row by row", ROWS, 0},
                {"N = 2000, random order", RANDOM, 0},
                {"N = 2000, errors correlated 0.5", SWEEPS, 0.5}};
    printf("%d plates a row\n", runs);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        plan p = clean(rows[i].name, 2000, rows[i].order);
        p.correlation = rows[i].correlation;
        print_clean_row(&p, runs, 5000011u * (uint64_t)(i + 1));
    }
    int each = at_least_one(runs / 4);
    print_heads(each, "N = 2000, four sweeps, one sigma");
    print_terms(each, 2000, 1);
    print_patterns(each, 2000, 1, SWEEPS);
    print_heads(each, "N = 2000, four sweeps, one sigma, together");
    print_together(each, 2000, 1);
}

/* Two patterns far above the scatter must be named, which a quiet break of the search would hide.
 */
static int check_patterns(int runs)
{
    static const pp_error_pattern_kind KINDS[] = {PP_PATTERN_STEP, PP_PATTERN_HALF_PLATE};
    int failed = 0;
    print_heads(runs, "N = 400, four sweeps, four sigma");
    for (size_t i = 0; i < sizeof KINDS / sizeof *KINDS; i++) {
        plan p = clean(i ? "half plate" : "step", 400, SWEEPS);
        p.pattern = KINDS[i], p.size = 4 * SIGMA;
        tally t = print_effect(&p, runs, 3000017u * (uint64_t)(i + 1));
        failed |= t.right < LEAST_FOUND * t.plates;
    }
    return failed;
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char **argv)
{
    bool check = argc > 1 && strcmp(argv[1], "--check") == 0;
    bool large = argc > 1 && strcmp(argv[1], "--large") == 0;
    bool together = argc > 1 && strcmp(argv[1], "--together") == 0;
    bool sound = argc > 1 && strcmp(argv[1], "--sound") == 0;
    int word = 1 + (check || large || together || sound),
        runs = atoi(argc > word ? argv[word] : "200");
    if (runs < 1) {
        fprintf(stderr, "diagnosis_simulation [--check|--large|--together|--sound] [RUNS]\n");
        return 2;
    }
    double begin = seconds();
    if (together) {
        for (int times = 1; times <= 4; times *= 2) {
            printf("\n%d sigma", times);
            print_heads(runs, "N = 400, four sweeps, together");
            print_together(runs, 400, times);
        }
    }
    if (large) print_large(runs);
    if (large || together) {
        printf("\n%.0f s\n", seconds() - begin);
        return 0;
    }
    printf("%d plates a row, scatter %.3f mm, %d holes misdrilled on each\n", runs, SIGMA,
           SIMULATED_MISDRILLED);
    int failed = print_clean(runs, check, sound && argc > word + 1 ? argv[word + 1] : NULL);
    if (check)
        failed |= check_patterns(at_least_one(runs / 2));
    else if (!sound)
        print_planted(runs);
    printf("\n%.0f s\n", seconds() - begin);
    return failed;
}
