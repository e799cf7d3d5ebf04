/* Inside the reader of hole lists: what its pieces share. Nothing else includes this. */
#ifndef PP_INPUT_LISTS_LIST_PARTS_H
#define PP_INPUT_LISTS_LIST_PARTS_H

#include "input/csv/csv.h"
#include "input/lists/holelist.h"
#include "input/lists/survey.h"

#define COUNT_OF(array) (sizeof(array) / sizeof(array)[0])

/* Checks of rows already read: problems are noted, up to PP_PROBLEMS_MAX, and told together. */
typedef struct pp_row_check {
    const pp_csv_request *request;
    pp_memory *memory;
    bool full; /* enough was found */
} pp_row_check;

/* Note what is wrong with a cell. errors: as pp_csv_note. */
pp_status pp_check_note(pp_row_check *check, size_t row, size_t column, const char *message,
                        pp_error *error);
/* PP_EINPUT with everything noted; PP_OK where nothing was. */
pp_status pp_check_end(const pp_row_check *check, pp_error *error);

/* A table without a row is refused, naming the file. errors: PP_EINPUT: it has none */
pp_status pp_need_rows(const pp_csv_request *request, const pp_csv_table *table, pp_error *error);

/* The file as the job names it. */
static inline const char *pp_file_written(const pp_job_file *file)
{
    return file->written ? file->written : file->path;
}

/* The column `face`: entry, exit and the words of face_names. errors: PP_ENOMEM */
pp_status pp_face_column_make(const pp_job *job, pp_arena *scratch, pp_csv_column *face,
                              pp_error *error);

/* For pp_csv_request.is_name: a name of the table (pp_names). */
bool pp_is_listed(const void *names, const char *text);

/* As the functions of holelist.h and survey.h without `_noted`, and note how the file was read and
 * what is wrong with it; `note` starts out empty. `names`: those of the nominal list, or NULL.
 * errors   PP_EINPUT, PP_EIO as those functions; PP_ENOMEM */
pp_status pp_nominal_read_noted(const pp_job *job, int threads, pp_memory *memory,
                                pp_table_note *note, pp_nominal *nominal, pp_error *error);
pp_status pp_measured_read_noted(const pp_job *job, const pp_job_file *file,
                                 const pp_nominal *nominal, int threads, pp_memory *memory,
                                 pp_table_note *note, pp_readings *readings, pp_error *error);
pp_status pp_ligaments_read_noted(const pp_job *job, const pp_names *names, int threads,
                                  pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                                  pp_error *error);
pp_status pp_checks_read_noted(const pp_job *job, const pp_names *names, int threads,
                               pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                               pp_error *error);
pp_status pp_sample_read_noted(const pp_job *job, const pp_names *names, int threads,
                               pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                               pp_error *error);
pp_status pp_datum_read_noted(const pp_job *job, int threads, pp_memory *memory,
                              pp_table_note *note, pp_hole_files *files, pp_error *error);

/* As pp_places_read; what is wrong with single rows goes into `note` (NULL: the first ends it).
 * errors   PP_EINPUT, PP_EIO as pp_places_read; PP_ENOMEM */
pp_status pp_places_read_noted(const pp_job *job, const pp_job_file *file, pp_memory *memory,
                               pp_table_note *note, pp_place_list *places, pp_error *error);
/* As pp_survey_read; what is wrong with single rows goes into `note` (NULL: the first ends it).
 * errors   PP_EINPUT, PP_EIO as pp_survey_read; PP_ENOMEM */
pp_status pp_survey_read_noted(const pp_job *job, const pp_job_file *file, int threads,
                               pp_memory *memory, pp_table_note *note, pp_survey *survey,
                               pp_error *error);

/* What the columns that nobody asked for may hide (ignored.c): a face or a round in which repeat
 * readings of one hole differ. Errors are noted; what only needs saying is remarked in the note.
 * *averaged: repeats differ in a column of small whole numbers, and may be no repeats at all.
 * errors   PP_EINPUT, PP_EIO as pp_csv_read, the file being read again; PP_ENOMEM */
pp_status pp_ignored_check(const pp_job *job, const pp_csv_request *request,
                           const pp_csv_table *table, const pp_readings *readings, bool has_face,
                           pp_memory *memory, bool *averaged, pp_error *error);

/* The column is named in [holes] ignore_columns. */
bool pp_is_to_be_ignored(const pp_job *job, const char *header);

/* Names of readings that no nominal hole has, and one has all but for case, zeros, accents or
 * blanks (near_names.c): PP_EINPUT that shows three of them. `column`: of the names. */
pp_status pp_near_names_check(const pp_csv_request *request, size_t column,
                              const pp_nominal *nominal, const pp_readings *readings,
                              pp_memory *memory, pp_error *error);

#endif
