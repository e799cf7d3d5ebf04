/* Reads the reference tables: comma-separated numbers under a header row of names. */
#ifndef PP_TESTS_TABLE_H
#define PP_TESTS_TABLE_H

#include <stdlib.h>

#include "support/check.h"

enum { TABLE_COLUMNS_MAX = 16 };

typedef struct test_table {
    size_t rows, columns;
    char header[512];
    size_t name[TABLE_COLUMNS_MAX]; /* where each begins in `header` */
    double *value;                  /* [rows * columns], row by row */
} test_table;

/* `file` below the source folder; fails the test if it can't be read. */
static inline test_table table_read(const char *file)
{
    char path[1024], line[1024];
    snprintf(path, sizeof path, "%s/%s", PP_SOURCE_DIR, file);
    FILE *in = fopen(path, "r");
    if (!in) print_error("%s: cannot be opened\n", path);
    assert_non_null(in);
    test_table t = {0};
    assert_non_null(fgets(t.header, sizeof t.header, in));
    for (char *at = strtok(t.header, ",\r\n"); at; at = strtok(NULL, ",\r\n"))
        t.name[t.columns++] = (size_t)(at - t.header);
    size_t room = 0;
    while (fgets(line, sizeof line, in)) {
        if (t.rows == room) {
            room = room ? 2 * room : 256;
            t.value = realloc(t.value, room * t.columns * sizeof *t.value);
            assert_non_null(t.value);
        }
        char *at = line;
        for (size_t c = 0; c < t.columns; c++, at += *at == ',')
            t.value[t.rows * t.columns + c] = strtod(at, &at);
        t.rows++;
    }
    fclose(in);
    return t;
}

/* A column by name, into a new array[rows]. */
static inline double *table_column(const test_table *t, const char *name)
{
    double *column = malloc((t->rows + 1) * sizeof *column);
    assert_non_null(column);
    for (size_t c = 0; c < t->columns; c++)
        if (strcmp(t->header + t->name[c], name) == 0) {
            for (size_t i = 0; i < t->rows; i++) column[i] = t->value[i * t->columns + c];
            return column;
        }
    print_error("no column %s\n", name);
    fail();
    return NULL;
}

static inline void table_free(test_table *t) { free(t->value); }

#endif
