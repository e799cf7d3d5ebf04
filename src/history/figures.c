#include "history/figures.h"

#include <math.h>
#include <string.h>

/* Dotted names are places in results.json; limits, where there are any, stand beside the value. */
static const struct {
    const char *name, *unit, *lower, *upper, *u;
} FIGURES[] = {
    {"flatness.minimum_zone.flatness", "mm", NULL, "flatness.limit", NULL},
    {"flatness.least_squares.flatness", "mm", NULL, NULL, NULL},
    {"flatness.least_squares.rms", "mm", NULL, NULL, NULL},
    {"flatness.surface.noise", "mm", NULL, NULL, NULL},
    {"flatness.thickness.mean", "mm", NULL, NULL, NULL},
    {"flatness.parallelism", "mm", NULL, NULL, NULL},
    {"holddown.largest_gap", "mm", NULL, NULL, NULL},
    {"holddown.largest_gap_under_foot", "mm", NULL, "holddown.gap_limit", NULL},
    {"holddown.largest_force_to_close", "N", NULL, NULL, NULL},
    {"holddown.flattening_stress", "MPa", NULL, NULL, NULL},
    {"holes.position.largest", "mm", NULL, "holes.position.limit", "holes.position.largest_u"},
    {"holes.position.mean", "mm", NULL, "holes.position.limit", NULL},
    {"holes.diameter.mean", "mm", "holes.diameter.lower", "holes.diameter.upper", NULL},
    {"holes.diameter.smallest", "mm", "holes.diameter.lower", NULL, NULL},
    {"holes.diameter.largest", "mm", NULL, "holes.diameter.upper_limit", NULL},
    {"holes.ligament.smallest", "mm", "holes.ligament.minimum_limit", NULL, NULL},
    {"holes.ligament.mean", "mm", NULL, NULL, NULL},
    {"holes.edge.smallest", "mm", "holes.edge.limit", NULL, NULL},
    {"holes.drift.largest", "mm", NULL, "holes.drift.limit", NULL},
    {"holes.alignment.angle_deg", "degree", NULL, NULL, "holes.alignment.u_angle_deg"},
    {"holes.alignment.dx", "mm", NULL, NULL, "holes.alignment.u_dx"},
    {"holes.alignment.dy", "mm", NULL, NULL, "holes.alignment.u_dy"},
    {"holes.alignment.rms", "mm", NULL, NULL, NULL},
    {"holes.placement.zone", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.scatter_x", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.scatter_y", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.lean_x", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.lean_y", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.shift_x", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.shift_y", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.rms_before", "mm", NULL, NULL, NULL},
    {"holes.diagnosis.rms_after", "mm", NULL, NULL, NULL},
};

/* Counts, and what they are out of: a sum of places, "+" between them. */
static const struct {
    const char *name, *of;
} TALLIES[] = {
    {"holes.position.out", "holes.measured"},
    {"holes.diameter.undersize", "holes.diameter.undersize+holes.diameter.in_tolerance+"
                                 "holes.diameter.in_remainder+holes.diameter.oversize"},
    {"holes.diameter.in_remainder", "holes.diameter.undersize+holes.diameter.in_tolerance+"
                                    "holes.diameter.in_remainder+holes.diameter.oversize"},
    {"holes.diameter.oversize", "holes.diameter.undersize+holes.diameter.in_tolerance+"
                                "holes.diameter.in_remainder+holes.diameter.oversize"},
    {"holes.ligament.thin",
     "holes.ligament.standard+holes.ligament.in_remainder+holes.ligament.thin"},
    {"holes.ligament.in_remainder",
     "holes.ligament.standard+holes.ligament.in_remainder+holes.ligament.thin"},
    {"holes.drift.out", "holes.measured"},
};

static const struct {
    const char *brief, *name;
} SHORT[] = {
    {"flatness", "flatness.minimum_zone.flatness"},
    {"diameter", "holes.diameter.mean"},
    {"position", "holes.position.mean"},
    {"ligament", "holes.ligament.smallest"},
    {"drift", "holes.drift.largest"},
    {"scatter", "holes.diagnosis.scatter_x"},
    {"rms", "holes.alignment.rms"},
    {"outside", "holes.position.out"},
    {"undersize", "holes.diameter.undersize"},
    {"oversize", "holes.diameter.oversize"},
    {"thin", "holes.ligament.thin"},
};

#define COUNT_OF(array) (sizeof(array) / sizeof(array)[0])

const char *pp_figure_full_name(const char *name)
{
    for (size_t i = 0; i < COUNT_OF(SHORT); i++)
        if (strcmp(SHORT[i].brief, name) == 0) return SHORT[i].name;
    return name;
}

/* The number at a dotted place of `length` bytes; NaN where there is none. */
static double number_at(const json_t *at, const char *path, size_t length)
{
    while (length && at) {
        const char *dot = memchr(path, '.', length);
        size_t part = dot ? (size_t)(dot - path) : length;
        at = json_object_getn(at, path, part);
        path += part, length -= part;
        if (dot) path++, length--;
    }
    return json_is_number(at) ? json_number_value(at) : NAN;
}

static double number(const json_t *root, const char *path)
{
    return path ? number_at(root, path, strlen(path)) : NAN;
}

/* A sum of places; NaN where none is there. */
static double sum_at(const json_t *root, const char *paths)
{
    double sum = NAN;
    for (const char *at = paths; at;) {
        const char *plus = strchr(at, '+');
        double value = number_at(root, at, plus ? (size_t)(plus - at) : strlen(at));
        if (!isnan(value)) sum = (isnan(sum) ? 0 : sum) + value;
        at = plus ? plus + 1 : NULL;
    }
    return sum;
}

static bool is_judged(const json_t *root, const char *name)
{
    const char *dot = strrchr(name, '.');
    const char *at = name;
    const json_t *section = root;
    while (at < dot) {
        const char *end = strchr(at, '.');
        section = json_object_getn(section, at, (size_t)(end - at));
        at = end + 1;
    }
    const char *verdict = json_string_value(json_object_get(section, "verdict"));
    return verdict && strcmp(verdict, "not judged") != 0;
}

static const char *keep_text(pp_arena *keep, const json_t *value)
{
    const char *text = json_string_value(value);
    return text ? pp_arena_text(keep, text, strlen(text)) : NULL;
}

static const char *term_unit(const char *name)
{
    if (strncmp(name, "scale", 5) == 0 || strcmp(name, "growth") == 0) return "1";
    if (strcmp(name, "squareness") == 0) return "rad";
    if (strncmp(name, "tool changes", 4) == 0 && strstr(name, "change")) return "count";
    return strstr(name, "wear") ? "mm/hole" : "mm";
}

static double real_in(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

static size_t whole_in(const json_t *object, const char *key)
{
    double value = real_in(object, key);
    return value > 0 ? (size_t)value : 0;
}

static pp_status take_terms(const json_t *list, pp_arena *keep, pp_kept_report *k, pp_error *error)
{
    pp_kept_term *terms;
    PP_TAKE(terms, keep, json_array_size(list));
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *entry = json_array_get(list, i);
        const char *name = keep_text(keep, json_object_get(entry, "name"));
        const char *state = keep_text(keep, json_object_get(entry, "state"));
        if (!name || !state) continue;
        terms[k->term_count++] = (pp_kept_term){.name = name,
                                                .unit = term_unit(name),
                                                .state = state,
                                                .value = real_in(entry, "value"),
                                                .standard_error = real_in(entry, "standard_error"),
                                                .p_adjusted = real_in(entry, "p_adjusted"),
                                                .worst_effect = real_in(entry, "worst_effect")};
    }
    k->terms = terms;
    return PP_OK;
}

static pp_status take_tools(const json_t *list, pp_arena *keep, pp_kept_report *k, pp_error *error)
{
    pp_kept_tool *tools;
    PP_TAKE(tools, keep, json_array_size(list));
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *entry = json_array_get(list, i);
        pp_kept_tool tool = {.tool = keep_text(keep, json_object_get(entry, "tool")),
                             .first_order = whole_in(entry, "first_order"),
                             .holes = whole_in(entry, "holes"),
                             .used_before = whole_in(entry, "used_before"),
                             .level = real_in(entry, "level"),
                             .slope = real_in(entry, "slope"),
                             .slope_se = real_in(entry, "slope_se"),
                             .scatter = real_in(entry, "scatter")};
        if (isnan(tool.level) || isnan(tool.slope) || isnan(tool.scatter)) continue;
        if (isnan(tool.slope_se)) tool.slope_se = 0;
        tools[k->tool_count++] = tool;
    }
    k->tools = tools;
    return PP_OK;
}

pp_status pp_kept_figures_take(const json_t *root, pp_arena *keep, pp_kept_report *k,
                               pp_error *error)
{
    pp_kept_figure *figures;
    pp_kept_tally *tallies;
    PP_TAKE(figures, keep, COUNT_OF(FIGURES));
    PP_TAKE(tallies, keep, COUNT_OF(TALLIES));
    for (size_t i = 0; i < COUNT_OF(FIGURES); i++) {
        double value = number(root, FIGURES[i].name);
        if (isnan(value)) continue;
        figures[k->figure_count++] = (pp_kept_figure){FIGURES[i].name,
                                                      FIGURES[i].unit,
                                                      value,
                                                      number(root, FIGURES[i].lower),
                                                      number(root, FIGURES[i].upper),
                                                      number(root, FIGURES[i].u)};
    }
    for (size_t i = 0; i < COUNT_OF(TALLIES); i++) {
        double count = number(root, TALLIES[i].name), of = sum_at(root, TALLIES[i].of);
        if (!(count >= 0) || !(of > 0) || !is_judged(root, TALLIES[i].name)) continue;
        tallies[k->tally_count++] =
            (pp_kept_tally){TALLIES[i].name, (size_t)fmin(count, of), (size_t)of};
    }
    k->figures = figures, k->tallies = tallies;
    const json_t *diagnosis = json_object_get(json_object_get(root, "holes"), "diagnosis");
    PP_TRY(take_terms(json_object_get(diagnosis, "terms"), keep, k, error));
    return take_tools(json_object_get(diagnosis, "tool_runs"), keep, k, error);
}
