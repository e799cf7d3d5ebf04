/* Inside the CSVs: what a table is (csvout.c), for what writes it (csv_write.c). */
#ifndef PP_REPORT_TABLES_CSV_TABLE_H
#define PP_REPORT_TABLES_CSV_TABLE_H

#include "report/tables/csvout.h"

typedef struct pp_outgoing_table {
    const char *file_name, *header;
    void (*row)(const pp_results *results, size_t row, pp_text *text);
    size_t (*count)(const pp_results *results); /* rows to run through */
} pp_outgoing_table;

/* The table of a CSV, which below PP_CSV_COUNT. */
const pp_outgoing_table *pp_outgoing_table_of(pp_csv which);

#endif
