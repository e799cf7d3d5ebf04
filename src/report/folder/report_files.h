/* Every file that a report folder of this program may hold: the tables, the pages, and those beside
 * them. What is not one of them is somebody's own and is carried over. */
#ifndef PP_REPORT_FOLDER_REPORT_FILES_H
#define PP_REPORT_FOLDER_REPORT_FILES_H

#include <stdbool.h>
#include <stddef.h>

/* How many names there are. */
size_t pp_report_file_count(void);
/* "holes.csv"; index below the count. */
const char *pp_report_file_name(size_t index);
/* One of them; a path is none. */
bool pp_report_file_is_known(const char *name);

#endif
