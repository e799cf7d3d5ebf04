/* The maps of the hold-down study: bands and lines on a raster, words that find room, and what is
 * counted in which class. */
#include "support/check.h"

#include "base/isobands.h"
#include "report/holdmaps/hold_picture.h"
#include "report/holdmaps/map_words.h"
#include "support/random.h"
#include "support/sample_results.h"

/* Bands ----------------------------------------------------------------------------------- */

typedef struct measured {
    double area, x0, y0, x, y; /* twice the area so far; first and last corner */
    double length;
    size_t pieces;
} measured;

static void corner(void *context, double x, double y, bool begins)
{
    measured *m = context;
    if (begins) {
        m->area += m->x * m->y0 - m->y * m->x0; /* closes the piece before */
        m->x0 = x, m->y0 = y;
        m->pieces++;
    } else {
        m->area += m->x * y - m->y * x;
    }
    m->x = x, m->y = y;
}

static double area_above(const pp_raster *r, double level, size_t *pieces)
{
    measured m = {0};
    pp_raster_above(r, level, corner, &m);
    m.area += m.x * m.y0 - m.y * m.x0;
    *pieces = m.pieces;
    return m.area / 2;
}

static void length_of(void *context, double x1, double y1, double x2, double y2)
{
    ((measured *)context)->length += hypot(x2 - x1, y2 - y1);
}

enum { COLUMNS = 41, ROWS = 31 };

/* A slope is straight between places: areas and lengths are exact. A cone about (0.5, -0.3): the
 * disc of radius R where it is at most R, to the square of a cell. */
static void bands_cover_what_is_above_and_lines_bound_it(void **state)
{
    (void)state;
    double value[COLUMNS * ROWS];
    size_t pieces;
    pp_raster r = {COLUMNS, ROWS, -2, -1.5, 0.1, 0.1, value};
    for (int j = 0; j < ROWS; j++)
        for (int i = 0; i < COLUMNS; i++) value[j * COLUMNS + i] = -2 + 0.1 * i + 0.5 * 0.1 * j;
    assert_near(area_above(&r, -INFINITY, &pieces), 4 * 3, 1e-9);
    assert_int_equal(pieces, ROWS - 1); /* a row of full cells is one piece */
    /* x + (y + 1.5)/2 >= 0.3: from x = 0.3 at the lower edge to -1.2 at the upper */
    assert_near(area_above(&r, 0.3, &pieces), 3 * (1.7 + 3.2) / 2, 1e-9);
    measured line = {0};
    pp_raster_line(&r, 0.3, length_of, &line);
    assert_near(line.length, hypot(1.5, 3), 1e-9);
    for (int j = 0; j < ROWS; j++)
        for (int i = 0; i < COLUMNS; i++)
            value[j * COLUMNS + i] = hypot(-2 + 0.1 * i - 0.5, -1.5 + 0.1 * j + 0.3);
    assert_near(12 - area_above(&r, 0.83, &pieces), 3.14159265 * 0.83 * 0.83, 0.008);
    line.length = 0;
    pp_raster_line(&r, 0.83, length_of, &line);
    assert_near(line.length, 2 * 3.14159265 * 0.83, 0.01);
    value[15 * COLUMNS + 20] = NAN; /* its four cells are left out */
    assert_near(area_above(&r, -INFINITY, &pieces), 12 - 0.04, 1e-9);
}

/* Words ----------------------------------------------------------------------------------- */

static bool apart(const pp_label_box *a, const pp_label_box *b)
{
    return a->right <= b->left || b->right <= a->left || a->bottom <= b->top || b->bottom <= a->top;
}

static void no_word_stands_over_another_or_over_a_mark(void **state)
{
    (void)state;
    enum { MARKS = 60 };
    pp_label_box taken[400], words[MARKS];
    pp_map_words l = {.room = 400, .taken = taken, .frame = {0, 0, 400, 400}};
    test_random seed = {5};
    double x[MARKS], y[MARKS];
    size_t placed = 0, far = 0;
    for (int k = 0; k < MARKS; k++) {
        x[k] = 400 * random_unit(&seed), y[k] = 400 * random_unit(&seed);
        pp_map_words_take(&l, (pp_label_box){x[k] - 5, y[k] - 5, x[k] + 5, y[k] + 5});
    }
    for (int k = 0; k < MARKS; k++) {
        bool away;
        if (!pp_map_words_place(&l, x[k], y[k], 5, 34, 14, &words[placed], &away)) continue;
        far += away;
        const pp_label_box *w = &words[placed++];
        assert_near(w->right - w->left, 34, 1e-9);
        assert_true(w->left >= 0 && w->right <= 400 && w->top >= 0 && w->bottom <= 400);
        for (int m = 0; m < MARKS; m++)
            assert_true(apart(w, &(pp_label_box){x[m] - 5, y[m] - 5, x[m] + 5, y[m] + 5}));
        for (size_t n = 0; n + 1 < placed; n++) assert_true(apart(w, &words[n]));
    }
    assert_true(placed >= MARKS - 3 && far > 0);
}

/* Pictures -------------------------------------------------------------------------------- */

enum { WORDS_MAX = 200 };

typedef struct record {
    size_t words, dots, dark, circles;
    struct {
        double x, y, size;
        char text[60];
        bool rim;
    } word[WORDS_MAX];
} record;

static void ignore_pen(void *context, pp_pen pen) { (void)context, (void)pen; }
static void ignore_place(void *context, double x, double y)
{
    assert_true(isfinite(x) && isfinite(y));
    (void)context;
}
static void ignore(void *context) { (void)context; }
static void note_circle(void *context, pp_pen pen, double x, double y, double radius)
{
    (void)pen, (void)x, (void)y;
    assert_true(radius > 0);
    ((record *)context)->circles++;
}
static void note_dots(void *context, long colour, double radius, size_t count, const pp_dot *dots)
{
    (void)radius, (void)dots;
    record *r = context;
    r->dots += count;
    if (colour == 0x111111) r->dark += count;
}
static void note_word(void *context, double x, double y, double size, long colour, bool rim,
                      const char *text)
{
    (void)colour;
    record *r = context;
    assert_true(r->words < WORDS_MAX);
    r->word[r->words].x = x, r->word[r->words].y = y, r->word[r->words].size = size;
    r->word[r->words].rim = rim;
    snprintf(r->word[r->words++].text, sizeof r->word->text, "%s", text);
}

static const pp_ink RECORDER = {.begin = ignore_pen,
                                .move = ignore_place,
                                .line = ignore_place,
                                .close = ignore,
                                .end = ignore,
                                .circle = note_circle,
                                .dots = note_dots,
                                .clip = ignore,
                                .clipped = ignore,
                                .unclip = ignore,
                                .word = note_word};

static bool has_word(const record *r, const char *text)
{
    for (size_t k = 0; k < r->words; k++)
        if (strstr(r->word[k].text, text)) return true;
    return false;
}

static void draw(pp_sample *s, pp_hold_map_kind kind, pp_hold_map *map, record *r)
{
    pp_error error = {0};
    size_t unlabelled;
    *r = (record){0};
    assert_true(pp_hold_map_due(&s->results, kind));
    assert_ok(pp_hold_map_make(&s->results, kind, &s->memory, map, &error), &error);
    pp_hold_picture picture = {
        .results = &s->results, .map = map, .width = 400, .most_height = 400, .letter = 12};
    pp_ink ink = RECORDER;
    ink.context = r;
    assert_ok(pp_hold_picture_draw(&picture, &ink, &s->memory, &unlabelled, &error), &error);
    assert_int_equal(unlabelled, 0);
    assert_true(pp_hold_picture_height(&picture, &s->memory, &error) > 400);
    for (size_t k = 0; k < r->words; k++) /* words beside marks: of known size */
        for (size_t m = 0; m < k; m++) {
            if (!r->word[k].rim || !r->word[m].rim) continue;
            pp_label_box box[2];
            for (int side = 0; side < 2; side++) {
                size_t i = side ? m : k;
                double wide = 0.6 * r->word[i].size * (double)strlen(r->word[i].text);
                box[side] = (pp_label_box){r->word[i].x, r->word[i].y - 0.8 * r->word[i].size,
                                           r->word[i].x + wide, r->word[i].y + 1};
            }
            assert_true(apart(&box[0], &box[1]));
        }
}

static void each_map_shows_its_holes_clamps_shims_and_outliers(void **state)
{
    (void)state;
    pp_sample s;
    pp_hold_map map;
    record r;
    const pp_sample_options options = {0};
    pp_sample_make(&s, &options);
    size_t holes = 0, failing = 0;
    for (size_t i = 0; i < s.holddown.count; i++)
        failing += s.holddown_judgement.class_[i] >= PP_NEEDS_HOLDDOWN;
    draw(&s, PP_MAP_UNDER_FOOT, &map, &r);
    for (size_t k = 0; k < map.class_count; k++) holes += map.holes[k];
    assert_int_equal(holes, s.holddown.count);
    assert_int_equal(r.dots, s.holddown.count);
    assert_true(map.failing == failing && r.dark == failing && failing > 0);
    if (s.flatness.surface.outlier_count) {
        char row[24];
        snprintf(row, sizeof row, "row %zu", s.flatness.surface.outliers[0]);
        assert_true(has_word(&r, row));
    }
    draw(&s, PP_MAP_FORCE, &map, &r);
    assert_true(map.force && has_word(&r, "kN"));
    draw(&s, PP_MAP_AFTER_PLAN, &map, &r);
    assert_true(has_word(&r, "1: ") && has_word(&r, "2: "));
    draw(&s, PP_MAP_SHIMS, &map, &r);
    assert_true(has_word(&r, "1") && r.dark == 0);
    s.holddown.clamp_count = 0;
    assert_false(pp_hold_map_due(&s.results, PP_MAP_AFTER_PLAN));
    pp_memory_free(&s.memory);
}

/* The field between the holes goes through a plane as it is, and is not known far from any. */
static void between_the_holes_a_plane_stays_a_plane(void **state)
{
    (void)state;
    pp_sample s;
    pp_hold_map map;
    pp_error error = {0};
    const pp_sample_options options = {.rings = 6};
    pp_sample_make(&s, &options);
    pp_hold *holes = pp_arena_take(&s.memory.keep, s.holddown.count, sizeof *holes);
    for (size_t i = 0; i < s.holddown.count; i++)
        holes[i] = (pp_hold){.gap_under_foot =
                                 1 + 0.002 * s.files.nominal.x[i] - 0.001 * s.files.nominal.y[i]};
    s.holddown.holes = holes;
    assert_ok(pp_hold_map_make(&s.results, PP_MAP_UNDER_FOOT, &s.memory, &map, &error), &error);
    double x = 0, y = 0;
    size_t known = 0, near = 0;
    for (size_t j = 0; j < map.raster.rows; j++)
        for (size_t i = 0; i < map.raster.columns; i++) {
            double value = map.raster.value[j * map.raster.columns + i];
            x = map.raster.x0 + (double)i * map.raster.dx;
            y = map.raster.y0 + (double)j * map.raster.dy;
            known += !isnan(value);
            double pitch = s.job.holes.pitch, from = hypot(x, y);
            if (from > 5.5 * pitch) continue;
            near++; /* at the last holes, all on one side, it goes on less steeply */
            assert_near(value, 1 + 0.002 * x - 0.001 * y, (from < 2 * pitch ? 1e-4 : 6e-4) * pitch);
        }
    assert_true(near > 5 && known < map.raster.rows * map.raster.columns);
    pp_memory_free(&s.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bands_cover_what_is_above_and_lines_bound_it),
        cmocka_unit_test(no_word_stands_over_another_or_over_a_mark),
        cmocka_unit_test(each_map_shows_its_holes_clamps_shims_and_outliers),
        cmocka_unit_test(between_the_holes_a_plane_stays_a_plane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
