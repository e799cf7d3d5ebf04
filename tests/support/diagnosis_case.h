/* The cases of data/reference/diagnosis and diagnosis2: the plate, and what is expected of it. */
#ifndef PP_TESTS_DIAGNOSIS_CASE_H
#define PP_TESTS_DIAGNOSIS_CASE_H

#include "support/json.h"
#include "support/measures.h"
#include "support/table.h"

static inline void diagnosis_file(const char *name, const char *ending, char *file, size_t room)
{
    snprintf(file, room, "data/reference/%s/%s.%s",
             strncmp(name, "diag2", 5) == 0 ? "diagnosis2" : "diagnosis", name, ending);
}

/* Words of the last column of the case's list, one a hole, kept with the plate. */
static inline const char **diagnosis_labels(test_plate *p, const char *name)
{
    char file[256], path[1024], line[512];
    const char **label = pp_arena_take(&p->memory.keep, p->nominal.count, sizeof *label);
    assert_non_null(label);
    diagnosis_file(name, "csv", file, sizeof file);
    snprintf(path, sizeof path, "%s/%s", PP_SOURCE_DIR, file);
    FILE *in = fopen(path, "r");
    assert_non_null(in);
    assert_non_null(fgets(line, sizeof line, in));
    for (size_t i = 0; i < p->nominal.count; i++) {
        assert_non_null(fgets(line, sizeof line, in));
        const char *word = strrchr(line, ',') + 1;
        label[i] = pp_arena_text(&p->memory.keep, word, strcspn(word, "\r\n"));
    }
    fclose(in);
    return label;
}

static inline void diagnosis_plate(test_plate *p, const char *name)
{
    char file[256];
    diagnosis_file(name, "csv", file, sizeof file);
    test_table t = table_read(file);
    double *nx = table_column(&t, "nominal_x"), *ny = table_column(&t, "nominal_y");
    double *x = table_column(&t, "x"), *y = table_column(&t, "y");
    double *order = table_column(&t, "drilled"), *diameter = table_column(&t, "diameter");
    test_plate_begin(p, t.rows, nx, ny, t.rows);
    for (size_t i = 0; i < t.rows; i++)
        test_plate_measure(p, (uint32_t)i, PP_ENTRY, x[i], y[i], diameter[i], order[i]);
    free(nx), free(ny), free(x), free(y), free(order), free(diameter);
    table_free(&t);
}

static inline json_t *diagnosis_expected(const char *name)
{
    char below[256], file[1024];
    diagnosis_file(name, "json", below, sizeof below);
    snprintf(file, sizeof file, "%s/%s", PP_SOURCE_DIR, below);
    json_t *whole = json_load_file(file, 0, NULL);
    if (!whole) { /* NaN is no JSON: Python writes it all the same */
        FILE *in = fopen(file, "r");
        char text[8192];
        size_t length = fread(text, 1, sizeof text - 1, in);
        fclose(in);
        text[length] = '\0';
        for (char *at; (at = strstr(text, "NaN"));) memcpy(at, "0.0", 3);
        whole = json_loads(text, 0, NULL);
    }
    assert_non_null(whole);
    return whole;
}

#endif
