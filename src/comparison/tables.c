#include "comparison/tables.h"

#include "answer/paths.h"
#include "history/report_table.h"

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
    [C_HOLE_FACE] = WORD("face"),
    [C_POSITION] = NUMBER("position"),
    [C_POSITION_CLASS] = WORD("position_class"),
    [C_POSITION_U] = NUMBER("u_position"),
    [C_DIAMETER_MIN] = NUMBER("diameter_min"),
    [C_DIAMETER_MAX] = NUMBER("diameter_max"),
    [C_DIAMETER_CLASS] = WORD("diameter_class"),
};
static const pp_csv_column PAIRS[C_PAIR_COLUMNS] = {
    [C_A] = WORD("hole_a"),
    [C_B] = WORD("hole_b"),
    [C_PAIR_FACE] = WORD("face"),
    [C_LIGAMENT] = NUMBER("ligament"),
    [C_LIGAMENT_CLASS] = WORD("class"),
};
static const pp_csv_column PLACES[C_MAP_COLUMNS] = {
    [C_MAP_X] = NUMBER("x"),
    [C_MAP_Y] = NUMBER("y"),
    [C_MAP_HEIGHT] = NUMBER("height"),
};

static const struct {
    const char *file;
    const pp_csv_column *columns;
    size_t count;
} TABLES[] = {[PP_TABLE_OF_HOLES] = {"holes.csv", HOLES, C_HOLE_COLUMNS},
              [PP_TABLE_OF_PAIRS] = {"ligaments.csv", PAIRS, C_PAIR_COLUMNS},
              [PP_TABLE_OF_PLACES] = {"map.csv", PLACES, C_MAP_COLUMNS}};

pp_status pp_compared_table_read(const char *folder, pp_compared_table which, int threads,
                                 pp_memory *memory, bool *there, pp_csv_table *table,
                                 pp_error *error)
{
    PP_TRY(pp_report_table_read(folder, TABLES[which].file, TABLES[which].columns,
                                TABLES[which].count, threads, memory, there, table, error));
    if (!*there) return PP_OK;
    for (size_t c = 0; c < TABLES[which].count; c++) {
        bool has = TABLES[which].columns[c].type == PP_CSV_TEXT ? table->column[c].text != NULL
                                                                : table->column[c].number != NULL;
        if (!has && !(which == PP_TABLE_OF_HOLES && c == C_POSITION_U))
            return pp_fail_at(
                error, PP_EINPUT, pp_path_join(folder, TABLES[which].file, &memory->keep), 0, 0,
                "has no column %s; inspect the plate again", TABLES[which].columns[c].names[0]);
    }
    return PP_OK;
}
