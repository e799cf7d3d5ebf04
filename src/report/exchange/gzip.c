#include "report/exchange/gzip.h"

#include <stdint.h>
#include <stdlib.h>

#include <zlib.h>

enum {
    ROOM = 1 << 16,
    LEVEL = 1,        /* a plate of a million holes is to be written while one waits */
    AS_GZIP = 15 + 16 /* the largest window, and the header of gzip around it */
};

struct pp_gzip {
    pp_sink to;
    z_stream stream;
    unsigned char out[ROOM];
};

static pp_status push(pp_gzip *gzip, int flush, pp_error *error)
{
    z_stream *s = &gzip->stream;
    do {
        s->next_out = gzip->out;
        s->avail_out = ROOM;
        if (deflate(s, flush) == Z_STREAM_ERROR) return pp_fail_memory(error);
        size_t made = ROOM - s->avail_out;
        if (made) PP_TRY(gzip->to.write(gzip->to.context, (const char *)gzip->out, made, error));
    } while (s->avail_out == 0);
    return PP_OK;
}

static pp_status compress_bytes(void *context, const char *bytes, size_t length, pp_error *error)
{
    enum { PIECE = 1 << 30 }; /* zlib counts in unsigned int */
    pp_gzip *gzip = context;
    while (length) {
        size_t piece = length < PIECE ? length : PIECE;
        gzip->stream.next_in = (unsigned char *)(uintptr_t)bytes; /* zlib only reads it */
        gzip->stream.avail_in = (uInt)piece;
        PP_TRY(push(gzip, Z_NO_FLUSH, error));
        bytes += piece;
        length -= piece;
    }
    return PP_OK;
}

pp_status pp_gzip_begin(const pp_sink *to, pp_gzip **gzip, pp_error *error)
{
    pp_gzip *made = calloc(1, sizeof *made);
    if (!made) return pp_fail_memory(error);
    made->to = *to;
    if (deflateInit2(&made->stream, LEVEL, Z_DEFLATED, AS_GZIP, 8, Z_DEFAULT_STRATEGY) != Z_OK) {
        free(made);
        return pp_fail_memory(error);
    }
    *gzip = made;
    return PP_OK;
}

pp_sink pp_gzip_sink(pp_gzip *gzip) { return (pp_sink){compress_bytes, gzip}; }

pp_status pp_gzip_end(pp_gzip *gzip, pp_status so_far, pp_error *error)
{
    pp_status status = so_far;
    if (status == PP_OK) {
        gzip->stream.next_in = NULL;
        gzip->stream.avail_in = 0;
        status = push(gzip, Z_FINISH, error);
    }
    deflateEnd(&gzip->stream);
    free(gzip);
    return status;
}
