/* Histograms with limits drawn in, as SVG that needs no script. */
#include <math.h>

#include "answer/for_people.h"
#include "report/page/html_parts.h"

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
    const pp_results *results;
    double (*value)(const pp_results *results, size_t item); /* mm; NaN: none */
    size_t items, count;                                     /* and how many of them have a value */
    chart_limit limits[LIMITS_MAX];
    size_t limit_count;
    pp_length_unit units;
    double low, high;
    size_t bins[BINS], tallest;
} chart;

/* ---- the k-th smallest of millions of values, without a copy of them all: they are counted in
 * narrow slots, and only those of the slot that holds the k-th are looked at ---- */

enum { SLOTS = 4096 };

typedef struct slots {
    double least, most;
    size_t count[SLOTS];
} slots;

static size_t slot_of(const slots *s, double value)
{
    double at = (value - s->least) / (s->most - s->least) * SLOTS; /* NaN where all are equal */
    return at >= SLOTS ? SLOTS - 1 : at > 0 ? (size_t)at : 0;
}

static void count_slots(chart *c, slots *s)
{
    *s = (slots){.least = INFINITY, .most = -INFINITY};
    c->count = 0;
    for (size_t i = 0; i < c->items; i++) {
        double value = c->value(c->results, i);
        if (!pp_given(value)) continue;
        s->least = value < s->least ? value : s->least;
        s->most = value > s->most ? value : s->most;
        c->count++;
    }
    for (size_t i = 0; i < c->items; i++) {
        double value = c->value(c->results, i);
        if (pp_given(value)) s->count[slot_of(s, value)]++;
    }
}

/* Hoare's quickselect (1961); values[n] are rearranged. */
static double select_kth(double *values, size_t n, size_t k)
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

/* The k-th smallest, from 0. */
static pp_status find_kth(const chart *c, const slots *s, size_t k, pp_arena *scratch, double *kth,
                          pp_error *error)
{
    size_t slot = 0, n = 0;
    for (; k >= s->count[slot]; slot++) k -= s->count[slot];
    pp_mark mark = pp_arena_mark(scratch);
    double *values;
    PP_TAKE(values, scratch, s->count[slot]);
    for (size_t i = 0; i < c->items; i++) {
        double value = c->value(c->results, i);
        if (pp_given(value) && slot_of(s, value) == slot) values[n++] = value;
    }
    *kth = select_kth(values, n, k);
    pp_arena_release(scratch, mark);
    return PP_OK;
}

/* ---- the chart ---- */

/* The axis covers the bulk of the values and the limits near it; what lies beyond is counted in the
 * end bins, which the caption says. */
static pp_status choose_axis(chart *c, pp_arena *scratch, pp_error *error)
{
    slots s;
    double low, high;
    count_slots(c, &s);
    if (c->count == 0) return PP_OK;
    PP_TRY(find_kth(c, &s, c->count / 1000, scratch, &low, error));
    PP_TRY(find_kth(c, &s, c->count - 1 - c->count / 1000, scratch, &high, error));
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
    return PP_OK;
}

static void fill_bins(chart *c)
{
    for (size_t i = 0; i < c->items; i++) {
        double value = c->value(c->results, i);
        if (!pp_given(value)) continue;
        double at = (value - c->low) / (c->high - c->low) * BINS;
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

static pp_status add_chart(pp_text *out, chart *c, pp_memory *memory, pp_error *error)
{
    PP_TRY(choose_axis(c, &memory->scratch, error));
    if (c->count == 0) return PP_OK;
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
    return PP_OK;
}

static const pp_bore *tube_bore(const pp_measures *m, size_t bore)
{
    uint32_t hole = m->bores[bore].hole;
    bool tube = hole != PP_NONE && m->nominal->kind[hole] == PP_TUBE_HOLE && !m->plugged[hole];
    return tube ? &m->bores[bore] : NULL;
}

static double diameter_of(const pp_results *r, size_t item)
{
    const pp_bore *bore = tube_bore(r->measures, item);
    return bore ? bore->diameter_mean : NAN;
}

static double position_of(const pp_results *r, size_t item)
{
    const pp_bore *bore = tube_bore(r->measures, item);
    return bore ? pp_position_of(r->measures, item) : NAN;
}

static double ligament_of(const pp_results *r, size_t item)
{
    return r->measures->ligaments[item].value;
}

static chart diameter_chart(const pp_results *r)
{
    const pp_limits *l = r->limits;
    return (chart){.title = "Diameter",
                   .unit_of_count = "readings of a hole and face",
                   .value = diameter_of,
                   .items = r->measures->extra_first,
                   .limits = {{l->diameter_lower, "at least"},
                              {l->diameter_upper, "most up to"},
                              {l->diameter_upper_limit, "none above"}},
                   .limit_count = 3};
}

static chart position_chart(const pp_results *r)
{
    return (chart){.title = "Position (diametral)",
                   .unit_of_count = "readings of a hole and face",
                   .value = position_of,
                   .items = r->measures->extra_first,
                   .limits = {{r->limits->position_limit.value, "limit"}},
                   .limit_count = 1};
}

static chart ligament_chart(const pp_results *r)
{
    return (chart){.title = "Ligament",
                   .unit_of_count = "pairs and faces",
                   .value = ligament_of,
                   .items = r->measures->ligament_count,
                   .limits = {{r->limits->ligament_standard.value, "most at least"},
                              {r->limits->ligament_minimum.value, "none below"}},
                   .limit_count = 2};
}

pp_status pp_html_histograms(pp_text *out, const pp_results *results, pp_memory *memory,
                             pp_error *error)
{
    chart charts[] = {diameter_chart(results), position_chart(results), ligament_chart(results)};
    pp_html_section(out, "spread", "How the sizes spread");
    pp_text_add(out, "<p class=\"note\">Bar heights follow the square root of the count, so that a "
                     "single hole stays visible. Values beyond the axis are counted in its end "
                     "bars.</p>\n<div class=\"charts\">\n");
    for (size_t i = 0; i < sizeof charts / sizeof charts[0]; i++) {
        charts[i].results = results;
        charts[i].units = results->job->units;
        PP_TRY(add_chart(out, &charts[i], memory, error));
    }
    pp_text_add(out, "</div>\n");
    pp_html_end_section(out);
    return PP_OK;
}
