#include "causes/separable_terms.h"

#include <string.h>

#include "base/parallel.h"

enum { N = PP_SCREEN_KINDS, NUISANCES = PP_FIELD_FIRST_TERM, HOLES_PER_PART = 8192, STRIP = 32 };

static const double NEARLY_NOTHING = 1e-4;
static const double NO_EXTENT = 1e-12; /* share of squared size that is rounding */

const char *pp_term_name(pp_term_kind kind)
{
    static const char *const names[PP_TERM_KINDS] = {
        "scale common",  "scale x-y",     "squareness", "bow of x axis", "bow of y axis",
        "lost motion x", "lost motion y", "drift x",    "drift y",       "growth in time",
        "lean",          "tool wear",     "tool change"};
    return names[kind];
}

const char *pp_term_said(const char *name)
{
    static const char *const said[][2] = {{"lost motion x", "lost motion (backlash) x"},
                                          {"lost motion y", "lost motion (backlash) y"},
                                          {"drift x", "position wander over the job, x"},
                                          {"drift y", "position wander over the job, y"}};
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        if (strcmp(said[i][0], name) == 0) return said[i][1];
    return name;
}

/* --- products of the unit fields ---------------------------------------------------------- */

typedef struct part_products {
    double gram[N][N]; /* lower */
    double longest[N]; /* squared length of the longest vector */
    size_t moves[2][2];
} part_products;

typedef struct product_pass {
    const pp_error_field *field;
    size_t parts;
    part_products *products;
} product_pass;

static void add_hole(double vx[N][STRIP], double vy[N][STRIP], size_t n, int kinds,
                     part_products *p)
{
    double x[N], y[N];
    for (int k = 0; k < kinds; k++) x[k] = vx[k][n], y[k] = vy[k][n];
    for (int j = 0; j < kinds; j++) {
        for (int k = 0; k < j; k++) p->gram[j][k] += x[j] * x[k] + y[j] * y[k];
        double square = x[j] * x[j] + y[j] * y[j];
        p->gram[j][j] += square;
        p->longest[j] = square > p->longest[j] ? square : p->longest[j];
    }
}

static void count_moves(const int8_t *move, size_t count, size_t moves[2])
{
    for (size_t i = 0; i < count; i++) moves[0] += move[i]<0, moves[1] += move[i]> 0;
}

static pp_status multiply_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    product_pass *p = context;
    const pp_error_field *f = p->field;
    part_products *s = &p->products[part];
    memset(s, 0, sizeof *s);
    int kinds = PP_FIELD_KINDS + f->extra_count; /* what needs the order is 0 without it */
    if (kinds == PP_FIELD_KINDS && !f->order_known) kinds = NUISANCES + PP_TERM_LOST_MOTION_X;
    size_t end = pp_part_begin(f->count, p->parts, part + 1), count;
    for (size_t i = pp_part_begin(f->count, p->parts, part); i < end; i += count) {
        double vx[N][STRIP], vy[N][STRIP];
        count = end - i < STRIP ? end - i : STRIP;
        for (int k = 0; k < kinds; k++)
            pp_error_field_vectors(f, (pp_field_kind)k, i, count, vx[k], vy[k]);
        for (size_t n = 0; n < count; n++) add_hole(vx, vy, n, kinds, s);
        count_moves(f->move_x + i, count, s->moves[0]);
        count_moves(f->move_y + i, count, s->moves[1]);
    }
    return PP_OK;
}

static pp_status multiply(const pp_error_field *field, int threads, pp_arena *scratch,
                          part_products *total, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    product_pass p = {.field = field, .parts = field->count / HOLES_PER_PART + 1};
    PP_TAKE(p.products, scratch, p.parts);
    pp_status status = pp_parallel(threads, p.parts, multiply_part, &p, error);
    memset(total, 0, sizeof *total);
    for (size_t k = 0; status == PP_OK && k < p.parts; k++) {
        for (int i = 0; i < N; i++) {
            for (int j = 0; j <= i; j++) total->gram[i][j] += p.products[k].gram[i][j];
            total->longest[i] = fmax(total->longest[i], p.products[k].longest[i]);
        }
        for (int axis = 0; axis < 2; axis++)
            for (int way = 0; way < 2; way++)
                total->moves[axis][way] += p.products[k].moves[axis][way];
    }
    for (int i = 0; i < N; i++)
        for (int j = 0; j < i; j++) total->gram[j][i] = total->gram[i][j];
    pp_arena_release(scratch, mark);
    return status;
}

/* Take the part along field k out of all others (one step of a Cholesky elimination). */
static void project_out(double gram[N][N], int kinds, int k)
{
    double pivot = gram[k][k], column[N];
    for (int i = 0; i < kinds; i++) column[i] = gram[i][k];
    for (int i = 0; i < kinds; i++)
        for (int j = 0; j < kinds; j++) gram[i][j] -= column[i] * column[j] / pivot;
}

/* --- partners ----------------------------------------------------------------------------- */

enum { SCALE = NUISANCES + PP_TERM_SCALE, SCALE_XY = NUISANCES + PP_TERM_SCALE_XY };

typedef struct likeness {
    double share; /* of the term's squared size that the partner explains */
    const char *name;
    uint32_t kinds;
} likeness;

static void offer(likeness *best, double product, double term_square, double partner_square,
                  const char *name, uint32_t kinds)
{
    double share = product * product / (term_square * partner_square);
    if (partner_square > 0 && share > best->share) *best = (likeness){share, name, kinds};
}

/* The term that looks most like k once shift and rotation are out: `rest` holds the products of
 * what is left. The scale of one axis alone is common scale and difference together. */
static likeness most_alike(const pp_screen *s, double rest[N][N], int k)
{
    likeness best = {0, "a shift or rotation of the whole pattern", 0};
    double square = rest[k][k];
    for (int j = NUISANCES; j < k; j++)
        if (s->entered[j])
            offer(&best, rest[k][j], square, rest[j][j],
                  pp_term_name((pp_term_kind)(j - NUISANCES)), 1u << j);
    if (!s->entered[SCALE] || !s->entered[SCALE_XY]) return best;
    for (int sign = 1; sign >= -1; sign -= 2)
        offer(&best, rest[k][SCALE] + sign * rest[k][SCALE_XY], square,
              rest[SCALE][SCALE] + rest[SCALE_XY][SCALE_XY] + 2 * sign * rest[SCALE][SCALE_XY],
              sign > 0 ? "scale x" : "scale y", 1u << SCALE | 1u << SCALE_XY);
    return best;
}

/* What keeps the term out whatever else is in; NULL if nothing does. */
static const char *missing(const pp_error_field *f, const part_products *p, int kind)
{
    if (pp_field_kind_needs_order((pp_field_kind)kind) && !f->order_known)
        return f->order_missing ? "the drilling order of some holes is missing"
                                : "the drilling order is not given";
    for (int axis = 0; axis < 2; axis++)
        if (kind == NUISANCES + PP_TERM_LOST_MOTION_X + axis)
            for (int way = 0; way < 2; way++)
                if (p->moves[axis][way] < PP_SCREEN_REVERSALS)
                    return "too few holes were approached from the other side";
    return NULL;
}

/* --- the screen --------------------------------------------------------------------------- */

static void enter(pp_screen *s, double gram[N][N], int kind)
{
    s->entered[kind] = true;
    s->model.kind[s->model.count++] = (pp_field_kind)kind;
    project_out(gram, PP_FIELD_KINDS + s->model.field->extra_count, kind);
}

int pp_screen_place(const pp_screen *screen, int kind)
{
    for (int j = 0; j < screen->model.count; j++)
        if ((int)screen->model.kind[j] == kind) return j;
    return -1;
}

/* A component was chosen for what it explains; a label may be the same as another. */
static double least_left(const pp_error_field *f, int kind)
{
    return f->extra[kind - PP_FIELD_KINDS].label ? PP_SCREEN_LEFT : NEARLY_NOTHING;
}

pp_status pp_screen_terms(const pp_error_field *field, const char *const *kept_out, int threads,
                          pp_arena *scratch, pp_screen *screen, pp_error *error)
{
    pp_screen s = {.model.field = field};
    part_products products;
    PP_TRY(multiply(field, threads, scratch, &products, error));
    double size[N], rest[N][N],
        left[N][N]; /* of all; without nuisances; without all that entered */
    memcpy(left, products.gram, sizeof left);
    for (int k = 0; k < N; k++) size[k] = left[k][k], s.longest[k] = sqrt(products.longest[k]);
    for (int k = 0; k < NUISANCES; k++) enter(&s, left, k);
    for (int k = PP_FIELD_KINDS; k < PP_FIELD_KINDS + field->extra_count; k++)
        if (size[k] > 0 && left[k][k] >= least_left(field, k) * size[k]) enter(&s, left, k);
    memcpy(rest, left, sizeof rest);
    for (int k = NUISANCES; k < PP_FIELD_KINDS; k++) {
        s.partner[k] = missing(field, &products, k);
        if (!s.partner[k] && kept_out) s.partner[k] = kept_out[k];
        if (s.partner[k]) continue;
        if (!(size[k] > 0)) {
            s.partner[k] = "the pattern has no extent in that direction";
        } else if (left[k][k] >= PP_SCREEN_LEFT * size[k]) {
            enter(&s, left, k);
        } else if (rest[k][k] <= NO_EXTENT * size[k]) {
            s.partner[k] = "a shift or rotation of the whole pattern";
        } else {
            likeness best = most_alike(&s, rest, k);
            s.partner[k] = best.name;
            s.looks_like[k] = best.kinds;
        }
    }
    *screen = s;
    return PP_OK;
}
