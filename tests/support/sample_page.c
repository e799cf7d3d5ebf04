/* Write the hand-built sample answer as a page or a certificate, for the browser and PDF tests:
 *   sample_page html|pdf RINGS [hostile] [inch] [letter] [study] [sampled] > FILE
 * study: as `holddown` leaves it; sampled: all that was measured conforms, but not all holes were.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/certificate/pdf.h"
#include "report/page/html.h"
#include "support/sample_results.h"

int main(int argc, char **argv)
{
    pp_sample_options options = {.rings = argc > 2 ? (unsigned)strtoul(argv[2], NULL, 10) : 0};
    pp_paper_options paper = {0};
    bool study = false, sampled = false;
    for (int i = 3; i < argc; i++) {
        if (strcmp(argv[i], "hostile") == 0) options.hostile = true;
        if (strcmp(argv[i], "inch") == 0) options.inch = true;
        if (strcmp(argv[i], "letter") == 0) paper.letter = true;
        if (strcmp(argv[i], "study") == 0) study = true;
        if (strcmp(argv[i], "sampled") == 0) options.conforming = sampled = true;
    }
    pp_sample sample;
    pp_error error = {0};
    pp_text out = {0};
    pp_sample_make(&sample, &options);
    if (study) sample.results.command = "holddown";
    if (sampled) sample.job.holes.coverage = PP_SAMPLE;
    bool page = argc > 1 && strcmp(argv[1], "html") == 0;
    pp_status status = page ? pp_html_write(&sample.results, &sample.memory, &out, &error)
                            : pp_pdf_write(&sample.results, &paper, &sample.memory, &out, &error);
    if (status != PP_OK)
        fprintf(stderr, "sample_page: %s\n", error.message);
    else
        fwrite(out.data, 1, out.length, stdout);
    pp_text_free(&out);
    pp_sample_free(&sample);
    return status != PP_OK;
}
