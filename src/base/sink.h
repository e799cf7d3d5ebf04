/* Where bytes go: a file of a report folder, a text in memory, a comparison. */
#ifndef PP_BASE_SINK_H
#define PP_BASE_SINK_H

#include "base/text.h"
#include "plateproof/error.h"

typedef struct pp_sink {
    pp_status (*write)(void *context, const char *bytes, size_t length, pp_error *error);
    void *context;
} pp_sink;

/* A sink that appends to `text`. */
pp_sink pp_sink_text(pp_text *text);

#endif
