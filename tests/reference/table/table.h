/* One table of everything that is checked from outside: rows of published value against ours.
 *
 * A row passes when the two differ by at most its tolerance. A row whose tolerance would let
 * nothing pass for its value is blind and fails, whatever it says. */
#ifndef PP_TESTS_REFERENCE_TABLE_H
#define PP_TESTS_REFERENCE_TABLE_H

#include <stdbool.h>
#include <stddef.h>

typedef struct ref_table {
    size_t rows, failed;
    bool shifted; /* every published value moved beyond its tolerance: now all rows must fail */
} ref_table;

/* Judge and print a row; `quantity` is a printf format. `source`: where the published value comes
 * from, and "from memory" where it was not read there. */
#if defined(__GNUC__)
__attribute__((format(printf, 6, 7)))
#endif
void ref_row(ref_table *table, const char *source, double published, double ours, double tolerance,
             const char *quantity, ...);

void ref_planes(ref_table *table);     /* reference planes: practice pairs, closed forms */
void ref_statistics(ref_table *table); /* sums, intervals, probabilities, registration */
void ref_holes(ref_table *table);      /* tables of holes, ligaments, mill flatness; position */
void ref_layouts(ref_table *table);    /* patterns, webs, facts of the trade */
void ref_plate(ref_table *table);      /* bending, straightedge, hold-down */
void ref_stack(ref_table *table);      /* layers, tolerance intervals */
void ref_jobs(ref_table *table);       /* whole jobs, placement, diagnosis */
void ref_process(ref_table *table);    /* charts, capability, one-way analysis, lines */

#endif
