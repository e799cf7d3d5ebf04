/* The maps of the hold-down study on paper, two beside each other. */
#ifndef PP_REPORT_CERTIFICATE_PDF_HOLDMAPS_H
#define PP_REPORT_CERTIFICATE_PDF_HOLDMAPS_H

#include "answer/results.h"
#include "report/certificate/pdf_page.h"

typedef struct pp_pdf_hold_maps pp_pdf_hold_maps;

/* Make the maps that are due; *maps lives in memory->keep, NULL where there is no study.
 * errors: PP_ENOMEM */
pp_status pp_pdf_hold_maps_make(const pp_results *results, pp_memory *memory,
                                const pp_pdf_hold_maps **maps, pp_error *error);

/* Draw them from the pen on, which moves below. */
void pp_pdf_hold_maps_draw(pp_page_writer *w, const pp_pdf_hold_maps *maps);

#endif
