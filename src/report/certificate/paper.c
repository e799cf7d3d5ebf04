#include "report/certificate/paper.h"

#include <cairo-pdf.h>
#include <stdio.h>

#include "base/foreign.h"
#include "plateproof/version.h"
#include "report/certificate/fonts.h"
#include "report/certificate/pdf_update.h"

enum { TITLE_MAX = 512, CREATOR_MAX = 192, HASH_SHOWN = 12, NAME_SHOWN = 20 };
static const double A4_WIDTH = 595.276, A4_HEIGHT = 841.89, LETTER_WIDTH = 612, LETTER_HEIGHT = 792;

static cairo_status_t collect(void *closure, const unsigned char *bytes, unsigned int length)
{
    pp_text *out = closure;
    pp_text_add_bytes(out, (const char *)bytes, length);
    return out->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static cairo_status_t discard(void *closure, const unsigned char *bytes, unsigned int length)
{
    (void)closure, (void)bytes, (void)length;
    return CAIRO_STATUS_SUCCESS;
}

static const char *title_of(const pp_paper *p, char title[TITLE_MAX])
{
    return pp_foreign(p->job->title ? p->job->title : p->job->name, title, TITLE_MAX);
}

static const char *date_of(const pp_paper *p) { return p->date ? p->date : "1970-01-01"; }

static void write_creator(char creator[CREATOR_MAX])
{
    char engine[128];
    pp_fonts_engine(engine);
    snprintf(creator, CREATOR_MAX, "plateproof %s; %s", pp_version(), engine);
}

static void set_metadata(cairo_surface_t *surface, const pp_paper *p)
{
    char stamp[32], creator[CREATOR_MAX], title[TITLE_MAX];
    snprintf(stamp, sizeof stamp, "%.10sT00:00:00Z", date_of(p));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title_of(p, title));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, p->subject);
    write_creator(creator);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, creator);
    /* cairo takes no date from the environment: without these the bytes change from run to run */
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, stamp);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, stamp);
}

/* What cairo does not write; where its PDF is none that this knows, it stays as it is. */
static void add_metadata(const pp_paper *p, pp_text *out)
{
    char title[TITLE_MAX], creator[CREATOR_MAX], report[TITLE_MAX];
    write_creator(creator);
    const pp_pdf_facts facts = {.title = title_of(p, title),
                                .subject = p->subject,
                                .creator = creator,
                                .date = date_of(p),
                                .identifier =
                                    pp_foreign(p->job->report_number, report, sizeof report)};
    pp_pdf_update(out, &facts);
}

/* While pages are only counted: nothing drawn from here on is looked at. */
static void draw_nothing(cairo_t *cairo)
{
    cairo_rectangle(cairo, 0, 0, 0, 0);
    cairo_clip(cairo);
}

/* One layout onto a surface of its own; pages becomes how many it took. out: NULL: to count them.
 */
static pp_status draw(const pp_paper *p, pp_page_writer *w, pp_text *out, PangoFontMap *fonts,
                      pp_error *error)
{
    cairo_surface_t *surface =
        cairo_pdf_surface_create_for_stream(out ? collect : discard, out, w->width, w->height);
    set_metadata(surface, p);
    w->cairo = cairo_create(surface);
    if (!out) draw_nothing(w->cairo);
    w->context = pango_font_map_create_context(fonts);
    p->lay_out(p->context, w);
    cairo_surface_finish(surface);
    cairo_status_t status = cairo_status(w->cairo);
    if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface);
    g_object_unref(w->context);
    cairo_destroy(w->cairo);
    cairo_surface_destroy(surface);
    if (status == CAIRO_STATUS_NO_MEMORY || w->failed) return pp_fail_memory(error);
    if (status != CAIRO_STATUS_SUCCESS)
        return pp_fail(error, PP_EIO, "the paper could not be drawn: %s",
                       cairo_status_to_string(status));
    return PP_OK;
}

/* At most so many characters of a text; whole ones. */
static int bytes_of(const char *text, int characters)
{
    int at = 0;
    for (; text[at]; at++)
        if (((unsigned char)text[at] & 0xc0) != 0x80 && characters-- == 0) break;
    return at;
}

/* The hash first: a long name must not push it off the line. */
static void add_foot(pp_text *foot, const pp_job *j, const char *sha256)
{
    const struct {
        const char *word, *value;
    } parts[] = {{"report ", j->report_number},
                 {"revision ", j->report_revision},
                 {"plate ", j->plate_id},
                 {"serial ", j->serial}};
    if (sha256) pp_text_print(foot, "Results %.*s", HASH_SHOWN, sha256);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        const char *value = parts[i].value;
        if (!value || !*value) continue;
        int length = bytes_of(value, NAME_SHOWN);
        pp_text_print(foot, "%s%s%.*s%s", foot->length ? ", " : "", parts[i].word, length, value,
                      value[length] ? "\u2026" : "");
    }
    pp_text_print(foot, "%splateproof %s", foot->length ? "; " : "", pp_version());
}

/* Counted first, then drawn. *foreign: some text has characters that our fonts have not, and
 * nothing was drawn. */
static pp_status draw_twice(const pp_paper *p, PangoFontMap *fonts, bool *foreign, pp_text *out,
                            pp_error *error)
{
    pp_text foot = {0};
    add_foot(&foot, p->job, p->options->results_sha256);
    pp_page_writer writer = {.width = p->options->letter ? LETTER_WIDTH : A4_WIDTH,
                             .height = p->options->letter ? LETTER_HEIGHT : A4_HEIGHT,
                             .running_foot = foot.failed ? "" : foot.data,
                             .running_head = p->running_head};
    pp_page_writer counted = writer;
    pp_status status = draw(p, &counted, NULL, fonts, error);
    writer.pages = counted.page;
    bool skip = foreign && counted.unknown > 0;
    if (foreign) *foreign = skip;
    if (status == PP_OK && !skip) status = draw(p, &writer, out, fonts, error);
    bool failed = foot.failed || out->failed; /* cairo does not always say so */
    pp_text_free(&foot);
    return status == PP_OK && failed ? pp_fail_memory(error) : status;
}

static pp_status draw_with(const pp_paper *p, bool system_fonts, bool *foreign, pp_text *out,
                           pp_error *error)
{
    pp_fonts fonts;
    PP_TRY(pp_fonts_open(system_fonts, &fonts, error));
    pp_status status = draw_twice(p, fonts.map, foreign, out, error);
    pp_fonts_close(&fonts);
    return status;
}

pp_status pp_paper_make(const pp_paper *paper, pp_text *out, pp_error *error)
{
    bool foreign = false;
    pp_status status = draw_with(paper, false, &foreign, out, error);
    if (status == PP_OK && foreign) status = draw_with(paper, true, NULL, out, error);
    if (status == PP_OK) add_metadata(paper, out);
    return status == PP_OK && out->failed ? pp_fail_memory(error) : status;
}
