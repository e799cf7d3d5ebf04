#include "causes/wander.h"

#include <math.h>
#include <string.h>

enum {
    BLOCKS_MAX = 2048, /* of neighbours in the order, summed where there are more holes */
    COLUMNS_MAX = PP_ROBUST_TERMS_MAX + 1,
    WALKS = 24 /* sizes of the walk that are tried */
};
static const double WALK_COST = 6; /* of its one parameter */
/* Variance of the walk over the whole job in that of a hole: the first tried, and from one to the
 * next. */
static const double FIRST_WALK = 0.1, NEXT_WALK = 1.7782794100389228; /* fourth root of 10 */
static const double LEFT_LEAST = 1e-6; /* of a column's square, beside the others */

/* A fixed column of the space (its count: the data), or a component on one axis. */
typedef struct place_column {
    pp_member is;
    int part, axis; /* of a component */
    int member;     /* of the walker; -1: always fitted */
} place_column;

/* The data and what depends on the place, over blocks of the order. */
typedef struct walker {
    const pp_wander_request *r;
    int columns; /* the data last */
    place_column column[COLUMNS_MAX];
    int members;
    pp_member member[PP_PURSUIT_MEMBERS];
    size_t blocks;
    double *reach, *steps; /* [blocks] length of a constant over the block; holes since the last */
    double *value[2];      /* [blocks][columns] products with the constant, over its length */
    double beyond[COLUMNS_MAX][COLUMNS_MAX]; /* products of what the blocks' constants leave */
} walker;

static bool in_order(const pp_wander_request *r, const pp_member *m)
{
    if (m->fixed < 0)
        return m->component.family == PP_FAMILY_STEP ||
               m->component.family == PP_FAMILY_OSCILLATION;
    return pp_field_kind_is_slow(r->space->kind[m->fixed], r->rare_reversals);
}

/* --- columns ------------------------------------------------------------------------------ */

static void add_column(walker *w, place_column c)
{
    if (w->columns < COLUMNS_MAX) w->column[w->columns++] = c;
}

static void add_member(walker *w, pp_member m)
{
    if (in_order(w->r, &m) || w->members == PP_PURSUIT_MEMBERS) return;
    int at = w->members++;
    w->member[at] = m;
    if (m.fixed >= 0) add_column(w, (place_column){m, 0, 0, at});
    for (int k = 0; m.fixed < 0 && k < 2 * pp_family_parts(m.component.family); k++)
        add_column(w, (place_column){m, k / 2, k % 2, at});
}

static void list_columns(walker *w)
{
    const pp_wander_request *r = w->r;
    for (int i = 0; i < r->space->fixed; i++)
        if (!pp_space_is_term(r->space, i)) add_column(w, (place_column){{.fixed = i}, 0, 0, -1});
    for (int i = 0; i < r->space->fixed; i++)
        if (r->found[i]) add_member(w, (pp_member){.fixed = i});
    for (int k = 0; k < r->component_count; k++) add_member(w, (pp_member){-1, r->components[k]});
    add_column(w, (place_column){{.fixed = r->space->fixed}, 0, 0, -1});
}

/* --- blocks ------------------------------------------------------------------------------- */

typedef double row_values[2][PP_SPACE_STRIP];

static void fill_rows(const walker *w, const place_column *c, size_t first, size_t count,
                      row_values to)
{
    const pp_space_column column = {.fixed = c->is.fixed,
                                    .fit = w->r->fit,
                                    .component = c->is.fixed < 0 ? &c->is.component : NULL,
                                    .part = c->part};
    memset(to, 0, sizeof(row_values));
    pp_space_rows(w->r->space, &column, first, count, to[c->axis], to[1 - c->axis]);
}

/* What a shift by one is in a whitened row: a walk hardly moves between neighbours. */
static double reach_of(const pp_search_space *s, size_t row)
{
    pp_whitening w = pp_space_whitening(s, row);
    return pp_space_weight(s, row) * w.own - (row ? pp_space_weight(s, row - 1) * w.back : 0);
}

static void add_row(walker *w, double reach, size_t block, size_t k, row_values *rows)
{
    w->reach[block] += reach * reach;
    for (int axis = 0; axis < 2; axis++)
        for (int i = 0; i < w->columns; i++) {
            double v = rows[i][axis][k];
            w->value[axis][block * (size_t)w->columns + (size_t)i] += reach * v;
            for (int j = 0; j <= i; j++) w->beyond[i][j] += v * rows[j][axis][k];
        }
}

/* The sums of the blocks become products with a constant of length one. */
static void finish_blocks(walker *w)
{
    for (size_t b = 0; b < w->blocks; b++) {
        double length = w->reach[b] = sqrt(w->reach[b]);
        for (int axis = 0; axis < 2; axis++) {
            double *v = w->value[axis] + b * (size_t)w->columns;
            for (int i = 0; i < w->columns; i++) {
                v[i] = length > 0 ? v[i] / length : 0;
                for (int j = 0; j <= i; j++) w->beyond[i][j] -= v[i] * v[j];
            }
        }
    }
}

static pp_status fill_blocks(walker *w, pp_arena *scratch, pp_error *error)
{
    const pp_search_space *s = w->r->space;
    size_t each = (s->rows + BLOCKS_MAX - 1) / BLOCKS_MAX;
    row_values *rows;
    PP_TAKE(rows, scratch, (size_t)w->columns);
    w->blocks = (s->rows + each - 1) / each;
    PP_TAKE_ZERO(w->reach, scratch, w->blocks);
    PP_TAKE_ZERO(w->steps, scratch, w->blocks);
    for (int axis = 0; axis < 2; axis++)
        PP_TAKE_ZERO(w->value[axis], scratch, w->blocks * (size_t)w->columns);
    for (size_t b = 1; b < w->blocks; b++)
        w->steps[b] = (double)(s->item[b * each] - s->item[(b - 1) * each]);
    for (size_t first = 0, count; first < s->rows; first += count) {
        count = s->rows - first < PP_SPACE_STRIP ? s->rows - first : PP_SPACE_STRIP;
        for (int i = 0; i < w->columns; i++) fill_rows(w, &w->column[i], first, count, rows[i]);
        for (size_t k = 0; k < count; k++)
            add_row(w, reach_of(s, first + k), (first + k) / each, k, rows);
    }
    finish_blocks(w);
    return PP_OK;
}

/* --- likelihood --------------------------------------------------------------------------- */

typedef struct walk_sums {
    double product[COLUMNS_MAX][COLUMNS_MAX]; /* of whitened columns */
    double log_variance;                      /* sum over the rows */
} walk_sums;

/* Kalman filter of a random walk and noise of variance one, by which all columns are whitened; the
 * shifts among them stand for where it begins. A. C. Harvey, Forecasting, Structural Time Series
 * Models and the Kalman Filter (1989), 3.4 and 4.2, from memory. */
static void filter_axis(const walker *w, int axis, double step, walk_sums *to)
{
    double level[COLUMNS_MAX] = {0}, variance = 0, innovation[COLUMNS_MAX];
    for (size_t b = 0; b < w->blocks; b++) {
        const double *v = w->value[axis] + b * (size_t)w->columns;
        double reach = w->reach[b];
        variance += step * w->steps[b];
        double f = reach * reach * variance + 1, root = 1 / sqrt(f), gain = variance * reach / f;
        for (int i = 0; i < w->columns; i++) {
            double new = v[i] - reach *level[i];
            level[i] += gain * new;
            innovation[i] = root * new;
        }
        for (int i = 0; i < w->columns; i++)
            for (int j = 0; j <= i; j++) to->product[i][j] += innovation[i] * innovation[j];
        variance -= gain * reach * variance;
        to->log_variance += log(f);
    }
}

static void sum_walk(const walker *w, double step, walk_sums *to)
{
    memcpy(to->product, w->beyond, sizeof to->product);
    to->log_variance = 0;
    for (int axis = 0; axis < 2; axis++) filter_axis(w, axis, step, to);
}

/* Squares of the data left beside the columns whose members take part. */
static double squares_left(const walker *w, const walk_sums *sums, const bool *out)
{
    double a[COLUMNS_MAX][COLUMNS_MAX], own[COLUMNS_MAX];
    int n = w->columns;
    memcpy(a, sums->product, sizeof a);
    for (int i = 0; i < n; i++) own[i] = a[i][i];
    for (int k = 0; k + 1 < n; k++) {
        int member = w->column[k].member;
        if ((member >= 0 && out[member]) || !(a[k][k] > LEFT_LEAST * own[k])) continue;
        for (int i = k + 1; i < n; i++)
            for (int j = k + 1; j <= i; j++) a[i][j] -= a[i][k] * a[j][k] / a[k][k];
    }
    return a[n - 1][n - 1];
}

static double member_cost(const walker *w, int member)
{
    const pp_member *m = &w->member[member];
    size_t holes = w->r->space->field->count;
    return m->fixed < 0 ? pp_family_cost(m->component.family, holes) : pp_search_term_cost(holes);
}

/* Members that the walk makes needless leave, the least needed first; their costs with what is left
 * is the cost of the model. */
static double prune(const walker *w, const walk_sums *sums, bool *out)
{
    for (;;) {
        double with = squares_left(w, sums, out), least = 0, cost = 0;
        int worst = -1;
        for (int m = 0; m < w->members; m++) {
            if (out[m]) continue;
            cost += member_cost(w, m);
            out[m] = true;
            double worth = (squares_left(w, sums, out) - with) / w->r->s2 - member_cost(w, m);
            out[m] = false;
            if (worth < least) least = worth, worst = m;
        }
        if (worst < 0) return with / w->r->s2 + sums->log_variance + cost + WALK_COST;
        out[worst] = true;
    }
}

static pp_status cost_of_found(const pp_wander_request *r, pp_arena *scratch, double *cost,
                               pp_error *error)
{
    pp_image_shelf shelf = {.arena = scratch};
    pp_pursuit model;
    double s2;
    PP_TRY(pp_search_model(r->space, &(pp_model_parts){r->found, r->components, r->component_count},
                           &shelf, scratch, &model, &s2, error));
    *cost = pp_search_cost(&model, r->s2);
    return PP_OK;
}

static void take_the_place(const walker *w, const bool *out, pp_wander *wander)
{
    const pp_wander_request *r = w->r;
    for (int i = 0; i < r->space->fixed; i++)
        wander->term[i] = r->found[i] && in_order(r, &(pp_member){.fixed = i});
    wander->family[PP_FAMILY_STEP] = wander->family[PP_FAMILY_OSCILLATION] = true;
    for (int m = 0; m < w->members; m++) {
        if (!out[m]) continue;
        if (w->member[m].fixed >= 0)
            wander->term[w->member[m].fixed] = true;
        else
            wander->family[w->member[m].component.family] = true;
    }
}

static bool anything_in_order(const pp_wander_request *r)
{
    bool any = false;
    for (int i = 0; i < r->space->fixed; i++)
        any |= r->found[i] && in_order(r, &(pp_member){.fixed = i});
    for (int k = 0; k < r->component_count; k++)
        any |= in_order(r, &(pp_member){-1, r->components[k]});
    return any;
}

/* Where the parabola through three costs has its least: from -1/2 to 1/2 of the way from one to the
 * next. */
static double least_between(double before, double here, double after)
{
    double bend = before - 2 * here + after;
    return bend > 0 ? 0.5 * (before - after) / bend : 0;
}

static pp_status try_walks(walker *w, pp_arena *scratch, pp_wander *wander, pp_error *error)
{
    double found, cost[WALKS], first = FIRST_WALK / (double)w->r->space->rows;
    int least = 0;
    bool out[WALKS][PP_PURSUIT_MEMBERS] = {{false}};
    walk_sums *sums;
    PP_TAKE(sums, scratch, 1);
    PP_TRY(cost_of_found(w->r, scratch, &found, error));
    list_columns(w);
    PP_TRY(fill_blocks(w, scratch, error));
    for (int k = 0; k < WALKS; k++) {
        sum_walk(w, first * pow(NEXT_WALK, k), sums);
        cost[k] = prune(w, sums, out[k]);
        if (cost[k] < cost[least]) least = k;
    }
    double way = least > 0 && least + 1 < WALKS
                     ? least_between(cost[least - 1], cost[least], cost[least + 1])
                     : 0;
    /* a walk's variance about its mean is a sixth of that of its end */
    wander->rms = sqrt(w->r->s2 * FIRST_WALK * pow(NEXT_WALK, least + way) / 6);
    wander->explains = cost[least] <= found + PP_NAMING_CLOSE;
    if (wander->explains) take_the_place(w, out[least], wander);
    return PP_OK;
}

pp_status pp_wander_try(const pp_wander_request *request, pp_arena *scratch, pp_wander *wander,
                        pp_error *error)
{
    *wander = (pp_wander){.rms = NAN};
    if (request->space->bins == 0 || !anything_in_order(request)) return PP_OK;
    pp_mark mark = pp_arena_mark(scratch);
    walker *w;
    PP_TAKE_ZERO(w, scratch, 1);
    w->r = request;
    pp_status status = try_walks(w, scratch, wander, error);
    pp_arena_release(scratch, mark);
    return status;
}
