#include "report/certificate/pdf_update.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/page/markup.h"

/* The last place of `word`; NULL: nowhere. */
static const char *find_last(const char *bytes, size_t length, const char *word)
{
    const char *found = NULL;
    size_t size = strlen(word);
    for (const char *at = bytes;
         (at = memmem(at, length - (size_t)(at - bytes), word, size)) != NULL; at += size)
        found = at;
    return found;
}

typedef struct ending {
    long start, size, root, info; /* offset of the cross references; of the trailer */
} ending;

static bool read_number(const char *text, const char *key, long *value)
{
    const char *at = strstr(text, key);
    char *end;
    if (!at) return false;
    *value = strtol(at + strlen(key), &end, 10);
    return end > at + strlen(key);
}

/* The text is zero-terminated behind its bytes, and a trailer holds no zero. */
static bool read_ending(const pp_text *pdf, ending *e)
{
    const char *trailer = find_last(pdf->data, pdf->length, "trailer");
    return trailer && read_number(trailer, "/Size ", &e->size) &&
           read_number(trailer, "/Root ", &e->root) && read_number(trailer, "/Info ", &e->info) &&
           read_number(trailer, "startxref\n", &e->start);
}

/* The catalogue's dictionary without its closing brackets. */
static const char *find_catalogue(const pp_text *pdf, long root, size_t *length)
{
    char head[32];
    snprintf(head, sizeof head, "\n%ld 0 obj", root);
    const char *at = find_last(pdf->data, pdf->length, head);
    const char *from = at ? strstr(at, "<<") : NULL;
    const char *to = from ? strstr(from, "endobj") : NULL;
    while (to && to > from && strncmp(to, ">>", 2) != 0) to--;
    if (!from || !to || to <= from || !memmem(from, (size_t)(to - from), "/Catalog", 8))
        return NULL;
    *length = (size_t)(to - from);
    return from;
}

static void add_xmp(pp_text *out, const pp_pdf_facts *f)
{
    pp_text_add(out, "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
                     "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
                     "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
                     "<rdf:Description rdf:about=\"\" "
                     "xmlns:dc=\"http://purl.org/dc/elements/1.1/\" "
                     "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\">\n"
                     "<dc:format>application/pdf</dc:format>\n"
                     "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">");
    pp_markup_add_plain(out, f->title);
    pp_text_add(out, "</rdf:li></rdf:Alt></dc:title>\n"
                     "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">");
    pp_markup_add_plain(out, f->subject);
    pp_text_add(out, "</rdf:li></rdf:Alt></dc:description>\n");
    if (*f->identifier) {
        pp_text_add(out, "<dc:identifier>");
        pp_markup_add_plain(out, f->identifier);
        pp_text_add(out, "</dc:identifier>\n");
    }
    pp_text_add(out, "<xmp:CreatorTool>");
    pp_markup_add_plain(out, f->creator);
    pp_text_print(out, "</xmp:CreatorTool>\n<xmp:CreateDate>%.10s</xmp:CreateDate>\n", f->date);
    pp_text_add(out, "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"r\"?>\n");
}

static void add_reference(pp_text *out, long first, size_t offset)
{
    pp_text_print(out, "%ld 1\n%010zu 00000 n \n", first, offset);
}

bool pp_pdf_update(pp_text *pdf, const pp_pdf_facts *facts)
{
    ending e;
    size_t length;
    if (pdf->failed || !read_ending(pdf, &e)) return false;
    const char *catalogue = find_catalogue(pdf, e.root, &length);
    if (!catalogue) return false;
    pp_text xmp = {0}, kept = {0};
    add_xmp(&xmp, facts);
    pp_text_add_bytes(&kept, catalogue, length);
    long metadata = e.size, intent = e.size + 1;
    size_t at_metadata = pdf->length;
    pp_text_print(pdf, "%ld 0 obj\n<< /Type /Metadata /Subtype /XML /Length %zu >>\nstream\n",
                  metadata, xmp.length);
    pp_text_add_bytes(pdf, xmp.data, xmp.length);
    pp_text_add(pdf, "\nendstream\nendobj\n");
    size_t at_intent = pdf->length;
    pp_text_print(
        pdf,
        "%ld 0 obj\n<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB "
        "IEC61966-2.1) /Info (sRGB IEC61966-2.1) >>\nendobj\n",
        intent);
    size_t at_root = pdf->length;
    pp_text_print(pdf, "%ld 0 obj\n", e.root);
    pp_text_add_bytes(pdf, kept.data, kept.length);
    pp_text_print(pdf,
                  "   /MarkInfo << /Marked true >>\n   /Metadata %ld 0 R\n   /OutputIntents [ %ld "
                  "0 R ]\n   /Lang (en)\n"
                  "   /ViewerPreferences << /DisplayDocTitle true >>\n>>\nendobj\n",
                  metadata, intent);
    size_t start = pdf->length;
    pp_text_add(pdf, "xref\n");
    add_reference(pdf, e.root, at_root);
    add_reference(pdf, metadata, at_metadata);
    add_reference(pdf, intent, at_intent);
    pp_text_print(pdf,
                  "trailer\n<< /Size %ld\n   /Root %ld 0 R\n   /Info %ld 0 R\n   /Prev %ld\n>>\n"
                  "startxref\n%zu\n%%%%EOF\n",
                  e.size + 2, e.root, e.info, e.start, start);
    if (xmp.failed || kept.failed) pdf->failed = true;
    pp_text_free(&xmp);
    pp_text_free(&kept);
    return !pdf->failed;
}
