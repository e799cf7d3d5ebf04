#include "report/page/drawing.h"

#include "report/page/markup.h"

void pp_draw_number(pp_text *out, const char *before, double value, const char *behind)
{
    pp_text_add(out, before);
    pp_text_add_fixed(out, value, 1);
    pp_text_add(out, behind);
}

void pp_draw_line(pp_text *out, double x1, double y1, double x2, double y2, const char *look)
{
    pp_draw_number(out, "<path fill=\"none\" d=\"M", x1, " ");
    pp_draw_number(out, "", y1, "L");
    pp_draw_number(out, "", x2, " ");
    pp_draw_number(out, "", y2, "\" ");
    pp_text_print(out, "%s/>\n", look);
}

void pp_draw_label(pp_text *out, double x, double y, const char *anchor, const char *words)
{
    pp_draw_number(out, "<text font-size=\"13\" x=\"", x, "\"");
    pp_draw_number(out, " y=\"", y, "\"");
    pp_text_print(out, " text-anchor=\"%s\">", anchor);
    pp_markup_add(out, words);
    pp_text_add(out, "</text>\n");
}

void pp_draw_value(pp_text *out, double x, double y, const char *anchor, double value, int decimals)
{
    pp_text words = {0};
    pp_text_add_fixed(&words, value, decimals);
    if (words.length) pp_draw_label(out, x, y, anchor, words.data);
    if (words.failed) out->failed = true;
    pp_text_free(&words);
}

void pp_draw_disc(pp_text *out, double x, double y, double radius, const char *look, bool open)
{
    pp_draw_number(out, "<circle cx=\"", x, "\"");
    pp_draw_number(out, " cy=\"", y, "\"");
    pp_draw_number(out, " r=\"", radius, "\" ");
    pp_text_print(out, open ? "%s>" : "%s/>\n", look);
}

void pp_draw_open(pp_text *out, int width, int height, const char *label)
{
    pp_text_print(out,
                  "<div class=\"scroll\" tabindex=\"0\"><svg viewBox=\"0 0 %d %d\" width=\"%d\" "
                  "height=\"%d\" role=\"img\" fill=\"" PP_DRAW_INK "\" aria-label=\"",
                  width, height, width, height);
    pp_markup_add(out, label);
    pp_text_add(out, "\">\n");
}

void pp_draw_close(pp_text *out) { pp_text_add(out, "</svg></div>\n"); }
