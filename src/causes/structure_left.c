#include "causes/structure_left.h"

#include <math.h>

#include "base/stats.h"

enum { SHAPES = PP_SPACE_SHAPES, BOTH = 2 * SHAPES };
static const double LEFT_LEAST = 1e-3; /* of a shape's square, beside the model and the others */

static const double *vector_of(const pp_pursuit *p, int column)
{
    return p->q + (size_t)column * p->space->width;
}

static pp_left_test f_test(const pp_pursuit *p, double squares, double df)
{
    double rest_df = 2 * (double)p->space->rows - p->columns - df, rest = p->rest - squares;
    pp_left_test t = {.p = 1, .f = 1, .df = df};
    if (!(df >= 1) || !(rest_df >= 1) || !(rest > 0)) return t;
    t.f = squares / df / (rest / rest_df);
    t.p = pp_fisher_upper(t.f, df, rest_df);
    t.squares = fmax(squares - df * rest / rest_df, 0);
    return t;
}

/* Shapes that begin at scalar `at`, in x and in y, whose own products are in `gram`. */
static pp_left_test test_shapes(const pp_pursuit *p, size_t at, const double *gram)
{
    const pp_search_space *s = p->space;
    const double *z = s->products + (size_t)s->fixed * s->width;
    double g[BOTH][BOTH] = {{0}}, d[BOTH], own[BOTH], squares = 0, df = 0;
    for (int i = 0; i < BOTH; i++) {
        size_t scalar = (size_t)(i / SHAPES) * s->scalars + at + (size_t)(i % SHAPES);
        d[i] = z[scalar];
        for (int k = i / SHAPES * SHAPES, j = 0; j < SHAPES; j++)
            g[i][k + j] = gram[i % SHAPES * SHAPES + j];
        own[i] = g[i][i];
        for (int c = 0; c < p->columns; c++) {
            const double *q = vector_of(p, c);
            d[i] -= q[scalar] * p->zq[c];
            for (int k = 0; k < BOTH; k++)
                g[i][k] -=
                    q[scalar] * q[(size_t)(k / SHAPES) * s->scalars + at + (size_t)(k % SHAPES)];
        }
    }
    for (int i = 0; i < BOTH; i++) { /* each in turn, without those before */
        if (!(g[i][i] > LEFT_LEAST * own[i])) continue;
        squares += d[i] * d[i] / g[i][i], df++;
        for (int k = i + 1; k < BOTH; k++) {
            double share = g[k][i] / g[i][i];
            d[k] -= share * d[i];
            for (int j = i + 1; j < BOTH; j++) g[k][j] -= share * g[i][j];
        }
    }
    return f_test(p, squares, df);
}

/* Squared means of the cells against what scatter would give: each cell and axis one square, less
 * what the model's columns take of it. */
static pp_left_test test_cells(const pp_pursuit *p)
{
    const pp_search_space *s = p->space;
    const double *z = s->products + (size_t)s->fixed * s->width;
    double squares = 0, expected = 0;
    for (size_t c = 0; c < s->cells; c++) {
        if (s->cell_rows[c] == 0) continue;
        for (int axis = 0; axis < 2; axis++) {
            size_t at = (size_t)axis * s->scalars + s->cell_at + c;
            double sum = z[at], taken = 0, rows = s->cell_rows[c];
            for (int j = 0; j < p->columns; j++) {
                double q = vector_of(p, j)[at];
                sum -= q * p->zq[j];
                taken += q * q;
            }
            squares += sum * sum / rows;
            expected += 1 - taken / rows;
        }
    }
    return f_test(p, squares, expected);
}

pp_left pp_left_find(const pp_pursuit *model)
{
    const pp_search_space *s = model->space;
    pp_left left = {.order = {.p = 1, .f = 1}};
    if (s->bins) left.order = test_shapes(model, s->cosine_at, s->cosine_gram);
    left.place = test_shapes(model, s->polynomial_at, s->polynomial_gram);
    left.cells = test_cells(model);
    return left;
}

double pp_left_factor(const pp_left_test *test)
{
    return test->p < PP_LEFT_WIDENS ? fmax(test->f, 1) : 1;
}

const pp_left_test *pp_left_of_place(const pp_left *left)
{
    return pp_left_factor(&left->cells) > pp_left_factor(&left->place) ? &left->cells
                                                                       : &left->place;
}
