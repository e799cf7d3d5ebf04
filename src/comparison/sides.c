#include "comparison/sides.h"

#include <jansson.h>
#include <math.h>

#include "answer/machine_names.h"
#include "answer/paths.h"
#include "history/report_table.h"

/* ---- of a folder ---- */

enum {
    C_HOLE,
    C_FACE,
    C_POSITION_CLASS,
    C_DIAMETER_CLASS,
    C_POSITION,
    C_DIAMETER_MIN,
    C_DIAMETER_MAX,
    C_NOMINAL_X,
    C_NOMINAL_Y,
    C_POSITION_U,
    C_HOLE_COLUMNS
};
enum { C_A, C_B, C_PAIR_FACE, C_PAIR_CLASS, C_LIGAMENT, C_PAIR_COLUMNS };
enum { C_MAP_X, C_MAP_Y, C_MAP_HEIGHT, C_MAP_COLUMNS };

#define NUMBER(of)                                                                                 \
    {                                                                                              \
        .names = {of}, .type = PP_CSV_NUMBER, .optional = true                                     \
    }
#define WORD(of)                                                                                   \
    {                                                                                              \
        .names = {of}, .type = PP_CSV_TEXT, .optional = true                                       \
    }

static const pp_csv_column HOLES[C_HOLE_COLUMNS] = {
    [C_HOLE] = WORD("hole"),
    [C_FACE] = WORD("face"),
    [C_POSITION_CLASS] = WORD("position_class"),
    [C_DIAMETER_CLASS] = WORD("diameter_class"),
    [C_POSITION] = NUMBER("position"),
    [C_DIAMETER_MIN] = NUMBER("diameter_min"),
    [C_DIAMETER_MAX] = NUMBER("diameter_max"),
    [C_NOMINAL_X] = NUMBER("nominal_x"),
    [C_NOMINAL_Y] = NUMBER("nominal_y"),
    [C_POSITION_U] = NUMBER("u_position"),
};
static const pp_csv_column PAIRS[C_PAIR_COLUMNS] = {
    [C_A] = WORD("hole_a"),
    [C_B] = WORD("hole_b"),
    [C_PAIR_FACE] = WORD("face"),
    [C_PAIR_CLASS] = WORD("class"),
    [C_LIGAMENT] = NUMBER("ligament"),
};
static const pp_csv_column PLACES[C_MAP_COLUMNS] = {
    [C_MAP_X] = NUMBER("x"),
    [C_MAP_Y] = NUMBER("y"),
    [C_MAP_HEIGHT] = NUMBER("height"),
};

typedef struct table_kind {
    const char *file;
    const pp_csv_column *columns;
    size_t count, needed; /* the columns behind `needed` came with later versions */
} table_kind;

static const table_kind HOLES_TABLE = {"holes.csv", HOLES, C_HOLE_COLUMNS, C_NOMINAL_X};
static const table_kind PAIRS_TABLE = {"ligaments.csv", PAIRS, C_PAIR_COLUMNS, C_PAIR_COLUMNS};
static const table_kind PLACES_TABLE = {"map.csv", PLACES, C_MAP_COLUMNS, C_MAP_COLUMNS};

/* A table that is not there has no rows. */
static pp_status read_table(const char *folder, const table_kind *kind, int threads,
                            pp_memory *memory, pp_csv_table *table, pp_error *error)
{
    bool there;
    *table = (pp_csv_table){0};
    PP_TRY(pp_report_table_read(
        &(pp_report_table_request){folder, kind->file, kind->columns, kind->count, threads}, memory,
        &there, table, error));
    for (size_t c = 0; there && c < kind->needed; c++) {
        const pp_csv_values *v = &table->column[c];
        if (!v->text && !v->number)
            return pp_fail_at(error, PP_EINPUT, pp_path_join(folder, kind->file, &memory->keep), 0,
                              0, "has no column %s; inspect the plate again",
                              kind->columns[c].names[0]);
    }
    return PP_OK;
}

static double at(const pp_csv_table *t, int column, size_t row)
{
    return t->column[column].number ? t->column[column].number[row] : NAN;
}

static pp_status read_holes(const char *folder, int threads, pp_memory *memory, pp_side *side,
                            pp_error *error)
{
    pp_csv_table t;
    pp_side_hole *holes;
    PP_TRY(read_table(folder, &HOLES_TABLE, threads, memory, &t, error));
    PP_TAKE(holes, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++)
        holes[i] = (pp_side_hole){.hole = t.column[C_HOLE].text[i],
                                  .face = t.column[C_FACE].text[i],
                                  .position_class = t.column[C_POSITION_CLASS].text[i],
                                  .diameter_class = t.column[C_DIAMETER_CLASS].text[i],
                                  .x = at(&t, C_NOMINAL_X, i),
                                  .y = at(&t, C_NOMINAL_Y, i),
                                  .position = at(&t, C_POSITION, i),
                                  .u_position = at(&t, C_POSITION_U, i),
                                  .diameter_min = at(&t, C_DIAMETER_MIN, i),
                                  .diameter_max = at(&t, C_DIAMETER_MAX, i)};
    side->hole_count = t.rows, side->holes = holes;
    return PP_OK;
}

static pp_status read_pairs(const char *folder, int threads, pp_memory *memory, pp_side *side,
                            pp_error *error)
{
    pp_csv_table t;
    pp_side_pair *pairs;
    PP_TRY(read_table(folder, &PAIRS_TABLE, threads, memory, &t, error));
    PP_TAKE(pairs, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++)
        pairs[i] = (pp_side_pair){t.column[C_A].text[i], t.column[C_B].text[i],
                                  t.column[C_PAIR_FACE].text[i], t.column[C_PAIR_CLASS].text[i],
                                  t.column[C_LIGAMENT].number[i]};
    side->pair_count = t.rows, side->pairs = pairs;
    return PP_OK;
}

static double number_in(const json_t *root, const char *section, const char *part, const char *key)
{
    const json_t *object = json_object_get(json_object_get(root, section), part);
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

static pp_status read_uncertainties(const char *folder, pp_memory *memory, pp_side *side,
                                    pp_error *error)
{
    const char *path = pp_path_join(folder, "results.json", &memory->keep);
    if (!path) return pp_fail_memory(error);
    json_t *root = json_load_file(path, 0, NULL);
    side->u_diameter = number_in(root, "holes", "diameter", "u");
    side->u_ligament = number_in(root, "holes", "ligament", "u");
    side->u_height = number_in(root, "flatness", "surface", "standard_error");
    json_decref(root);
    return PP_OK;
}

pp_status pp_side_read(const char *folder, int threads, pp_memory *memory, pp_side *side,
                       pp_error *error)
{
    pp_side s = {0};
    pp_csv_table t;
    PP_TRY(read_holes(folder, threads, memory, &s, error));
    PP_TRY(read_pairs(folder, threads, memory, &s, error));
    PP_TRY(read_table(folder, &PLACES_TABLE, threads, memory, &t, error));
    s.place_count = t.rows;
    s.x = t.column[C_MAP_X].number, s.y = t.column[C_MAP_Y].number;
    s.height = t.column[C_MAP_HEIGHT].number;
    PP_TRY(read_uncertainties(folder, memory, &s, error));
    *side = s;
    return PP_OK;
}

/* ---- of results ---- */

static pp_side_hole hole_of(const pp_results *r, size_t row)
{
    const pp_measures *m = r->measures;
    const pp_bore *bore = &m->bores[row];
    const pp_finding *place = pp_finding_of(r->judgement, PP_POSITION, row);
    const pp_finding *diameter = pp_finding_of(r->judgement, PP_DIAMETER, row);
    return (pp_side_hole){
        .hole = pp_bore_name(m, row),
        .face = pp_named_face(bore->face),
        .position_class = place ? pp_verdict_class((pp_verdict)place->verdict) : "",
        .diameter_class = diameter ? pp_class_words(PP_DIAMETER, (pp_class)diameter->class_) : "",
        .x = m->nominal->x[bore->hole],
        .y = m->nominal->y[bore->hole],
        .position = pp_position_of(m, row),
        .u_position = pp_position_error_of(m, row).u,
        .diameter_min = bore->diameter_min,
        .diameter_max = bore->diameter_max};
}

pp_status pp_side_of(const pp_results *r, pp_memory *memory, pp_side *side, pp_error *error)
{
    const pp_measures *m = r->measures;
    pp_side s = {
        .u_diameter = r->job->holes.uncertainty_diameter / 2, .u_ligament = NAN, .u_height = NAN};
    pp_side_hole *holes;
    pp_side_pair *pairs;
    PP_TAKE(holes, &memory->keep, m->extra_first);
    PP_TAKE(pairs, &memory->keep, m->ligament_count);
    for (size_t i = 0; i < m->extra_first; i++) holes[i] = hole_of(r, i);
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_ligament *l = &m->ligaments[i];
        const pp_finding *found = pp_finding_of(r->judgement, PP_LIGAMENT, i);
        pairs[i] = (pp_side_pair){
            m->nominal->name[l->a], m->nominal->name[l->b], pp_named_face(l->face),
            found ? pp_class_words(PP_LIGAMENT, (pp_class)found->class_) : "", l->value};
        s.u_ligament = fmax(s.u_ligament, (double)l->u);
    }
    s.hole_count = m->extra_first, s.holes = holes;
    s.pair_count = m->ligament_count, s.pairs = pairs;
    *side = s;
    return PP_OK;
}
