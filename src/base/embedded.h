/* Files built into the library at compile time (cmake/embed.cmake): rule data, the parts of the
 * report page. */
#ifndef PP_BASE_EMBEDDED_H
#define PP_BASE_EMBEDDED_H

#include <stddef.h>

typedef struct pp_embedded_file {
    const char *name;  /* without folder */
    const char *bytes; /* a zero follows the last one */
    size_t length;
} pp_embedded_file;

#endif
