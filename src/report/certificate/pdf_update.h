/* What cairo does not write into a PDF: metadata as XMP (ISO 16684-1) and an output intent, added
 * by an incremental update (ISO 32000-1, 7.5.6): the bytes that are there stay, new ones follow. */
#ifndef PP_REPORT_CERTIFICATE_PDF_UPDATE_H
#define PP_REPORT_CERTIFICATE_PDF_UPDATE_H

#include "base/text.h"

typedef struct pp_pdf_facts {
    const char *title, *subject, *creator; /* UTF-8 */
    const char *date;                      /* YYYY-MM-DD */
    const char *identifier;                /* of the document: its report's number, or "" */
} pp_pdf_facts;

/* Add metadata and output intent (sRGB, IEC 61966-2.1, by name) to the PDF in `pdf`, as cairo
 * writes it: a table of cross references at the end, a catalogue that is an object of its own.
 * Anything else is left as it is and false is returned. */
bool pp_pdf_update(pp_text *pdf, const pp_pdf_facts *facts);

#endif
