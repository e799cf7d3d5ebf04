/* The fonts that papers are set in: DejaVu Sans, regular and bold, carried by the program itself,
 * so that a paper's bytes depend on the program and its libraries, not on what is installed here.
 */
#ifndef PP_REPORT_CERTIFICATE_FONTS_H
#define PP_REPORT_CERTIFICATE_FONTS_H

#include <stdbool.h>

#include <pango/pangocairo.h>

#include "plateproof/error.h"

typedef struct pp_fonts {
    PangoFontMap *map;
    int regular, bold; /* handles of the files in memory */
} pp_fonts;

/* Open the program's own fonts. With `system_too` the fonts installed here stand in for characters
 * that they have not (scripts other than Latin, Greek and Cyrillic); a paper that needs them is the
 * same only where the same fonts are. To be closed.
 * errors: PP_EIO the system gives no memory file, or a library refuses the fonts */
pp_status pp_fonts_open(bool system_too, pp_fonts *fonts, pp_error *error);
void pp_fonts_close(pp_fonts *fonts);

/* Where pango makes its first font map it has fontconfig read the whole configuration of the
 * machine, which no paper asks for: an empty one in its place costs nothing. fontconfig's
 * configuration is process-wide: call once from the program, never from the library. */
void pp_fonts_expect_no_others(void);

/* The libraries that decide the bytes of a paper, with their versions: "cairo 1.16.0,
 * pango 1.50.12, HarfBuzz 6.0.0, FreeType 2.12.1, zlib 1.2.13". */
void pp_fonts_engine(char text[128]);

#endif
