/* The table reader: what it takes, and that its two ways of splitting agree. */
#include "support/check.h"
#include "support/csv_list.h"

/* ---- everything read, as one text, so that two readings compare at once ---- */

static void describe(const pp_csv_table *t, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < t->rows && used + 400 < size; i++) {
        const pp_csv_values *c = t->column;
        used += (size_t)snprintf(text + used, size - used, "%ld|%s|%a|%a", t->line[i],
                                 c[HOLE].text[i], c[X].number[i], c[Y].number[i]);
        if (c[FACE].code)
            used += (size_t)snprintf(text + used, size - used, "|%d", c[FACE].code[i]);
        if (c[ROUND].count)
            used += (size_t)snprintf(text + used, size - used, "|%u", c[ROUND].count[i]);
        if (c[NOTE].text)
            used += (size_t)snprintf(text + used, size - used, "|%.100s", c[NOTE].text[i]);
        if (c[VALUE].number)
            used += (size_t)snprintf(text + used, size - used, "|%a", c[VALUE].number[i]);
        used += (size_t)snprintf(text + used, size - used, "\n");
    }
}

enum { TEXT_MAX = 1 << 16 };

static pp_status read_text(const pp_csv_request *request, int threads, char *text, size_t *comments)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_csv_table table = {0};
    pp_status status = pp_csv_read(request, threads, &memory, &table, &error);
    if (status == PP_OK)
        describe(&table, text, TEXT_MAX);
    else
        snprintf(text, TEXT_MAX, "%ld:%ld: %s", error.line, error.column, error.message);
    *comments = table.reading ? table.reading->comments : 0;
    pp_memory_free(&memory);
    return status;
}

/* Read in every way there is; all must give the same. */
static pp_status read_every_way(const char *bytes, size_t length, char *text)
{
    static char other[TEXT_MAX];
    scratch_file file;
    size_t comments, other_comments;
    scratch_file_write(&file, bytes, length);
    pp_csv_request request = request_for(&file);
    pp_status status = read_text(&request, 1, text, &comments);
    static const struct {
        bool libcsv;
        int threads;
        size_t part, piece;
    } WAYS[] = {{true, 1, 0, 0},   {false, 2, 0, 0},   {false, 2, 1, 7},
                {false, 1, 5, 16}, {false, 2, 64, 64}, {true, 1, 0, 3}};
    for (size_t w = 0; w < sizeof WAYS / sizeof WAYS[0]; w++) {
        request.trial.all_by_libcsv = WAYS[w].libcsv;
        request.trial.part_bytes = WAYS[w].part;
        request.trial.piece_bytes = WAYS[w].piece;
        pp_status again = read_text(&request, WAYS[w].threads, other, &other_comments);
        if (again != status || strcmp(text, other) != 0 || comments != other_comments)
            fail_msg("way %zu of:\n%s\nfirst:\n%s\nthen:\n%s", w, bytes, text, other);
    }
    scratch_file_remove(&file);
    return status;
}

static char got[TEXT_MAX];

static void expect_rows(const char *bytes, const char *want)
{
    pp_status status = read_every_way(bytes, strlen(bytes), got);
    if (status != PP_OK || strcmp(got, want) != 0)
        fail_msg("of:\n%s\ngot:\n%s\nwant:\n%s", bytes, got, want);
}

static void expect_error(const char *bytes, const char *want)
{
    pp_status status = read_every_way(bytes, strlen(bytes), got);
    if (status != PP_EINPUT || strcmp(got, want) != 0)
        fail_msg("of:\n%s\ngot:\n%s\nwant:\n%s", bytes, got, want);
}

/* 2.385 and -17.5, exactly as a C compiler reads them */
#define TWO_ROWS(a, b)                                                                             \
#a "|A1|0x1.3147ae147ae14p+1|-0x1.18p+4\n" #b "|B2|0x1.cp+2|0x1.999999999999ap-4\n"

static void every_spelling_of_a_table_reads_the_same(void **state)
{
    (void)state;
    expect_rows("hole,x,y\nA1,2.385,-17.5\nB2,7,0.1\n", TWO_ROWS(2, 3));
    expect_rows("A1,2.385,-17.5\nB2,7,0.1\n", TWO_ROWS(1, 2));
    expect_rows("A1,2.385,-17.5\nB2,7,0.1", TWO_ROWS(1, 2));
    expect_rows("hole,x,y", "");
    expect_rows("hole;x;y\r\nA1;2,385;-17,5\r\nB2;7;0,1\r\n", TWO_ROWS(2, 3));
    expect_rows("hole;x;y\nA1;2.385;-17.5\nB2;7;0.1\n", TWO_ROWS(2, 3));
    expect_rows("hole\tx\ty\nA1\t2.385\t-17.5\nB2\t7\t0.1\n", TWO_ROWS(2, 3));
    expect_rows("hole\tx\ty\nA1\t2,385\t-17,5\nB2\t7\t0,1\n", TWO_ROWS(2, 3));
    expect_rows("A1;2,385;-17,5\nB2;7;0,1\n", TWO_ROWS(1, 2));
    expect_rows("\xEF\xBB\xBFhole,x,y\nA1,2.385,-17.5\nB2,7,0.1\n", TWO_ROWS(2, 3));
    expect_rows("\xEF\xBB\xBF"
                "A1,2.385,-17.5\nB2,7,0.1\n",
                TWO_ROWS(1, 2));
    expect_rows("\"hole\",\"x\",\"y\"\n\"A1\",\"2.385\",\"-17.5\"\nB2,7,0.1\n", TWO_ROWS(2, 3));
    expect_rows("y,extra,X,ID\n-17.5,no,2.385,A1\n0.1,\"a \"\"b\"\", c\",7,B2\n", TWO_ROWS(2, 3));
    expect_rows("hole , x , y\n A1 , 2.385\t, -17.5 \n  B2,7 ,  0.1\n", TWO_ROWS(2, 3));
    expect_rows("# probe 4711\n\n  \t\nhole,x,y\n#\nA1,2.385,-17.5\n\r\n # B7\nB2,7,0.1\n\n",
                TWO_ROWS(6, 9));
    expect_rows("hole,x,y\nA1,2.385,-17.5\n,,\nB2,7,0.1\n , ,\n", TWO_ROWS(2, 4));
    expect_rows("hole,x,y\nA1,2.385,-17.5,\nB2,7,0.1,,\n", TWO_ROWS(2, 3));
    expect_rows("hole,x,y,\nA1,2.385,-17.5,\nB2,7,0.1,\n", TWO_ROWS(2, 3));
    expect_rows("x,y,hole,extra\n2.385,-17.5,A1\n7,0.1,B2,z\n", TWO_ROWS(2, 3));
    expect_rows("hole,x,Nominal Y\nA1,+2.385,-1.75e1\nB2,7.,.1\n", TWO_ROWS(2, 3));
    expect_rows("hole,x,nominal-y\nA1,2.38500000000000000000,-17.5\nB2,7e0,1E-1\n", TWO_ROWS(2, 3));
}

static void units_stand_behind_names(void **state)
{
    (void)state;
    /* 2.385 in = 60.579 mm, 0.1 cm = 1 mm */
    static const char WANT[] = "2|A1|0x1.e4a1cac083126p+5|0x1p+0\n";
    expect_rows("hole,x_in,y_cm\nA1,2.385,0.1\n", WANT);
    expect_rows("hole,X (inch),nominal_y [CM]\nA1,2.385,0.1\n", WANT);
    expect_rows("hole,x in,nominal y(cm)\nA1,2.385,0.1\n", WANT);
    expect_rows("hole,\"x (\"\")\",y_um\nA1,2.385,1000\n", WANT);
    expect_rows("x_dev,hole,x (probe),x_in.,y_m\n9,A1,8,2.385,0.001\n", WANT);
    expect_rows("hole,x,y_mm,value_in\nA1,1,1,2.5\n", "2|A1|0x1p+0|0x1p+0|0x1.4p+1\n");
}

static void optional_columns_have_their_defaults(void **state)
{
    (void)state;
    expect_rows("hole,x,y,face,round,disposition,value\n"
                "A1,1,2,EXIT,3,reamed,4.5\nA2,1,2,,,,\nA3,1,2\nA4,1,2,entry,\"2\",plugged\n",
                "2|A1|0x1p+0|0x1p+1|1|3|reamed|0x1.2p+2\n3|A2|0x1p+0|0x1p+1|0|1||nan\n"
                "4|A3|0x1p+0|0x1p+1|0|1||nan\n5|A4|0x1p+0|0x1p+1|0|2|plugged|nan\n");
}

static void line_numbers_survive_quoted_line_breaks(void **state)
{
    (void)state;
    expect_rows("hole,x,y,disposition\nA1,1,2,\"reamed\n# twice\n\nby hand\"\nA2,1,2,\"a\r\nb\"\r\n"
                "A3,1,2,c\n",
                "2|A1|0x1p+0|0x1p+1|reamed\n# twice\n\nby hand\n6|A2|0x1p+0|0x1p+1|a\r\nb\n"
                "8|A3|0x1p+0|0x1p+1|c\n");
    expect_rows("\"hole\",x,y,\"of\nno use\"\nA1,1,2,x\n", "3|A1|0x1p+0|0x1p+1\n");
    expect_error("hole,x,y,disposition\nA1,1,2,\"reamed\nby hand\"\nA2,1,q,\n",
                 "4:3: 'q' in column nominal_y is not a finite number; correct the cell");
}

static void names_may_be_in_any_script(void **state)
{
    (void)state;
    expect_rows("hole,x,y\n\xC3\x9C"
                "7,1,2\n\xE2\x82\xAC,1,2\n\xF0\x9F\x94\xA9,1,2\n",
                "2|\xC3\x9C"
                "7|0x1p+0|0x1p+1\n3|\xE2\x82\xAC|0x1p+0|0x1p+1\n"
                "4|\xF0\x9F\x94\xA9|0x1p+0|0x1p+1\n");
    /* in columns nobody asked for, any 8-bit text passes */
    expect_rows("hole,x,y,note\nA1,1,2,caf\xE9\n", "2|A1|0x1p+0|0x1p+1\n");
}

/* Wrong rows: the message names the physical line and the cell. */
static void wrong_rows_are_refused(void **state)
{
    (void)state;
#define AFTER_HEADER(row) "hole,x,y,face,round,disposition\nA0,1,2\n" row "\nA9,1,2\n"
    static const struct {
        const char *row, *want;
    } CASES[] = {
        {AFTER_HEADER("A1,1.2.3,4"),
         "3:2: '1.2.3' in column x is not a finite number; correct the cell"},
        {AFTER_HEADER("A1,inf,4"),
         "3:2: 'inf' in column x is not a finite number; correct the cell"},
        {AFTER_HEADER("A1,nan,4"),
         "3:2: 'nan' in column x is not a finite number; correct the cell"},
        {AFTER_HEADER("A1,0x10,4"),
         "3:2: '0x10' in column x is not a finite number; correct the cell"},
        {AFTER_HEADER("A1,1e400,4"),
         "3:2: '1e400' in column x is not a finite number; correct the cell"},
        {AFTER_HEADER("A1,3e9,4"), "3:2: '3e9' in column x is too large for a length on a plate; "
                                   "correct the cell or the unit"},
        {AFTER_HEADER("A1,\"1,5\",4"), "3:2: '1,5' in column x is not a finite number; a decimal "
                                       "comma is understood only where the delimiter is not a "
                                       "comma"},
        {AFTER_HEADER("A1,1 000,4"), "3:2: '1 000' in column x is not a finite number; write "
                                     "digits with one decimal mark, no thousands marks, no unit"},
        {AFTER_HEADER("A1,,4"),
         "3:2: the cell in column x is empty; every row needs a number there"},
        {AFTER_HEADER(",1,4"),
         "3:1: the cell in column hole is empty; every row needs a text there"},
        {AFTER_HEADER("A1,1"), "3:3: the row ends before column nominal_y; complete it"},
        {AFTER_HEADER("A1"), "3:2: the row ends before column x; complete it"},
        {AFTER_HEADER("A1,1,2,entry,1,x,7,8"),
         "3:7: the row has 8 cells, the header 6; a decimal comma needs another delimiter, such as "
         "a semicolon"},
        {AFTER_HEADER("A1,1,2,back"),
         "3:4: 'back' in column face is not known; write entry or exit"},
        {AFTER_HEADER("A1,1,2,,1.5"),
         "3:5: '1.5' in column round is not a whole number from 1; correct the cell"},
        {AFTER_HEADER("A1,1,2,,0"),
         "3:5: '0' in column round is not a whole number from 1; correct the cell"},
        {AFTER_HEADER("A\xE9,1,2"),
         "3:1: the text in column hole is not UTF-8; save the file as UTF-8"},
        {AFTER_HEADER("\xED\xA0\x80,1,2"),
         "3:1: the text in column hole is not UTF-8; save the file as UTF-8"},
        {AFTER_HEADER("A1,1,2,,,\x1B[31m"),
         "3:6: a control character (byte 27) in the cell; the file is not plain text or is "
         "damaged, export it again as CSV"},
        {AFTER_HEADER("A1,1,2\rA2,1,2"),
         "3:3: a carriage return without a line feed; save the file with LF or CRLF line ends"},
        {AFTER_HEADER("A1,1,2,,,3/4\" reamer"),
         "3:6: a quotation mark stands inside a cell; put the whole cell in quotation marks and "
         "double the one inside, or leave it out"},
        {AFTER_HEADER("A1,1,2,,,\"x\"y"),
         "3:6: a quotation mark stands inside a cell; put the whole cell in quotation marks and "
         "double the one inside, or leave it out"},
        {AFTER_HEADER("A1,1,2,,,\"reamed"),
         "3:6: the quotation mark that opens here is never closed; close it or leave it out"},
        {AFTER_HEADER("\"A\n1\",1,2"),
         "3:1: a line break inside column hole; write it on one line"},
        {"hole;x;y\nA1;1,5;2\nA2;7;8\nA3;1.5;2\n",
         "4:2: a decimal point here, but a decimal comma on line 2; use one of them throughout the "
         "file"},
        {"hole;x;y\nA1;1,5;2.5\n",
         "2:3: a decimal point here, but a decimal comma on line 2; use one of them throughout the "
         "file"},
        {"hole;x;y\nA1;1.234,5;2\n", "2:2: '1.234,5' in column x is not a finite number; write "
                                     "digits with one decimal mark, no thousands marks, no unit"},
        {"A1,1,2\nA2,1,2,3\n",
         "2:4: the row has 4 cells, the first row 3; a decimal comma needs another delimiter, such "
         "as a semicolon"},
        {"A1;1;2\nA2;1;2;3\n",
         "2:4: the row has 4 cells, the first row 3; remove what is too much"},
        {"A1,q,2\nA2,1,2\n", "1:2: 'q' in column x is not a finite number; correct the cell"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof CASES[0]; i++)
        expect_error(CASES[i].row, CASES[i].want);
}

static void wrong_heads_are_refused(void **state)
{
    (void)state;
    static const struct {
        const char *bytes, *want;
    } CASES[] = {
        {"", "0:0: is empty; a table is needed"},
        {"\n\n", "0:0: is empty; a table is needed"},
        {"\xEF\xBB\xBF", "0:0: is empty; a table is needed"},
        {"# x\n#\n", "0:0: holds only comments (lines that begin with #) and blank lines; a table "
                     "is needed"},
        {"PK\003\004 zipped", "0:0: is a workbook or an archive, not a table of text; save it as "
                              "CSV"},
        {"\xFF\xFEh", "0:0: is UTF-16 text or binary; save it as CSV in UTF-8"},
        {"\x89PNG\r\n\x1A\n\x01\x02", "0:0: is binary, not a table of text; export it as CSV"},
        {"hole,x\nA1,1\n",
         "1:0: the list has no column nominal_y (its header: hole, x); it needs hole, x and "
         "nominal_y"},
        {"# c\nname,u,v\nA1,1,2\n",
         "2:0: the list has no column hole, x and nominal_y (its header: name, u, v); it needs "
         "hole, x and nominal_y"},
        {"hole,x (ft),y\nA1,1,2\n",
         "1:2: unknown unit 'ft' of column x; write mm, cm, m, in or um"},
        {"hole,x,y,X\nA1,1,2,3\n", "1:4: columns 2 and 4 are both x; rename or remove one of them"},
        {"id,hole,x,y\n1,A1,1,2\n",
         "1:2: columns 1 and 2 are both hole; rename or remove one of them"},
        {"A1,1,2,3\nA2,1,2,3\n",
         "1:0: 4 columns without a header, but the list without a header is hole, x and "
         "nominal_y; add a header row with the names of the columns"},
        {"A1,1\n", "1:0: 2 columns without a header, but the list without a header is hole, x and "
                   "nominal_y; add a header row with the names of the columns"},
        {"A1 1.0 2.0\nA2 1.0 2.0\n", "1:0: no comma, semicolon or tab between the cells "
                                     "('A1 1.0 2.0'); use one of them"},
        {"hole,x,y,a;hole;x;y\n",
         "1:0: both semicolon and comma could separate the cells; use one of them only"},
        {"hole,x,\"y\nA1,1,2\n",
         "1:0: a quotation mark on this line is never closed; close it or leave it out"},
        {"hole,x,\"y\"\"\n",
         "1:0: a quotation mark on this line is never closed; close it or leave it out"},
        {"hole,x,y\"\"\n", "1:3: a quotation mark stands inside a cell; put the whole cell in "
                           "quotation marks and double the one inside, or leave it out"},
        {"hole,x,y\rA1,1,2\r", "1:3: a carriage return without a line feed; save the file with LF "
                               "or CRLF line ends"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof CASES[0]; i++)
        expect_error(CASES[i].bytes, CASES[i].want);
}

static void zero_bytes_are_refused(void **state)
{
    (void)state;
    assert_int_equal(read_every_way("h\0o\0l\0e\0,\0x\0", 12, got), PP_EINPUT);
    assert_string_equal(got, "0:0: is UTF-16 text or binary; save it as CSV in UTF-8");
    assert_int_equal(read_every_way("hole,x,y\nA1,1,2\nA\0,1,2\n", 22, got), PP_EINPUT);
    assert_string_equal(got, "0:0: is binary, not a table of text; export it as CSV");
    char late[1024] = "hole,x,y\n";
    memset(late + 9, '\n', 800);
    memcpy(late + 700, "A1,1,\0002\n", 9);
    assert_int_equal(read_every_way(late, 720, got), PP_EINPUT);
    static const char WANT[] = "693:3: a control character (byte 0) in the cell; the file is not "
                               "plain text or is damaged, export it again as CSV\n";
    assert_memory_equal(got, WANT, sizeof WANT - 1); /* and the line after it */
}

/* ---- lines that are no data ---- */

static void what_surrounds_a_table_is_skipped(void **state)
{
    (void)state;
    expect_rows("Protocol of plate 7\ndate;2026-11-20\n\nhole;x;y\nA1;2.385;-17.5\nB2;7;0.1\n",
                TWO_ROWS(5, 6));
    expect_rows("hole,x,y\n-,mm,[mm]\nA1,2.385,-17.5\nB2,7,0.1\n", TWO_ROWS(3, 4));
    expect_rows("hole,x,y\n,cm,mm\nA1,0.2385,-17.5\nB2,0.7,0.1\n", TWO_ROWS(3, 4));
    expect_rows("hole,x,y\nA1,2.385,-17.5\nhole,x,y\nB2,7,0.1\n", TWO_ROWS(2, 4));
    expect_rows("hole,x,y\n,mm,mm\nA1,2.385,-17.5\nhole,x,y\n,mm,mm\nB2,7,0.1\n", TWO_ROWS(3, 6));
    expect_rows("hole,x,y\nA1,2.385,-17.5\nB2,7,0.1\nMean:,4.6,-8.7\nTotal,,\n", TWO_ROWS(2, 3));
    expect_rows("hole,x,y\nA1,2.385,-17.5\nTotal,,\nhole,x,y\nB2,7,0.1\nTotal,,\n", TWO_ROWS(2, 5));
}

static void what_could_be_data_is_refused(void **state)
{
    (void)state;
    expect_error("hole,x,y\nA1,1,2\nTotal,,\nA2,3,4\n",
                 "3:0: a row that sums up the table, with rows below it; remove it, or the rows");
    expect_error("hole,x,y\nA1,1,2\nhole,y,x\nA2,3,4\n",
                 "3:0: another header, with other columns than the first; put each table into a "
                 "file of its own");
    expect_error("units: inch\nhole,x,y\nA1,1,2\n",
                 "1:0: this line above the header names the unit in, but column x would be read in "
                 "mm; write the unit into the header (x_in) or remove it here");
    expect_error("hole,x_in,y\n,mm,mm\nA1,1,2\n",
                 "2:2: column x is in in by its header and in mm by the row of units; remove one "
                 "of them");
}

static bool is_b2(const void *unused, const char *text)
{
    (void)unused;
    return strcmp(text, "#B2") == 0 || strcmp(text, "A1") == 0;
}

/* Lines that begin with #: rows where the name is known, else counted; #A1 beside A1 is named. */
static void hash_lines_are_rows_where_the_name_is_known(void **state)
{
    (void)state;
    scratch_file file;
    static const char BYTES[] = "# x,y,z\nhole,x,y\n#B2,7,0.1\n#A1,1,2\n#C9,1,2\n# text\nA1,3,4\n";
    scratch_file_write(&file, BYTES, sizeof BYTES - 1);
    pp_csv_request request = request_for(&file);
    request.is_name = is_b2;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_csv_table t;
    assert_ok(pp_csv_read(&request, 2, &memory, &t, &error), &error);
    assert_int_equal(t.rows, 2);
    assert_string_equal(t.column[HOLE].text[0], "#B2");
    assert_int_equal(t.line[0], 3);
    assert_int_equal(t.reading->comments, 4);
    assert_int_equal(t.reading->commented_count, 1);
    assert_string_equal(t.reading->commented[0], "A1");
    pp_memory_free(&memory);
    scratch_file_remove(&file);
}

static void columns_are_mapped_and_the_rest_is_named(void **state)
{
    (void)state;
    static const pp_column_word WORDS[] = {{"X-Ist", "x"}, {"Pos", "hole"}};
    const pp_column_map map = {2, WORDS, 7, "measured_columns"};
    scratch_file file;
    static const char BYTES[] = "Pos;x;X-Ist [cm];y;Seite\nA1;9;1;2;vorn\n";
    scratch_file_write(&file, BYTES, sizeof BYTES - 1);
    pp_csv_request request = request_for(&file);
    request.map = &map;
    request.spare = true;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_csv_table t;
    assert_ok(pp_csv_read(&request, 1, &memory, &t, &error), &error);
    assert_true(t.column[X].number[0] == 10);
    const pp_table_reading *r = t.reading;
    assert_int_equal(r->used_count, 3);
    assert_string_equal(r->used[1].header, "X-Ist [cm]");
    assert_true(r->used[1].mapped && r->used[1].unit == PP_CM);
    assert_int_equal(r->used[1].origin, PP_UNIT_OF_HEADER);
    assert_int_equal(r->used[2].origin, PP_UNIT_ASSUMED);
    assert_int_equal(r->ignored_count, 2);
    assert_string_equal(r->ignored[0], "x");
    assert_string_equal(r->ignored[1], "Seite");
    assert_int_equal(t.spare_count, 2);
    assert_string_equal(t.spare[1].text[0], "vorn");
    const pp_column_map wrong = {1, (pp_column_word[]){{"X-Ist", "xx"}}, 7, "measured_columns"};
    request.map = &wrong;
    assert_int_equal(pp_csv_read(&request, 1, &memory, &t, &error), PP_EINPUT);
    assert_string_equal(error.file, "plate.ini");
    assert_int_equal(error.line, 7);
    pp_memory_free(&memory);
    scratch_file_remove(&file);
}

static void all_problems_come_together(void **state)
{
    (void)state;
    char bytes[2048] = "hole,x,y\n";
    for (int i = 0; i < 25; i++) sprintf(bytes + strlen(bytes), "A%d,%s,2\n", i, i % 2 ? "q" : "1");
    assert_int_equal(read_every_way(bytes, strlen(bytes), got), PP_EINPUT);
    assert_non_null(strstr(got, "3:2: 'q' in column x"));
    assert_non_null(strstr(got, "\n/"));
    assert_non_null(strstr(got, ":25:2: 'q' in column x"));
    assert_null(strstr(got, "and more"));
    for (int i = 25; i < 50; i++) sprintf(bytes + strlen(bytes), "A%d,q,2\n", i);
    assert_int_equal(read_every_way(bytes, strlen(bytes), got), PP_EINPUT);
    assert_non_null(strstr(got, "\n  and more; these are the first 20"));
}

static char *fill(const char *head, size_t count, const char *unit, const char *tail)
{
    size_t length = strlen(unit);
    char *text = malloc(strlen(head) + count * length + strlen(tail) + 1), *at = text;
    assert_non_null(text);
    at = stpcpy(at, head);
    for (size_t i = 0; i < count; i++) at = stpcpy(at, unit);
    strcpy(at, tail);
    return text;
}

static void limits_are_stated(void **state)
{
    (void)state;
    static const char TOO_LONG[] = "3:0: the line is longer than 65536 bytes; no table looks like "
                                   "this, export the file again as CSV";
    char *text = fill("hole,x,y,note\nA1,1,2,\nA2,1,2,", 65536 - 6, "n", "\nA3,1,2,\n");
    expect_error(text, TOO_LONG);
    free(text);
    text = fill("hole,x,y,note\nA1,1,2,\nA2,1,2,", 1000000, "n", "");
    expect_error(text, TOO_LONG);
    free(text);
    text = fill("hole,x,y,note\nA1,1,2,\n#", 65536, "n", "\n");
    expect_error(text, TOO_LONG);
    free(text);
    text = fill("hole,x,y,note\nA1,1,2,\nA2,1,2,", 65536 - 7, "n", "\n"); /* just fits */
    assert_int_equal(read_every_way(text, strlen(text), got), PP_OK);
    free(text);
    text = fill("hole,x,y,note\nA1,1,2,\nA2,1,2,\"", 30000, "n\n", "\n"); /* never closed */
    expect_error(text, "3:4: the quotation mark that opens here is never closed; close it or leave "
                       "it out");
    free(text);
    text = fill("hole,x,y", 1021, ",", "\nA1,1,2\n");
    assert_int_equal(read_every_way(text, strlen(text), got), PP_OK);
    free(text);
    text = fill("hole,x,y", 1022, ",", "\nA1,1,2\n");
    expect_error(text, "1:1025: more than 1024 columns; keep those that are needed");
    free(text);
    text = fill("hole,x,y", 100000, ",", "\nA1,1,2\n");
    expect_error(text, "1:0: the line is longer than 65536 bytes; no table looks like this, export "
                       "the file again as CSV");
    free(text);
}

/* A quoted line break across what would be the border of two parts, and everything else at once. */
static void parts_of_a_large_file_join_without_a_seam(void **state)
{
    (void)state;
    char *text = malloc(TEXT_MAX), *at = text;
    assert_non_null(text);
    at = stpcpy(at, "hole,x,y,disposition\n");
    for (int i = 0; i < 600; i++) {
        if (i % 7 == 0) at = stpcpy(at, "\n# none here\n");
        at += sprintf(at, "H%d,%d.%03d,-%d.5,%s\n", i, i, i % 1000, i, i % 3 ? "" : "reamed");
    }
    assert_int_equal(read_every_way(text, strlen(text), got), PP_OK);
    at += sprintf(at, "Q,1,2,\"over\n\nlines\"\n");
    for (int i = 0; i < 20; i++) at += sprintf(at, "L%d,1,2,\n", i);
    assert_int_equal(read_every_way(text, strlen(text), got), PP_OK);
    assert_non_null(strstr(got, "over\n\nlines"));
    strcpy(at, "Z,1,z,\n");
    assert_int_equal(read_every_way(text, strlen(text), got), PP_EINPUT);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_spelling_of_a_table_reads_the_same),
        cmocka_unit_test(units_stand_behind_names),
        cmocka_unit_test(optional_columns_have_their_defaults),
        cmocka_unit_test(line_numbers_survive_quoted_line_breaks),
        cmocka_unit_test(names_may_be_in_any_script),
        cmocka_unit_test(wrong_rows_are_refused),
        cmocka_unit_test(wrong_heads_are_refused),
        cmocka_unit_test(zero_bytes_are_refused),
        cmocka_unit_test(what_surrounds_a_table_is_skipped),
        cmocka_unit_test(what_could_be_data_is_refused),
        cmocka_unit_test(hash_lines_are_rows_where_the_name_is_known),
        cmocka_unit_test(columns_are_mapped_and_the_rest_is_named),
        cmocka_unit_test(all_problems_come_together),
        cmocka_unit_test(limits_are_stated),
        cmocka_unit_test(parts_of_a_large_file_join_without_a_seam),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
