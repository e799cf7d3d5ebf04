#include "causes/tool_runs.h"

#include <math.h>
#include <string.h>

#include "causes/robust.h"
#include "causes/wear.h"

enum { TURNS_MAX = 10 };
static const double WILD = 4.5;
static const double NOISE_FLOOR = 1e-6; /* mm */

static const char *tool_of(const pp_tool_holes *h, size_t i)
{
    return h->tool && h->tool[i] ? h->tool[i] : "";
}

/* The run that begins at `first` ends before the diameter returned. */
static size_t run_end(const pp_tool_holes *h, size_t first)
{
    size_t end = first + 1;
    if (h->tool) {
        while (end < h->count && strcmp(tool_of(h, end), tool_of(h, first)) == 0) end++;
        return end;
    }
    for (size_t k = 0; k < h->change_count; k++)
        if (h->change_at[k] > first) return h->change_at[k];
    return h->count;
}

/* What the same tool has drilled on this plate before the run. */
static double drilled_here(const pp_tool_holes *h, size_t first)
{
    double used = 0;
    if (!tool_of(h, first)[0]) return 0;
    for (size_t begin = 0, end; begin < first; begin = end) {
        end = run_end(h, begin);
        if (strcmp(tool_of(h, begin), tool_of(h, first)) == 0)
            used += h->place[end - 1] - h->place[begin] + 1.0;
    }
    return used;
}

/* Which of the residuals are far out; true: not the same ones as before. */
static bool mark_wild(const double *residual, size_t count, double *spare, bool *wild)
{
    bool changed = false;
    for (size_t i = 0; i < count; i++) spare[i] = fabs(residual[i]);
    double sigma = fmax(PP_MAD_TO_SIGMA * pp_median(spare, count), NOISE_FLOOR);
    for (size_t i = 0; i < count; i++) {
        bool far = fabs(residual[i]) > WILD * sigma;
        changed |= far != wild[i];
        wild[i] = far;
    }
    return changed;
}

/* Least squares of y on k = used + place - place of the first. */
static bool fit_line(const pp_tool_holes *h, size_t first, size_t count, const bool *wild,
                     pp_tool_run *run)
{
    const double *y = h->diameter + first;
    const uint32_t *place = h->place + first;
    double n = 0, sk = 0, sy = 0, skk = 0, sky = 0, rest = 0;
    for (size_t i = 0; i < count; i++)
        if (!wild[i]) n++, sk += place[i] - place[0], sy += y[i];
    if (n < PP_TOOL_RUN_HOLES_MIN) return false;
    double mean_k = sk / n, mean_y = sy / n;
    for (size_t i = 0; i < count; i++) {
        double k = place[i] - place[0] - mean_k;
        if (!wild[i]) skk += k * k, sky += k * (y[i] - mean_y);
    }
    run->slope = sky / skk;
    for (size_t i = 0; i < count; i++) {
        double left = y[i] - mean_y - run->slope * (place[i] - place[0] - mean_k);
        if (!wild[i]) rest += left * left;
    }
    run->scatter = sqrt(rest / (n - 2));
    run->slope_se = run->scatter / sqrt(skk);
    run->level = mean_y - run->slope * (run->used_before + mean_k);
    return true;
}

/* The line, and what is wild about it, in turn; at first about the running median. */
static bool fit_run(const pp_tool_holes *h, size_t first, size_t count, double *residual,
                    double *spare, bool *wild, pp_tool_run *run)
{
    const double *y = h->diameter + first;
    const uint32_t *place = h->place + first;
    for (size_t i = 0; i < count; i++) {
        residual[i] = y[i] - pp_wear_local_median(y, count, i);
        wild[i] = false;
    }
    mark_wild(residual, count, spare, wild);
    for (int turn = 0; turn < TURNS_MAX; turn++) {
        if (!fit_line(h, first, count, wild, run)) return false;
        for (size_t i = 0; i < count; i++)
            residual[i] = y[i] - run->level - run->slope * (run->used_before + place[i] - place[0]);
        if (!mark_wild(residual, count, spare, wild)) break;
    }
    return true;
}

static size_t count_runs(const pp_tool_holes *h)
{
    size_t count = 0;
    for (size_t first = 0; first < h->count; first = run_end(h, first)) count++;
    return count;
}

pp_status pp_tool_runs_find(const pp_tool_holes *h, pp_arena *keep, pp_arena *scratch,
                            size_t *count, const pp_tool_run **runs, pp_error *error)
{
    pp_tool_run *found;
    double *spare, *residual;
    bool *wild;
    size_t n = 0;
    PP_TAKE(found, keep, count_runs(h));
    PP_TAKE(spare, scratch, h->count);
    PP_TAKE(residual, scratch, h->count);
    PP_TAKE(wild, scratch, h->count);
    for (size_t first = 0, end; first < h->count; first = end) {
        end = run_end(h, first);
        if (end - first < PP_TOOL_RUN_HOLES_MIN) continue;
        pp_tool_run run = {.tool = tool_of(h, first)[0] ? tool_of(h, first) : NULL,
                           .first_order = h->place[first] + 1,
                           .holes = h->place[end - 1] - h->place[first] + 1};
        bool told = h->tool_used && !isnan(h->tool_used[first]);
        run.used_before = told ? h->tool_used[first] : drilled_here(h, first);
        if (fit_run(h, first, end - first, residual, spare, wild, &run)) found[n++] = run;
    }
    *runs = found;
    *count = n;
    return PP_OK;
}
