#include <math.h>
#include <string.h>

#include "base/foreign.h"
#include "base/number.h"
#include "report/history/answers.h"

/* ---- numbers ---- */

void pp_history_modelled(pp_text *text, double share)
{
    static const double KNOWN = 1e-6;
    if (share < KNOWN)
        pp_text_print(text, "below %.4f %%", 100 * KNOWN);
    else
        pp_text_print(text, "%.3g %%", 100 * share);
}

const char *pp_history_unit(const char *unit)
{
    if (!unit) return "";
    if (strcmp(unit, "1") == 0) return "ppm";
    if (strcmp(unit, "rad") == 0) return "urad";
    return strcmp(unit, "count") == 0 ? "" : unit;
}

double pp_history_scale(const char *unit)
{
    return unit && (strcmp(unit, "1") == 0 || strcmp(unit, "rad") == 0) ? 1e6 : 1;
}

void pp_history_number(pp_text *text, double value, const char *unit)
{
    if (isnan(value))
        pp_text_add(text, "\xe2\x80\x93"); /* en dash: not known */
    else
        pp_text_print(text, "%.5g", value * pp_history_scale(unit));
}

static void add_value(pp_text *text, double value, const char *unit)
{
    pp_history_number(text, value, unit);
    const char *word = pp_history_unit(unit);
    if (word[0] && !isnan(value)) pp_text_print(text, " %s", word);
}

static void add_name(pp_text *text, const char *name)
{
    const char *shown = name ? name : "?";
    pp_text_add_foreign_bytes(text, shown, strlen(shown));
}

static void add_points(pp_text *text, const pp_point_list *list, const pp_history_rows *rows)
{
    enum { SHOWN = 12 };
    for (size_t i = 0; i < list->count && i < SHOWN; i++) {
        pp_text_print(text, "%s%zu (", i ? ", " : " ", list->points[i]);
        add_name(text, rows->rows[list->points[i] - 1].label);
        pp_text_add(text, ")");
    }
    if (list->count > SHOWN) pp_text_print(text, " and %zu more", list->count - SHOWN);
    pp_text_add(text, "\n");
}

/* ---- what stands beside an answer ---- */

static const pp_history_rows *rows_of(const pp_history_answer *a)
{
    if (a->chart) return &a->chart->rows;
    if (a->share) return &a->share->rows;
    if (a->capability) return &a->capability->rows;
    return a->trend ? &a->trend->rows : NULL;
}

static void say(pp_text *text, const char *before, const char *sentence, const char *behind)
{
    pp_text_add(text, before);
    pp_text_add(text, sentence);
    pp_text_add(text, behind);
}

static void caution_rows(const pp_history_rows *rows, const char *before, const char *behind,
                         pp_text *text)
{
    if (rows->machines > 1)
        say(text, before,
            "These plates come from several machines; pick one with --where machine=NAME.", behind);
    if (!rows->event) return;
    pp_text_print(text, "%sPlates since %s only: ", before, rows->event->date);
    add_name(text, rows->event->text);
    pp_text_print(text, ".%s", behind);
}

void pp_history_cautions(const pp_history_answer *a, const char *before, const char *behind,
                         pp_text *text)
{
    const pp_history_rows *rows = rows_of(a);
    if (rows) caution_rows(rows, before, behind, text);
    if (a->chart && a->chart->chart.provisional)
        say(text, before, "Limits from fewer than 20 plates are provisional.", behind);
    if (a->chart && a->chart->chart.correlated)
        say(text, before,
            "Successive plates are correlated: limits are too narrow, and signals come of nothing "
            "in half of such charts.",
            behind);
    if (a->chart && strstr(a->chart->figure, "largest"))
        say(text, before,
            "The largest of many is not normal: it passes its limits three times as often without "
            "a cause; chart the terms or the mean.",
            behind);
    if (a->share && a->share->chart.widened)
        say(text, before,
            "Shares differ from plate to plate by more than chance: the limits are widened by that "
            "spread.",
            behind);
    if (a->capability && !a->capability->position && !a->capability->size.in_order)
        say(text, before,
            "The plates' means are not in order: Cp and Cpk would promise what no plate keeps, and "
            "are left out.",
            behind);
    if (a->capability && a->capability->more_than_model)
        say(text, before,
            "More holes were counted outside than the model says: it does not fit these plates; go "
            "by the count.",
            behind);
    if (a->trend && a->trend->trend.points < 30)
        say(text, before,
            "Under 30 plates a process that wanders looks like a trend in one case of seven and "
            "more.",
            behind);
    if (a->causes)
        say(text, before,
            "A figure that goes with a factor need not be caused by it; that nothing is found is "
            "no "
            "proof (an odd heat of four plates, two sigma off, shows in one case of ten).",
            behind);
    if (a->tools && isnan(a->tools->life.life))
        say(text, before, "A life needs at least 2 tools, a sure one at least 3.", behind);
    else if (a->tools && isnan(a->tools->life.life_sure))
        say(text, before, "A sure life needs at least 3 tools.", behind);
    if (a->tools && a->tools->life.life == 0)
        say(text, before,
            "No hole at all: already of new tools, as they differ among each other, more holes "
            "than "
            "the share are beyond a limit. Look at the sizes of new tools first.",
            behind);
    if (a->tools && a->tools->life.beyond_experience)
        say(text, before, "The life lies beyond the longest tool seen: an extrapolation.", behind);
}

/* ---- answers ---- */

static void say_chart(const pp_chart_answer *a, pp_text *text)
{
    const pp_individuals *c = &a->chart;
    const char *unit = a->rows.unit;
    add_name(text, a->figure);
    pp_text_print(text, ", %zu plates\n  centre       ", c->points);
    add_value(text, c->centre, unit);
    pp_text_add(text, "\n  limits       ");
    pp_history_number(text, c->lower, unit);
    pp_text_add(text, " to ");
    add_value(text, c->upper, unit);
    if (c->base < c->points) pp_text_print(text, ", from the first %zu", c->base);
    pp_text_add(text, "\n  moving range ");
    pp_history_number(text, c->range_centre, unit);
    pp_text_add(text, ", at most ");
    add_value(text, c->range_upper, unit);
    pp_text_add(text, "\n  signals     ");
    if (c->found[0].count == 0) pp_text_add(text, " none\n");
    if (c->found[0].count) add_points(text, &c->found[0], &a->rows);
    for (int k = 1; k < PP_RUN_RULES; k++) {
        if (!c->found[k].count) continue;
        pp_text_print(text, "  hint: %s at", pp_run_rules[k].name);
        add_points(text, &c->found[k], &a->rows);
    }
    if (!c->range_beyond.count) return;
    pp_text_add(text, "  hint: range beyond at");
    add_points(text, &c->range_beyond, &a->rows);
}

static void say_share(const pp_share_answer *a, pp_text *text)
{
    add_name(text, a->figure);
    pp_text_print(text, ", %zu plates\n  share   %.4g %%\n  signals", a->rows.count,
                  100 * a->chart.centre);
    if (a->chart.beyond.count)
        add_points(text, &a->chart.beyond, &a->rows);
    else
        pp_text_add(text, " none\n");
}

static void say_interval(pp_text *text, const char *name, double value, double low, double high)
{
    if (isnan(value)) return;
    pp_text_print(text, "  %-4s %.3f", name, value);
    if (!isnan(low)) pp_text_print(text, "   (%.3f to %.3f)", low, high);
    pp_text_add(text, "\n");
}

static void say_capability(const pp_capability_answer *a, pp_text *text)
{
    size_t plates = a->position ? a->place.plates : a->size.plates;
    double holes = a->position ? a->place.holes : a->size.holes;
    pp_text_print(text, "%s, %zu plate%s, %.0f holes%s\n", a->position ? "position" : "diameter",
                  plates, plates == 1 ? "" : "s", holes, plates == 1 ? ": this plate only" : "");
    if (!a->position) {
        const pp_size_capability *c = &a->size;
        pp_text_print(text, "  mean %.4f mm, within a plate %.4f, in all %.4f\n", c->mean,
                      c->within, c->total);
        say_interval(text, "Pp", c->pp, c->pp_low, c->pp_high);
        say_interval(text, "Ppk", c->ppk, c->ppk_low, c->ppk_high);
        say_interval(text, "Cp", c->cp, NAN, NAN);
        if (!isnan(c->cpk))
            pp_text_print(text, "  Cpk  %.3f   if every plate were centred alike\n", c->cpk);
        return;
    }
    const pp_position_capability *c = &a->place;
    pp_text_print(text, "  half of the holes within %.4f mm, all but .135 %% within %.4f mm\n",
                  c->median, c->q99865);
    say_interval(text, "Ppk", c->ppk, c->ppk_low, c->ppk_high);
    pp_text_add(text, "  share outside ");
    pp_history_modelled(text, c->share_outside);
    pp_text_add(text, " (modelled)\n");
    if (a->counted_of > 0)
        pp_text_print(text,
                      "  counted %.0f of %.0f outside; at most %.3g %% with 95 %% confidence\n",
                      a->counted, a->counted_of, 100 * a->counted_bound);
}

static void say_trend(const pp_trend_answer *a, pp_text *text)
{
    const pp_trend *t = &a->trend;
    const char *unit = a->rows.unit;
    add_name(text, a->figure);
    pp_text_print(text, ", %zu plates\n  slope ", t->points);
    add_value(text, t->slope, unit);
    pp_text_print(text, " per %s (", a->days ? "day" : "plate");
    pp_history_number(text, t->lower, unit);
    pp_text_add(text, " to ");
    pp_history_number(text, t->upper, unit);
    pp_text_print(text, "), p %.3g: %s\n", t->p, t->p < 0.05 ? "it changes" : "no change shown");
}

static void say_causes(const pp_cause_answer *a, pp_text *text)
{
    size_t found = 0;
    for (size_t i = 0; i < a->count; i++) {
        const pp_cause_test *t = &a->tests[i];
        found += t->found;
        pp_text_add(text, t->found ? "* " : "  ");
        add_name(text, t->figure);
        pp_text_print(text, " %s %s", t->found ? "goes with" : "by", pp_factor_names[t->by]);
        for (int f = 0; f < PP_FACTORS; f++) {
            if (t->same_as & 1u << f) pp_text_print(text, " (same as %s)", pp_factor_names[f]);
            if (t->within & 1u << f) pp_text_print(text, " (within %s)", pp_factor_names[f]);
        }
        pp_text_print(text, ": %.0f %% of the variance, F %.3g, p %.3g\n", 100 * t->test.share,
                      t->test.f, t->p_adjusted);
    }
    pp_text_print(text, "%zu of %zu comparisons found\n", found, a->count);
}

static void say_life(pp_text *text, const char *name, double life)
{
    if (isnan(life)) return;
    if (isinf(life))
        pp_text_print(text, "  %s no wear towards the limits\n", name);
    else
        pp_text_print(text, "  %s %.0f holes\n", name, floor(life));
}

static void say_tools(const pp_tool_answer *a, pp_text *text)
{
    const pp_tool_life *l = &a->life;
    pp_text_print(text, "%zu tools, the longest %.0f holes\n", l->tools, l->longest);
    pp_text_print(text, "  new %.4f mm, wear %.3g mm in 100 holes, scatter %.4f mm\n", l->level,
                  100 * l->slope, l->scatter);
    say_life(text, "life     ", l->life);
    say_life(text, "life sure", l->life_sure);
}

static void say_list(const pp_list_answer *a, pp_text *text)
{
    pp_text_print(text, "%zu plates, %zu reports, %zu replaced\n", a->plates, a->reports,
                  a->replaced);
    for (size_t i = 0; i < a->machine_count; i++) {
        pp_text_add(text, "  machine ");
        add_name(text, a->machines[i].name);
        pp_text_print(text, ": %zu plates\n", a->machines[i].plates);
    }
    for (size_t i = 0; i < a->event_count; i++) {
        pp_text_print(text, "  event %s ", a->events[i].date);
        add_name(text, a->events[i].machine ? a->events[i].machine : "all machines");
        pp_text_add(text, ": ");
        add_name(text, a->events[i].text);
        pp_text_add(text, "\n");
    }
    for (size_t i = 0; i < a->figure_count; i++) {
        pp_text_print(text, "  %-7s ", a->figures[i].kind);
        add_name(text, a->figures[i].figure);
        pp_text_print(text, ": %zu reports\n", a->figures[i].reports);
    }
}

static void say_check(const pp_check_answer *a, pp_text *text)
{
    pp_text_add(text, "file: ");
    add_name(text, a->integrity);
    pp_text_print(text, "\nreports: %zu, %zu unchanged\n", a->reports,
                  a->reports - a->missing_count - a->differ_count);
    for (size_t i = 0; i < a->missing_count; i++) {
        pp_text_add(text, "  gone: ");
        add_name(text, a->missing[i].folder);
        pp_text_add(text, "\n");
    }
    for (size_t i = 0; i < a->differ_count; i++) {
        pp_text_add(text, "  changed: ");
        add_name(text, a->differ[i].folder);
        pp_text_add(text, "\n");
    }
}

pp_status pp_history_words(const pp_history_answer *a, pp_text *text, pp_error *error)
{
    if (a->chart) say_chart(a->chart, text);
    if (a->share) say_share(a->share, text);
    if (a->capability) say_capability(a->capability, text);
    if (a->trend) say_trend(a->trend, text);
    if (a->causes) say_causes(a->causes, text);
    if (a->tools) say_tools(a->tools, text);
    if (a->list) say_list(a->list, text);
    if (a->check) say_check(a->check, text);
    pp_history_cautions(a, "  note: ", "\n", text);
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
