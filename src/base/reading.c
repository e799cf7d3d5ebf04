#include "base/reading.h"

#include <string.h>

static pp_status keep_text(const char *text, pp_arena *arena, const char **kept, pp_error *error)
{
    *kept = text ? pp_arena_text(arena, text, strlen(text)) : NULL;
    return *kept || !text ? PP_OK : pp_fail_memory(error);
}

static pp_status keep_texts(size_t count, const char *const *texts, pp_arena *arena,
                            const char *const **kept, pp_error *error)
{
    const char **list;
    PP_TAKE(list, arena, count);
    for (size_t i = 0; i < count; i++) PP_TRY(keep_text(texts[i], arena, &list[i], error));
    *kept = list;
    return PP_OK;
}

pp_status pp_reading_keep(const pp_table_reading *reading, pp_arena *arena,
                          const pp_table_reading **kept, pp_error *error)
{
    pp_table_reading *copy;
    pp_column_used *used;
    *kept = NULL;
    if (!reading) return PP_OK;
    PP_TAKE(copy, arena, 1);
    PP_TAKE(used, arena, reading->used_count);
    *copy = *reading;
    PP_TRY(keep_text(reading->what, arena, &copy->what, error));
    for (size_t i = 0; i < reading->used_count; i++) {
        used[i] = reading->used[i];
        PP_TRY(keep_text(reading->used[i].column, arena, &used[i].column, error));
        PP_TRY(keep_text(reading->used[i].header, arena, &used[i].header, error));
    }
    copy->used = used;
    PP_TRY(keep_texts(reading->ignored_count, reading->ignored, arena, &copy->ignored, error));
    for (size_t i = 0; i < reading->commented_count && i < PP_COMMENTED_MAX; i++)
        PP_TRY(keep_text(reading->commented[i], arena, &copy->commented[i], error));
    *kept = copy;
    return PP_OK;
}
