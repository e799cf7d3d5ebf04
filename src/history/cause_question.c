/* Which factor a figure goes with. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/names.h"
#include "history/figures.h"
#include "history/questions.h"

static const double FOUND = 0.05;
enum { FIGURES_MAX = 16 };

/* The figure's values and, by every factor, the group of each plate. */
typedef struct grouped {
    size_t count;
    double *value;
    size_t *group[PP_GROUPED_FACTORS];
    size_t groups[PP_GROUPED_FACTORS];
    const char **name[PP_GROUPED_FACTORS];
    bool tried[PP_GROUPED_FACTORS];
} grouped;

static int by_name(const void *left, const void *right)
{
    return strcmp(*(const char *const *)left, *(const char *const *)right);
}

/* Different names in their order, and which of them each of name[count] is. */
static pp_status sort_names(const char *const *name, size_t count, pp_arena *arena,
                            const char **sorted, size_t *different, size_t *which, pp_error *error)
{
    pp_names table;
    uint32_t *first;
    size_t n = 0;
    PP_TAKE(first, arena, count);
    PP_TRY(pp_names_build(name, count, arena, &table, error));
    pp_names_find_many(&table, name, count, first);
    for (size_t i = 0; i < count; i++)
        if (first[i] == i) sorted[n++] = name[i];
    if (n) qsort(sorted, n, sizeof *sorted, by_name);
    for (size_t i = 0; i < count; i++) {
        if (first[i] != i) {
            which[i] = which[first[i]];
            continue;
        }
        const char **at = bsearch(&name[i], sorted, n, sizeof *sorted, by_name);
        which[i] = (size_t)(at - sorted);
    }
    *different = n;
    return PP_OK;
}

/* Groups in the order of their names; a plate of which the factor is not told is in none, and then
 * the factor is tried on the others only. */
static pp_status group_by(const pp_history_rows *rows, pp_factor factor, pp_arena *arena,
                          grouped *g, pp_error *error)
{
    const char **told;
    size_t *row, *which, n = 0;
    PP_TAKE(told, arena, rows->count);
    PP_TAKE(row, arena, rows->count);
    PP_TAKE(which, arena, rows->count);
    PP_TAKE(g->group[factor], arena, rows->count);
    PP_TAKE(g->name[factor], arena, rows->count);
    for (size_t i = 0; i < rows->count; i++) {
        const char *name = rows->rows[i].of[factor];
        g->group[factor][i] = SIZE_MAX;
        if (name && name[0]) told[n] = name, row[n++] = i;
    }
    PP_TRY(sort_names(told, n, arena, g->name[factor], &g->groups[factor], which, error));
    for (size_t k = 0; k < n; k++) g->group[factor][row[k]] = which[k];
    return PP_OK;
}

static pp_status take_groups(const pp_history_rows *rows, pp_arena *arena, grouped *g,
                             pp_error *error)
{
    *g = (grouped){.count = rows->count};
    PP_TAKE(g->value, arena, rows->count);
    for (size_t i = 0; i < rows->count; i++) g->value[i] = rows->rows[i].value;
    for (int f = 0; f < PP_GROUPED_FACTORS; f++)
        PP_TRY(group_by(rows, (pp_factor)f, arena, g, error));
    return PP_OK;
}

/* Does every group of `fine` lie in one group of `coarse`? */
static bool lies_within(const grouped *g, int fine, int coarse, size_t *of)
{
    for (size_t k = 0; k < g->groups[fine]; k++) of[k] = SIZE_MAX;
    for (size_t i = 0; i < g->count; i++) {
        size_t a = g->group[fine][i], b = g->group[coarse][i];
        if (a == SIZE_MAX || b == SIZE_MAX) return false;
        if (of[a] == SIZE_MAX) of[a] = b;
        if (of[a] != b) return false;
    }
    return true;
}

/* Describe groups and test; *valid: there was something to test. */
static pp_status test_factor(const grouped *g, pp_factor factor, pp_arena *arena, pp_cause_test *t,
                             pp_error *error)
{
    size_t groups = g->groups[factor], n = 0, *plates, *group;
    double *mean, *value, *room;
    bool *left_out;
    PP_TAKE_ZERO(plates, arena, groups);
    PP_TAKE_ZERO(mean, arena, groups);
    PP_TAKE_ZERO(left_out, arena, groups);
    PP_TAKE(value, arena, g->count);
    PP_TAKE(group, arena, g->count);
    PP_TAKE(room, arena, 2 * groups);
    for (size_t i = 0; i < g->count; i++) {
        size_t k = g->group[factor][i];
        if (k == SIZE_MAX) continue;
        value[n] = g->value[i], group[n++] = k;
        plates[k]++, mean[k] += g->value[i];
    }
    for (size_t k = 0; k < groups; k++) {
        mean[k] /= (double)plates[k];
        left_out[k] = plates[k] < 2;
    }
    *t = (pp_cause_test){.by = factor,
                         .group_count = groups,
                         .group = g->name[factor],
                         .plates = plates,
                         .mean = mean,
                         .left_out = left_out,
                         .test = pp_oneway_test(value, group, n, groups, left_out, room)};
    return PP_OK;
}

/* The factors of one figure; two that part the plates alike are tried once and named together. */
static pp_status try_factors(grouped *g, const char *figure, const char *unit, pp_arena *arena,
                             pp_cause_test *tests, size_t *count, pp_error *error)
{
    size_t *of;
    PP_TAKE(of, arena, g->count + 1);
    for (int f = 0; f < PP_GROUPED_FACTORS; f++) {
        pp_cause_test t;
        bool again = false;
        if (g->groups[f] < 2) continue;
        PP_TRY(test_factor(g, (pp_factor)f, arena, &t, error));
        if (!t.test.valid) continue;
        t.figure = figure, t.unit = unit;
        for (int other = 0; other < PP_GROUPED_FACTORS; other++) {
            if (other == f || g->groups[other] < 2 || !lies_within(g, f, other, of)) continue;
            bool same = g->groups[other] == g->groups[f];
            again |= same && other < f && g->tried[other];
            if (same)
                t.same_as |= 1u << other;
            else
                t.within |= 1u << other;
        }
        g->tried[f] = true;
        if (!again) tests[(*count)++] = t;
    }
    return PP_OK;
}

static pp_status adjust(pp_cause_test *tests, size_t count, pp_arena *arena, pp_error *error)
{
    double *p;
    size_t *order;
    PP_TAKE(p, arena, count);
    PP_TAKE(order, arena, count);
    for (size_t i = 0; i < count; i++) p[i] = tests[i].test.p;
    pp_holm_adjust(p, count, order);
    for (size_t i = 0; i < count; i++) {
        tests[i].p_adjusted = p[i];
        tests[i].found = p[i] <= FOUND;
    }
    return PP_OK;
}

pp_status pp_ask_causes(pp_history *h, const pp_selection *selection, const char *figure,
                        pp_arena *arena, pp_cause_answer *answer, pp_error *error)
{
    pp_cause_test *tests;
    size_t count = 0, without = 0;
    const char *one[] = {figure, NULL};
    const char *const *figures = figure ? one : pp_charted_figures;
    PP_TAKE(tests, arena, (size_t)FIGURES_MAX * PP_GROUPED_FACTORS);
    for (size_t i = 0; figures[i]; i++) {
        pp_history_rows rows;
        grouped g;
        pp_error why;
        pp_status status = pp_history_select(h, selection, PP_WANT_FIGURE, PP_ROWS_WHOLE,
                                             figures[i], arena, &rows, &why);
        if (status == PP_EINPUT || status == PP_ENOTHING) {
            if (figure) return pp_fail_at(error, status, why.file, 0, 0, "%s", why.message);
            without++;
            continue;
        }
        if (status != PP_OK) return pp_fail_at(error, status, why.file, 0, 0, "%s", why.message);
        size_t before = count;
        PP_TRY(take_groups(&rows, arena, &g, error));
        PP_TRY(try_factors(&g, pp_figure_full_name(figures[i]), rows.unit, arena, tests, &count,
                           error));
        without += count == before;
    }
    if (count == 0)
        return pp_fail_at(
            error, PP_ENOTHING, h->path, 0, 0,
            "no factor (supplier, heat, machine, operator, instrument) has two groups "
            "of two plates; add reports that tell them");
    PP_TRY(adjust(tests, count, arena, error));
    *answer = (pp_cause_answer){count, tests, without};
    return PP_OK;
}
