/* The cases of data/reference/placement, solved. */
#ifndef PP_TESTS_PLACEMENT_CASE_H
#define PP_TESTS_PLACEMENT_CASE_H

#include "support/json.h"
#include "support/table.h"
#include "zone/smallest.h"

/* A case: read by placement_read, solved, freed by placement_release. */
typedef struct placement_case {
    test_table table;
    double *column[5]; /* x, y, nominal x, nominal y, radial bonus */
    json_t *whole;
    pp_arena scratch;
    pp_smallest_zone zone;
} placement_case;

static inline void placement_solve(const char *name, placement_case *c)
{
    static const char *const names[5] = {"x", "y", "nominal_x", "nominal_y", "bonus"};
    char file[512];
    pp_error error = {0};
    *c = (placement_case){0};
    snprintf(file, sizeof file, "data/reference/placement/%s.csv", name);
    c->table = table_read(file);
    for (int k = 0; k < 5; k++) c->column[k] = table_column(&c->table, names[k]);
    for (size_t i = 0; i < c->table.rows; i++) c->column[4][i] /= 2;
    pp_zone_problem problem = {c->table.rows, c->column[0], c->column[1],
                               c->column[2],  c->column[3], c->column[4]};
    assert_ok(pp_smallest_zone_solve(&problem, 2, &c->scratch, &c->zone, &error), &error);
    snprintf(file, sizeof file, "%s/data/reference/placement/%s.json", PP_SOURCE_DIR, name);
    c->whole = json_load_file(file, 0, NULL);
    assert_non_null(c->whole);
}

static inline void placement_release(placement_case *c)
{
    json_decref(c->whole);
    for (int k = 0; k < 5; k++) free(c->column[k]);
    table_free(&c->table);
    pp_arena_free(&c->scratch);
}

#endif
