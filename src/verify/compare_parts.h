/* Parts of the comparison. Internal to compare.c and compare_table.c. */
#ifndef PP_VERIFY_COMPARE_PARTS_H
#define PP_VERIFY_COMPARE_PARTS_H

#include "report/tables/csvout.h"
#include "verify/compare.h"

typedef struct pp_tolerance {
    double absolute, relative;
} pp_tolerance;

/* By the path of a value in results.json, or the name of a table. */
pp_tolerance pp_compare_tolerance(const char *path);
bool pp_compare_close(pp_tolerance tolerance, double a, double b);

/* Note one difference, the first ones in full and all of them by number. */
void pp_compare_note(pp_differences *comparison, pp_difference difference);
/* A copy of text[length] that ends in 0; "" when there is no memory. */
const char *pp_compare_keep(pp_arena *arena, const char *text, size_t length);

/* A file of the folder in memory, without reading it. */
typedef struct pp_mapped {
    bool there;
    const char *bytes;
    size_t length;
} pp_mapped;

/* Map file `name` of the folder. errors: PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_compare_map(const char *folder, const char *name, pp_arena *arena, pp_mapped *file,
                         pp_error *error);
/* Give it back. */
void pp_compare_unmap(pp_mapped *file);

/* Compare two CSV files row by row: texts byte by byte, numbers within the tolerance.
 * errors   PP_EIO: the file cannot be read; PP_ENOMEM */
pp_status pp_compare_table(const char *folder, const pp_results *now, pp_csv table, int threads,
                           pp_arena *arena, pp_differences *comparison, pp_error *error);

/* The same for a text made already: results.json, and a table with its header row.
 * errors   PP_ENOMEM */
pp_status pp_compare_json_text(const pp_recorded *recorded, const pp_text *now, pp_arena *arena,
                               pp_differences *comparison, pp_error *error);
void pp_compare_table_text(const char *name, const pp_mapped *recorded, const pp_text *now,
                           pp_arena *arena, pp_differences *comparison);

/* A paper (the file `name`) whose bytes are not those of `made` (on A4, on Letter): was it drawn by
 * other libraries, and if so, is its text one of theirs? Sets the kind of *difference and what it
 * says.
 */
void pp_compare_paper(const char *folder, const char *name, const pp_mapped *file,
                      const pp_text made[2], pp_arena *arena, pp_difference *difference);

/* results.qif or results.qif.gz, whichever is there. errors: PP_EIO: it cannot be read;
 * PP_ENOMEM */
pp_status pp_compare_qif(const pp_recorded *recorded, const pp_results *now, pp_arena *arena,
                         pp_differences *comparison, pp_error *error);

#endif
