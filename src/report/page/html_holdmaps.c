/* The maps of the hold-down study as inline SVG. */
#include "report/holdmaps/hold_picture.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

static const double WIDTH = 400, MOST_HEIGHT = 400, LETTER = 12; /* picture units */

typedef struct medium {
    pp_text *out;
    bool piece; /* of a path so far */
    bool open;  /* a path is written */
    size_t map; /* for names of clips */
    bool clips; /* what is written is a clip */
    pp_pen pen;
} medium;

static void add(medium *m, const char *before, double value, const char *behind)
{
    pp_text_add(m->out, before);
    pp_text_add_fixed(m->out, value, 1);
    pp_text_add(m->out, behind);
}

static void add_colour(medium *m, const char *name, long colour)
{
    if (colour == PP_NO_COLOUR)
        pp_text_print(m->out, " %s=\"none\"", name);
    else
        pp_text_print(m->out, " %s=\"#%06lx\"", name, (unsigned long)colour);
}

static void add_pen(medium *m, pp_pen pen)
{
    add_colour(m, "fill", pen.fill);
    if (pen.stroke == PP_NO_COLOUR) return;
    add_colour(m, "stroke", pen.stroke);
    add(m, " stroke-width=\"", pen.width, "\"");
    if (pen.broken) pp_text_add(m->out, " stroke-dasharray=\"4 3\"");
}

static void begin(void *context, pp_pen pen)
{
    medium *m = context;
    m->pen = pen;
    m->open = m->piece = false;
}

static void place(medium *m, const char *verb, double x, double y)
{
    if (!m->open) pp_text_add(m->out, "<path d=\"");
    m->open = true;
    add(m, verb, x, " ");
    pp_text_add_fixed(m->out, y, 1);
}

static void move(void *context, double x, double y) { place(context, "M", x, y); }
static void line(void *context, double x, double y) { place(context, "L", x, y); }
static void close_piece(void *context) { pp_text_add(((medium *)context)->out, "Z"); }

static void end(void *context)
{
    medium *m = context;
    if (!m->open) return;
    pp_text_add(m->out, "\"");
    add_pen(m, m->pen);
    pp_text_add(m->out, "/>\n");
}

static void circle(void *context, pp_pen pen, double x, double y, double radius)
{
    medium *m = context;
    add(m, "<circle cx=\"", x, "\" cy=\"");
    pp_text_add_fixed(m->out, y, 1);
    add(m, "\" r=\"", radius, "\"");
    add_pen(m, pen);
    pp_text_add(m->out, "/>\n");
}

static void dots(void *context, long colour, double radius, size_t count, const pp_dot *list)
{
    medium *m = context;
    pp_text_add(m->out, "<path fill=\"none\" stroke-linecap=\"round\"");
    add_colour(m, "stroke", colour);
    add(m, " stroke-width=\"", 2 * radius, "\" d=\"");
    for (size_t k = 0; k < count; k++) {
        add(m, "M", list[k].x, " ");
        add(m, "", list[k].y, "h0");
    }
    pp_text_add(m->out, "\"/>\n");
}

static void clip(void *context)
{
    medium *m = context;
    pp_text_print(m->out, "<clipPath id=\"hold-clip-%zu\">", m->map);
    m->open = false;
}

static void clipped(void *context)
{
    medium *m = context;
    pp_text_print(m->out,
                  "\" clip-rule=\"evenodd\"/></clipPath><g clip-path=\"url(#hold-clip-%zu)\">\n",
                  m->map);
}

static void unclip(void *context) { pp_text_add(((medium *)context)->out, "</g>\n"); }

static void word(void *context, double x, double y, double size, long colour, bool rim,
                 const char *text)
{
    medium *m = context;
    add(m, "<text x=\"", x, "\" y=\"");
    pp_text_add_fixed(m->out, y, 1);
    add(m, "\" font-size=\"", size, "\"");
    add_colour(m, "fill", colour);
    if (rim) pp_text_add(m->out, " class=\"rimmed\"");
    pp_text_add(m->out, ">");
    pp_markup_add(m->out, text);
    pp_text_add(m->out, "</text>\n");
}

static const pp_ink SVG = {.begin = begin,
                           .move = move,
                           .line = line,
                           .close = close_piece,
                           .end = end,
                           .circle = circle,
                           .dots = dots,
                           .clip = clip,
                           .clipped = clipped,
                           .unclip = unclip,
                           .word = word};

static pp_status add_map(pp_text *out, const pp_results *r, pp_hold_map_kind kind,
                         pp_memory *memory, pp_error *error)
{
    pp_hold_map map;
    size_t unlabelled;
    medium m = {.out = out, .map = (size_t)kind + 1};
    pp_ink ink = SVG;
    ink.context = &m;
    PP_TRY(pp_hold_map_make(r, kind, memory, &map, error));
    const pp_hold_picture picture = {
        .results = r, .map = &map, .width = WIDTH, .most_height = MOST_HEIGHT, .letter = LETTER};
    pp_text_print(out, "<figure class=\"hold-map\"><figcaption><b>%s.</b> %s</figcaption>\n",
                  map.title, map.caption);
    pp_text_print(out, "<svg role=\"img\" aria-label=\"%s\" viewBox=\"0 0 %.0f ", map.title, WIDTH);
    pp_text_add_fixed(out, pp_hold_picture_height(&picture, memory, error), 0);
    pp_text_add(out, "\">\n");
    PP_TRY(pp_hold_picture_draw(&picture, &ink, memory, &unlabelled, error));
    pp_text_add(out, "</svg>\n");
    if (unlabelled)
        pp_text_print(out,
                      "<p class=\"note\">%zu marks stand too close for their number here: the "
                      "plate map below shows it from near by.</p>\n",
                      unlabelled);
    pp_text_add(out, "</figure>\n");
    return PP_OK;
}

pp_status pp_html_hold_maps(pp_text *out, const pp_results *results, pp_memory *memory,
                            pp_error *error)
{
    pp_text_add(out, "<div class=\"hold-maps\">\n");
    for (int kind = 0; kind < PP_HOLD_MAPS; kind++)
        if (pp_hold_map_due(results, (pp_hold_map_kind)kind))
            PP_TRY(add_map(out, results, (pp_hold_map_kind)kind, memory, error));
    pp_text_add(out, "</div>\n");
    return PP_OK;
}
