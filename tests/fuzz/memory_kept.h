/* Memory that stays between runs of a target: mapping it anew would take most of the time. */
#ifndef PP_TESTS_FUZZ_MEMORY_KEPT_H
#define PP_TESTS_FUZZ_MEMORY_KEPT_H

#include "base/memory.h"

typedef struct memory_kept {
    pp_memory memory;
    pp_mark keep, scratch;
    int begun;
} memory_kept;

static inline pp_memory *memory_begin(memory_kept *kept)
{
    if (!kept->begun) {
        pp_arena_take(&kept->memory.keep, 1, 1);
        pp_arena_take(&kept->memory.scratch, 1, 1);
        kept->keep = pp_arena_mark(&kept->memory.keep);
        kept->scratch = pp_arena_mark(&kept->memory.scratch);
        kept->begun = 1;
    }
    pp_arena_release(&kept->memory.keep, kept->keep);
    pp_arena_release(&kept->memory.scratch, kept->scratch);
    return &kept->memory;
}

#endif
