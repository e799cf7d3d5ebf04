/* The cells of a paper's tables: texts that are filled for one row after another. */
#ifndef PP_REPORT_CERTIFICATE_CELLS_H
#define PP_REPORT_CERTIFICATE_CELLS_H

#include "base/text.h"
#include "report/certificate/pdf_page.h"

enum { PP_CELLS_MAX = 8 };

typedef struct pp_cells { /* begins as {0}; who fills it frees it */
    pp_text cell[PP_CELLS_MAX];
} pp_cells;

/* Cell i, emptied. */
static inline pp_text *pp_cell(pp_cells *cells, int i)
{
    pp_text_clear(&cells->cell[i]);
    return &cells->cell[i];
}

/* What a text says; "" where it says nothing, or memory ran out. */
static inline const char *pp_said(const pp_text *t) { return t->data && t->length ? t->data : ""; }

/* A row of a table: the first `count` cells under their columns. */
static inline void pp_cells_row(const pp_cells *cells, pp_page_writer *w,
                                const pp_page_column *columns, int count)
{
    const char *said[PP_CELLS_MAX];
    for (int i = 0; i < count; i++) said[i] = pp_said(&cells->cell[i]);
    pp_page_row(w, columns, count, said);
}

/* Memory ran out in one of them. */
static inline bool pp_cells_failed(const pp_cells *cells)
{
    bool failed = false;
    for (int i = 0; i < PP_CELLS_MAX; i++) failed |= cells->cell[i].failed;
    return failed;
}

/* Give back their room. */
static inline void pp_cells_free(pp_cells *cells)
{
    for (int i = 0; i < PP_CELLS_MAX; i++) pp_text_free(&cells->cell[i]);
}

#endif
