/* Pages of the certificate: text, tables and pictures set one below the other, a new page where one
 * is full. Points (1/72 in), y downwards. Laid out twice: once to count the pages. Pieces are
 * tagged (title and headings, paragraphs, tables with rows and cells), so that a reader can be told
 * them. Texts are shown as foreign text (base/foreign.h), pieces read from right to left
 * in isolates. */
#ifndef PP_REPORT_CERTIFICATE_PDF_PAGE_H
#define PP_REPORT_CERTIFICATE_PDF_PAGE_H

#include <pango/pangocairo.h>

#include "answer/identity.h"

typedef struct pp_page_writer {
    cairo_t *cairo;
    PangoContext *context;
    double width, height; /* of the paper */
    double left, right, top, bottom;
    double y;        /* where the next piece goes */
    int page, pages; /* current; total, 0 while counting */
    const char *running_head, *running_foot;
    bool in_table; /* a tag is open for the rows of a table */
    int unknown;   /* characters set so far that the fonts have not */
    bool failed;   /* memory ran out for some text: the pages are no good */
} pp_page_writer;

typedef struct pp_page_column {
    double share; /* of the width; shares add up to 1 */
    const char *head;
} pp_page_column;

typedef enum pp_page_style {
    PP_STYLE_BODY,
    PP_STYLE_SMALL,
    PP_STYLE_CELL,   /* of a table */
    PP_STYLE_COLUMN, /* a table's heads */
    PP_STYLE_BOLD,
    PP_STYLE_TITLE,
    PP_STYLE_HEADING
} pp_page_style;

void pp_page_begin(pp_page_writer *w); /* the first page */
/* The foot of the last page. */
void pp_page_finish(pp_page_writer *w);
/* Make sure that so much fits on this page, else begin the next. */
void pp_page_need(pp_page_writer *w, double height);
void pp_page_text(pp_page_writer *w, pp_page_style style, const char *text);
void pp_page_space(pp_page_writer *w, double height);
void pp_page_heading(pp_page_writer *w, const char *text);
/* Head of a table; it is set again at the top of a page that the table runs on to. */
void pp_page_table(pp_page_writer *w, const pp_page_column *columns, int count);
void pp_page_row(pp_page_writer *w, const pp_page_column *columns, int count,
                 const char *const *cells);
/* Pairs of name and value in two columns side by side; absent (NULL, "") values are passed over. */
void pp_page_pairs(pp_page_writer *w, const pp_named_text *pairs, int count);
/* One line of text at a place; returns its width. */
double pp_page_word(pp_page_writer *w, pp_page_style style, double x, double y, const char *text);

#endif
