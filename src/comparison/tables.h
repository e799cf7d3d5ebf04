/* Inside the comparison: the CSVs of a report folder. */
#ifndef PP_COMPARISON_TABLES_H
#define PP_COMPARISON_TABLES_H

#include "comparison/comparison.h"
#include "input/csv/csv.h"

enum {
    C_HOLE,
    C_HOLE_FACE,
    C_POSITION,
    C_POSITION_CLASS,
    C_POSITION_U,
    C_DIAMETER_MIN,
    C_DIAMETER_MAX,
    C_DIAMETER_CLASS,
    C_HOLE_COLUMNS
};
enum { C_A, C_B, C_PAIR_FACE, C_LIGAMENT, C_LIGAMENT_CLASS, C_PAIR_COLUMNS };
enum { C_MAP_X, C_MAP_Y, C_MAP_HEIGHT, C_MAP_COLUMNS };

typedef enum pp_compared_table {
    PP_TABLE_OF_HOLES,
    PP_TABLE_OF_PAIRS,
    PP_TABLE_OF_PLACES
} pp_compared_table;

/* The table of the report in `folder`, in memory->keep; *there false where it has none. */
pp_status pp_compared_table_read(const char *folder, pp_compared_table which, int threads,
                                 pp_memory *memory, bool *there, pp_csv_table *table,
                                 pp_error *error);

#endif
