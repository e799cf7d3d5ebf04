#include "history/questions.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/quantiles.h"
#include "history/figures.h"

const char *const pp_charted_figures[] = {"flatness.minimum_zone.flatness",
                                          "holes.diameter.mean",
                                          "holes.diagnosis.rms_before",
                                          "scale common",
                                          "scale x-y",
                                          "squareness",
                                          "bow of x axis",
                                          "bow of y axis",
                                          "lost motion x",
                                          "lost motion y",
                                          "holes.diagnosis.scatter_x",
                                          "holes.diagnosis.scatter_y",
                                          NULL};

static pp_status need_rows(const pp_history *h, const pp_history_rows *rows, pp_error *error)
{
    if (rows->count) return PP_OK;
    return pp_fail_at(error, PP_ENOTHING, h->path, 0, 0,
                      "no plate meets the conditions; 'plateproof history list' shows what there "
                      "is");
}

/* The figure's values since the last event. */
static pp_status take_series(pp_history *h, const pp_selection *selection, const char *figure,
                             pp_arena *arena, pp_history_rows *rows, double **value,
                             pp_error *error)
{
    PP_TRY(
        pp_history_select(h, selection, PP_WANT_FIGURE, PP_ROWS_BRIEF, figure, arena, rows, error));
    PP_TRY(need_rows(h, rows, error));
    pp_history_rows_since(rows);
    PP_TAKE(*value, arena, rows->count);
    for (size_t i = 0; i < rows->count; i++) (*value)[i] = rows->rows[i].value;
    return PP_OK;
}

/* The limits that stand beside a figure of the latest plate, where it has that figure. */
static pp_status latest_limits(pp_history *h, const pp_selection *selection, const char *figure,
                               pp_arena *arena, double *lower, double *upper, bool *several,
                               pp_error *error)
{
    static const double SAME = 1e-9;
    pp_history_rows rows;
    pp_error none;
    *lower = *upper = NAN;
    pp_status status =
        pp_history_select(h, selection, PP_WANT_FIGURE, PP_ROWS_BRIEF, figure, arena, &rows, &none);
    if (status != PP_OK)
        return status == PP_EINPUT || status == PP_ENOTHING
                   ? PP_OK
                   : pp_fail_at(error, status, none.file, 0, 0, "%s", none.message);
    pp_history_rows_since(&rows);
    if (!rows.count) return PP_OK;
    *lower = rows.rows[rows.count - 1].lower, *upper = rows.rows[rows.count - 1].upper;
    for (size_t i = 0; i < rows.count; i++)
        *several |= fabs(rows.rows[i].lower - *lower) > SAME ||
                    fabs(rows.rows[i].upper - *upper) > SAME ||
                    isnan(rows.rows[i].upper) != isnan(*upper);
    return PP_OK;
}

pp_status pp_ask_limits(pp_history *h, const pp_selection *selection, pp_arena *arena,
                        pp_used_limits *limits, pp_error *error)
{
    pp_used_limits l = {0};
    double none;
    PP_TRY(latest_limits(h, selection, "holes.diameter.mean", arena, &l.lower, &l.upper, &l.several,
                         error));
    PP_TRY(latest_limits(h, selection, "holes.position.largest", arena, &none, &l.position,
                         &l.several, error));
    *limits = l;
    return PP_OK;
}

pp_status pp_ask_chart(pp_history *h, const pp_selection *selection, const char *figure,
                       size_t base, pp_arena *arena, pp_chart_answer *answer, pp_error *error)
{
    double *value;
    pp_chart_answer a = {.figure = pp_figure_full_name(figure)};
    PP_TRY(take_series(h, selection, figure, arena, &a.rows, &value, error));
    a.earlier_count = a.rows.earlier_count, a.earlier = a.rows.rows - a.earlier_count;
    if (base > a.rows.count)
        return pp_fail(error, PP_EINPUT, "--base %zu is more than the %zu plates there are", base,
                       a.rows.count);
    PP_TRY(pp_individuals_chart(value, a.rows.count, base, arena, &a.chart, error));
    a.value = value;
    *answer = a;
    return PP_OK;
}

pp_status pp_ask_share(pp_history *h, const pp_selection *selection, const char *figure,
                       pp_arena *arena, pp_share_answer *answer, pp_error *error)
{
    double *out, *of;
    pp_share_answer a = {.figure = pp_figure_full_name(figure)};
    PP_TRY(pp_history_select(h, selection, PP_WANT_TALLY, PP_ROWS_BRIEF, figure, arena, &a.rows,
                             error));
    PP_TRY(need_rows(h, &a.rows, error));
    pp_history_rows_since(&a.rows);
    PP_TAKE(out, arena, a.rows.count);
    PP_TAKE(of, arena, a.rows.count);
    for (size_t i = 0; i < a.rows.count; i++)
        out[i] = a.rows.rows[i].count, of[i] = a.rows.rows[i].out_of;
    PP_TRY(pp_shares_chart(out, of, a.rows.count, arena, &a.chart, error));
    *answer = a;
    return PP_OK;
}

/* ---- capability ---- */

/* Three standard deviations above as many holes as the modelled share leaves outside. Holes of a
 * plate go together: as rough as that. */
static bool more_than_model(const pp_capability_answer *a)
{
    double expected = a->place.share_outside * a->counted_of;
    return a->counted > expected + 3 * sqrt(fmax(expected, 1));
}

/* Holes out, of the plates that were judged by this very limit. */
static pp_status count_out(pp_history *h, const pp_selection *selection, double limit,
                           pp_arena *arena, pp_capability_answer *a, pp_error *error)
{
    static const double CONFIDENCE = 0.95, SAME = 1e-9;
    pp_history_rows judged, limits;
    pp_error none;
    a->counted = a->counted_of = a->counted_bound = a->counted_share = NAN;
    if (pp_history_select(h, selection, PP_WANT_TALLY, PP_ROWS_BRIEF, "holes.position.out", arena,
                          &judged, &none) != PP_OK ||
        pp_history_select(h, selection, PP_WANT_FIGURE, PP_ROWS_BRIEF, "holes.position.largest",
                          arena, &limits, &none) != PP_OK)
        return none.status == PP_ENOMEM ? pp_fail_memory(error) : PP_OK;
    pp_history_rows_since(&judged);
    double out = 0, of = 0;
    for (size_t i = 0, k = 0; i < judged.count; i++) {
        while (k < limits.count && limits.rows[k].report != judged.rows[i].report) k++;
        if (k == limits.count) break;
        if (!(fabs(limits.rows[k].upper - limit) <= SAME)) continue;
        out += judged.rows[i].count, of += judged.rows[i].out_of;
    }
    if (!(of > 0)) return PP_OK;
    a->counted = out, a->counted_of = of;
    a->counted_bound = pp_share_upper_bound(out, of, CONFIDENCE);
    a->counted_share = out / of;
    a->more_than_model = more_than_model(a);
    return PP_OK;
}

pp_status pp_ask_capability(pp_history *h, const pp_selection *selection,
                            const pp_capability_question *question, pp_arena *arena,
                            pp_capability_answer *answer, pp_error *error)
{
    pp_plate_moments *moments;
    pp_capability_answer a = {.position = strcmp(question->what, "position") == 0,
                              .lower = question->lower,
                              .upper = question->upper,
                              .limit = question->limit};
    if (!a.position && strcmp(question->what, "diameter") != 0)
        return pp_fail(error, PP_EINPUT,
                       "capability is of 'diameter' (--lower, --upper) or of 'position' (--limit), "
                       "not of '%.60s'",
                       question->what);
    PP_TRY(pp_history_select(h, selection, PP_WANT_MOMENTS, PP_ROWS_BRIEF, NULL, arena, &a.rows,
                             error));
    pp_history_rows_since(&a.rows);
    PP_TAKE(moments, arena, a.rows.count);
    for (size_t i = 0; i < a.rows.count; i++) moments[i] = a.rows.rows[i].moments;
    a.moments = moments;
    if (a.position) {
        PP_TRY(pp_position_capability_find(moments, a.rows.count, a.limit, &a.place, error));
        PP_TRY(count_out(h, selection, a.limit, arena, &a, error));
    } else {
        PP_TRY(pp_size_capability_find(moments, a.rows.count, a.lower, a.upper, arena, &a.size,
                                       error));
    }
    *answer = a;
    return PP_OK;
}

/* ---- trend ---- */

/* Days since 1970 of an ISO date, proleptic Gregorian. */
static double day_number(const char *date)
{
    int y = atoi(date), m = atoi(date + 5), d = atoi(date + 8);
    y -= m <= 2;
    int era = y / 400, year = y - era * 400, day = (153 * (m + (m > 2 ? -3 : 9)) + 2) / 5 + d - 1;
    return era * 146097.0 + year * 365 + year / 4 - year / 100 + day - 719468;
}

pp_status pp_ask_trend(pp_history *h, const pp_selection *selection, const char *figure, bool days,
                       pp_arena *arena, pp_trend_answer *answer, pp_error *error)
{
    double *x, *y;
    pp_trend_answer a = {.figure = pp_figure_full_name(figure), .days = days};
    PP_TRY(take_series(h, selection, figure, arena, &a.rows, &y, error));
    PP_TAKE(x, arena, a.rows.count);
    for (size_t i = 0; i < a.rows.count; i++)
        x[i] = days ? day_number(a.rows.rows[i].date) : (double)i + 1;
    PP_TRY(pp_trend_fit(x, y, a.rows.count, &a.trend, error));
    a.x = x, a.y = y;
    *answer = a;
    return PP_OK;
}

/* ---- tools ---- */

pp_status pp_ask_tools(pp_history *h, const pp_selection *selection, double lower, double upper,
                       double share, pp_arena *arena, pp_tool_answer *answer, pp_error *error)
{
    pp_tool_answer a = {.lower = lower, .upper = upper, .share = share};
    pp_tool_row *tools;
    pp_tool_line *lines;
    PP_TRY(pp_history_tools(h, selection, arena, &a.count, &tools, error));
    PP_TAKE(lines, arena, a.count);
    for (size_t i = 0; i < a.count; i++) lines[i] = tools[i].line;
    PP_TRY(pp_tool_life_find(lines, a.count, lower, upper, share, &a.life, error));
    a.tools = tools;
    *answer = a;
    return PP_OK;
}
