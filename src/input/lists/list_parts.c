#include "input/lists/list_parts.h"

pp_status pp_check_note(pp_row_check *check, size_t row, size_t column, const char *message,
                        pp_error *error)
{
    return pp_csv_note(check->request, check->request->note, row, column, check->memory, message,
                       &check->full, error);
}

pp_status pp_check_end(const pp_row_check *check, pp_error *error)
{
    return pp_csv_refuse(check->request, check->request->note, error);
}

pp_status pp_need_rows(const pp_csv_request *request, const pp_csv_table *table, pp_error *error)
{
    if (table->rows) return PP_OK;
    return pp_fail_at(
        error, PP_EINPUT, request->file->path, 0, 0,
        table->reading->comments
            ? "%s has no rows (lines that begin with # are comments); add the rows or "
              "leave the file out of the job"
            : "%s has no rows; add them or leave the file out of the job",
        request->what);
}

bool pp_is_listed(const void *names, const char *text)
{
    return pp_names_find(names, text) != PP_NAME_NONE;
}

/* entry, exit and the words of face_names. */
pp_status pp_face_column_make(const pp_job *job, pp_arena *scratch, pp_csv_column *face,
                              pp_error *error)
{
    size_t count = job->holes.face_name_count;
    pp_csv_word *words;
    PP_TAKE(words, scratch, count + 2);
    words[0] = (pp_csv_word){"entry", PP_ENTRY};
    words[1] = (pp_csv_word){"exit", PP_EXIT};
    for (size_t i = 0; i < count; i++)
        words[i + 2] = (pp_csv_word){job->holes.face_names[i].word,
                                     job->holes.face_names[i].exit ? PP_EXIT : PP_ENTRY};
    *face = (pp_csv_column){.names = {"face"},
                            .type = PP_CSV_WORD,
                            .optional = true,
                            .empty = PP_ENTRY,
                            .words = words,
                            .word_count = count + 2,
                            .remedy = ", or explain the word with face_names in [holes]"};
    return PP_OK;
}
