/* Mill flatness tables: the deviation allowed of a rolled plate by thickness and width. */
#ifndef PP_RULES_FLATNESS_RULES_H
#define PP_RULES_FLATNESS_RULES_H

#include "rules/rule_file.h"

typedef struct pp_flatness_row {
    double from, to;     /* thickness, mm: from, and below `to` (the last row: and `to`) */
    const double *value; /* mm, per width class; NaN where the table is empty */
} pp_flatness_row;

typedef struct pp_flatness_table {
    double length;                      /* mm, of the straightedge; NaN: the plate as a whole */
    double least_width;                 /* mm; narrower plates are not in its scope; NaN */
    double longest;                     /* mm; longer plates are not spoken of as a whole; NaN */
    double short_length, short_limit;   /* mm; NaN */
    double medium_length, medium_share; /* mm, 0..1; NaN */
    size_t width_count;
    const double *width; /* mm, upper end of each class, not including; the last may be infinite */
    size_t row_count;
    const pp_flatness_row *rows;
    const char *source;
    char sure;
    long line;
} pp_flatness_table;

typedef struct pp_flatness_rules {
    pp_rule_file file;
    size_t table_count;
    const pp_flatness_table *tables; /* at most one for the whole plate */
} pp_flatness_rules;

/* Read and check a rule file of kind flatness; arguments as pp_rule_file_open.
 * errors   PP_EINPUT with file and line; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_flatness_rules_read(const char *name, const pp_rule_place *place, pp_memory *memory,
                                 pp_flatness_rules *rules, pp_error *error);

/* The table for the whole plate, or for a straightedge of this length (mm, within 0.5); NULL. */
const pp_flatness_table *pp_flatness_rules_whole(const pp_flatness_rules *rules);
const pp_flatness_table *pp_flatness_rules_edge(const pp_flatness_rules *rules, double length);

typedef struct pp_rolled_size { /* mm */
    double thickness;
    double width, length; /* the shorter and the longer side */
} pp_rolled_size;

/* The limit for a plate of this size.
 *
 * out      value    mm
 *          source   table, class and how sure, in memory->keep
 * errors   PP_EINPUT without a place: the table does not speak of such a plate
 */
pp_status pp_flatness_rules_limit(const pp_flatness_rules *rules, const pp_flatness_table *table,
                                  const pp_rolled_size *size, pp_memory *memory, double *value,
                                  const char **source, pp_error *error);

#endif
