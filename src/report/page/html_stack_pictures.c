#include "report/page/html_stack_pictures.h"

#include <math.h>

#include "answer/for_people.h"
#include "report/page/markup.h"

enum {
    MAP_PIXELS = 560,
    SMALL_PIXELS = 190,
    MARGIN = 8,
    SECTION_WIDTH = 860,
    SECTION_NAMES = 90,    /* to the right of the layers */
    SECTION_HEIGHTS = 110, /* pixels for the bows of one panel */
    SECTION_LAYER = 13     /* of one layer's thickness */
};

/* Okabe and Ito's palette */
static const char *const COLOUR[] = {"#009e73", "#56b4e9", "#e69f00", "#d55e00", "#6e2f00"};

typedef struct map_frame {
    double scale, x0, y0, width, height;
} map_frame;

static map_frame frame_of(const pp_results *r, double pixels)
{
    const pp_job *job = r->job;
    bool disc = job->plate.outline == PP_OUTLINE_DISC;
    double width = disc ? job->plate.diameter : job->plate.width;
    double height = disc ? job->plate.diameter : job->plate.height;
    map_frame f = {.scale = (pixels - 2 * MARGIN) / fmax(width, height)};
    f.x0 = job->plate.centre_x - width / 2 - MARGIN / f.scale;
    f.y0 = job->plate.centre_y + height / 2 + MARGIN / f.scale;
    f.width = width * f.scale + 2 * MARGIN;
    f.height = height * f.scale + 2 * MARGIN;
    return f;
}

static void pixel(pp_text *out, const char *before, double value)
{
    pp_text_add(out, before);
    pp_text_add_fixed(out, value, 1);
}

static void begin_map(pp_text *out, const map_frame *f, const char *class_, const char *label)
{
    pp_text_print(out, "<svg class=\"%s\" role=\"img\" aria-label=\"%s\"", class_, label);
    pixel(out, " viewBox=\"0 0 ", f->width);
    pixel(out, " ", f->height);
    pp_text_add(out, "\">\n");
}

static void rim(pp_text *out, const pp_results *r, const map_frame *f)
{
    double inner_width = f->width - 2 * MARGIN, inner_height = f->height - 2 * MARGIN;
    if (r->job->plate.outline == PP_OUTLINE_DISC) {
        pixel(out, "<circle class=\"rim\" cx=\"", f->width / 2);
        pixel(out, "\" cy=\"", f->height / 2);
        pixel(out, "\" r=\"", inner_width / 2);
    } else {
        pixel(out, "<rect class=\"rim\" x=\"", MARGIN);
        pixel(out, "\" y=\"", MARGIN);
        pixel(out, "\" width=\"", inner_width);
        pixel(out, "\" height=\"", inner_height);
    }
    pp_text_add(out, "\"/>\n");
}

/* Dots of one kind as zero-length strokes with round ends; `kind[i]` equal to `which`. */
static void dots(pp_text *out, const pp_results *r, const map_frame *f, const uint8_t *kind,
                 size_t step, uint8_t which, double size)
{
    const pp_nominal *n = &r->files->nominal;
    pp_text_print(out, "<path class=\"stack-dot\" stroke=\"%s\"", COLOUR[which]);
    pixel(out, " stroke-width=\"", size);
    pp_text_add(out, "\" d=\"");
    for (size_t i = 0; i < n->count; i++) {
        if (kind[i * step] != which) continue;
        pixel(out, "M", (n->x[i] - f->x0) * f->scale);
        pixel(out, " ", (f->y0 - n->y[i]) * f->scale);
        pp_text_add(out, "h0");
    }
    pp_text_add(out, "\"/>\n");
}

static double dot_size(const pp_results *r, const map_frame *f)
{
    double area = f->width * f->height, count = (double)r->files->nominal.count;
    return fmin(fmax(0.45 * sqrt(area / (count + 1)), 1.2), 12);
}

/* Force to close ------------------------------------------------------------------------- */

static const char *const FORCE_WORDS[PP_STACK_BANDS] = {"closed at rest", "closed by the foot",
                                                        "up to twice the foot's force",
                                                        "more than twice", "above the cap"};

void pp_html_stack_force_map(pp_text *out, const pp_results *r)
{
    const pp_stack_bands *bands = &r->stack_judgement->bands;
    map_frame f = frame_of(r, MAP_PIXELS);
    double size = dot_size(r, &f);
    pp_text_add(out, "<figure><figcaption>The force that closes the gaps between layers at each "
                     "hole; the larger the dot, the more it takes</figcaption>\n");
    begin_map(out, &f, "stack-map", "Map of the force to close at each hole");
    rim(out, r, &f);
    for (uint8_t k = 0; k < PP_STACK_BANDS; k++)
        if (bands->force_count[k]) dots(out, r, &f, bands->force, 1, k, size * (0.6 + 0.15 * k));
    pp_text_add(out, "</svg>\n<ul class=\"legend\">");
    for (int k = 0; k < PP_STACK_BANDS; k++)
        if (bands->force_count[k])
            pp_text_print(out,
                          "<li><svg class=\"stack-key\" viewBox=\"0 0 12 12\"><circle cx=\"6\" "
                          "cy=\"6\" r=\"%d\" fill=\"%s\"/></svg>%zu %s</li>",
                          2 + k, COLOUR[k], bands->force_count[k], FORCE_WORDS[k]);
    pp_text_add(out, "</ul></figure>\n");
}

/* Interfaces ----------------------------------------------------------------------------- */

void pp_html_stack_gap_maps(pp_text *out, const pp_results *r)
{
    const pp_stack *s = r->stack;
    const pp_stack_bands *bands = &r->stack_judgement->bands;
    map_frame f = frame_of(r, SMALL_PIXELS);
    double size = dot_size(r, &f);
    pp_text_add(out, "<figure><figcaption>Every interface from below, with the foot at each hole: "
                     "large dots above the gap limit, small ones between half of it and the limit; "
                     "holes below half are not drawn</figcaption>\n<div class=\"strip\">\n");
    for (size_t k = 0; k < s->layer_count; k++) {
        const pp_stack_interface *at = &s->interfaces[k];
        pp_text_add(out, "<div><p>");
        pp_markup_add(out, at->below ? at->below : "support");
        pp_text_add(out, " / ");
        pp_markup_add(out, at->above);
        pp_text_add(out, "</p>");
        begin_map(out, &f, "stack-small", "Map of one interface");
        rim(out, r, &f);
        dots(out, r, &f, bands->gap + k, s->layer_count, PP_GAP_NEAR, 0.7 * size);
        dots(out, r, &f, bands->gap + k, s->layer_count, PP_GAP_ABOVE, 1.4 * size);
        pp_text_add(out, "</svg></div>\n");
    }
    pp_text_add(out, "</div></figure>\n");
}

/* Section -------------------------------------------------------------------------------- */

typedef struct panel {
    const pp_stack *stack;
    double along, up; /* pixels per mm, along the line and in height */
    double low, base;
} panel;

static void range_of(const pp_stack *s, double *low, double *high)
{
    *low = INFINITY, *high = -INFINITY;
    for (size_t i = 0; i < s->layer_count * PP_SECTION_POINTS; i++) {
        *low = fmin(*low, fmin(s->section.at_rest[i], s->section.under_foot[i]));
        *high = fmax(*high, fmax(s->section.at_rest[i], s->section.under_foot[i]));
    }
}

static void point(pp_text *out, const panel *p, const double *height, size_t k, size_t i, bool top)
{
    double share = (double)i / (PP_SECTION_POINTS - 1);
    double x = (p->stack->section.to - p->stack->section.from) * share * p->along + MARGIN;
    double y = p->base - (height[k * PP_SECTION_POINTS + i] - p->low) * p->up -
               SECTION_LAYER * (double)(k + (top ? 1 : 0));
    pixel(out, "", x);
    pixel(out, ",", y);
    pp_text_add(out, " ");
}

static void draw_panel(pp_text *out, const pp_results *r, const panel *p, const double *height,
                       const char *words)
{
    const pp_stack *s = p->stack;
    pp_text_print(out, "<text class=\"tick\" x=\"%d\"", MARGIN);
    pixel(out, " y=\"", p->base - SECTION_HEIGHTS - SECTION_LAYER * (double)s->layer_count - 6);
    pp_text_print(out, "\">%s</text>\n", words);
    for (size_t k = 0; k < s->layer_count; k++) {
        pp_text_print(out, "<polygon class=\"layer%s\" points=\"", k % 2 ? " odd" : "");
        for (size_t i = 0; i < PP_SECTION_POINTS; i++) point(out, p, height, k, i, false);
        for (size_t i = PP_SECTION_POINTS; i-- > 0;) point(out, p, height, k, i, true);
        pp_text_add(out, "\"><title>");
        pp_markup_add(out, s->layers[k].name);
        pp_text_add(out, "</title></polygon>\n<text class=\"tick\"");
        double end = (height[(k + 1) * PP_SECTION_POINTS - 1] - p->low) * p->up;
        pixel(out, " x=\"", SECTION_WIDTH - SECTION_NAMES - MARGIN + 6);
        pixel(out, "\" y=\"", p->base - end - SECTION_LAYER * ((double)k + 0.2));
        pp_text_add(out, "\">");
        pp_markup_add(out, s->layers[k].name);
        pp_text_add(out, "</text>\n");
    }
    pixel(out, "<path class=\"axis\" d=\"M", MARGIN);
    pixel(out, " ", p->base + 0.7);
    pixel(out, "H", SECTION_WIDTH - SECTION_NAMES - MARGIN);
    double x = MARGIN - s->section.from * p->along;
    pixel(out, "\"/><path class=\"limit\" d=\"M", x);
    pixel(out, " ", p->base);
    pixel(out, "V", p->base - SECTION_HEIGHTS - SECTION_LAYER * (double)s->layer_count);
    pp_text_add(out, "\"/>\n<text class=\"tick\"");
    pixel(out, " x=\"", x + 4);
    pixel(out, "\" y=\"", p->base - SECTION_HEIGHTS - SECTION_LAYER * (double)s->layer_count + 8);
    pp_text_add(out, "\">");
    pp_markup_add(out, r->files->nominal.name[s->worst_hole]);
    pp_text_add(out, "</text>\n");
}

void pp_html_stack_section_picture(pp_text *out, const pp_results *r)
{
    const pp_stack *s = r->stack;
    double low, high, length = s->section.to - s->section.from;
    double panel_height = SECTION_HEIGHTS + SECTION_LAYER * (double)s->layer_count + 28;
    range_of(s, &low, &high);
    panel p = {
        .stack = s, .low = low, .along = (SECTION_WIDTH - SECTION_NAMES - 2 * MARGIN) / length};
    p.up = fmin(SECTION_HEIGHTS / fmax(high - low, 1e-6), 200 * p.along);
    pp_text_add(out, "<figure><figcaption>Cut through ");
    pp_markup_add(out, r->files->nominal.name[s->worst_hole]);
    pp_text_add(out, " along ");
    pp_people_angle(out, s->section.direction_deg);
    pp_text_print(out,
                  " from +x; bows and gaps are drawn %.0f times too high, layers all of one "
                  "thickness; the worst gap lies between ",
                  p.up / p.along);
    const pp_stack_interface *at = &s->interfaces[s->largest_interface];
    pp_markup_add(out, at->below ? at->below : "the support");
    pp_text_add(out, " and ");
    pp_markup_add(out, at->above);
    pp_text_print(out,
                  "</figcaption>\n<svg class=\"chart\" role=\"img\" aria-label=\"Section "
                  "through the worst hole at rest and under the foot\" viewBox=\"0 0 %d ",
                  SECTION_WIDTH);
    pp_text_add_fixed(out, 2 * panel_height + MARGIN, 1);
    pp_text_add(out, "\">\n");
    p.base = panel_height - 4;
    draw_panel(out, r, &p, s->section.at_rest, "at rest");
    p.base = 2 * panel_height - 4;
    draw_panel(out, r, &p, s->section.under_foot, "with the foot on the hole");
    pp_text_add(out, "</svg></figure>\n");
}
