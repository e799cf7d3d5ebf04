/* Rule files of both kinds, and look-ups in what was read. */
#include "fuzz/memory_file.h"

#include <math.h>
#include <string.h>

#include "rules/flatness_rules.h"
#include "rules/hole_rules.h"

static void look_up_holes(const pp_hole_rules *rules)
{
    for (size_t i = 0; i < rules->table_count; i++) {
        const pp_rule_table *t = &rules->tables[i];
        for (double tube = 6.35; tube < 60; tube += 6.35) {
            const pp_rule_row *row = pp_hole_rules_row(t, tube, 900);
            FUZZ_CHECK(!row || (row >= t->rows && row < t->rows + t->row_count));
            row = pp_hole_rules_ligament(t, tube, row, 1.25 * tube);
            FUZZ_CHECK(!row || (row >= t->rows && row < t->rows + t->row_count));
        }
    }
}

static void look_up_flatness(const pp_flatness_rules *rules, pp_memory *memory)
{
    for (size_t i = 0; i < rules->table_count; i++)
        for (double size = 10; size < 1e4; size *= 2.3) {
            double value = NAN;
            const char *source = NULL;
            pp_error error = {0};
            pp_status status = pp_flatness_rules_limit(rules, &rules->tables[i],
                                                       &(pp_rolled_size){size / 40, size, 2 * size},
                                                       memory, &value, &source, &error);
            FUZZ_CHECK(status == PP_OK ? value > 0 && source : *error.message != '\0');
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int handle = memory_file(data, size, path);
    pp_memory memory = {0};
    pp_error error = {0};
    pp_hole_rules holes;
    pp_flatness_rules flatness;
    pp_status status = pp_hole_rules_read(path, &(pp_rule_place){0}, &memory, &holes, &error);
    if (status == PP_OK)
        look_up_holes(&holes);
    else {
        FUZZ_CHECK(status == PP_EINPUT && *error.message);
        if (pp_flatness_rules_read(path, &(pp_rule_place){0}, &memory, &flatness, &error) == PP_OK)
            look_up_flatness(&flatness, &memory);
    }
    pp_memory_free(&memory);
    close(handle);
    return 0;
}
