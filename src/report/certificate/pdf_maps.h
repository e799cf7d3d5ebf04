/* Pictures of the certificate: the plate with its holes by state, and the surface out of flat. */
#ifndef PP_REPORT_CERTIFICATE_PDF_MAPS_H
#define PP_REPORT_CERTIFICATE_PDF_MAPS_H

#include "answer/plateview.h"
#include "report/certificate/pdf_page.h"

/* Draw the plate with its holes by state, `height` points high, at the pen; moves the pen below. */
void pp_pdf_plate_map(pp_page_writer *w, const pp_results *results, const pp_plate_view *view,
                      double height);
/* The same of the surface as a field of colours with its scale. */
void pp_pdf_surface_map(pp_page_writer *w, const pp_results *results, const pp_plate_view *view,
                        double height);

#endif
