#include "simulated_plate.h"

#include <stdlib.h>

enum {
    FIELD_MAX = 2400,
    BLOCKS = 6,
    DENTS = 8,
    PLACE_FROM_END = 8,
    MISDRILLED = SIMULATED_MISDRILLED
};
static const double SIGMA = SIMULATED_SIGMA, SIGMA_DIAMETER = 0.005;
static const double FIELD_RADIUS = SIMULATED_RADIUS;
static const double TURN = 6.283185307179586;

typedef struct site { /* one hole of the field */
    double x, y;
    int row, in_row;
    double key; /* sorts the drilling order */
    double order;
} site;

/* --- a plate ------------------------------------------------------------------------------ */

/* Pitch of a triangular field that so many holes fill. */
static double filled_pitch(size_t holes)
{
    return FIELD_RADIUS * sqrt(TURN / (2 * 0.8660254037844386 * (double)holes));
}

static size_t make_field(const plan *p, site *sites)
{
    size_t n = 0;
    const double PITCH = p->filled ? filled_pitch(p->holes) : p->holes > 1000 ? 24 : 32;
    const double RADIUS = p->filled ? FIELD_RADIUS + PITCH : FIELD_RADIUS;
    double step = PITCH * 0.8660254037844386;
    int rows = (int)(RADIUS / step);
    for (int row = -rows; row <= rows; row++) {
        double offset = row % 2 ? 0.5 * PITCH : 0;
        for (int k = -30; k <= 30; k++) {
            double x = k * PITCH + offset, y = row * step;
            if (x * x + y * y < RADIUS * RADIUS && n < FIELD_MAX)
                sites[n++] = (site){x, y, row + rows, k + 30, 0, 0};
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

/* Where a hole comes in the drilling order. */
static double key_of(const site *s, sequence order, test_random *r)
{
    if (order == RANDOM) return random_unit(r);
    int sweep = order == SWEEPS ? s->row % 4 : order == ACROSS ? (s->in_row + s->row) % 4 : 0;
    int turn = order == SWEEPS ? s->row / 4 : order == ACROSS ? s->row + sweep : s->row;
    double along = turn % 2 ? -s->x : s->x; /* there and back */
    double up = order == ACROSS && sweep % 2 ? -s->row : s->row;
    return 1e7 * sweep + 1e4 * up + along;
}

/* Keep `holes` of the field, those next to the centre or any, sorted by place, and number them as
 * they are drilled. */
static void choose_sites(site *sites, size_t field, const plan *p, test_random *r)
{
    for (size_t i = 0; p->filled && i < field; i++) sites[i].key = hypot(sites[i].x, sites[i].y);
    if (p->filled) qsort(sites, field, sizeof *sites, by_key);
    for (size_t i = 0; !p->filled && i < p->holes; i++) {
        size_t j = i + random_below(r, field - i);
        site keep = sites[i];
        sites[i] = sites[j];
        sites[j] = keep;
    }
    for (size_t i = 0; i < p->holes; i++) sites[i].key = key_of(&sites[i], p->sequence, r);
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

/* What a plate's own draw of a pattern is. */
typedef struct drawn {
    double shift[BLOCKS][2];
    size_t block_end[BLOCKS];
    double cut, periods, phase[2];
    int axis;
    double dent[DENTS][4]; /* place, and its error */
    double walk[2];
} drawn;

static void draw(const plan *p, test_random *r, drawn *d)
{
    *d = (drawn){.axis = 0};
    if (p->dents)
        for (int k = 0; k < DENTS; k++) {
            double far = FIELD_RADIUS * sqrt(random_unit(r)), a = random_between(r, 0, TURN);
            double way = random_between(r, 0, TURN);
            d->dent[k][0] = far * cos(a), d->dent[k][1] = far * sin(a);
            d->dent[k][2] = SIGMA * cos(way), d->dent[k][3] = SIGMA * sin(way);
        }
    if (p->pattern == PP_PATTERN_KINDS) return;
    double way = random_between(r, 0, TURN);
    d->shift[1][0] = p->size * cos(way), d->shift[1][1] = p->size * sin(way);
    d->block_end[0] = PLACE_FROM_END + random_below(r, p->holes - 2 * PLACE_FROM_END);
    d->axis = (int)random_below(r, 2);
    d->cut = random_between(r, -0.5, 0.5) * FIELD_RADIUS;
    d->periods = random_between(r, 1.5, 6);
    d->phase[0] = random_between(r, 0, TURN), d->phase[1] = random_between(r, 0, TURN);
    if (p->pattern != PP_PATTERN_BLOCKS) return;
    for (int k = 0; k < BLOCKS; k++) {
        d->block_end[k] = (size_t)(k + 1) * p->holes / BLOCKS;
        for (int axis = 0; axis < 2; axis++) d->shift[k][axis] = p->size * random_normal(r);
    }
}

static void add_drawn(const plan *p, drawn *d, const site *at, size_t k, test_random *r, double *ex,
                      double *ey)
{
    double s = (double)k / (double)(p->holes - 1);
    size_t block = 0;
    if (p->walk > 0) {
        double step = p->walk * SIGMA * sqrt(6 / (double)p->holes);
        d->walk[0] += step * random_normal(r), d->walk[1] += step * random_normal(r);
        *ex += d->walk[0], *ey += d->walk[1];
    }
    for (int i = 0; p->dents && i < DENTS; i++) {
        double far = hypot(at->x - d->dent[i][0], at->y - d->dent[i][1]) / (0.15 * FIELD_RADIUS);
        *ex += 1.5 * d->dent[i][2] * exp(-0.5 * far * far);
        *ey += 1.5 * d->dent[i][3] * exp(-0.5 * far * far);
    }
    switch (p->pattern) {
    case PP_PATTERN_STEP:
        block = k >= d->block_end[0];
        break;
    case PP_PATTERN_HALF_PLATE:
        block = (d->axis ? at->y : at->x) > d->cut;
        break;
    case PP_PATTERN_ALTERNATE:
        block = k % 2;
        break;
    case PP_PATTERN_OSCILLATION:
        *ex += d->shift[1][0] * cos(TURN * d->periods * s + d->phase[0]);
        *ey += d->shift[1][1] * cos(TURN * d->periods * s + d->phase[1]);
        break;
    case PP_PATTERN_BLOCKS:
        while (block + 1 < BLOCKS && k >= d->block_end[block]) block++;
        break;
    default:
        break;
    }
    *ex += d->shift[block][0], *ey += d->shift[block][1];
}

/* Scatter grows exponentially with the squared radius, or along the order; 1 in the middle. */
static double factor(const plan *p, const site *at, size_t k)
{
    double f = 1, r2 = (at->x * at->x + at->y * at->y) / (FIELD_RADIUS * FIELD_RADIUS);
    if (p->rim > 0) f *= pow(p->rim, r2 - 0.5);
    if (p->end > 0) f *= pow(p->end, (double)k / (double)(p->holes - 1) - 0.5);
    return f;
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
    drawn d[PLANTED_MOST];
    int plans = 0;
    for (const plan *q = p; q && plans < PLANTED_MOST; q = q->beside) draw(q, r, &d[plans++]);
    for (size_t k = 0; k < p->holes; k++) {
        double x = sites[k].x, y = sites[k].y, even = factor(p, &sites[k], k),
               root = k ? sqrt(1 - f * f) : 1;
        last_x = (k ? f * last_x : 0) + root * unit_error(p, r);
        last_y = (k ? f * last_y : 0) + root * unit_error(p, r);
        last_d = (k ? g * last_d : 0) + (k ? sqrt(1 - g * g) : 1) * random_normal(r);
        if (k > 0) {
            move_x = sign_of_move(sites[k - 1].x, x, move_x);
            move_y = sign_of_move(sites[k - 1].y, y, move_y);
        }
        bore_truth *t = &truth[k];
        t->ex = 0.5 + 3e-4 * -y +
                SIGMA * even * p->scatter[0] * last_x; /* as measured: shifted, turned */
        t->ey = -0.2 + 3e-4 * x + SIGMA * even * p->scatter[1] * last_y;
        t->ex += p->waves * SIGMA * sin(wave_x + 6.283185 * (x + 2 * y) / (3 * FIELD_RADIUS));
        t->ey += p->waves * SIGMA * sin(wave_y + 6.283185 * (2 * x - y) / (3 * FIELD_RADIUS));
        const plan *q = p;
        for (int i = 0; i < plans; i++, q = q->beside) {
            double place = (double)k / (double)(p->holes - 1) - 0.5;
            plant(q, x, y, place, move_x, move_y, &t->ex, &t->ey);
            add_drawn(q, &d[i], &sites[k], k, r, &t->ex, &t->ey);
        }
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

void simulated_plate(const plan *p, uint64_t seed, test_plate *plate)
{
    test_random r = {seed};
    static site sites[FIELD_MAX];
    static bore_truth truth[FIELD_MAX];
    static double x[FIELD_MAX], y[FIELD_MAX];
    choose_sites(sites, make_field(p, sites), p, &r);
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
