#include "report/certificate/pdf_page.h"

#include <stdbool.h>
#include <stdio.h>

#include "base/foreign.h"

enum { COLUMNS_MAX = 8, TITLE_LINES = 2 /* a longer one must not push the verdict down */ };
static const double LINE_GREY = 0.72, TEXT_GREY = 0.35, CELL_GAP = 6, ROW_PAD = 2.5, FOOT_ROOM = 18;

static const char *const FONTS[] = {
    [PP_STYLE_BODY] = "DejaVu Sans 8.5",         [PP_STYLE_SMALL] = "DejaVu Sans 7",
    [PP_STYLE_CELL] = "DejaVu Sans 7.5",         [PP_STYLE_COLUMN] = "DejaVu Sans Bold 7.5",
    [PP_STYLE_BOLD] = "DejaVu Sans Bold 8.5",    [PP_STYLE_TITLE] = "DejaVu Sans Bold 15",
    [PP_STYLE_HEADING] = "DejaVu Sans Bold 10.5"};

static PangoLayout *new_layout(pp_page_writer *w, pp_page_style style, const char *text,
                               double width)
{
    PangoLayout *layout = pango_layout_new(w->context);
    PangoFontDescription *font = pango_font_description_from_string(FONTS[style]);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    if (width > 0) {
        pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
        /* a hash or a name broken over two lines must not gain a character */
        PangoAttrList *plain = pango_attr_list_new();
        pango_attr_list_insert(plain, pango_attr_insert_hyphens_new(FALSE));
        pango_layout_set_attributes(layout, plain);
        pango_attr_list_unref(plain);
    }
    pp_text shown = {0};
    pp_text_add_isolated(&shown, text);
    pango_layout_set_auto_dir(layout, FALSE); /* our own words decide: from left to right */
    if (shown.failed) w->failed = true;
    pango_layout_set_text(layout, shown.data ? shown.data : "", -1);
    pp_text_free(&shown);
    w->unknown += pango_layout_get_unknown_glyphs_count(layout);
    return layout;
}

/* At most `lines` lines, an ellipsis where it is cut. */
static void cut(PangoLayout *layout, double width, int lines)
{
    pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    pango_layout_set_height(layout, -lines);
    pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
}

static void tag(pp_page_writer *w, const char *name) { cairo_tag_begin(w->cairo, name, NULL); }

static void end_tag(pp_page_writer *w, const char *name) { cairo_tag_end(w->cairo, name); }

static void end_table(pp_page_writer *w)
{
    if (w->in_table) end_tag(w, "Table");
    w->in_table = false;
}

static double height_of(PangoLayout *layout)
{
    int height;
    pango_layout_get_size(layout, NULL, &height);
    return (double)height / PANGO_SCALE;
}

static void set_layout(pp_page_writer *w, PangoLayout *layout, double x, double y)
{
    cairo_move_to(w->cairo, x, y);
    pango_cairo_show_layout(w->cairo, layout);
}

static void rule(pp_page_writer *w, double y)
{
    cairo_set_source_rgb(w->cairo, LINE_GREY, LINE_GREY, LINE_GREY);
    cairo_set_line_width(w->cairo, 0.5);
    cairo_move_to(w->cairo, w->left, y);
    cairo_line_to(w->cairo, w->right, y);
    cairo_stroke(w->cairo);
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
}

double pp_page_word(pp_page_writer *w, pp_page_style style, double x, double y, const char *text)
{
    PangoLayout *layout = new_layout(w, style, text, 0);
    int width;
    pango_layout_get_size(layout, &width, NULL);
    set_layout(w, layout, x, y);
    g_object_unref(layout);
    return (double)width / PANGO_SCALE;
}

static void running_line(pp_page_writer *w, double y, double width, const char *text)
{
    PangoLayout *layout = new_layout(w, PP_STYLE_SMALL, text, 0);
    cut(layout, width, 1);
    set_layout(w, layout, w->left, y);
    g_object_unref(layout);
}

static void running_lines(pp_page_writer *w)
{
    char count[64];
    if (w->pages)
        snprintf(count, sizeof count, "page %d of %d", w->page, w->pages);
    else
        snprintf(count, sizeof count, "page %d", w->page);
    cairo_set_source_rgb(w->cairo, TEXT_GREY, TEXT_GREY, TEXT_GREY);
    PangoLayout *layout = new_layout(w, PP_STYLE_SMALL, count, 0);
    int width;
    pango_layout_get_size(layout, &width, NULL);
    double right = w->right - (double)width / PANGO_SCALE;
    set_layout(w, layout, right, w->bottom + 8);
    g_object_unref(layout);
    running_line(w, w->bottom + 8, right - 8 - w->left, w->running_foot);
    if (w->page > 1) running_line(w, w->top - 14, w->right - w->left, w->running_head);
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
}

void pp_page_begin(pp_page_writer *w)
{
    w->left = 48;
    w->right = w->width - 48;
    w->top = 46;
    w->bottom = w->height - 40 - FOOT_ROOM;
    w->page = 1;
    w->y = w->top;
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
    tag(w, "Document");
}

static void next_page(pp_page_writer *w)
{
    end_table(w); /* a tag does not reach over a page */
    running_lines(w);
    cairo_show_page(w->cairo);
    w->page++;
    w->y = w->top;
}

void pp_page_finish(pp_page_writer *w)
{
    end_table(w);
    end_tag(w, "Document");
    running_lines(w);
    cairo_show_page(w->cairo);
}

void pp_page_need(pp_page_writer *w, double height)
{
    if (w->y + height > w->bottom && w->y > w->top) next_page(w);
}

void pp_page_text(pp_page_writer *w, pp_page_style style, const char *text)
{
    const char *name = style == PP_STYLE_TITLE ? "H1" : style == PP_STYLE_HEADING ? "H2" : "P";
    PangoLayout *layout = new_layout(w, style, text, w->right - w->left);
    if (style == PP_STYLE_TITLE) cut(layout, w->right - w->left, TITLE_LINES);
    double height = height_of(layout);
    end_table(w);
    pp_page_need(w, height);
    tag(w, name);
    set_layout(w, layout, w->left, w->y);
    end_tag(w, name);
    w->y += height + 2;
    g_object_unref(layout);
}

void pp_page_space(pp_page_writer *w, double height) { w->y += height; }

void pp_page_heading(pp_page_writer *w, const char *text)
{
    pp_page_need(w, 70); /* never a heading alone at the foot of a page */
    w->y += 10;
    pp_page_text(w, PP_STYLE_HEADING, text);
    rule(w, w->y);
    w->y += 4;
}

static double set_cells(pp_page_writer *w, const pp_page_column *columns, int count,
                        const char *const *cells, pp_page_style style)
{
    PangoLayout *layouts[COLUMNS_MAX];
    double height = 0, x = w->left, room = w->right - w->left;
    if (count > COLUMNS_MAX) count = COLUMNS_MAX;
    for (int i = 0; i < count; i++) {
        layouts[i] =
            new_layout(w, style, cells[i] ? cells[i] : "", columns[i].share * room - CELL_GAP);
        double h = height_of(layouts[i]);
        if (h > height) height = h;
    }
    bool fits = w->y + height + 2 * ROW_PAD <= w->bottom;
    if (fits && !w->in_table) tag(w, "Table");
    w->in_table = w->in_table || fits;
    if (fits) tag(w, "TR");
    const char *kind = style == PP_STYLE_COLUMN ? "TH" : "TD";
    for (int i = 0; i < count; i++) {
        if (fits) {
            tag(w, kind);
            set_layout(w, layouts[i], x, w->y + ROW_PAD);
            end_tag(w, kind);
        }
        x += columns[i].share * room;
        g_object_unref(layouts[i]);
    }
    if (!fits) return -1;
    end_tag(w, "TR");
    w->y += height + 2 * ROW_PAD;
    rule(w, w->y);
    return height;
}

void pp_page_table(pp_page_writer *w, const pp_page_column *columns, int count)
{
    const char *heads[COLUMNS_MAX];
    for (int i = 0; i < count && i < COLUMNS_MAX; i++) heads[i] = columns[i].head;
    pp_page_need(w, 40);
    set_cells(w, columns, count, heads, PP_STYLE_COLUMN);
}

void pp_page_row(pp_page_writer *w, const pp_page_column *columns, int count,
                 const char *const *cells)
{
    if (set_cells(w, columns, count, cells, PP_STYLE_CELL) >= 0) return;
    next_page(w);
    pp_page_table(w, columns, count);
    set_cells(w, columns, count, cells, PP_STYLE_CELL);
}

static double set_pair(pp_page_writer *w, const pp_named_text *pair, double x, double width)
{
    PangoLayout *name = new_layout(w, PP_STYLE_SMALL, pair->name, width * 0.34);
    PangoLayout *value = new_layout(w, PP_STYLE_BODY, pair->value, width * 0.64);
    double height = height_of(value), other = height_of(name);
    tag(w, "P");
    cairo_set_source_rgb(w->cairo, TEXT_GREY, TEXT_GREY, TEXT_GREY);
    set_layout(w, name, x, w->y + 1.5);
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
    set_layout(w, value, x + width * 0.36, w->y);
    end_tag(w, "P");
    g_object_unref(name);
    g_object_unref(value);
    return height > other ? height : other;
}

void pp_page_pairs(pp_page_writer *w, const pp_named_text *pairs, int count)
{
    double width = (w->right - w->left) / 2 - 8, tallest = 0;
    int side = 0;
    end_table(w);
    for (int i = 0; i < count; i++) {
        if (!pairs[i].value || !*pairs[i].value) continue;
        if (side == 0) pp_page_need(w, 30);
        double height = set_pair(w, &pairs[i], w->left + side * (width + 16), width);
        if (height > tallest) tallest = height;
        side = !side;
        if (side == 0) {
            w->y += tallest + 2;
            tallest = 0;
        }
    }
    if (side) w->y += tallest + 2;
}
