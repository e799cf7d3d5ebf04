/* DejaVu Sans, regular and bold, as the build's package fonts-dejavu-core has them (PP_FONT_*:
 * their paths, set by the build). */
#include "report/certificate/font_files.h"

#define CARRY(name, path)                                                                          \
    __asm__(".pushsection .rodata\n"                                                               \
            ".global " #name "\n"                                                                  \
            ".balign 16\n" #name ":\n"                                                             \
            ".incbin \"" path "\"\n"                                                               \
            ".global " #name "_end\n" #name "_end:\n"                                              \
            ".byte 0\n"                                                                            \
            ".popsection\n")

CARRY(pp_font_regular, PP_FONT_REGULAR);
CARRY(pp_font_bold, PP_FONT_BOLD);
