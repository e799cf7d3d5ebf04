/* A report folder as one ZIP file, made while it is sent. */
#ifndef PP_SERVE_ARCHIVE_H
#define PP_SERVE_ARCHIVE_H

#include "serve/request.h"

/* Answer with the folder at `report` (below the root) as NAME.zip: its ordinary files and those of
 * its inputs folder, sorted. A file that can't be read leaves the archive without its end, which
 * every reader of ZIP files refuses. */
enum MHD_Result pp_archive_send(pp_request *request, const char *report);

#endif
