#include "causes/pursuit.h"

#include <math.h>
#include <string.h>

#include "linalg/linalg.h"

static const double NOTHING_LEFT = 1e-6; /* of a column's square: rounding */
static const double TERM_LEFT = PP_SCREEN_LEFT;
static const double FAMILY_LEFT = 0.02; /* of a family's square, beside the model */
static const double STEP_LEFT = 2;      /* holes' worth of information on a step */
enum { FINER = 13 };                    /* points a frequency is refined in */

/* --- columns ------------------------------------------------------------------------------ */

static double *vector_of(const pp_pursuit *p, int column)
{
    return p->q + (size_t)column * p->space->width;
}

/* What is left of candidates after column q came in. */
static void take_out(pp_pursuit *p, const double *q)
{
    const pp_search_space *s = p->space;
    const double *x = q, *y = q + s->scalars, data = q[s->width - 1];
    for (size_t t = 0; t < s->candidates; t++) {
        p->xx[t] -= x[t] * x[t];
        p->yy[t] -= y[t] * y[t];
        p->xy[t] -= x[t] * y[t];
        p->dx[t] -= x[t] * data;
        p->dy[t] -= y[t] * data;
    }
    for (int w = 0; w < s->wave_count; w++) {
        size_t c = s->wave_at + 2 * (size_t)w, v = c + 1;
        p->wave[0][w] -= x[c] * x[v];
        p->wave[1][w] -= x[c] * y[v];
        p->wave[2][w] -= y[c] * x[v];
        p->wave[3][w] -= y[c] * y[v];
    }
}

/* The column in `q` (its product vector, to become orthonormal) of squared length `square`, whose
 * products with the columns in stand in r. */
static bool take_in(pp_pursuit *p, double square)
{
    const pp_search_space *s = p->space;
    double *q = vector_of(p, p->columns), left = square;
    for (int j = 0; j < p->columns; j++) {
        double product = p->r[j * PP_PURSUIT_COLUMNS + p->columns];
        const double *other = vector_of(p, j);
        left -= product * product;
        for (size_t i = 0; i < s->width; i++) q[i] -= product * other[i];
    }
    if (!(left > NOTHING_LEFT * square)) return false;
    double norm = sqrt(left);
    for (size_t i = 0; i < s->width; i++) q[i] /= norm;
    p->r[p->columns * PP_PURSUIT_COLUMNS + p->columns] = norm;
    p->zq[p->columns] = q[s->width - 1];
    p->rest -= q[s->width - 1] * q[s->width - 1];
    take_out(p, q);
    p->columns++;
    return true;
}

static bool add_fixed(pp_pursuit *p, int fixed)
{
    const pp_search_space *s = p->space;
    size_t at = 2 * s->scalars + (size_t)fixed;
    const double *products = s->products + (size_t)fixed * s->width;
    memcpy(vector_of(p, p->columns), products, s->width * sizeof *products);
    for (int j = 0; j < p->columns; j++)
        p->r[j * PP_PURSUIT_COLUMNS + p->columns] = vector_of(p, j)[at];
    return take_in(p, products[at]);
}

static bool add_image(pp_pursuit *p, const pp_image *image, int axis)
{
    const pp_search_space *s = p->space;
    double *q = vector_of(p, p->columns);
    memset(q, 0, s->width * sizeof *q);
    memcpy(q + (size_t)axis * s->scalars, image->scalars, s->scalars * sizeof *q);
    for (int i = 0; i <= s->fixed; i++)
        q[2 * s->scalars + (size_t)i] =
            pp_space_product(s, s->products + (size_t)i * s->width, image, axis);
    for (int j = 0; j < p->columns; j++)
        p->r[j * PP_PURSUIT_COLUMNS + p->columns] =
            pp_space_product(s, vector_of(p, j), image, axis);
    return take_in(p, image->square);
}

static pp_status find_image(const pp_search_space *s, const pp_component *c, int part,
                            pp_image_shelf *shelf, const pp_image **image, pp_error *error)
{
    for (int k = 0; k < shelf->count; k++)
        if (shelf->image[k].part == part && pp_component_same(&shelf->image[k].component, c)) {
            *image = &shelf->image[k];
            return PP_OK;
        }
    if (shelf->count == shelf->room) {
        pp_image *more;
        int room = shelf->room ? 2 * shelf->room : 32;
        PP_TAKE(more, shelf->arena, (size_t)room);
        if (shelf->count) memcpy(more, shelf->image, (size_t)shelf->count * sizeof *more);
        shelf->image = more, shelf->room = room;
    }
    PP_TRY(pp_space_image(s, c, part, shelf->arena, &shelf->image[shelf->count], error));
    *image = &shelf->image[shelf->count++];
    return PP_OK;
}

/* --- models ------------------------------------------------------------------------------- */

pp_status pp_pursuit_begin(const pp_search_space *s, pp_arena *arena, pp_pursuit *pursuit,
                           pp_error *error)
{
    pp_pursuit p = {.space = s, .rest = s->total};
    PP_TAKE(p.q, arena, PP_PURSUIT_COLUMNS * s->width);
    PP_TAKE(p.xx, arena, s->candidates + 1);
    PP_TAKE(p.yy, arena, s->candidates + 1);
    PP_TAKE_ZERO(p.xy, arena, s->candidates + 1);
    PP_TAKE(p.dx, arena, s->candidates + 1);
    PP_TAKE(p.dy, arena, s->candidates + 1);
    for (int k = 0; k < 4; k++) PP_TAKE_ZERO(p.wave[k], arena, (size_t)s->wave_count + 1);
    memcpy(p.xx, s->square, s->candidates * sizeof *p.xx);
    memcpy(p.yy, s->square, s->candidates * sizeof *p.yy);
    const double *z = s->products + (size_t)s->fixed * s->width;
    memcpy(p.dx, z, s->candidates * sizeof *p.dx);
    memcpy(p.dy, z + s->scalars, s->candidates * sizeof *p.dy);
    for (int w = 0; w < s->wave_count; w++) p.wave[0][w] = p.wave[3][w] = s->wave_product[w];
    for (int i = 0; i < s->fixed; i++) {
        bool term = s->kind[i] >= PP_FIELD_FIRST_TERM && s->kind[i] < PP_FIELD_KINDS;
        if (!term) add_fixed(&p, i);
    }
    p.begin[0] = p.columns;
    *pursuit = p;
    return PP_OK;
}

void pp_pursuit_copy(const pp_pursuit *from, pp_pursuit *to)
{
    const pp_search_space *s = from->space;
    pp_pursuit room = *to;
    *to = *from;
    to->q = room.q, to->xx = room.xx, to->yy = room.yy, to->xy = room.xy;
    to->dx = room.dx, to->dy = room.dy;
    memcpy(to->wave, room.wave, sizeof to->wave);
    memcpy(to->q, from->q, (size_t)from->columns * s->width * sizeof *to->q);
    memcpy(to->xx, from->xx, s->candidates * sizeof *to->xx);
    memcpy(to->yy, from->yy, s->candidates * sizeof *to->yy);
    memcpy(to->xy, from->xy, s->candidates * sizeof *to->xy);
    memcpy(to->dx, from->dx, s->candidates * sizeof *to->dx);
    memcpy(to->dy, from->dy, s->candidates * sizeof *to->dy);
    for (int k = 0; k < 4; k++)
        memcpy(to->wave[k], from->wave[k], (size_t)s->wave_count * sizeof *to->wave[k]);
}

pp_status pp_pursuit_add(pp_pursuit *p, const pp_member *member, pp_image_shelf *shelf,
                         bool *entered, pp_error *error)
{
    *entered = false;
    if (p->members == PP_PURSUIT_MEMBERS || p->columns + 4 > PP_PURSUIT_COLUMNS) return PP_OK;
    if (member->fixed >= 0) {
        *entered = add_fixed(p, member->fixed);
    } else {
        int parts = pp_family_parts(member->component.family);
        for (int part = 0; part < parts; part++) {
            const pp_image *image;
            PP_TRY(find_image(p->space, &member->component, part, shelf, &image, error));
            for (int axis = 0; axis < 2; axis++) *entered |= add_image(p, image, axis);
        }
    }
    if (!*entered) return PP_OK;
    p->member[p->members] = *member;
    p->begin[++p->members] = p->columns;
    return PP_OK;
}

/* --- gains -------------------------------------------------------------------------------- */

double pp_pursuit_term_gain(const pp_pursuit *p, int fixed)
{
    const pp_search_space *s = p->space;
    size_t at = 2 * s->scalars + (size_t)fixed;
    const double *products = s->products + (size_t)fixed * s->width;
    double left = products[at], data = products[s->width - 1];
    for (int j = 0; j < p->columns; j++) {
        double product = vector_of(p, j)[at];
        left -= product * product;
        data -= product * p->zq[j];
    }
    return left > TERM_LEFT * products[at] ? data * data / left : 0;
}

/* d' G^-1 d; 0 where G is not positive definite. */
static double quadratic(size_t n, double *gram, const double *data)
{
    double x[PP_FAMILY_PARTS_MAX * 2], sum = 0;
    memcpy(x, data, n * sizeof *x);
    if (pp_cholesky_factor(n, gram, n, NULL) != PP_OK) return 0;
    if (pp_cholesky_solve(n, gram, n, 1, x, n, NULL) != PP_OK) return 0;
    for (size_t i = 0; i < n; i++) sum += x[i] * data[i];
    return sum;
}

static double scalar_gain(const pp_pursuit *p, size_t t, double least)
{
    double dx = p->dx[t], dy = p->dy[t], xx = p->xx[t], yy = p->yy[t], xy = p->xy[t];
    if (!(xx > least) || !(yy > least) || !(xx * yy - xy * xy > 1e-3 * xx * yy)) return 0;
    return (yy * dx * dx - 2 * xy * dx * dy + xx * dy * dy) / (xx * yy - xy * xy);
}

static double step_gain(const pp_pursuit *p, pp_component *best)
{
    const pp_search_space *s = p->space;
    double most = 0;
    for (size_t b = 1; b < s->bins; b++) {
        size_t first = s->item[s->bin_begin[b]];
        if (first < PP_STEP_ENDS || s->field->count - first < PP_STEP_ENDS) continue;
        bool near = false;
        for (int k = 0; k < p->members; k++) {
            const pp_component *other = &p->member[k].component;
            if (p->member[k].fixed >= 0 || other->family != PP_FAMILY_STEP) continue;
            near |= first < other->first + PP_STEP_ENDS && other->first < first + PP_STEP_ENDS;
        }
        if (near) continue;
        double gain =
            scalar_gain(p, b, STEP_LEFT * s->square[b] / (double)(s->rows - s->bin_begin[b]));
        if (gain > most)
            most = gain, *best = (pp_component){.family = PP_FAMILY_STEP, .first = first};
    }
    return most;
}

static double half_gain(const pp_pursuit *p, pp_component *best)
{
    const pp_search_space *s = p->space;
    double most = 0;
    for (int c = 0; c < s->cut_count; c++) {
        size_t t = s->cut_at + (size_t)c;
        double gain = scalar_gain(p, t, FAMILY_LEFT * s->square[t]);
        if (gain <= most) continue;
        most = gain;
        *best = (pp_component){
            .family = PP_FAMILY_HALF_PLATE, .axis = s->cut[c].axis, .split = s->cut[c].split};
    }
    return most;
}

/* The gain of a wave from what is left of its four columns: cosine x, y, sine x, y. */
static double wave_gain(double gram[16], const double data[4], double least)
{
    for (int i = 0; i < 4; i++)
        if (!(gram[i * 4 + i] > least)) return 0;
    return quadratic(4, gram, data);
}

static double grid_wave_gain(const pp_pursuit *p, int w)
{
    const pp_search_space *s = p->space;
    size_t c = s->wave_at + 2 * (size_t)w, v = c + 1;
    double least = FAMILY_LEFT * fmin(s->square[c], s->square[v]);
    double data[4] = {p->dx[c], p->dy[c], p->dx[v], p->dy[v]};
    double gram[16] = {p->xx[c],      p->xy[c],      p->wave[0][w], p->wave[1][w],
                       p->xy[c],      p->yy[c],      p->wave[2][w], p->wave[3][w],
                       p->wave[0][w], p->wave[2][w], p->xx[v],      p->xy[v],
                       p->wave[1][w], p->wave[3][w], p->xy[v],      p->yy[v]};
    return wave_gain(gram, data, least);
}

/* The same off the grid. */
static double free_wave_gain(const pp_pursuit *p, double periods)
{
    const pp_search_space *s = p->space;
    const double *z = s->products + (size_t)s->fixed * s->width;
    double values[2][PP_SPACE_GROUPS_MAX], gram[16] = {0}, data[4];
    for (int part = 0; part < 2; part++) pp_space_wave_values(s, periods, part, values[part]);
    for (int i = 0; i < 4; i++) {
        for (int k = i % 2; k < 4; k += 2)
            gram[i * 4 + k] = pp_space_wave_square(s, values[i / 2], values[k / 2]);
        data[i] = pp_space_wave_product(s, z, values[i / 2], i % 2);
    }
    double least = FAMILY_LEFT * fmin(gram[0], gram[10]);
    for (int j = 0; j < p->columns; j++) {
        double t[4];
        for (int i = 0; i < 4; i++)
            t[i] = pp_space_wave_product(s, vector_of(p, j), values[i / 2], i % 2);
        for (int i = 0; i < 4; i++) {
            data[i] -= t[i] * p->zq[j];
            for (int k = 0; k < 4; k++) gram[i * 4 + k] -= t[i] * t[k];
        }
    }
    return wave_gain(gram, data, least);
}

static double oscillation_gain(const pp_pursuit *p, pp_component *best)
{
    const pp_search_space *s = p->space;
    double most = 0, worth = pp_family_cost(PP_FAMILY_OSCILLATION, s->field->count);
    int at = -1;
    for (int w = 0; w < s->wave_count; w++) {
        double gain = grid_wave_gain(p, w);
        if (gain > most) most = gain, at = w;
    }
    if (at < 0) return 0;
    double middle = s->periods[at], periods = middle;
    double step =
        at + 1 < s->wave_count ? s->periods[at + 1] - middle : middle - s->periods[at - 1];
    double s2 = p->rest / fmax(2 * (double)s->rows - p->columns, 1);
    for (int k = 0; k < FINER && most > 0.5 * worth * s2; k++) { /* not worth it where none is */
        double f = middle + step * (2.0 * k / (FINER - 1) - 1);
        double gain = f < s->periods[0] ? 0 : free_wave_gain(p, f);
        if (gain > most) most = gain, periods = f;
    }
    *best = (pp_component){.family = PP_FAMILY_OSCILLATION, .periods = periods};
    return most;
}

double pp_pursuit_family_gain(const pp_pursuit *p, pp_family family, pp_component *best)
{
    const pp_search_space *s = p->space;
    if (pp_family_needs_order(family) && !s->bins) return 0;
    switch (family) {
    case PP_FAMILY_STEP:
        return step_gain(p, best);
    case PP_FAMILY_HALF_PLATE:
        return half_gain(p, best);
    case PP_FAMILY_OSCILLATION:
        return s->wave_count > 1 ? oscillation_gain(p, best) : 0;
    default:
        *best = (pp_component){.family = PP_FAMILY_ALTERNATE};
        return scalar_gain(p, s->alternate_at, FAMILY_LEFT * s->square[s->alternate_at]);
    }
}

/* The member's coefficients b and their own part of (A'A)^-1 = R^-1 R^-T: b' (that)^-1 b. */
double pp_pursuit_loss(const pp_pursuit *p, int member)
{
    enum { MEMBER_COLUMNS = 4 };
    int n = p->columns, first = p->begin[member], count = p->begin[member + 1] - first;
    double row[MEMBER_COLUMNS][PP_PURSUIT_COLUMNS]; /* of R^-1 */
    double b[MEMBER_COLUMNS], gram[MEMBER_COLUMNS * MEMBER_COLUMNS];
    for (int i = 0; i < count; i++) {
        memset(row[i], 0, sizeof row[i]);
        for (int k = first + i; k < n; k++) { /* e_i' = row R, column by column */
            double sum = k == first + i;
            for (int j = first + i; j < k; j++) sum -= row[i][j] * p->r[j * PP_PURSUIT_COLUMNS + k];
            row[i][k] = sum / p->r[k * PP_PURSUIT_COLUMNS + k];
        }
        b[i] = 0;
        for (int k = 0; k < n; k++) b[i] += row[i][k] * p->zq[k];
    }
    for (int i = 0; i < count; i++)
        for (int j = 0; j < count; j++) {
            gram[i * count + j] = 0;
            for (int k = 0; k < n; k++) gram[i * count + j] += row[i][k] * row[j][k];
        }
    return quadratic((size_t)count, gram, b);
}
