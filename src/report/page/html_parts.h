/* The parts of report.html. Each appends to `out`; memory failure stays in out->failed. */
#ifndef PP_REPORT_PAGE_HTML_PARTS_H
#define PP_REPORT_PAGE_HTML_PARTS_H

#include "answer/plateview.h"
#include "answer/results.h"
#include "base/text.h"

enum {
    /* A larger plate embeds only its remarkable holes: a page of every hole would be too slow to
     * open. All of them are in holes.csv. */
    PP_PAGE_HOLES_MAX = 60000,
    PP_PAGE_EXCEPTIONS_MAX = 2000
};

/* What the script draws and searches: JSON inside a script element. */
void pp_html_data(pp_text *out, const pp_results *results, const pp_plate_view *view);

/* The symbol of a state, as the maps draw it: for their legend. */
void pp_html_key(pp_text *out, pp_hole_state state);
/* Still picture of the plate as inline SVG: print, and browsers without script. */
void pp_html_still(pp_text *out, const pp_results *results, const pp_plate_view *view);

/* The work list: its counts, and its rows. Nothing where there is none. */
void pp_html_work_tiles(pp_text *out, const pp_results *results);
void pp_html_work(pp_text *out, const pp_results *results);

/* Histograms of diameter, position and smallest ligament with their limits drawn in.
 * errors   PP_ENOMEM */
pp_status pp_html_histograms(pp_text *out, const pp_results *results, pp_memory *memory,
                             pp_error *error);

void pp_html_plate_sections(pp_text *out, const pp_results *results); /* flatness */
/* The hold-down study: what to do, maps, tables, cautions. Nothing is missing but the results it
 * needs: results->holddown. memory->keep; errors: PP_ENOMEM */
pp_status pp_html_holddown_section(pp_text *out, const pp_results *results, pp_memory *memory,
                                   pp_error *error);
/* The maps of the hold-down study, side by side where there is room. memory->keep
 * errors   PP_ENOMEM */
pp_status pp_html_hold_maps(pp_text *out, const pp_results *results, pp_memory *memory,
                            pp_error *error);
void pp_html_stack_sections(pp_text *out, const pp_results *results); /* and the roughing pass */
void pp_html_cause_sections(pp_text *out, const pp_results *results); /* diagnosis, placement */
void pp_html_statements(pp_text *out, const pp_results *results);     /* what the diagnosis says */
void pp_html_record_sections(pp_text *out,
                             const pp_results *results); /* rounds, limits, inputs, job */

/* The shell of every page, up to and with <body>: title and verdict in the title bar, style, and a
 * Content-Security-Policy that lets nothing in but these (and page.js, with `script`, which the
 * caller adds at the end). errors: PP_EIO: the program's own files of the page are not there */
pp_status pp_html_open(pp_text *out, const char *title, const char *words, bool script,
                       pp_error *error);
/* The verdict's sign: a shape beside the colour. */
void pp_html_sign(pp_text *out, pp_verdict verdict);
/* </main> and the footer. */
void pp_html_footer(pp_text *out);

/* Pairs of name and value in a list of facts; a value that is not given is passed over. */
void pp_html_term(pp_text *out, const char *name);
void pp_html_end_term(pp_text *out);
void pp_html_length_term(pp_text *out, const pp_results *r, const char *name, double mm);
void pp_html_force_term(pp_text *out, const pp_results *r, const char *name, double newton);
void pp_html_place(pp_text *out, const pp_results *r, double x, double y);
/* A table with its caption and heads, open for rows, and its end; each row a card on a narrow
 * screen; its cells carry their head as data-label. */
void pp_html_cards(pp_text *out, const char *caption, const char *const *heads, size_t count);
void pp_html_end_table(pp_text *out);

/* <h2> with an anchor; closes with pp_html_end_section. */
void pp_html_section(pp_text *out, const char *id, const char *title);
void pp_html_end_section(pp_text *out);

#endif
