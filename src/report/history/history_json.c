#include "report/history/answers.h"
#include "report/json/json_build.h"

static void begin(pp_json_builder *b, json_t *root, const char *question)
{
    pp_json_text(b, root, "format", "plateproof-history");
    pp_json_count(b, root, "version", 1);
    pp_json_text(b, root, "question", question);
}

static void put_since(pp_json_builder *b, json_t *root, const pp_history_rows *rows)
{
    if (!rows->event) {
        pp_json_put(b, root, "since", json_null());
        return;
    }
    json_t *since = pp_json_object(b, root, "since");
    pp_json_text(b, since, "date", rows->event->date);
    pp_json_text(b, since, "text", rows->event->text);
}

static void put_plates(pp_json_builder *b, json_t *root, const pp_history_rows *rows)
{
    json_t *plates = pp_json_array(b, root, "plates"), *dates = pp_json_array(b, root, "dates");
    for (size_t i = 0; i < rows->count; i++) {
        pp_json_append_text(b, plates, rows->rows[i].label);
        pp_json_append_text(b, dates, rows->rows[i].date);
    }
}

static void put_reals(pp_json_builder *b, json_t *root, const char *key, const double *values,
                      size_t count)
{
    json_t *array = pp_json_array(b, root, key);
    for (size_t i = 0; i < count; i++) pp_json_append_real(b, array, values[i]);
}

static void put_points(pp_json_builder *b, json_t *root, const char *key, const pp_point_list *list)
{
    json_t *array = pp_json_array(b, root, key);
    for (size_t i = 0; i < list->count; i++)
        pp_json_append(b, array, json_integer((json_int_t)list->points[i]));
}

static void put_interval(pp_json_builder *b, json_t *root, const char *key, double low, double high)
{
    json_t *array = pp_json_array(b, root, key);
    pp_json_append_real(b, array, low);
    pp_json_append_real(b, array, high);
}

static void put_cautions(pp_json_builder *b, json_t *root, const pp_history_answer *answer)
{
    pp_text text = {0};
    pp_history_cautions(answer, "", "\n", &text);
    json_t *array = pp_json_array(b, root, "cautions");
    for (char *at = text.data; at && *at;) {
        char *end = at;
        while (*end && *end != '\n') end++;
        pp_json_append(b, array, json_stringn(at, (size_t)(end - at)));
        at = *end ? end + 1 : end;
    }
    if (text.failed) b->failed = true;
    pp_text_free(&text);
}

static void put_chart(pp_json_builder *b, json_t *root, const pp_chart_answer *a)
{
    begin(b, root, "chart");
    pp_json_text(b, root, "figure", a->figure);
    pp_json_text(b, root, "unit", a->rows.unit);
    pp_json_count(b, root, "points", a->chart.points);
    pp_json_count(b, root, "base", a->chart.base);
    put_since(b, root, &a->rows);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"centre", a->chart.centre}, {"lower", a->chart.lower},
                                 {"upper", a->chart.upper}));
    json_t *range = pp_json_object(b, root, "moving_range");
    pp_json_real(b, range, "centre", a->chart.range_centre);
    pp_json_real(b, range, "upper", a->chart.range_upper);
    put_points(b, range, "signals", &a->chart.range_beyond);
    pp_json_flag(b, root, "provisional", a->chart.provisional);
    pp_json_real(b, root, "autocorrelation", a->chart.autocorrelation);
    json_t *signals = pp_json_object(b, root, "signals");
    for (int k = 0; k < PP_RUN_RULES; k++)
        put_points(b, signals, pp_run_rules[k].name, &a->chart.found[k]);
    put_plates(b, root, &a->rows);
    put_reals(b, root, "values", a->value, a->rows.count);
}

static void put_share(pp_json_builder *b, json_t *root, const pp_share_answer *a)
{
    size_t n = a->rows.count;
    begin(b, root, "share");
    pp_json_text(b, root, "figure", a->figure);
    pp_json_count(b, root, "points", n);
    put_since(b, root, &a->rows);
    pp_json_real(b, root, "centre", a->chart.centre);
    put_reals(b, root, "lower", a->chart.lower, n);
    put_reals(b, root, "upper", a->chart.upper, n);
    put_reals(b, root, "binomial_lower", a->chart.binomial_lower, n);
    put_reals(b, root, "binomial_upper", a->chart.binomial_upper, n);
    pp_json_real(b, root, "spread", a->chart.spread);
    json_t *dispersion = pp_json_object(b, root, "dispersion");
    pp_json_real(b, dispersion, "chi_squared", a->chart.chi_squared);
    pp_json_real(b, dispersion, "p", a->chart.p);
    pp_json_flag(b, root, "widened", a->chart.widened);
    put_points(b, pp_json_object(b, root, "signals"), "beyond", &a->chart.beyond);
    put_plates(b, root, &a->rows);
    put_reals(b, root, "values", a->chart.share, n);
}

static void put_size(pp_json_builder *b, json_t *root, const pp_capability_answer *a)
{
    const pp_size_capability *c = &a->size;
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"lower", a->lower}, {"upper", a->upper}, {"mean", c->mean},
                                 {"Cp", c->cp}, {"Cpk", c->cpk}, {"Pp", c->pp}, {"Ppk", c->ppk}));
    put_interval(b, root, "Pp_interval", c->pp_low, c->pp_high);
    put_interval(b, root, "Ppk_interval", c->ppk_low, c->ppk_high);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"level", 0.95}, {"within", c->within}, {"between", c->between},
                                 {"total", c->total}));
    pp_json_flag(b, root, "in_order", c->in_order);
}

static void put_place(pp_json_builder *b, json_t *root, const pp_capability_answer *a)
{
    const pp_position_capability *c = &a->place;
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"limit", a->limit}, {"median", c->median}, {"q99865", c->q99865},
                                 {"Ppk", c->ppk}));
    put_interval(b, root, "Ppk_interval", c->ppk_low, c->ppk_high);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"level", 0.90}, {"share_outside", c->share_outside},
                                 {"index_of_share", c->index}));
    if (a->counted_of > 0) {
        json_t *counted = pp_json_object(b, root, "share_counted");
        pp_json_reals(b, counted,
                      PP_NAMED_REALS({"out", a->counted}, {"of", a->counted_of},
                                     {"share", a->counted_share},
                                     {"upper_bound", a->counted_bound}));
    } else {
        pp_json_put(b, root, "share_counted", json_null());
    }
}

static void put_capability(pp_json_builder *b, json_t *root, const pp_capability_answer *a)
{
    size_t plates = a->position ? a->place.plates : a->size.plates;
    begin(b, root, "capability");
    pp_json_text(b, root, "of", a->position ? "position" : "diameter");
    pp_json_text(b, root, "basis", plates == 1 ? "this plate only" : "plates as the unit");
    pp_json_count(b, root, "plates_used", plates);
    pp_json_real(b, root, "holes", a->position ? a->place.holes : a->size.holes);
    put_since(b, root, &a->rows);
    if (a->position)
        put_place(b, root, a);
    else
        put_size(b, root, a);
    put_plates(b, root, &a->rows);
}

static void put_trend(pp_json_builder *b, json_t *root, const pp_trend_answer *a)
{
    begin(b, root, "trend");
    pp_json_text(b, root, "figure", a->figure);
    pp_json_text(b, root, "unit", a->rows.unit);
    pp_json_text(b, root, "per", a->days ? "day" : "plate");
    pp_json_count(b, root, "points", a->trend.points);
    put_since(b, root, &a->rows);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"slope", a->trend.slope},
                                 {"standard_error", a->trend.standard_error}, {"p", a->trend.p}));
    put_interval(b, root, "interval", a->trend.lower, a->trend.upper);
    pp_json_real(b, root, "autocorrelation", a->trend.autocorrelation);
    pp_json_flag(b, root, "widened", a->trend.widened);
    pp_json_real(b, root, "scatter", a->trend.scatter);
    put_plates(b, root, &a->rows);
    put_reals(b, root, "values", a->y, a->rows.count);
}

static void put_factors(pp_json_builder *b, json_t *object, const char *key, unsigned bits)
{
    json_t *array = pp_json_array(b, object, key);
    for (int f = 0; f < PP_FACTORS; f++)
        if (bits & 1u << f) pp_json_append_text(b, array, pp_factor_names[f]);
}

static void put_cause(pp_json_builder *b, json_t *array, const pp_cause_test *t)
{
    json_t *object = pp_json_append_object(b, array);
    pp_json_text(b, object, "figure", t->figure);
    pp_json_text(b, object, "by", pp_factor_names[t->by]);
    put_factors(b, object, "same_as", t->same_as);
    put_factors(b, object, "within", t->within);
    json_t *groups = pp_json_object(b, object, "groups");
    for (size_t k = 0; k < t->group_count; k++) {
        json_t *group = pp_json_object(b, groups, t->group[k]);
        pp_json_count(b, group, "plates", t->plates[k]);
        pp_json_real(b, group, "mean", t->mean[k]);
    }
    json_t *left_out = pp_json_array(b, object, "left_out");
    for (size_t k = 0; k < t->group_count; k++)
        if (t->left_out[k]) pp_json_append_text(b, left_out, t->group[k]);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"F", t->test.f}, {"p", t->test.p}, {"p_adjusted", t->p_adjusted},
                                 {"share", t->test.share}, {"scatter", t->test.scatter},
                                 {"between_ss", t->test.between_ss},
                                 {"within_ss", t->test.within_ss}));
    pp_json_flag(b, object, "found", t->found);
}

static void put_tools(pp_json_builder *b, json_t *root, const pp_tool_answer *a)
{
    begin(b, root, "tools");
    pp_json_count(b, root, "tools", a->life.tools);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"lower", a->lower}, {"upper", a->upper}, {"share", a->share},
                                 {"life", a->life.life}, {"life_sure", a->life.life_sure}));
    pp_json_flag(b, root, "unlimited", a->life.unlimited);
    pp_json_reals(b, root,
                  PP_NAMED_REALS({"level", a->life.level}, {"level_sd", a->life.level_sd},
                                 {"slope", a->life.slope}, {"slope_sd", a->life.slope_sd},
                                 {"scatter", a->life.scatter}, {"longest", a->life.longest}));
    pp_json_flag(b, root, "beyond_experience", a->life.beyond_experience);
    json_t *lines = pp_json_array(b, root, "lines");
    for (size_t i = 0; i < a->count; i++) {
        json_t *line = pp_json_append_object(b, lines);
        pp_json_text(b, line, "plate", a->tools[i].plate);
        pp_json_text(b, line, "tool", a->tools[i].tool);
        pp_json_text(b, line, "machine", a->tools[i].machine);
        pp_json_count(b, line, "holes", a->tools[i].holes);
        pp_json_count(b, line, "used_before", a->tools[i].used_before);
        pp_json_reals(b, line,
                      PP_NAMED_REALS({"level", a->tools[i].line.level},
                                     {"slope", a->tools[i].line.slope},
                                     {"scatter", a->tools[i].line.scatter}));
    }
}

static void put_list(pp_json_builder *b, json_t *root, const pp_list_answer *a)
{
    begin(b, root, "list");
    pp_json_count(b, root, "plates", a->plates);
    pp_json_count(b, root, "reports", a->reports);
    pp_json_count(b, root, "replaced", a->replaced);
    json_t *figures = pp_json_array(b, root, "figures");
    for (size_t i = 0; i < a->figure_count; i++) {
        json_t *f = pp_json_append_object(b, figures);
        pp_json_text(b, f, "figure", a->figures[i].figure);
        pp_json_text(b, f, "kind", a->figures[i].kind);
        pp_json_text(b, f, "unit", a->figures[i].unit);
        pp_json_count(b, f, "reports", a->figures[i].reports);
    }
    json_t *machines = pp_json_array(b, root, "machines");
    for (size_t i = 0; i < a->machine_count; i++) {
        json_t *m = pp_json_append_object(b, machines);
        pp_json_text(b, m, "name", a->machines[i].name);
        pp_json_text(b, m, "serial", a->machines[i].serial);
        pp_json_count(b, m, "plates", a->machines[i].plates);
    }
    json_t *events = pp_json_array(b, root, "events");
    for (size_t i = 0; i < a->event_count; i++) {
        json_t *e = pp_json_append_object(b, events);
        pp_json_text(b, e, "date", a->events[i].date);
        pp_json_text(b, e, "text", a->events[i].text);
        pp_json_text(b, e, "machine", a->events[i].machine);
    }
}

static void put_folders(pp_json_builder *b, json_t *root, const char *key, size_t count,
                        const pp_checked_folder *folders)
{
    json_t *array = pp_json_array(b, root, key);
    for (size_t i = 0; i < count; i++) {
        json_t *f = pp_json_append_object(b, array);
        pp_json_text(b, f, "plate", folders[i].plate);
        pp_json_text(b, f, "folder", folders[i].folder);
    }
}

static void put_check(pp_json_builder *b, json_t *root, const pp_check_answer *a)
{
    begin(b, root, "check");
    pp_json_text(b, root, "integrity", a->integrity);
    pp_json_count(b, root, "reports", a->reports);
    put_folders(b, root, "missing", a->missing_count, a->missing);
    put_folders(b, root, "differ", a->differ_count, a->differ);
}

pp_status pp_history_json(const pp_history_answer *a, pp_text *text, pp_error *error)
{
    pp_json_builder b = {0};
    json_t *root = json_object();
    if (!root) return pp_fail_memory(error);
    if (a->chart) put_chart(&b, root, a->chart);
    if (a->share) put_share(&b, root, a->share);
    if (a->capability) put_capability(&b, root, a->capability);
    if (a->trend) put_trend(&b, root, a->trend);
    if (a->causes) {
        begin(&b, root, "causes");
        json_t *tests = pp_json_array(&b, root, "tests");
        for (size_t i = 0; i < a->causes->count; i++) put_cause(&b, tests, &a->causes->tests[i]);
    }
    if (a->tools) put_tools(&b, root, a->tools);
    if (a->list) put_list(&b, root, a->list);
    if (a->check) put_check(&b, root, a->check);
    put_cautions(&b, root, a);
    return pp_json_end(&b, root, text, error);
}
