/* Histograms with limits drawn in, as SVG that needs no script. */
#include <math.h>

#include "report/html_parts.h"
#include "report/people.h"

enum {
    BINS = 48,
    WIDTH = 380, /* about as wide as it is shown, so that its words are as large as the page's */
    HEIGHT = 220,
    LEFT = 42,
    RIGHT = 10,
    TOP = 54,
    BOTTOM = 40,
    LIMITS_MAX = 4
};

typedef struct chart_limit {
    double value;
    const char *word;
} chart_limit;

typedef struct chart {
    const char *title, *unit_of_count;
    size_t count;
    double *values; /* mm; their order is lost */
    chart_limit limits[LIMITS_MAX];
    size_t limit_count;
    pp_length_unit units;
    double low, high;
    size_t bins[BINS], tallest;
} chart;

/* The k-th smallest of n values (from 0), which are rearranged: quickselect (Hoare 1961). */
static double kth(double *values, size_t n, size_t k)
{
    size_t low = 0, high = n - 1;
    while (low < high) {
        double pivot = values[low + (high - low) / 2];
        size_t i = low, j = high;
        while (i <= j) {
            while (values[i] < pivot) i++;
            while (values[j] > pivot) j--;
            if (i > j) break;
            double swapped = values[i];
            values[i++] = values[j];
            values[j] = swapped;
            if (j == 0) break;
            j--;
        }
        if (k <= j)
            high = j;
        else if (k >= i)
            low = i;
        else
            break;
    }
    return values[k];
}

/* The axis covers the bulk of the values and the limits near it; what lies beyond is counted in the
 * end bins, which the caption says. */
static void choose_axis(chart *c)
{
    double low = kth(c->values, c->count, c->count / 1000);
    double high = kth(c->values, c->count, c->count - 1 - c->count / 1000);
    double spread = fmax(high - low, 1e-3);
    for (size_t i = 0; i < c->limit_count; i++) {
        double v = c->limits[i].value;
        if (pp_given(v) && v > low - 8 * spread && v < high + 8 * spread) {
            low = fmin(low, v);
            high = fmax(high, v);
        }
    }
    double margin = 0.04 * (high - low) + 1e-4;
    c->low = low - margin;
    c->high = high + margin;
}

static void fill_bins(chart *c)
{
    for (size_t i = 0; i < c->count; i++) {
        double at = (c->values[i] - c->low) / (c->high - c->low) * BINS;
        int bin = at < 0 ? 0 : at >= BINS ? BINS - 1 : (int)at;
        c->bins[bin]++;
    }
    for (int b = 0; b < BINS; b++)
        if (c->bins[b] > c->tallest) c->tallest = c->bins[b];
}

static double across(const chart *c, double value)
{
    return LEFT + (value - c->low) / (c->high - c->low) * (WIDTH - LEFT - RIGHT);
}

static void add_bars(pp_text *out, const chart *c)
{
    double width = (double)(WIDTH - LEFT - RIGHT) / BINS, floor_y = HEIGHT - BOTTOM;
    pp_text_add(out, "<path class=\"bar\" d=\"");
    for (int b = 0; b < BINS; b++) {
        if (!c->bins[b]) continue;
        /* square root: a single bad hole stays visible beside thousands of good ones */
        double height = sqrt((double)c->bins[b] / (double)c->tallest) * (HEIGHT - TOP - BOTTOM);
        pp_text_add(out, "M");
        pp_text_add_fixed(out, LEFT + b * width, 1);
        pp_text_add(out, " ");
        pp_text_add_fixed(out, floor_y, 1);
        pp_text_add(out, "v-");
        pp_text_add_fixed(out, height, 1);
        pp_text_add(out, "h");
        pp_text_add_fixed(out, width - 0.8, 1);
        pp_text_add(out, "v");
        pp_text_add_fixed(out, height, 1);
        pp_text_add(out, "z");
    }
    pp_text_add(out, "\"/>\n");
}

static void add_label(pp_text *out, const char *class, double x, double y, const char *anchor)
{
    pp_text_print(out, "<text class=\"%s\" text-anchor=\"%s\" x=\"", class, anchor);
    pp_text_add_fixed(out, x, 1);
    pp_text_add(out, "\" y=\"");
    pp_text_add_fixed(out, y, 1);
    pp_text_add(out, "\">");
}

static void add_limits(pp_text *out, const chart *c)
{
    int level = 0;
    for (size_t i = 0; i < c->limit_count; i++) {
        double value = c->limits[i].value;
        if (!pp_given(value) || value < c->low || value > c->high) continue;
        double x = across(c, value);
        pp_text_add(out, "<path class=\"limit\" d=\"M");
        pp_text_add_fixed(out, x, 1);
        pp_text_print(out, " %dV%d\"/>", HEIGHT - BOTTOM, TOP - 6);
        const char *anchor = x < LEFT + 80 ? "start" : x > WIDTH - 100 ? "end" : "middle";
        add_label(out, "limit-name", x, 13 + 14 * (level++ % 3), anchor);
        pp_text_print(out, "%s ", c->limits[i].word);
        pp_people_limit(out, c->units, value);
        pp_text_add(out, "</text>\n");
    }
}

static void add_axis(pp_text *out, const chart *c)
{
    enum { TICKS = 5 };
    pp_text_print(out, "<path class=\"axis\" d=\"M%d %dH%d\"/>", LEFT, HEIGHT - BOTTOM,
                  WIDTH - RIGHT);
    for (int i = 0; i < TICKS; i++) {
        double value = c->low + (c->high - c->low) * (i + 0.5) / TICKS;
        add_label(out, "tick", across(c, value), HEIGHT - BOTTOM + 15, "middle");
        pp_people_number(out, c->units, value, pp_people_decimals(c->units, value, NAN));
        pp_text_add(out, "</text>");
    }
    add_label(out, "tick", (LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 6, "middle");
    pp_text_print(out, "%s, %s</text>", c->title, pp_people_unit(c->units));
    add_label(out, "tick", LEFT - 4, TOP + 4, "end");
    pp_text_print(out, "%zu</text>\n", c->tallest);
}

static void add_chart(pp_text *out, chart *c)
{
    if (c->count == 0) return;
    choose_axis(c);
    fill_bins(c);
    pp_text_print(out, "<figure><figcaption>%s of %zu %s</figcaption>\n", c->title, c->count,
                  c->unit_of_count);
    pp_text_print(
        out,
        "<svg class=\"chart\" role=\"img\" aria-label=\"Histogram: %s\" viewBox=\"0 0 %d %d\">\n",
        c->title, WIDTH, HEIGHT);
    add_bars(out, c);
    add_limits(out, c);
    add_axis(out, c);
    pp_text_add(out, "</svg></figure>\n");
}

static size_t collect_bores(const pp_measures *m, double *values, bool diameter)
{
    size_t n = 0;
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_bore *bore = &m->bores[b];
        if (bore->hole == PP_NONE || m->nominal->kind[bore->hole] != PP_TUBE_HOLE ||
            m->plugged[bore->hole])
            continue;
        double value = diameter ? bore->diameter_mean : bore->position;
        if (pp_given(value)) values[n++] = value;
    }
    return n;
}

static void diameter_chart(pp_text *out, const pp_results *r, double *values)
{
    const pp_limits *l = r->limits;
    chart c = {.title = "Diameter",
               .unit_of_count = "readings of a hole and face",
               .units = r->job->units,
               .values = values,
               .count = collect_bores(r->measures, values, true),
               .limits = {{l->diameter_lower, "at least"},
                          {l->diameter_upper, "most up to"},
                          {l->diameter_upper_limit, "none above"}},
               .limit_count = 3};
    add_chart(out, &c);
}

static void position_chart(pp_text *out, const pp_results *r, double *values)
{
    chart c = {.title = "Position (diametral)",
               .unit_of_count = "readings of a hole and face",
               .units = r->job->units,
               .values = values,
               .count = collect_bores(r->measures, values, false),
               .limits = {{r->limits->position_limit.value, "limit"}},
               .limit_count = 1};
    add_chart(out, &c);
}

static void ligament_chart(pp_text *out, const pp_results *r, double *values)
{
    const pp_measures *m = r->measures;
    for (size_t i = 0; i < m->ligament_count; i++) values[i] = m->ligaments[i].value;
    chart c = {.title = "Ligament",
               .unit_of_count = "pairs and faces",
               .units = r->job->units,
               .values = values,
               .count = m->ligament_count,
               .limits = {{r->limits->ligament_standard.value, "most at least"},
                          {r->limits->ligament_minimum.value, "none below"}},
               .limit_count = 2};
    add_chart(out, &c);
}

pp_status pp_html_histograms(pp_text *out, const pp_results *results, pp_memory *memory,
                             pp_error *error)
{
    const pp_measures *m = results->measures;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *values;
    size_t room = m->bore_count > m->ligament_count ? m->bore_count : m->ligament_count;
    PP_TAKE(values, &memory->scratch, room);
    pp_html_section(out, "spread", "How the sizes spread");
    pp_text_add(out, "<p class=\"note\">Bar heights follow the square root of the count, so that a "
                     "single hole stays visible. Values beyond the axis are counted in its end "
                     "bars.</p>\n<div class=\"charts\">\n");
    diameter_chart(out, results, values);
    position_chart(out, results, values);
    ligament_chart(out, results, values);
    pp_text_add(out, "</div>\n");
    pp_html_end_section(out);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}
