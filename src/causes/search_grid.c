#include "causes/search_grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"

static const double PERIODS_LEAST = 0.75;
static const double CUT_GAP = 1e-4; /* of L: columns of holes closer than that are one */
static const double CELL_HOLES = 12;

/* --- order -------------------------------------------------------------------------------- */

static bool is_fine(const pp_search_space *s, size_t row, size_t width, const size_t *fine,
                    int fine_count)
{
    for (int k = 0; k < fine_count; k++) {
        size_t item = s->item[row];
        if (item + 2 * width > fine[k] && item < fine[k] + 2 * width) return true;
    }
    return false;
}

/* Even bins, single holes near the items in `fine`. */
static pp_status lay_bins(const size_t *fine, int fine_count, pp_arena *arena, pp_search_space *s,
                          pp_error *error)
{
    size_t width = (s->rows + PP_SPACE_BINS_MAX - 1) / PP_SPACE_BINS_MAX;
    PP_TAKE(s->bin_begin, arena, s->rows + 1);
    for (size_t row = 0; row < s->rows; row++)
        if (row % width == 0 || (width > 1 && is_fine(s, row, width, fine, fine_count)))
            s->bin_begin[s->bins++] = (uint32_t)row;
    s->bin_begin[s->bins] = (uint32_t)s->rows;
    s->groups = s->bins < PP_SPACE_GROUPS_MAX ? s->bins : PP_SPACE_GROUPS_MAX;
    PP_TAKE(s->group_begin, arena, s->groups + 1);
    for (size_t g = 0; g <= s->groups; g++) s->group_begin[g] = (uint32_t)(g * s->bins / s->groups);
    PP_TAKE_ZERO(s->group_place, arena, s->groups);
    PP_TAKE_ZERO(s->group_square, arena, s->groups);
    PP_TAKE_ZERO(s->group_cross, arena, s->groups);
    for (size_t g = 0; g < s->groups; g++) {
        size_t begin = s->bin_begin[s->group_begin[g]], end = s->bin_begin[s->group_begin[g + 1]];
        for (size_t k = begin; k < end; k++) {
            pp_whitening white = pp_space_whitening(s, k);
            double here = white.own * pp_space_weight(s, k);
            s->group_place[g] += (s->field->s[s->item[k]] + 0.5) / (double)(end - begin);
            s->group_square[g] += here * here;
            if (k == 0) continue;
            double before = white.back * pp_space_weight(s, k - 1);
            size_t of_before = k == begin ? g - 1 : g;
            s->group_square[of_before] += before * before;
            if (k == begin)
                s->group_cross[g] -= here * before;
            else
                s->group_square[g] -= 2 * here * before;
        }
    }
    return PP_OK;
}

static double wave_step(double periods) { return periods < 8 ? 0.125 : periods < 24 ? 0.25 : 0.5; }

static pp_status lay_waves(pp_arena *arena, pp_search_space *s, pp_error *error)
{
    double most = pp_family_periods_most(s->field->count);
    for (double f = PERIODS_LEAST; f <= most; f += wave_step(f)) s->wave_count++;
    PP_TAKE(s->periods, arena, (size_t)s->wave_count);
    PP_TAKE(s->wave, arena, 2 * (size_t)s->wave_count * s->groups);
    PP_TAKE(s->cosine, arena, PP_SPACE_SHAPES * s->groups);
    double f = PERIODS_LEAST;
    for (int w = 0; w < s->wave_count; w++, f += wave_step(f)) {
        s->periods[w] = f;
        for (int part = 0; part < 2; part++)
            pp_space_wave_values(s, f, part, s->wave + (size_t)(2 * w + part) * s->groups);
    }
    for (int w = 0; w < PP_SPACE_SHAPES; w++)
        for (size_t g = 0; g < s->groups; g++)
            s->cosine[(size_t)w * s->groups + g] = cos(PP_PI * (w + 1) * s->group_place[g]);
    return PP_OK;
}

/* --- place -------------------------------------------------------------------------------- */

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* At most half of PP_SPACE_CUTS_MAX between columns of holes, from 20 to 80 % of the holes. */
static pp_status lay_cuts(pp_arena *arena, pp_search_space *s, int axis, pp_error *error)
{
    enum { CUTS = PP_SPACE_CUTS_MAX / 2 };
    const pp_error_field *f = s->field;
    double *sorted, last = -INFINITY;
    PP_TAKE(s->cuts_below[axis], arena, s->rows);
    pp_mark mark = pp_arena_mark(arena);
    PP_TAKE(sorted, arena, f->count);
    memcpy(sorted, axis ? f->y : f->x, f->count * sizeof *sorted);
    qsort(sorted, f->count, sizeof *sorted, by_value);
    for (int c = 0; c < CUTS; c++) {
        size_t rank = (size_t)((0.2 + 0.6 * c / (CUTS - 1)) * (double)f->count);
        size_t most = (size_t)(0.8 * (double)f->count);
        while (rank > 0 && rank < most && sorted[rank] - sorted[rank - 1] <= CUT_GAP * f->radius)
            rank++;
        if (rank == 0 || rank >= f->count) continue;
        double split = 0.5 * (sorted[rank] + sorted[rank - 1]);
        if (sorted[rank] - sorted[rank - 1] <= CUT_GAP * f->radius || split <= last) continue;
        last = split;
        s->cut[s->cut_count++] = (pp_space_cut){axis, split};
        s->axis_cuts[axis]++;
    }
    pp_arena_release(arena, mark);
    const pp_space_cut *own = s->cut + (axis ? s->axis_cuts[0] : 0);
    for (size_t k = 0; k < s->rows; k++) {
        double at = (axis ? f->y : f->x)[s->item[k]];
        uint8_t below = 0;
        while (below < s->axis_cuts[axis] && at > own[below].split) below++;
        s->cuts_below[axis][k] = below;
    }
    return PP_OK;
}

/* Square cells of about 12 holes, as if the pattern filled its bounding box. */
static pp_status lay_cells(pp_arena *arena, pp_search_space *s, pp_error *error)
{
    const pp_error_field *f = s->field;
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < f->count; i++) {
        low[0] = fmin(low[0], f->x[i]), high[0] = fmax(high[0], f->x[i]);
        low[1] = fmin(low[1], f->y[i]), high[1] = fmax(high[1], f->y[i]);
    }
    double wide = high[0] - low[0], tall = high[1] - low[1];
    double cells = fmin(fmax((double)f->count / CELL_HOLES, 1), PP_SPACE_CELLS_MAX / 2.0);
    double side = fmax(sqrt(wide * tall / cells), fmax(wide, tall) / (PP_SPACE_CELLS_MAX / 4.0));
    size_t across = side > 0 ? (size_t)(wide / side) + 1 : 1;
    size_t up = side > 0 ? (size_t)(tall / side) + 1 : 1;
    s->cells = across * up;
    PP_TAKE(s->cell, arena, s->rows);
    PP_TAKE_ZERO(s->cell_rows, arena, s->cells);
    for (size_t k = 0; k < s->rows; k++) {
        size_t i = s->item[k];
        size_t column = side > 0 ? (size_t)((f->x[i] - low[0]) / side) : 0;
        size_t row = side > 0 ? (size_t)((f->y[i] - low[1]) / side) : 0;
        s->cell[k] = (uint16_t)(row * across + column);
        s->cell_rows[s->cell[k]]++;
    }
    return PP_OK;
}

void pp_space_polynomials(const pp_error_field *f, size_t item, double value[PP_SPACE_SHAPES])
{
    double x = f->radius > 0 ? f->x[item] / f->radius : 0;
    double y = f->radius > 0 ? f->y[item] / f->radius : 0;
    double x2 = x * x, y2 = y * y, xy = x * y;
    value[0] = x2, value[1] = xy, value[2] = y2;
    value[3] = x2 * x, value[4] = x2 * y, value[5] = x * y2, value[6] = y2 * y;
    value[7] = x2 * x2, value[8] = x2 * xy, value[9] = x2 * y2, value[10] = xy * y2;
    value[11] = y2 * y2;
}

/* --- squares of the candidates ------------------------------------------------------------ */

static void square_steps(pp_search_space *s)
{
    double sum = 0; /* of the whitened constant behind the bin's first row */
    for (size_t b = s->bins; b-- > 0;)
        for (size_t k = s->bin_begin[b + 1]; k-- > s->bin_begin[b];) {
            pp_whitening white = pp_space_whitening(s, k);
            double first = white.own * pp_space_weight(s, k);
            s->square[b] = sum + first * first; /* holds for the bin's first row in the end */
            double whole = first - (k ? white.back * pp_space_weight(s, k - 1) : 0);
            sum += whole * whole;
        }
}

/* Whitened square of a scalar that is 0 or 1. */
static double square_of_flags(const pp_search_space *s, int axis, int cut)
{
    double sum = 0;
    bool before = false;
    for (size_t k = 0; k < s->rows; k++) {
        bool here = axis < 0 ? s->item[k] % 2 : s->cuts_below[axis][k] > cut;
        pp_whitening white = pp_space_whitening(s, k);
        double value = (here ? white.own * pp_space_weight(s, k) : 0) -
                       (before ? white.back * pp_space_weight(s, k - 1) : 0);
        sum += value * value, before = here;
    }
    return sum;
}

static void square_waves(pp_search_space *s)
{
    for (int w = 0; w < s->wave_count; w++) {
        const double *c = s->wave + (size_t)(2 * w) * s->groups, *v = c + s->groups;
        s->square[s->wave_at + (size_t)(2 * w)] = pp_space_wave_square(s, c, c);
        s->square[s->wave_at + (size_t)(2 * w) + 1] = pp_space_wave_square(s, v, v);
        s->wave_product[w] = pp_space_wave_square(s, c, v);
    }
    for (size_t i = 0; s->groups && i < PP_SPACE_SHAPES; i++)
        for (size_t j = 0; j < PP_SPACE_SHAPES; j++)
            s->cosine_gram[i * PP_SPACE_SHAPES + j] =
                pp_space_wave_square(s, s->cosine + i * s->groups, s->cosine + j * s->groups);
}

static void square_polynomials(pp_search_space *s)
{
    double before[PP_SPACE_SHAPES] = {0}, *gram = s->polynomial_gram;
    memset(gram, 0, sizeof s->polynomial_gram);
    for (size_t k = 0; k < s->rows; k++) {
        double here[PP_SPACE_SHAPES], row[PP_SPACE_SHAPES];
        pp_whitening white = pp_space_whitening(s, k);
        double weight = pp_space_weight(s, k);
        pp_space_polynomials(s->field, s->item[k], here);
        for (int i = 0; i < PP_SPACE_SHAPES; i++) {
            here[i] *= weight;
            row[i] = white.own * here[i] - white.back * before[i];
            before[i] = here[i];
        }
        for (int i = 0; i < PP_SPACE_SHAPES; i++)
            for (int j = 0; j <= i; j++) gram[i * PP_SPACE_SHAPES + j] += row[i] * row[j];
    }
    for (int i = 0; i < PP_SPACE_SHAPES; i++)
        for (int j = 0; j < i; j++) gram[j * PP_SPACE_SHAPES + i] = gram[i * PP_SPACE_SHAPES + j];
}

pp_status pp_space_grid(const size_t *fine, int fine_count, pp_arena *arena, pp_search_space *s,
                        pp_error *error)
{
    if (s->field->order_known) {
        PP_TRY(lay_bins(fine, fine_count, arena, s, error));
        PP_TRY(lay_waves(arena, s, error));
    }
    PP_TRY(lay_cuts(arena, s, 0, error));
    PP_TRY(lay_cuts(arena, s, 1, error));
    PP_TRY(lay_cells(arena, s, error));
    s->wave_at = s->bins;
    s->cut_at = s->wave_at + 2 * (size_t)s->wave_count;
    s->alternate_at = s->cut_at + (size_t)s->cut_count;
    s->polynomial_at = s->candidates = s->alternate_at + (s->bins ? 1 : 0);
    s->cosine_at = s->polynomial_at + PP_SPACE_SHAPES;
    s->cell_at = s->cosine_at + (s->bins ? PP_SPACE_SHAPES : 0);
    s->scalars = s->cell_at + s->cells;
    s->width = 2 * s->scalars + (size_t)s->fixed + 1;
    PP_TAKE(s->square, arena, s->candidates + 1);
    PP_TAKE(s->wave_product, arena, (size_t)s->wave_count + 1);
    square_steps(s);
    square_waves(s);
    for (int c = 0; c < s->cut_count; c++) {
        int axis = s->cut[c].axis;
        s->square[s->cut_at + (size_t)c] = square_of_flags(s, axis, axis ? c - s->axis_cuts[0] : c);
    }
    if (s->bins) s->square[s->alternate_at] = square_of_flags(s, -1, 0);
    square_polynomials(s);
    return PP_OK;
}
