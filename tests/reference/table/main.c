/* The reference suite: prints the table and counts its failures.
 *   reference_table            exit status 0 when every row passes
 *   reference_table --shifted  moves every published value beyond its tolerance: 0 when every row
 *                              fails, that is, when every row can */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "linalg/linalg.h"
#include "table.h"

void ref_row(ref_table *table, const char *source, double published, double ours, double tolerance,
             const char *quantity, ...)
{
    char name[128];
    va_list list;
    va_start(list, quantity);
    vsnprintf(name, sizeof name, quantity, list);
    va_end(list);
    if (table->shifted) published += tolerance > 0 ? 3 * tolerance : 1;
    double difference = ours - published;
    bool blind = published != 0 && tolerance >= fabs(published) / 2;
    bool passed = fabs(difference) <= tolerance && !blind;
    table->rows++;
    table->failed += !passed;
    if (table->shifted && !passed) return;
    printf("%-52s %18.12g %18.12g %10.2g %9.2g  %s%s\n", name, published, ours, difference,
           tolerance, source,
           passed  ? ""
           : blind ? "  BLIND"
                   : "  FAIL");
}

int main(int count, char **words)
{
    ref_table table = {.shifted = count > 1 && strcmp(words[1], "--shifted") == 0};
    pp_blas_single_thread();
    printf("%-52s %18s %18s %10s %9s  %s\n", "quantity", "published", "ours", "difference",
           "tolerance", "source");
    ref_planes(&table);
    ref_statistics(&table);
    ref_holes(&table);
    ref_layouts(&table);
    ref_plate(&table);
    ref_stack(&table);
    ref_jobs(&table);
    ref_process(&table);
    if (table.shifted) {
        size_t sure = table.rows - table.failed;
        printf("%zu of %zu rows would not have noticed\n", sure, table.rows);
        return sure > 0;
    }
    printf("%zu rows, %zu fail\n", table.rows, table.failed);
    printf("%zu passed, %zu failed\n", table.rows - table.failed, table.failed);
    return table.failed > 0;
}
