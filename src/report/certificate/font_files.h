/* The bytes of the fonts, put into the program when it is built. Internal to fonts.c. */
#ifndef PP_REPORT_CERTIFICATE_FONT_FILES_H
#define PP_REPORT_CERTIFICATE_FONT_FILES_H

#include <stddef.h>

extern const unsigned char pp_font_regular[], pp_font_regular_end[];
extern const unsigned char pp_font_bold[], pp_font_bold_end[];

#define pp_font_size(name) ((size_t)(name##_end - name))

#endif
