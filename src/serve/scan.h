/* Files of a kind below the folder (NAME.ini may be jobs): in it, and in folders up to two levels
 * down. Hidden files and folders, links to folders, and report folders (they hold a results.json)
 * are passed over. */
#ifndef PP_SERVE_SCAN_H
#define PP_SERVE_SCAN_H

#include <sys/stat.h>

#include "base/memory.h"

enum { PP_SCAN_LEVELS = 2, PP_SCAN_MAX = 20000 };

typedef struct pp_scan {
    size_t count;
    const char **paths; /* below the folder, sorted by their bytes */
    size_t more;        /* beyond PP_SCAN_MAX: not listed */
} pp_scan;

/* Those whose names end in `ending`, whatever its case. Everything lives in `arena`. errors: PP_EIO
 * when the folder can no longer be read; PP_ENOMEM */
pp_status pp_scan_folder(int root, const char *ending, pp_arena *arena, pp_scan *scan,
                         pp_error *error);

#endif
