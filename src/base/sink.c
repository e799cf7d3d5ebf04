#include "base/sink.h"

static pp_status append(void *context, const char *bytes, size_t length, pp_error *error)
{
    pp_text *text = context;
    pp_text_add_bytes(text, bytes, length);
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

pp_sink pp_sink_text(pp_text *text) { return (pp_sink){append, text}; }
