/* What columns that nobody asked for may hide.
 *
 * Readings of one hole, face and round are repeats and are averaged. Where such rows differ in a
 * column of few words that was ignored, that column may be the face, the round, or the plate: an
 * average over it hides what each row says. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "input/lists/list_parts.h"

enum { WORDS_LEAST = 2, WORDS_MOST = 6 };

typedef enum content { NOTHING, WORDS, WHOLE_NUMBERS, OTHER } content;

/* The different texts of a column, as far as they are few. */
typedef struct palette {
    size_t count; /* WORDS_MOST + 1: more */
    const char *word[WORDS_MOST];
    content holds;
} palette;

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* 2026-11-20, 20.11.26, 14:05, 2026-11-20T14:05:30 */
static bool is_time(const char *text)
{
    size_t digits = 0, marks = 0;
    for (; *text; text++) {
        if (is_digit(*text))
            digits++;
        else if (strchr(":-/.", *text))
            marks++;
        else if (!strchr(" TZ+", *text))
            return false;
    }
    return digits >= 3 && marks > 0;
}

static content content_of(const char *text)
{
    enum { LARGEST = 99 };
    double value;
    size_t length = strlen(text);
    if (pp_number_read(text, length, '.', &value) || pp_number_read(text, length, ',', &value))
        return value >= 0 && value <= LARGEST && value == (double)(int)value ? WHOLE_NUMBERS
                                                                             : OTHER;
    return is_time(text) ? OTHER : WORDS;
}

static void add(palette *p, const char *text)
{
    for (size_t i = 0; i < p->count; i++)
        if (strcmp(p->word[i], text) == 0) return;
    if (p->count == WORDS_MOST) {
        p->count++;
        return;
    }
    p->word[p->count++] = text;
    content holds = *text ? content_of(text) : NOTHING;
    if (holds == NOTHING) return;
    p->holds = p->holds == NOTHING || p->holds == holds ? holds : p->holds == OTHER ? OTHER : WORDS;
}

static palette look(const char *const *text, size_t rows)
{
    palette p = {0};
    for (size_t i = 0; i < rows && p.count <= WORDS_MOST; i++)
        if (i == 0 || strcmp(text[i], text[i - 1]) != 0) add(&p, text[i]);
    return p;
}

static bool is_few(const palette *p) { return p->count >= WORDS_LEAST && p->count <= WORDS_MOST; }

/* ---- faces ---- */

static bool is_face(const char *text)
{
    size_t length = strlen(text);
    return pp_same_word(text, length, "entry") || pp_same_word(text, length, "exit");
}

static bool is_face_name(const pp_job *job, const char *text)
{
    for (size_t i = 0; i < job->holes.face_name_count; i++)
        if (pp_same_word(text, strlen(text), job->holes.face_names[i].word)) return true;
    return false;
}

/* One of the job's own words, or nothing but entry and exit; NULL: no faces here. */
static const char *face_word(const pp_job *job, const char *const *text, size_t rows)
{
    const char *word = NULL;
    bool faces = true;
    for (size_t i = 0; i < rows; i++) {
        if (!*text[i]) continue;
        if (is_face_name(job, text[i])) return text[i];
        faces = faces && is_face(text[i]);
        if (!word) word = text[i];
    }
    return faces ? word : NULL;
}

/* ---- repeats ---- */

typedef struct repeat {
    uint32_t hole; /* the first row of that name */
    uint32_t round;
    uint32_t row;
    uint8_t face;
} repeat;

static int compare(const void *left, const void *right)
{
    const repeat *a = left, *b = right;
    if (a->hole != b->hole) return a->hole < b->hole ? -1 : 1;
    if (a->face != b->face) return a->face < b->face ? -1 : 1;
    if (a->round != b->round) return a->round < b->round ? -1 : 1;
    return a->row < b->row ? -1 : a->row > b->row;
}

static bool same_bore(const repeat *a, const repeat *b)
{
    return a->hole == b->hole && a->face == b->face && a->round == b->round;
}

/* The named rows, those of one hole, face and round side by side. */
static pp_status sort_rows(const pp_readings *r, pp_arena *scratch, repeat **list, size_t *count,
                           pp_error *error)
{
    pp_names table;
    uint32_t *first;
    *count = 0;
    *list = NULL;
    if (!r->name) return PP_OK;
    PP_TAKE(*list, scratch, r->count);
    PP_TAKE(first, scratch, r->count);
    PP_TRY(pp_names_build(r->name, r->count, scratch, &table, error));
    if (table.repeat == PP_NAME_NONE) return PP_OK;
    pp_names_find_many(&table, r->name, r->count, first);
    for (size_t i = 0; i < r->count; i++)
        if (r->name[i][0])
            (*list)[(*count)++] = (repeat){first[i], r->round[i], (uint32_t)i, r->face[i]};
    qsort(*list, *count, sizeof **list, compare);
    return PP_OK;
}

/* The first row whose text differs from that of the repeat before it; `none` if all agree. */
static size_t find_difference(const repeat *list, size_t count, const char *const *text,
                              size_t none, size_t *other)
{
    for (size_t i = 1; i < count; i++) {
        if (!same_bore(&list[i - 1], &list[i])) continue;
        if (strcmp(text[list[i - 1].row], text[list[i].row]) == 0) continue;
        *other = list[i - 1].row;
        return list[i].row;
    }
    return none;
}

/* ---- what is said ---- */

typedef struct ignored {
    const pp_job *job;
    const pp_csv_request *request;
    const pp_csv_table *table;
    const pp_readings *readings;
    pp_memory *memory;
    const repeat *repeats;
    size_t repeat_count;
    bool faced; /* some ignored column holds faces */
    bool averaged;
} ignored;

/* A problem of a spare column's cell: its place is that of the row, and the column's own number. */
static pp_status note_cell(const ignored *g, size_t row, size_t cell, const char *text,
                           pp_error *error)
{
    pp_error problem = {0};
    long unused;
    PP_TRY(pp_csv_find(g->request, row, 0, g->memory, &problem.line, &unused, error));
    pp_table_note *note = g->request->note;
    if (note->problem_count == PP_PROBLEMS_MAX) return PP_OK;
    const char *kept = pp_arena_text(&g->memory->keep, text, strlen(text));
    if (!kept) return pp_fail_memory(error);
    note->problems[note->problem_count++] = (pp_problem){problem.line, (long)cell, kept};
    return PP_OK;
}

static pp_status remark(const ignored *g, const char *text, pp_error *error)
{
    pp_table_note *note = g->request->note;
    if (note->remark_count == PP_REMARKS_MAX) return PP_OK;
    const char *kept = pp_arena_text(&g->memory->keep, text, strlen(text));
    if (!kept) return pp_fail_memory(error);
    note->remarks[note->remark_count++] = kept;
    return PP_OK;
}

bool pp_is_to_be_ignored(const pp_job *job, const char *header)
{
    for (size_t i = 0; i < job->holes.ignore_columns.count; i++)
        if (pp_same_word(header, strlen(header), job->holes.ignore_columns.words[i])) return true;
    return false;
}

static size_t first_row_of(const char *const *text, const char *word)
{
    size_t i = 0;
    while (text[i] != word) i++;
    return i;
}

enum { SENTENCE_MOST = 640 };

static pp_status check_faces(ignored *g, size_t spare, pp_error *error)
{
    const char *const *text = g->table->spare[spare].text;
    const char *header = g->table->spare[spare].header;
    const char *word = face_word(g->job, text, g->table->rows);
    if (!word) return PP_OK;
    g->faced = true;
    char sentence[SENTENCE_MOST];
    snprintf(sentence, sizeof sentence,
             "column '%s' holds faces ('%.40s'), but the list has no column face, so every reading "
             "would count for the entry face; write [holes] measured_columns = %s:face, or "
             "ignore_columns = %s",
             header, word, header, header);
    return note_cell(g, first_row_of(text, word), g->table->spare[spare].cell, sentence, error);
}

static pp_status check_repeats(ignored *g, size_t spare, pp_error *error)
{
    const char *const *text = g->table->spare[spare].text;
    const char *header = g->table->spare[spare].header;
    palette p = look(text, g->table->rows);
    if (!is_few(&p) || (p.holds != WORDS && p.holds != WHOLE_NUMBERS)) return PP_OK;
    size_t other = 0, none = g->table->rows;
    size_t row = find_difference(g->repeats, g->repeat_count, text, none, &other);
    if (row == none) return PP_OK;
    char sentence[SENTENCE_MOST];
    if (p.holds == WORDS) {
        snprintf(sentence, sizeof sentence,
                 "repeat readings of hole %.60s differ in column '%s' ('%.40s' and '%.40s'), which "
                 "is ignored: they would be averaged; say what it means with [holes] "
                 "measured_columns = %s:face (or round), or write ignore_columns = %s",
                 g->readings->name[row], header, text[other], text[row], header, header);
        return note_cell(g, row, g->table->spare[spare].cell, sentence, error);
    }
    g->averaged = true;
    snprintf(sentence, sizeof sentence,
             "Repeat readings of one hole differ in the column '%s' (%.40s and %.40s, hole %.60s), "
             "which was ignored: they were averaged, and what was averaged is at best not proven. "
             "If it is the round, write [holes] measured_columns = %s:round; if it says nothing, "
             "ignore_columns = %s.",
             header, text[other], text[row], g->readings->name[row], header, header);
    return remark(g, sentence, error);
}

pp_status pp_ignored_check(const pp_job *job, const pp_csv_request *request,
                           const pp_csv_table *table, const pp_readings *readings, bool has_face,
                           pp_memory *memory, bool *averaged, pp_error *error)
{
    ignored g = {
        .job = job, .request = request, .table = table, .readings = readings, .memory = memory};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    repeat *repeats;
    if (table->spare_count) {
        PP_TRY(sort_rows(readings, &memory->scratch, &repeats, &g.repeat_count, error));
        g.repeats = repeats;
    }
    for (size_t i = 0; i < table->spare_count; i++) {
        if (pp_is_to_be_ignored(job, table->spare[i].header)) continue;
        size_t before = request->note->problem_count;
        if (!has_face) PP_TRY(check_faces(&g, i, error));
        if (request->note->problem_count == before) PP_TRY(check_repeats(&g, i, error));
    }
    if (job->holes.face_name_count && !has_face && !g.faced)
        PP_TRY(remark(&g,
                      "face_names is given, but the measured list has no column face: every "
                      "reading counts for the entry face.",
                      error));
    pp_arena_release(&memory->scratch, mark);
    *averaged = g.averaged;
    return PP_OK;
}
