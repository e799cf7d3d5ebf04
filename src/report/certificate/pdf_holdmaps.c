#include "report/certificate/pdf_holdmaps.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "report/holdmaps/hold_picture.h"

static const double GAP = 14, MOST_HEIGHT = 250, LETTER = 7; /* points */

struct pp_pdf_hold_maps {
    const pp_results *results;
    pp_memory *memory;
    size_t count;
    pp_hold_map map[PP_HOLD_MAPS];
};

/* The page as a medium -------------------------------------------------------------------- */

typedef struct medium {
    pp_page_writer *w;
    double left, top;
    pp_pen pen;
} medium;

static void paint(cairo_t *c, long colour)
{
    unsigned long k = (unsigned long)colour;
    cairo_set_source_rgb(c, (double)(k >> 16 & 255) / 255, (double)(k >> 8 & 255) / 255,
                         (double)(k & 255) / 255);
}

static void begin(void *context, pp_pen pen)
{
    medium *m = context;
    m->pen = pen;
    cairo_new_path(m->w->cairo);
}

static void move(void *context, double x, double y)
{
    const medium *m = context;
    cairo_move_to(m->w->cairo, m->left + x, m->top + y);
}

static void line(void *context, double x, double y)
{
    const medium *m = context;
    cairo_line_to(m->w->cairo, m->left + x, m->top + y);
}

static void close_piece(void *context) { cairo_close_path(((medium *)context)->w->cairo); }

static void end(void *context)
{
    const medium *m = context;
    cairo_t *c = m->w->cairo;
    if (m->pen.fill != PP_NO_COLOUR) {
        paint(c, m->pen.fill);
        cairo_fill_preserve(c);
    }
    if (m->pen.stroke != PP_NO_COLOUR) {
        paint(c, m->pen.stroke);
        cairo_set_line_width(c, 0.7 * m->pen.width);
        cairo_stroke(c);
    }
    cairo_new_path(c);
}

static void circle(void *context, pp_pen pen, double x, double y, double radius)
{
    begin(context, pen);
    const medium *m = context;
    cairo_arc(m->w->cairo, m->left + x, m->top + y, radius, 0, PP_TURN);
    end(context);
}

static void dots(void *context, long colour, double radius, size_t count, const pp_dot *list)
{
    const medium *m = context;
    cairo_t *c = m->w->cairo;
    double tolerance = cairo_get_tolerance(c), width = 2 * radius * 0.8;
    cairo_set_tolerance(c, width / 2); /* as for the dots of pdf_maps.c */
    cairo_new_path(c);
    for (size_t k = 0; k < count; k++) {
        cairo_move_to(c, m->left + list[k].x, m->top + list[k].y);
        cairo_line_to(c, m->left + list[k].x, m->top + list[k].y);
    }
    paint(c, colour);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_width(c, width);
    cairo_stroke(c);
    cairo_set_tolerance(c, tolerance);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_BUTT);
}

static void clip(void *context)
{
    cairo_save(((medium *)context)->w->cairo);
    cairo_new_path(((medium *)context)->w->cairo);
}

static void clipped(void *context)
{
    cairo_t *c = ((medium *)context)->w->cairo;
    cairo_set_fill_rule(c, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_clip(c);
    cairo_set_fill_rule(c, CAIRO_FILL_RULE_WINDING);
}

static void unclip(void *context) { cairo_restore(((medium *)context)->w->cairo); }

/* The rim of a word: the same in white, a little to each side of it */
static void word(void *context, double x, double y, double size, long colour, bool rim,
                 const char *text)
{
    static const double off[][2] = {{-0.6, 0}, {0.6, 0}, {0, -0.6}, {0, 0.6}};
    const medium *m = context;
    double left = m->left + x, top = m->top + y - 1.07 * size; /* words are placed by their top */
    for (size_t k = 0; rim && k < sizeof off / sizeof *off; k++) {
        paint(m->w->cairo, 0xffffff);
        pp_page_word(m->w, PP_STYLE_SMALL, left + off[k][0], top + off[k][1], text);
    }
    paint(m->w->cairo, colour);
    pp_page_word(m->w, PP_STYLE_SMALL, left, top, text);
}

static const pp_ink PAGE = {.begin = begin,
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

/* The maps -------------------------------------------------------------------------------- */

pp_status pp_pdf_hold_maps_make(const pp_results *results, pp_memory *memory,
                                const pp_pdf_hold_maps **maps, pp_error *error)
{
    pp_pdf_hold_maps *made;
    *maps = NULL;
    if (!results->holddown) return PP_OK;
    PP_TAKE(made, &memory->keep, 1);
    *made = (pp_pdf_hold_maps){.results = results, .memory = memory};
    for (int kind = 0; kind < PP_HOLD_MAPS; kind++) {
        if (!pp_hold_map_due(results, (pp_hold_map_kind)kind)) continue;
        PP_TRY(pp_hold_map_make(results, (pp_hold_map_kind)kind, memory, &made->map[made->count],
                                error));
        made->count++;
    }
    *maps = made;
    return PP_OK;
}

static pp_hold_picture picture_of(const pp_page_writer *w, const pp_pdf_hold_maps *maps, size_t k)
{
    return (pp_hold_picture){.results = maps->results,
                             .map = &maps->map[k],
                             .width = (w->right - w->left - GAP) / 2,
                             .most_height = MOST_HEIGHT,
                             .letter = LETTER};
}

static void draw_one(pp_page_writer *w, const pp_pdf_hold_maps *maps, size_t k, double left,
                     double top)
{
    pp_hold_picture picture = picture_of(w, maps, k);
    medium m = {.w = w, .left = left, .top = top + 14};
    pp_ink ink = PAGE;
    pp_error error;
    size_t unlabelled;
    ink.context = &m;
    pp_page_word(w, PP_STYLE_BOLD, left, top, maps->map[k].title);
    if (pp_hold_picture_draw(&picture, &ink, maps->memory, &unlabelled, &error) != PP_OK)
        w->failed = true;
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
}

void pp_pdf_hold_maps_draw(pp_page_writer *w, const pp_pdf_hold_maps *maps)
{
    pp_error error;
    for (size_t k = 0; maps && k < maps->count; k += 2) {
        size_t in_row = maps->count - k > 1 ? 2 : 1;
        double height = 0, width = (w->right - w->left - GAP) / 2;
        for (size_t i = 0; i < in_row; i++) {
            pp_hold_picture picture = picture_of(w, maps, k + i);
            height = fmax(height, pp_hold_picture_height(&picture, maps->memory, &error));
        }
        pp_page_need(w, height + 22);
        for (size_t i = 0; i < in_row && w->pages > 0; i++) /* 0: counting pages */
            draw_one(w, maps, k + i, w->left + (double)i * (width + GAP), w->y);
        w->y += height + 22;
    }
}
