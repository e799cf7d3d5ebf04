#include "history/holes.h"

#include <math.h>
#include <string.h>

#include "base/names.h"
#include "history/report_table.h"

enum {
    H_HOLE,
    H_FACE,
    H_X,
    H_Y,
    H_NOMINAL_X,
    H_NOMINAL_Y,
    H_DX,
    H_DY,
    H_DIAMETER_MIN,
    H_DIAMETER_MAX,
    H_ORDER,
    H_COMMANDED_X,
    H_COMMANDED_Y,
    H_COLUMNS
};

static const pp_csv_word FACES[] = {{"entry", 0}, {"exit", 1}};

#define REAL(of)                                                                                   \
    {                                                                                              \
        .names = {of}, .type = PP_CSV_NUMBER, .optional = true                                     \
    }

static const pp_csv_column COLUMNS[H_COLUMNS] = {
    [H_HOLE] = {.names = {"hole"}, .type = PP_CSV_TEXT, .needed = true},
    [H_FACE] =
        {.names = {"face"}, .type = PP_CSV_WORD, .needed = true, .words = FACES, .word_count = 2},
    [H_X] = {.names = {"x"}, .type = PP_CSV_NUMBER, .needed = true},
    [H_Y] = {.names = {"y"}, .type = PP_CSV_NUMBER, .needed = true},
    [H_NOMINAL_X] = REAL("nominal_x"),
    [H_NOMINAL_Y] = REAL("nominal_y"),
    [H_DX] = REAL("dx"),
    [H_DY] = REAL("dy"),
    [H_DIAMETER_MIN] = REAL("diameter_min"),
    [H_DIAMETER_MAX] = REAL("diameter_max"),
    [H_ORDER] = REAL("order"),
    [H_COMMANDED_X] = REAL("commanded_x"),
    [H_COMMANDED_Y] = REAL("commanded_y"),
};

/* ---- moments ---- */

/* Names of holes that do not count: of another kind, or plugged. */
static pp_status list_left_out(const json_t *root, pp_arena *keep, pp_kept_report *k,
                               pp_error *error)
{
    const json_t *holes = json_object_get(root, "holes");
    const json_t *lists[] = {json_object_get(holes, "others"), json_object_get(holes, "plugged")};
    const char **name;
    size_t n = 0;
    PP_TAKE(name, keep, json_array_size(lists[0]) + json_array_size(lists[1]));
    for (int which = 0; which < 2; which++)
        for (size_t i = 0; i < json_array_size(lists[which]); i++) {
            const json_t *entry = json_array_get(lists[which], i);
            const char *text =
                json_string_value(which == 0 ? json_object_get(entry, "hole") : entry);
            if (!text) continue;
            name[n] = pp_arena_text(keep, text, strlen(text));
            if (!name[n++]) return pp_fail_memory(error);
        }
    k->left_out = name, k->left_out_count = n;
    return PP_OK;
}

/* A name as results.json has it: holes.csv puts an apostrophe before what would run as a formula.
 */
static const char *plain_name(const char *name)
{
    return name[0] == '\'' && name[1] && strchr("=+-@\t\r", name[1]) ? name + 1 : name;
}

typedef struct sums {
    double n, x, y, xx, yy, xy, m, d, dd;
} sums;

/* About the first pass's means where there is one: two passes lose no digits. */
static void add_row(sums *s, const sums *mean, double dx, double dy, double diameter)
{
    if (!isnan(dx) && !isnan(dy)) {
        double x = dx - (mean ? mean->x : 0), y = dy - (mean ? mean->y : 0);
        s->n++, s->x += x, s->y += y, s->xx += x * x, s->yy += y * y, s->xy += x * y;
    }
    if (!isnan(diameter)) {
        double d = diameter - (mean ? mean->d : 0);
        s->m++, s->d += d, s->dd += d * d;
    }
}

static double at(const pp_csv_table *t, int column, size_t row)
{
    return t->column[column].number ? t->column[column].number[row] : NAN;
}

static void one_pass(const pp_csv_table *t, const bool *left_out, int face, const sums *mean,
                     sums *s)
{
    *s = (sums){0};
    for (size_t i = 0; i < t->rows; i++) {
        if (left_out[i] || t->column[H_FACE].code[i] != face) continue;
        double low = at(t, H_DIAMETER_MIN, i), high = at(t, H_DIAMETER_MAX, i);
        add_row(s, mean, at(t, H_DX, i), at(t, H_DY, i), 0.5 * (low + high));
    }
}

static void take_moments(const pp_csv_table *t, const bool *left_out, int face, pp_kept_report *k)
{
    sums first, second;
    one_pass(t, left_out, face, NULL, &first);
    sums mean = {.x = first.n > 0 ? first.x / first.n : 0,
                 .y = first.n > 0 ? first.y / first.n : 0,
                 .d = first.m > 0 ? first.d / first.m : 0};
    one_pass(t, left_out, face, &mean, &second);
    double n1 = first.n - 1;
    k->face_given[face] = first.n > 0 || first.m > 0;
    k->face[face] =
        (pp_plate_moments){.holes = first.n,
                           .mean_dx = first.n > 0 ? mean.x : NAN,
                           .mean_dy = first.n > 0 ? mean.y : NAN,
                           .var_dx = n1 > 0 ? second.xx / n1 : NAN,
                           .var_dy = n1 > 0 ? second.yy / n1 : NAN,
                           .cov_dxdy = n1 > 0 ? second.xy / n1 : NAN,
                           .diameters = first.m,
                           .mean_diameter = first.m > 0 ? mean.d : NAN,
                           .var_diameter = first.m > 1 ? second.dd / (first.m - 1) : NAN};
}

static pp_status mark_left_out(const pp_kept_report *k, const pp_csv_table *t, pp_arena *scratch,
                               bool **left_out, pp_error *error)
{
    pp_names names;
    PP_TRY(pp_names_build(k->left_out, k->left_out_count, scratch, &names, error));
    PP_TAKE_ZERO(*left_out, scratch, t->rows);
    for (size_t i = 0; names.count && i < t->rows; i++)
        (*left_out)[i] =
            pp_names_find(&names, plain_name(t->column[H_HOLE].text[i])) != PP_NAME_NONE;
    return PP_OK;
}

static pp_status take_faces(const char *folder, int threads, pp_memory *own, pp_kept_report *k,
                            pp_error *error)
{
    pp_csv_table t;
    bool there, *left_out;
    PP_TRY(pp_report_table_read(
        &(pp_report_table_request){folder, "holes.csv", COLUMNS, H_COLUMNS, threads}, own, &there,
        &t, error));
    if (!there || t.rows == 0) return PP_OK;
    PP_TRY(mark_left_out(k, &t, &own->scratch, &left_out, error));
    for (int face = 0; face < 2; face++) take_moments(&t, left_out, face, k);
    return PP_OK;
}

pp_status pp_kept_holes_take(const char *folder, const json_t *root, int threads, pp_memory *memory,
                             pp_kept_report *report, pp_error *error)
{
    pp_memory own = {0}; /* nothing of the table stays */
    PP_TRY(list_left_out(root, &memory->keep, report, error));
    pp_status status = take_faces(folder, threads, &own, report, error);
    pp_memory_free(&own);
    return status;
}

/* ---- hole by hole ---- */

typedef struct hole_columns {
    const char **name;
    double *value[7];
} hole_columns;

static pp_status read_holes(const pp_kept_report *report, int threads, pp_memory *memory,
                            pp_report_holes *holes, pp_error *error)
{
    static const int WANTED[7] = {H_X,           H_Y,           H_NOMINAL_X, H_NOMINAL_Y,
                                  H_COMMANDED_X, H_COMMANDED_Y, H_ORDER};
    pp_csv_table t;
    bool there, *left_out;
    hole_columns c = {0};
    size_t n = 0;
    PP_TRY(pp_report_table_read(
        &(pp_report_table_request){report->folder, "holes.csv", COLUMNS, H_COLUMNS, threads},
        memory, &there, &t, error));
    if (!there)
        return pp_fail_at(error, PP_EIO, report->folder, 0, 0,
                          "has no holes.csv; name a report folder of a plate whose holes were "
                          "measured");
    PP_TRY(mark_left_out(report, &t, &memory->scratch, &left_out, error));
    PP_TAKE(c.name, &memory->keep, t.rows);
    for (int k = 0; k < 7; k++) PP_TAKE(c.value[k], &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++) {
        bool none = left_out[i] || isnan(at(&t, H_NOMINAL_X, i));
        if (t.column[H_FACE].code[i] != 0 || none) continue;
        c.name[n] = plain_name(t.column[H_HOLE].text[i]);
        for (int k = 0; k < 7; k++) c.value[k][n] = at(&t, WANTED[k], i);
        n++;
    }
    *holes = (pp_report_holes){n,          c.name,     c.value[0], c.value[1], c.value[2],
                               c.value[3], c.value[4], c.value[5], c.value[6]};
    return PP_OK;
}

pp_status pp_report_holes_read(const pp_kept_report *report, int threads, pp_memory *memory,
                               pp_report_holes *holes, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = read_holes(report, threads, memory, holes, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}
