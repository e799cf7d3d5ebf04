#include "report/page/html_parts.h"

#include <math.h>

#include "answer/for_people.h"
#include "answer/summary.h"
#include "report/page/markup.h"

enum { PLACE_DECIMALS = 3, SIZE_DECIMALS = 4, MAP_DECIMALS = 4 };

/* Numbers in the script's data are mm whatever the job's units; the script converts for people. */
static void add_value(pp_text *out, double value, int decimals)
{
    if (pp_given(value) && isfinite(value))
        pp_text_add_fixed(out, value, decimals);
    else
        pp_text_add(out, "null");
}

static void add_key(pp_text *out, const char *key) { pp_text_print(out, "\"%s\":", key); }

typedef struct holes {
    const pp_results *results;
    const pp_plate_view *view;
    bool all; /* false: only those that are not plainly conforming */
} holes;

static bool shown(const holes *h, size_t i)
{
    return h->all || h->view->state[i] == PP_HOLE_FAILS ||
           h->view->state[i] == PP_HOLE_NOT_PROVEN || h->view->state[i] == PP_HOLE_PLUGGED;
}

typedef void (*add_item)(pp_text *out, const holes *h, size_t hole);

/* "key":[...] over the holes shown */
static void add_list(pp_text *out, const holes *h, const char *key, add_item add)
{
    add_key(out, key);
    pp_text_add(out, "[");
    bool first = true;
    for (size_t i = 0; i < h->view->count; i++) {
        if (!shown(h, i)) continue;
        if (!first) pp_text_add(out, ",");
        first = false;
        add(out, h, i);
    }
    pp_text_add(out, "],\n");
}

static const pp_bore *bore_of(const holes *h, size_t hole, pp_face face)
{
    const pp_measures *m = h->results->measures;
    if (!m || m->bore_of[face][hole] == PP_NONE) return NULL;
    return &m->bores[m->bore_of[face][hole]];
}

static void item_name(pp_text *out, const holes *h, size_t i)
{
    pp_markup_json(out, h->results->files->nominal.name[i]);
}

static void item_x(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->results->files->nominal.x[i], PLACE_DECIMALS);
}

static void item_y(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->results->files->nominal.y[i], PLACE_DECIMALS);
}

static void item_radius(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->view->radius[i], PLACE_DECIMALS);
}

static void item_state(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->view->state[i], 0);
}

static void item_row(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->results->measures->row_label[i], 0);
}

static void item_column(pp_text *out, const holes *h, size_t i)
{
    add_value(out, h->results->measures->column_label[i], 0);
}

/* one face: [dx, dy, diameter, position, smallest ligament], or null */
static void add_bore(pp_text *out, const holes *h, size_t i, pp_face face)
{
    const pp_bore *b = bore_of(h, i, face);
    if (!b) {
        pp_text_add(out, "null");
        return;
    }
    const pp_measures *m = h->results->measures;
    const double values[] = {b->at.x - h->results->files->nominal.x[i],
                             b->at.y - h->results->files->nominal.y[i], b->diameter_mean,
                             pp_position_of(m, (size_t)(b - m->bores)), b->smallest_ligament};
    for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
        pp_text_add(out, k ? "," : "[");
        add_value(out, values[k], SIZE_DECIMALS);
    }
    pp_text_add(out, "]");
}

static void item_entry(pp_text *out, const holes *h, size_t i) { add_bore(out, h, i, PP_ENTRY); }

static void item_exit(pp_text *out, const holes *h, size_t i) { add_bore(out, h, i, PP_EXIT); }

/* [gap, gap under foot, force to close, class, tilt] */
static void item_hold(pp_text *out, const holes *h, size_t i)
{
    const pp_hold *hold = &h->results->holddown->holes[i];
    pp_text_add(out, "[");
    add_value(out, hold->gap, SIZE_DECIMALS);
    pp_text_add(out, ",");
    add_value(out, hold->gap_under_foot, SIZE_DECIMALS);
    pp_text_add(out, ",");
    add_value(out, hold->force_to_close, 0);
    pp_text_print(out, ",%d,", h->results->holddown_judgement->class_[i]);
    add_value(out, hold->tilt, PLACE_DECIMALS);
    pp_text_add(out, "]");
}

static void add_holes(pp_text *out, const holes *h)
{
    pp_text_print(out, "\"all\":%s,\"total\":%zu,\n", h->all ? "true" : "false", h->view->count);
    add_list(out, h, "name", item_name);
    add_list(out, h, "x", item_x);
    add_list(out, h, "y", item_y);
    add_list(out, h, "r", item_radius);
    add_list(out, h, "state", item_state);
    if (h->results->measures) {
        add_list(out, h, "row", item_row);
        add_list(out, h, "column", item_column);
        add_list(out, h, "entry", item_entry);
        if (h->results->measures->faces[PP_EXIT]) add_list(out, h, "exit", item_exit);
    }
    if (h->results->holddown) add_list(out, h, "hold", item_hold);
}

static void add_extras(pp_text *out, const pp_results *results)
{
    const pp_measures *m = results->measures;
    add_key(out, "extra");
    pp_text_add(out, "[");
    for (size_t b = m ? m->extra_first : 0; m && b < m->bore_count; b++) {
        if (b > m->extra_first) pp_text_add(out, ",");
        pp_text_add(out, "[");
        pp_markup_json(out, pp_bore_name(m, b));
        pp_text_add(out, ",");
        add_value(out, m->bores[b].at.x, PLACE_DECIMALS);
        pp_text_add(out, ",");
        add_value(out, m->bores[b].at.y, PLACE_DECIMALS);
        pp_text_add(out, ",");
        add_value(out, m->bores[b].diameter_mean, SIZE_DECIMALS);
        pp_text_add(out, "]");
    }
    pp_text_add(out, "],\n");
}

static void add_grid(pp_text *out, const char *key, const double *values, size_t count)
{
    add_key(out, key);
    pp_text_add(out, "[");
    for (size_t i = 0; i < count; i++) {
        if (i) pp_text_add(out, ",");
        add_value(out, values[i], MAP_DECIMALS);
    }
    pp_text_add(out, "]");
}

static void add_map(pp_text *out, const pp_results *results)
{
    const pp_map *map = &results->flatness->map;
    size_t count = map->columns * map->rows;
    pp_text_print(out, "\"map\":{\"columns\":%zu,\"rows\":%zu,", map->columns, map->rows);
    const struct {
        const char *key;
        double value;
    } places[] = {{"x0", map->x0}, {"y0", map->y0}, {"dx", map->dx}, {"dy", map->dy}};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        add_key(out, places[i].key);
        add_value(out, places[i].value, SIZE_DECIMALS);
        pp_text_add(out, ",");
    }
    add_grid(out, "deviation", map->deviation, count);
    if (results->gap_map) {
        pp_text_add(out, ",");
        add_grid(out, "gap", results->gap_map, count);
    }
    pp_text_add(out, "},\n");
}

static void add_triple(pp_text *out, size_t i, double x, double y, double value)
{
    pp_text_add(out, i ? ",[" : "[");
    add_value(out, x, PLACE_DECIMALS);
    pp_text_add(out, ",");
    add_value(out, y, PLACE_DECIMALS);
    pp_text_add(out, ",");
    add_value(out, value, PLACE_DECIMALS);
    pp_text_add(out, "]");
}

/* Survey points that stand out, with their rows; both lists run by row */
static void add_outliers(pp_text *out, const pp_results *r)
{
    const pp_survey *survey = r->survey;
    const pp_surface *s = &r->flatness->surface;
    for (size_t k = 0, i = 0; survey && k < s->outlier_count; k++) {
        double x, y, z;
        while (i < survey->count && pp_survey_row(survey, i) < s->outliers[k]) i++;
        if (i == survey->count) return;
        pp_survey_to_plate(&survey->frame, survey->x[i], survey->y[i], survey->z[i], &x, &y, &z);
        add_triple(out, k, x, y, (double)s->outliers[k]);
    }
}

static void add_holding(pp_text *out, const pp_results *results)
{
    const pp_holddown *h = results->holddown;
    add_key(out, "clamps");
    pp_text_add(out, "[");
    for (size_t i = 0; i < h->clamp_count; i++)
        add_triple(out, i, h->plan[i].x, h->plan[i].y, h->plan[i].force);
    pp_text_add(out, "],\"shims\":[");
    for (size_t i = 0; i < h->shim_count; i++)
        add_triple(out, i, h->shims[i].x, h->shims[i].y, h->shims[i].thickness);
    pp_text_add(out, "],\"pins\":[");
    for (size_t i = 0; i < h->pin_count; i++)
        add_triple(out, i, h->pin_x[i], h->pin_y[i], h->pin_force[i]);
    pp_text_add(out, "],\"outliers\":[");
    add_outliers(out, results);
    pp_text_print(out, "],\"study\":%s,\"pad\":", pp_is_holddown_study(results) ? "true" : "false");
    add_value(out, results->job->holddown.clamp_pad, PLACE_DECIMALS);
    pp_text_add(out, ",");
    add_key(out, "gap_limit");
    add_value(out, h->gap_limit, SIZE_DECIMALS);
    pp_text_add(out, ",\n");
}

static void add_corner(void *context, double x, double y, bool begins)
{
    pp_text *out = context;
    bool first = out->length && out->data[out->length - 1] == '[';
    if (begins)
        pp_text_add(out, first ? "[" : "],[");
    else
        pp_text_add(out, ",");
    add_value(out, x, PLACE_DECIMALS);
    pp_text_add(out, ",");
    add_value(out, y, PLACE_DECIMALS);
}

static void add_outline(pp_text *out, const pp_results *results, const pp_plate_view *view)
{
    const pp_job *job = results->job;
    pp_text_add(out, "\"outline\":");
    pp_outline_spec shape = pp_job_outline(job);
    pp_text_add(out, shape.kind == PP_OUTLINE_DISC        ? "\"disc\""
                     : shape.kind == PP_OUTLINE_RECTANGLE ? "\"rectangle\""
                     : pp_outline_is_cut_out(&shape)      ? "\"loops\""
                                                          : "null");
    if (pp_outline_is_cut_out(&shape)) {
        pp_text_add(out, ",\"loops\":[");
        pp_outline_trace(&shape, add_corner, out);
        pp_text_add(out, "]]");
    }
    const double box[] = {view->xmin, view->ymin, view->xmax, view->ymax};
    pp_text_add(out, ",\"box\":[");
    for (size_t i = 0; i < 4; i++) {
        if (i) pp_text_add(out, ",");
        add_value(out, box[i], PLACE_DECIMALS);
    }
    pp_text_add(out, "],\n");
}

static void add_limits(pp_text *out, const pp_limits *l)
{
    const struct {
        const char *key;
        double value;
    } limits[] = {{"position", l->position_limit.value},  {"lower", l->diameter_lower},
                  {"upper", l->diameter_upper},           {"upper_limit", l->diameter_upper_limit},
                  {"nominal", l->hole_nominal.value},     {"standard", l->ligament_standard.value},
                  {"minimum", l->ligament_minimum.value}, {"ligament", l->ligament_nominal}};
    pp_text_add(out, "\"limits\":{");
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        if (i) pp_text_add(out, ",");
        add_key(out, limits[i].key);
        add_value(out, limits[i].value, SIZE_DECIMALS);
    }
    pp_text_add(out, "},\n");
}

void pp_html_data(pp_text *out, const pp_results *results, const pp_plate_view *view)
{
    holes h = {results, view, view->count <= PP_PAGE_HOLES_MAX};
    pp_text_print(out, "{\"unit\":\"%s\",\"mm\":", pp_people_unit(results->job->units));
    pp_text_add_number(out, pp_unit_mm(results->job->units));
    pp_text_add(out, ",\n");
    add_outline(out, results, view);
    add_limits(out, results->limits);
    if (view->count) add_holes(out, &h);
    add_extras(out, results);
    if (results->flatness && results->flatness->surface_valid) add_map(out, results);
    if (results->holddown) add_holding(out, results);
    pp_text_add(out, "\"end\":0}");
}
