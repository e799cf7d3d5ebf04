/* How often the diagnosis raises a false alarm, and how often it finds what is there.
 *
 *     diagnosis_simulation [RUNS]        500 plates a row by default; the power table takes 2/5 of
 * it diagnosis_simulation --check RUNS  the three orders and one correlated row only; exit 1 when a
 *                                        row exceeds 6 % by more than three standard errors
 *
 * The same numbers on every machine: the random numbers are our own, one seed a plate.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "support/measures.h"
#include "support/random.h"

#include "causes/diagnosis.h"

enum { FIELD_MAX = 1600, MISDRILLED = 3, TERMS = PP_TERM_KINDS };
static const double SIGMA = 0.03, SIGMA_DIAMETER = 0.005, PITCH = 32, FIELD_RADIUS = 600;
static const double ALLOWED = 0.06;

typedef enum sequence { SWEEPS, ROWS, RANDOM } sequence;

typedef struct plan {
    const char *name;
    size_t holes;
    sequence sequence;
    double correlation;          /* of the errors from hole to hole */
    double diameter_correlation; /* of the diameters */
    bool both_faces;             /* exits read too, without a lean */
    double waves;                /* of a smooth field no term describes, in SIGMA */
    int tails;                   /* degrees of freedom of Student's t; 0: normal */
    double scatter[2];           /* factors of SIGMA */
    pp_term_kind effect;         /* PP_TERM_KINDS: none */
    double size;      /* mm: worst effect; drift, lost motion: the value; wear: per hole */
    size_t tool_life; /* holes; 0: one tool */
} plan;

typedef struct site { /* one hole of the field */
    double x, y;
    int row;
    double key; /* sorts the drilling order */
    double order;
} site;

/* --- a plate ------------------------------------------------------------------------------ */

static size_t make_field(site *sites)
{
    size_t n = 0;
    double step = PITCH * 0.8660254037844386;
    int rows = (int)(FIELD_RADIUS / step);
    for (int row = -rows; row <= rows; row++) {
        double offset = row % 2 ? 0.5 * PITCH : 0;
        for (int k = -30; k <= 30; k++) {
            double x = k * PITCH + offset, y = row * step;
            if (x * x + y * y < FIELD_RADIUS * FIELD_RADIUS && n < FIELD_MAX)
                sites[n++] = (site){x, y, row + rows, 0, 0};
        }
    }
    return n;
}

static int by_key(const void *a, const void *b)
{
    double x = ((const site *)a)->key, y = ((const site *)b)->key;
    return x < y ? -1 : x > y;
}

static int by_place(const void *a, const void *b)
{
    const site *p = a, *q = b;
    if (p->row != q->row) return p->row < q->row ? -1 : 1;
    return p->x < q->x ? -1 : p->x > q->x;
}

/* Keep `holes` of the field at random, sorted by place, and number them as they are drilled. */
static void choose_sites(site *sites, size_t field, const plan *p, test_random *r)
{
    for (size_t i = 0; i < p->holes; i++) {
        size_t j = i + random_below(r, field - i);
        site keep = sites[i];
        sites[i] = sites[j];
        sites[j] = keep;
    }
    for (size_t i = 0; i < p->holes; i++) {
        site *s = &sites[i];
        int sweep = p->sequence == SWEEPS ? s->row % 4 : 0;
        int turn = p->sequence == SWEEPS ? s->row / 4 : s->row;
        double along = turn % 2 ? -s->x : s->x; /* there and back */
        s->key = p->sequence == RANDOM ? random_unit(r) : 1e7 * sweep + 1e4 * s->row + along;
    }
    qsort(sites, p->holes, sizeof *sites, by_key);
    for (size_t i = 0; i < p->holes; i++) sites[i].order = (double)i;
}

static double unit_error(const plan *p, test_random *r)
{
    double z = random_normal(r);
    if (!p->tails) return z;
    double square = 0;
    for (int k = 0; k < p->tails; k++) {
        double v = random_normal(r);
        square += v * v;
    }
    return z / sqrt(square / p->tails);
}

/* The effect planted, at place k of the order. */
static void plant(const plan *p, double x, double y, double s, int move_x, int move_y, double *ex,
                  double *ey)
{
    double l = FIELD_RADIUS, a = p->size;
    switch (p->effect) {
    case PP_TERM_SCALE:
        *ex += a / l * x, *ey += a / l * y;
        break;
    case PP_TERM_SCALE_XY:
        *ex += a / l * x, *ey -= a / l * y;
        break;
    case PP_TERM_SQUARENESS:
        *ex += a / l * y, *ey += a / l * x;
        break;
    case PP_TERM_BOW_X:
        *ey += a * x / l * x / l;
        break;
    case PP_TERM_BOW_Y:
        *ex += a * y / l * y / l;
        break;
    case PP_TERM_LOST_MOTION_X:
        *ex -= 0.5 * a * move_x;
        break;
    case PP_TERM_LOST_MOTION_Y:
        *ey -= 0.5 * a * move_y;
        break;
    case PP_TERM_DRIFT_X:
        *ex += a * s;
        break;
    case PP_TERM_DRIFT_Y:
        *ey += a * s;
        break;
    case PP_TERM_GROWTH:
        *ex += 2 * a / l * x * s, *ey += 2 * a / l * y * s;
        break;
    default:
        break;
    }
}

static int sign_of_move(double from, double to, int last)
{
    return fabs(to - from) > 1e-6 ? (to > from ? 1 : -1) : last;
}

typedef struct bore_truth {
    double ex, ey, diameter;
} bore_truth;

static void make_errors(const site *sites, const plan *p, bore_truth *truth, test_random *r)
{
    double last_x = 0, last_y = 0, last_d = 0, f = p->correlation, g = p->diameter_correlation;
    int move_x = 0, move_y = 0;
    double wave_x = p->waves > 0 ? random_between(r, 0, 6.283185) : 0;
    double wave_y = p->waves > 0 ? random_between(r, 0, 6.283185) : 0;
    for (size_t k = 0; k < p->holes; k++) {
        double x = sites[k].x, y = sites[k].y, root = k ? sqrt(1 - f * f) : 1;
        last_x = (k ? f * last_x : 0) + root * unit_error(p, r);
        last_y = (k ? f * last_y : 0) + root * unit_error(p, r);
        last_d = (k ? g * last_d : 0) + (k ? sqrt(1 - g * g) : 1) * random_normal(r);
        if (k > 0) {
            move_x = sign_of_move(sites[k - 1].x, x, move_x);
            move_y = sign_of_move(sites[k - 1].y, y, move_y);
        }
        bore_truth *t = &truth[k];
        t->ex = 0.5 + 3e-4 * -y + SIGMA * p->scatter[0] * last_x; /* as measured: shifted, turned */
        t->ey = -0.2 + 3e-4 * x + SIGMA * p->scatter[1] * last_y;
        t->ex += p->waves * SIGMA * sin(wave_x + 6.283185 * (x + 2 * y) / (3 * FIELD_RADIUS));
        t->ey += p->waves * SIGMA * sin(wave_y + 6.283185 * (2 * x - y) / (3 * FIELD_RADIUS));
        plant(p, x, y, (double)k / (double)(p->holes - 1) - 0.5, move_x, move_y, &t->ex, &t->ey);
        size_t used = p->tool_life ? k % p->tool_life : k;
        t->diameter = 25.6 + SIGMA_DIAMETER * last_d;
        if (p->effect == PP_TERM_WEAR) t->diameter += p->size * (double)used;
    }
    for (int k = 0; k < MISDRILLED; k++) {
        size_t i = random_below(r, p->holes);
        double far = 0.3 * pow(32 / 0.3, random_unit(r)), a = random_between(r, 0, 6.283185);
        truth[i].ex += far * cos(a), truth[i].ey += far * sin(a);
        truth[i].diameter += 0.1;
    }
}

static void make_plate(const plan *p, uint64_t seed, test_plate *plate)
{
    test_random r = {seed};
    static site sites[FIELD_MAX];
    static bore_truth truth[FIELD_MAX];
    double x[FIELD_MAX], y[FIELD_MAX];
    choose_sites(sites, make_field(sites), p, &r);
    make_errors(sites, p, truth, &r);
    qsort(sites, p->holes, sizeof *sites, by_place);
    for (size_t i = 0; i < p->holes; i++) x[i] = sites[i].x, y[i] = sites[i].y;
    test_plate_begin(plate, p->holes, x, y, 2 * p->holes);
    for (size_t i = 0; i < p->holes; i++) {
        const bore_truth *t = &truth[(size_t)sites[i].order];
        test_plate_measure(plate, (uint32_t)i, PP_ENTRY, x[i] + t->ex, y[i] + t->ey, t->diameter,
                           sites[i].order + 1);
        if (p->both_faces)
            test_plate_measure(plate, (uint32_t)i, PP_EXIT, x[i] + t->ex + 0.02 * random_normal(&r),
                               y[i] + t->ey + 0.02 * random_normal(&r), t->diameter,
                               sites[i].order + 1);
    }
}

/* --- many plates -------------------------------------------------------------------------- */

typedef struct tally {
    int plates, alarms; /* plates with any false term */
    int found[TERMS];
    double z[TERMS], z2[TERMS]; /* of (estimate - truth) / standard error */
    int tested[TERMS];
    int changes;
} tally;

static double true_value(const plan *p, const pp_term *t, double radius)
{
    if (t->kind != p->effect) return 0;
    double l = FIELD_RADIUS;
    switch (t->kind) {
    case PP_TERM_SCALE:
    case PP_TERM_SCALE_XY:
        return p->size / l;
    case PP_TERM_SQUARENESS:
        return 2 * p->size / l;
    case PP_TERM_BOW_X:
    case PP_TERM_BOW_Y:
        return p->size * radius * radius / (l * l);
    case PP_TERM_GROWTH:
        return 2 * p->size / l;
    default:
        return p->size;
    }
}

static bool expected(const plan *p, const pp_term *t)
{
    if (t->kind == p->effect) return true;
    return t->kind == PP_TERM_TOOL_CHANGE && p->effect == PP_TERM_WEAR && p->tool_life;
}

static void count_plate(const plan *p, const pp_diagnosis *d, double radius, tally *all)
{
    bool alarm = false;
    for (size_t i = 0; i < d->term_count; i++) {
        const pp_term *t = &d->terms[i];
        if (t->state == PP_TERM_NOT_TESTED) continue;
        all->found[t->kind] += t->state == PP_TERM_FOUND;
        alarm |= t->state == PP_TERM_FOUND && !expected(p, t);
        if (t->kind == PP_TERM_TOOL_CHANGE) continue;
        double z = (t->value - true_value(p, t, radius)) / t->standard_error;
        all->tested[t->kind]++, all->z[t->kind] += z, all->z2[t->kind] += z * z;
    }
    all->plates++, all->alarms += alarm, all->changes += (int)d->tool_change_count;
}

static tally simulate(const plan *p, int runs, uint64_t seed)
{
    tally all = {0};
    for (int run = 0; run < runs; run++) {
        test_plate plate;
        pp_diagnosis d;
        pp_error error = {0};
        make_plate(p, seed + 7919u * (uint64_t)run, &plate);
        if (pp_diagnose(&plate.job, &plate.measures, 1, &plate.memory, &d, &error) != PP_OK) {
            fprintf(stderr, "%s\n", error.message);
            exit(2);
        }
        double radius = 0;
        for (size_t i = 0; i < p->holes; i++)
            radius = fmax(radius, hypot(plate.nx[i], plate.ny[i]));
        count_plate(p, &d, radius, &all);
        test_plate_end(&plate);
    }
    return all;
}

static plan clean(const char *name, size_t holes, sequence order)
{
    return (plan){.name = name,
                  .holes = holes,
                  .sequence = order,
                  .scatter = {1, 1},
                  .effect = PP_TERM_KINDS};
}

enum { CLEAN_ROWS = 14, ALL_ROWS = 15, CHECKED_ROWS = 4 };

/* The last is beyond the model, to show what it then does. */
static void list_clean(plan rows[ALL_ROWS])
{
    rows[0] = clean("four interleaved sweeps, N = 400", 400, SWEEPS);
    rows[1] = clean("row by row, N = 400", 400, ROWS);
    rows[2] = clean("random order, N = 400", 400, RANDOM);
    rows[3] = clean("errors correlated 0.5 along the order", 400, SWEEPS);
    rows[3].correlation = 0.5;
    rows[4] = clean("errors correlated 0.2", 400, SWEEPS);
    rows[4].correlation = 0.2;
    rows[5] = clean("errors correlated 0.8", 400, SWEEPS);
    rows[5].correlation = 0.8;
    rows[6] = clean("errors and diameters correlated 0.5", 400, SWEEPS);
    rows[6].correlation = rows[6].diameter_correlation = 0.5;
    rows[7] = clean("N = 60", 60, SWEEPS);
    rows[8] = clean("N = 100", 100, SWEEPS);
    rows[9] = clean("Student t tails, 3 degrees of freedom", 400, SWEEPS);
    rows[9].tails = 3;
    rows[10] = clean("scatter of x to y as .5 to 1.4", 400, SWEEPS);
    rows[10].scatter[0] = 0.5, rows[10].scatter[1] = 1.4;
    rows[11] = clean("row by row, errors correlated 0.5", 400, ROWS);
    rows[12] = clean("random order, errors correlated 0.5", 400, RANDOM);
    rows[11].correlation = rows[12].correlation = 0.5;
    rows[13] = clean("both faces read", 400, SWEEPS);
    rows[13].both_faces = true;
    rows[14] = clean("beyond the model: waves of .5 sigma over x and y", 400, SWEEPS);
    rows[14].waves = 0.5;
}

static const char *const SHORT[TERMS] = {"scale",  "x-y",    "square",  "bow x",   "bow y",
                                         "lost x", "lost y", "drift x", "drift y", "growth",
                                         "lean",   "wear",   "tools"};

static void print_terms(const tally *t)
{
    for (int k = 0; k < TERMS; k++)
        if (t->found[k]) printf(" %s %d,", SHORT[k], t->found[k]);
    printf("\n");
}

static void print_calibration(const tally *t)
{
    printf("\n(estimate - truth) / standard error on the plates of the first row\n");
    for (int k = 0; k < TERMS; k++) {
        if (!t->tested[k]) continue;
        double mean = t->z[k] / t->tested[k];
        printf("  %-8s mean %+.2f, standard deviation %.2f\n", SHORT[k], mean,
               sqrt(t->z2[k] / t->tested[k] - mean * mean));
    }
}

static int print_false_alarms(int runs, int rows)
{
    plan plans[ALL_ROWS];
    list_clean(plans);
    int failed = 0;
    tally first = {0};
    printf("%-42s %8s  %s\n", "clean plates", "alarms", "terms found, times");
    for (int i = 0; i < rows; i++) {
        tally t = simulate(&plans[i], runs, 1000003u * (uint64_t)(i + 1));
        double share = (double)t.alarms / t.plates;
        double slack = 3 * sqrt(ALLOWED * (1 - ALLOWED) / t.plates);
        if (i < CLEAN_ROWS) failed |= share > ALLOWED + slack;
        printf("%-42s %6.1f %%", plans[i].name, 100 * share);
        print_terms(&t);
        fflush(stdout);
        if (i == 0) first = t;
    }
    if (rows == ALL_ROWS) print_calibration(&first);
    return failed;
}

static void print_power(int runs, size_t holes)
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
                   {PP_TERM_WEAR, "wear -.1 um a hole, tools of 150 holes", -1e-4, 150},
                   {PP_TERM_WEAR, "wear -.05 um a hole, tools of 150 holes", -5e-5, 150}};
    printf("\n%-42s %8s %8s %8s %8s\n", "one effect planted", "found", "others", "mean z", "sd z");
    for (size_t i = 0; i < sizeof effects / sizeof *effects; i++) {
        plan p = clean(effects[i].name, holes, SWEEPS);
        p.effect = effects[i].kind, p.size = effects[i].size, p.tool_life = effects[i].tool_life;
        tally t = simulate(&p, runs, 2000003u * (uint64_t)(i + 1));
        int k = (int)p.effect;
        double n = t.tested[k], mean = t.z[k] / n, sd = sqrt(t.z2[k] / n - mean * mean);
        printf("%-42s %8.2f %6.1f %% %8.2f %8.2f", p.name, (double)t.found[k] / t.plates,
               100.0 * t.alarms / t.plates, mean, sd);
        if (p.tool_life)
            printf("   tool changes found a plate: %.2f", (double)t.changes / t.plates);
        printf("\n");
        fflush(stdout);
    }
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
    const char *count = argc > 1 + check ? argv[1 + check] : "500";
    int runs = atoi(count);
    if (runs < 1) {
        fprintf(stderr, "diagnosis_simulation [--check] [RUNS]\n");
        return 2;
    }
    double begin = seconds();
    printf("%d plates a row, scatter %.3f mm, %d holes misdrilled on each\n", runs, SIGMA,
           MISDRILLED);
    int failed = print_false_alarms(runs, check ? CHECKED_ROWS : ALL_ROWS);
    if (!check) {
        int fewer = runs * 2 / 5 > 0 ? runs * 2 / 5 : 1;
        printf("\n%d plates a row, N = 400, four interleaved sweeps", fewer);
        print_power(fewer, 400);
        printf("\n%d plates a row, N = 100, four interleaved sweeps", fewer);
        print_power(fewer, 100);
    }
    printf("\n%.0f s\n", seconds() - begin);
    return failed;
}
