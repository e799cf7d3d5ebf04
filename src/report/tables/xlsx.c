#include "report/tables/xlsx.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "answer/for_people.h"
#include "answer/machine_names.h"
#include "answer/summary.h"
#include "answer/work_words.h"
#include "report/tables/xlsx_library.h"

enum {
    SHEET_ROWS = LXW_ROW_MAX,
    CELL_TEXT_MAX = 32767, /* characters a cell can hold */
    NAME_WIDTH = 14,
    TEXT_WIDTH = 40
};

typedef struct book {
    pp_xlsx_library call;
    const pp_results *results;
    lxw_workbook *workbook;
    lxw_format *heading, *length, *plain, *good, *bad, *open;
    pp_text text; /* a cell being put together */
    bool failed;
} book;

/* A table that may need more than one sheet. */
typedef struct table {
    book *book;
    const char *name;
    int sheets;
    lxw_worksheet *sheet;
    lxw_row_t row;
    lxw_col_t column;
    const char *const *columns;
    size_t column_count;
} table;

/* ---- cells ---- */

static void put_text(table *t, const char *text, lxw_format *format)
{
    char cut[CELL_TEXT_MAX + 1];
    if (!text) text = "";
    if (strlen(text) > CELL_TEXT_MAX) { /* a cell holds no more; the CSVs have it whole */
        memcpy(cut, text, CELL_TEXT_MAX);
        size_t end = CELL_TEXT_MAX;
        while (end > 0 && ((unsigned char)cut[end] & 0xc0) == 0x80) end--;
        cut[end] = '\0';
        text = cut;
    }
    if (text[0] && t->book->call.worksheet_write_string(t->sheet, t->row, t->column, text,
                                                        format) != LXW_NO_ERROR)
        t->book->failed = true;
    t->column++;
}

static void put_length(table *t, double mm)
{
    bool inch = t->book->results->job->units == PP_INCH;
    if (isfinite(mm) &&
        t->book->call.worksheet_write_number(t->sheet, t->row, t->column, inch ? mm / 25.4 : mm,
                                             t->book->length) != LXW_NO_ERROR)
        t->book->failed = true;
    t->column++;
}

static void put_count(table *t, double value)
{
    if (t->book->call.worksheet_write_number(t->sheet, t->row, t->column, value, t->book->plain) !=
        LXW_NO_ERROR)
        t->book->failed = true;
    t->column++;
}

static lxw_format *format_of(const book *b, pp_verdict verdict)
{
    switch (verdict) {
    case PP_CONFORMS:
        return b->good;
    case PP_DOES_NOT_CONFORM:
        return b->bad;
    case PP_NOT_PROVEN:
        return b->open;
    case PP_NOT_JUDGED:
        break;
    }
    return b->plain;
}

static void put_verdict(table *t, pp_verdict verdict)
{
    put_text(t, pp_verdict_words(verdict), format_of(t->book, verdict));
}

/* The text put together in the book. */
static void put_piece(table *t)
{
    put_text(t, t->book->text.length ? t->book->text.data : "", t->book->plain);
    t->book->text.length = 0;
}

/* ---- sheets ---- */

static void begin_sheet(table *t)
{
    char name[LXW_SHEETNAME_MAX + 1];
    t->sheets++;
    if (t->sheets == 1)
        snprintf(name, sizeof name, "%s", t->name);
    else
        snprintf(name, sizeof name, "%s (%d)", t->name, t->sheets);
    t->sheet = t->book->call.workbook_add_worksheet(t->book->workbook, name);
    t->row = 0;
    t->column = 0;
    if (!t->sheet) {
        t->book->failed = true;
        return;
    }
    t->book->call.worksheet_set_column(t->sheet, 0, (lxw_col_t)t->column_count, NAME_WIDTH, NULL);
    for (size_t i = 0; i < t->column_count; i++) put_text(t, t->columns[i], t->book->heading);
    if (t->column_count) t->book->call.worksheet_freeze_panes(t->sheet, 1, 1);
}

static bool begin_row(table *t)
{
    if (!t->sheet || t->row + 1 >= SHEET_ROWS) begin_sheet(t);
    t->row++;
    t->column = 0;
    return !t->book->failed;
}

/* ---- summary ---- */

static void put_pair(table *t, const char *name, const char *text)
{
    if (!text || !text[0] || !begin_row(t)) return;
    put_text(t, name, t->book->heading);
    put_text(t, text, t->book->plain);
}

static void put_summary_rows(table *t, const pp_summary *summary)
{
    static const char *const headings[] = {"characteristic", "verdict",     "result",    "limit",
                                           "detail",         "uncertainty", "limit from"};
    begin_row(t);
    if (!begin_row(t)) return;
    for (size_t i = 0; i < sizeof headings / sizeof headings[0]; i++)
        put_text(t, headings[i], t->book->heading);
    for (size_t i = 0; i < summary->count && begin_row(t); i++) {
        const pp_summary_row *row = &summary->rows[i];
        put_text(t, row->name, t->book->plain);
        put_verdict(t, row->verdict);
        put_text(t, row->result, t->book->plain);
        put_text(t, row->limit, t->book->plain);
        put_text(t, row->detail, t->book->plain);
        put_text(t, row->uncertainty, t->book->plain);
        put_text(t, row->source, t->book->plain);
    }
}

static pp_status write_summary(book *b, pp_memory *memory, pp_error *error)
{
    const pp_judgement *j = b->results->judgement;
    const pp_job *job = b->results->job;
    table t = {.book = b, .name = "summary"};
    pp_summary summary;
    PP_TRY(pp_summary_make(b->results, memory, &summary, error));
    begin_sheet(&t);
    if (b->failed) return PP_OK;
    b->call.worksheet_set_column(t.sheet, 0, 0, NAME_WIDTH + 8, NULL);
    b->call.worksheet_set_column(t.sheet, 1, 1, NAME_WIDTH + 4, NULL);
    b->call.worksheet_set_column(t.sheet, 2, 6, TEXT_WIDTH, NULL);
    put_text(&t, "verdict", b->heading);
    put_verdict(&t, j->verdict);
    put_pair(&t, "basis", j->basis);
    put_pair(&t, "decided by", summary.deciding);
    put_pair(&t, "decision rule", j->decision_rule);
    put_pair(&t, "title", job->title);
    put_pair(&t, "plate", job->plate_id);
    put_pair(&t, "role", job->plate_role);
    put_pair(&t, "serial", job->serial);
    put_pair(&t, "drawing", job->drawing);
    put_pair(&t, "report", job->report_number);
    put_pair(&t, "units", pp_people_unit(job->units));
    put_summary_rows(&t, &summary);
    begin_row(&t);
    for (size_t i = 0; i < j->caution_count; i++) put_pair(&t, "caution", j->cautions[i]);
    for (size_t i = 0; i < b->results->input_count; i++) {
        put_pair(&t, b->results->inputs[i].role, b->results->inputs[i].written);
        put_text(&t, b->results->inputs[i].sha256, b->plain);
    }
    return PP_OK;
}

/* ---- holes, ligaments, exceptions ---- */

static void put_bore(table *t, size_t i)
{
    const pp_measures *m = t->book->results->measures;
    const pp_judgement *j = t->book->results->judgement;
    const pp_bore *bore = &m->bores[i];
    bool extra = bore->hole == PP_NONE;
    double x = extra ? NAN : m->nominal->x[bore->hole], y = extra ? NAN : m->nominal->y[bore->hole];
    pp_offset off = pp_bore_offset(m, i);
    const pp_finding *position = extra ? NULL : pp_finding_of(j, PP_POSITION, i);
    const pp_finding *diameter = extra ? NULL : pp_finding_of(j, PP_DIAMETER, i);
    put_text(t, pp_bore_name(m, i), t->book->plain);
    if (extra) {
        t->column += 2;
    } else {
        put_count(t, m->row_label[bore->hole]);
        put_count(t, m->column_label[bore->hole]);
    }
    put_text(t, pp_named_face(bore->face), t->book->plain);
    put_length(t, bore->at.x);
    put_length(t, bore->at.y);
    put_length(t, x);
    put_length(t, y);
    put_length(t, off.dx);
    put_length(t, off.dy);
    put_length(t, pp_position_of(m, i));
    put_length(t, position ? pp_finding_upper(j, position) : NAN);
    put_verdict(t, position ? position->verdict : PP_NOT_JUDGED);
    put_length(t, bore->diameter_min);
    put_length(t, bore->diameter_max);
    put_text(t, diameter ? pp_class_words(PP_DIAMETER, diameter->class_) : "",
             format_of(t->book, diameter ? diameter->verdict : PP_NOT_JUDGED));
    put_length(t, bore->smallest_ligament);
}

static void write_holes(book *b)
{
    static const char *const columns[] = {"hole",
                                          "row",
                                          "column",
                                          "face",
                                          "x",
                                          "y",
                                          "nominal x",
                                          "nominal y",
                                          "dx",
                                          "dy",
                                          "position",
                                          "position limit",
                                          "position verdict",
                                          "smallest diameter",
                                          "largest diameter",
                                          "diameter class",
                                          "smallest ligament"};
    table t = {.book = b,
               .name = "holes",
               .columns = columns,
               .column_count = sizeof columns / sizeof columns[0]};
    const pp_measures *m = b->results->measures;
    for (size_t i = 0; m && i < m->bore_count && begin_row(&t); i++) put_bore(&t, i);
}

static void write_ligaments(book *b)
{
    static const char *const columns[] = {"hole a", "hole b", "face", "ligament", "class"};
    table t = {.book = b, .name = "ligaments", .columns = columns, .column_count = 5};
    const pp_measures *m = b->results->measures;
    for (size_t i = 0; m && i < m->ligament_count && begin_row(&t); i++) {
        const pp_ligament *ligament = &m->ligaments[i];
        const pp_finding *finding = pp_finding_of(b->results->judgement, PP_LIGAMENT, i);
        put_text(&t, pp_named_hole(m, ligament->a), b->plain);
        put_text(&t, pp_named_hole(m, ligament->b), b->plain);
        put_text(&t, pp_named_face(ligament->face), b->plain);
        put_length(&t, ligament->value);
        put_text(&t, finding ? pp_class_words(PP_LIGAMENT, finding->class_) : "",
                 format_of(b, finding ? finding->verdict : PP_NOT_JUDGED));
    }
}

static void write_exceptions(book *b)
{
    static const char *const columns[] = {"what",        "subject", "value", "lower limit",
                                          "upper limit", "verdict", "fault"};
    table t = {.book = b, .name = "exceptions", .columns = columns, .column_count = 7};
    const pp_judgement *j = b->results->judgement;
    for (size_t i = 0; i < j->exception_count && begin_row(&t); i++) {
        const pp_finding *f = &j->findings[j->exceptions[i]];
        put_text(&t, pp_characteristic_people(f->characteristic), b->plain);
        pp_finding_subject(&b->text, b->results, f);
        put_piece(&t);
        put_length(&t, f->value);
        put_length(&t, pp_finding_lower(j, f));
        put_length(&t, pp_finding_upper(j, f));
        put_verdict(&t, pp_exception_verdict(j, f));
        pp_finding_fault(&b->text, b->results, f);
        put_piece(&t);
    }
}

static void put_work_row(table *t, size_t number)
{
    book *b = t->book;
    const pp_measures *m = b->results->measures;
    const pp_work_row *row = &b->results->work->rows[number];
    pp_nominal_point at = pp_work_place(m, row);
    bool extra = row->hole == PP_NONE;
    put_count(t, (double)number + 1);
    put_text(t, pp_work_name(m, row), b->plain);
    if (extra) {
        t->column += 2;
    } else {
        put_count(t, m->row_label[row->hole]);
        put_count(t, m->column_label[row->hole]);
    }
    put_length(t, at.x);
    put_length(t, at.y);
    put_text(t, pp_todo_words((pp_todo)row->todo), b->heading);
    put_length(t, row->ream.target);
    put_length(t, isnan(row->ream.target) ? NAN : row->ream.lower);
    put_length(t, isnan(row->ream.target) ? NAN : row->ream.upper);
    pp_work_error(&b->text, b->results, row);
    put_piece(t);
    pp_work_faults(&b->text, b->results, row);
    put_piece(t);
    pp_work_instruction(&b->text, b->results, row);
    put_piece(t);
    put_text(t, row->reference, b->plain);
    t->column++; /* done: for the shop to fill in */
}

static void write_work(book *b)
{
    static const char *const columns[] = {
        "number", "hole",          "row",        "column",        "x",
        "y",      "todo",          "ream to",    "ream at least", "ream at most",
        "off by", "what is wrong", "what to do", "reference",     "done, sign"};
    table t = {.book = b,
               .name = "work list",
               .columns = columns,
               .column_count = sizeof columns / sizeof columns[0]};
    const pp_work_list *work = b->results->work;
    if (!work || !work->count) return;
    for (size_t i = 0; i < work->count && begin_row(&t); i++) put_work_row(&t, i);
    if (!begin_row(&t)) return;
    t.column = 1;
    put_text(&t, PP_WORK_CAUTION, b->heading);
}

/* ---- the book ---- */

/* Okabe and Ito's colours; the words always stand beside. */
static void make_formats(book *b)
{
    bool inch = b->results->job->units == PP_INCH;
    lxw_format **coloured[] = {&b->good, &b->bad, &b->open};
    const lxw_color_t colours[] = {0x009E73, 0xD55E00, 0xE69F00};
    b->heading = b->call.workbook_add_format(b->workbook);
    b->length = b->call.workbook_add_format(b->workbook);
    b->plain = b->call.workbook_add_format(b->workbook);
    for (size_t i = 0; i < 3; i++) {
        *coloured[i] = b->call.workbook_add_format(b->workbook);
        if (!*coloured[i]) b->failed = true;
        if (b->failed) return;
        b->call.format_set_font_color(*coloured[i], colours[i]);
        b->call.format_set_bold(*coloured[i]);
    }
    if (!b->heading || !b->length || !b->plain) {
        b->failed = true;
        return;
    }
    b->call.format_set_bold(b->heading);
    b->call.format_set_num_format(b->length, inch ? "0.0000" : "0.000");
}

/* Without it the library writes the time of day into the file. */
static void date_book(book *b)
{
    struct tm day = {.tm_year = 70, .tm_mday = 1};
    const char *date = b->results->date;
    if (date && strlen(date) >= 10) {
        day.tm_year = atoi(date) - 1900;
        day.tm_mon = atoi(date + 5) - 1;
        day.tm_mday = atoi(date + 8);
    }
    day.tm_hour = 12; /* the library takes it for local time */
    lxw_doc_properties properties = {.created = timegm(&day)};
    b->call.workbook_set_properties(b->workbook, &properties);
}

static void write_sheets(book *b)
{
    write_holes(b);
    write_ligaments(b);
    write_exceptions(b);
    write_work(b);
}

/* Into the file that is there, by the library loaded. */
static pp_status write_book(book *b, const char *path, pp_memory *memory, pp_error *error)
{
    lxw_workbook_options options = {.constant_memory = LXW_TRUE, .use_zip64 = LXW_TRUE};
    b->workbook = b->call.workbook_new_opt(path, &options);
    if (!b->workbook) return pp_fail_memory(error);
    make_formats(b);
    date_book(b);
    pp_status status = b->failed ? PP_OK : write_summary(b, memory, error);
    if (status == PP_OK && !b->failed) write_sheets(b);
    bool failed = b->failed || b->text.failed;
    lxw_error closed = b->call.workbook_close(b->workbook);
    pp_text_free(&b->text);
    if (status != PP_OK) return status;
    if (failed) return pp_fail_memory(error);
    if (closed == LXW_NO_ERROR) return PP_OK;
    return pp_fail_at(error, PP_EIO, "results.xlsx", 0, 0,
                      "cannot be written (%s); check the free space, also of the temporary folder",
                      b->call.lxw_strerror(closed));
}

pp_status pp_xlsx_write(const pp_results *results, const char *path, pp_memory *memory,
                        pp_error *error)
{
    book b = {.results = results};
    PP_TRY(pp_xlsx_library_open(&b.call, error));
    int file = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0666);
    pp_status status;
    if (file < 0) { /* found here, or the library says it on standard error */
        status = pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be written (%s); check the folder",
                            strerror(errno));
    } else {
        close(file);
        status = write_book(&b, path, memory, error);
    }
    pp_xlsx_library_close(&b.call);
    return status;
}
