/* results.qif, or the text within results.qif.gz, against what the results give now: as it is made,
 * so that a plate of any size needs no more memory than a window of it. */
#include <stdint.h>
#include <string.h>

#include <zlib.h>

#include "report/folder/write.h"
#include "verify/compare_parts.h"

enum { ROOM = 1 << 16, ANY_HEADER = 15 + 32 /* the largest window; gzip or zlib, as it says */ };

typedef struct qif_check {
    pp_mapped file;
    size_t offset; /* of the file, compared so far; compressed: handed to zlib */
    bool compressed, differs;
    z_stream stream;
    unsigned char window[ROOM];
} qif_check;

/* Up to ROOM bytes more of the text within; 0 at its end or where it is damaged. */
static size_t expand(qif_check *check, size_t most)
{
    enum { PIECE = 1 << 30 }; /* zlib counts in unsigned int */
    z_stream *s = &check->stream;
    s->next_out = check->window;
    s->avail_out = (uInt)(most < ROOM ? most : ROOM);
    size_t wanted = s->avail_out;
    for (int state = Z_OK; s->avail_out > 0 && state == Z_OK;) {
        size_t left = check->file.length - check->offset, given = left < PIECE ? left : PIECE;
        s->next_in = (unsigned char *)(uintptr_t)check->file.bytes + check->offset;
        s->avail_in = (uInt)given;
        state = inflate(s, Z_NO_FLUSH);
        check->offset += given - s->avail_in;
    }
    return wanted - s->avail_out;
}

static bool same_as_recorded(qif_check *check, const char *bytes, size_t length)
{
    if (!check->compressed) {
        if (length > check->file.length - check->offset) return false;
        if (memcmp(check->file.bytes + check->offset, bytes, length) != 0) return false;
        check->offset += length;
        return true;
    }
    while (length) {
        size_t got = expand(check, length);
        if (got == 0 || memcmp(check->window, bytes, got) != 0) return false;
        bytes += got;
        length -= got;
    }
    return true;
}

static pp_status compare_bytes(void *context, const char *bytes, size_t length, pp_error *error)
{
    (void)error;
    qif_check *check = context;
    if (!check->differs && !same_as_recorded(check, bytes, length)) check->differs = true;
    return PP_OK;
}

/* Nothing may follow what the results give. */
static bool has_ended(qif_check *check)
{
    if (!check->compressed) return check->offset == check->file.length;
    return expand(check, 1) == 0 && check->offset == check->file.length;
}

static pp_status hold_against(qif_check *check, const pp_recorded *recorded, const pp_results *now,
                              pp_error *error)
{
    const pp_report_options options = {.threads = 1, .job_file = recorded->job_file};
    const pp_sink sink = {compare_bytes, check};
    if (check->compressed && inflateInit2(&check->stream, ANY_HEADER) != Z_OK)
        return pp_fail_memory(error);
    pp_status status =
        pp_report_qif_make(now, check->compressed, recorded->folder, &options, &sink, error);
    if (!check->differs && !has_ended(check)) check->differs = true;
    if (check->compressed) inflateEnd(&check->stream);
    return status;
}

static pp_status compare_one(const pp_recorded *recorded, const pp_results *now, qif_check *check,
                             const char *name, pp_differences *comparison, pp_error *error)
{
    PP_TRY(hold_against(check, recorded, now, error));
    comparison->files++;
    if (check->differs)
        pp_compare_note(comparison, (pp_difference){.kind = PP_PAGE_CHANGED, .file = name});
    return PP_OK;
}

pp_status pp_compare_qif(const pp_recorded *recorded, const pp_results *now, pp_arena *arena,
                         pp_differences *comparison, pp_error *error)
{
    const char *name[2] = {pp_report_page_name(PP_PAGE_QIF), PP_REPORT_QIF_GZ};
    bool due = pp_report_page_is_due(now, PP_PAGE_QIF), there = false;
    for (int compressed = 0; compressed < 2; compressed++) {
        qif_check check = {.compressed = compressed};
        PP_TRY(pp_compare_map(recorded->folder, name[compressed], arena, &check.file, error));
        if (!check.file.there) continue;
        pp_status status = PP_OK;
        if (!due || there) /* one of the two is enough */
            pp_compare_note(comparison,
                            (pp_difference){.kind = PP_REPORT_SURPLUS, .file = name[compressed]});
        else
            status = compare_one(recorded, now, &check, name[compressed], comparison, error);
        pp_compare_unmap(&check.file);
        PP_TRY(status);
        there = true;
    }
    if (due && !there)
        pp_compare_note(comparison, (pp_difference){.kind = PP_REPORT_MISSING, .file = name[0]});
    return PP_OK;
}
