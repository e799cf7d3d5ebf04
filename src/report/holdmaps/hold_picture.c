#include "report/holdmaps/hold_picture.h"

#include <math.h>

#include "answer/for_people.h"
#include "report/holdmaps/map_words.h"

enum { LABELS_MOST = 4000, LINE_LEAST = 12, LINE_LONG = 60 /* pieces of a contour line */ };
static const double MARGIN = 10, LINE = 1.55, LETTER_WIDE = 0.62;  /* of the letter's size */
static const double PIN = 2.6, CLAMP = 5.5, SHIM = 5, OUTLIER = 4; /* sizes of marks */
static const long INK = 0x1b1f24, SOFT = 0x56606b, QUIET = 0x8a949e, LINES = 0x2f5d8a;
static const long PINS = 0xaa3377, MARKS = 0x111111, SHIMS = 0xe69f00, RED = 0xd55e00;

typedef struct drawing {
    const pp_hold_picture *p;
    const pp_results *r;
    const pp_hold_map *m;
    const pp_ink *ink;
    pp_plate_view view;
    double scale, plate_width, plate_height, left;
    pp_map_words labels;
    size_t unlabelled;
    pp_text words;
    pp_dot *dots; /* [holes] */
} drawing;

static double across(const drawing *d, double x) { return d->left + (x - d->view.xmin) * d->scale; }

static double down(const drawing *d, double y) { return MARGIN + (d->view.ymax - y) * d->scale; }

static pp_status fit(drawing *d, pp_memory *memory, pp_error *error)
{
    PP_TRY(pp_plate_view_make(d->r, memory, &d->view, error));
    double wide = fmax(d->view.xmax - d->view.xmin, 1e-9);
    double tall = fmax(d->view.ymax - d->view.ymin, 1e-9);
    d->scale = fmin((d->p->width - 2 * MARGIN) / wide, (d->p->most_height - 2 * MARGIN) / tall);
    d->plate_width = wide * d->scale;
    d->plate_height = tall * d->scale;
    d->left = (d->p->width - d->plate_width) / 2;
    return PP_OK;
}

static const char *said(drawing *d) { return d->words.data ? d->words.data : ""; }

static double width_of(const drawing *d, const char *text)
{
    size_t letters = 0;
    for (const char *c = text; *c; c++) letters += ((unsigned char)*c & 0xc0) != 0x80;
    return LETTER_WIDE * d->p->letter * (double)letters;
}

/* The plate and its bands ------------------------------------------------------------------ */

static void trace_corner(void *context, double x, double y, bool begins)
{
    const drawing *d = context;
    (begins ? d->ink->move : d->ink->line)(d->ink->context, across(d, x), down(d, y));
}

static void outline_path(drawing *d)
{
    pp_outline_spec shape = pp_job_outline(d->r->job);
    if (shape.kind != PP_OUTLINE_NONE) {
        pp_outline_trace(&shape, trace_corner, d);
    } else {
        trace_corner(d, d->view.xmin, d->view.ymin, true);
        trace_corner(d, d->view.xmax, d->view.ymin, false);
        trace_corner(d, d->view.xmax, d->view.ymax, false);
        trace_corner(d, d->view.xmin, d->view.ymax, false);
    }
    d->ink->close(d->ink->context);
}

static void rim(drawing *d, long fill, long stroke)
{
    d->ink->begin(d->ink->context, (pp_pen){.fill = fill, .stroke = stroke, .width = 1});
    outline_path(d);
    d->ink->end(d->ink->context);
}

static void segment(void *context, double x1, double y1, double x2, double y2)
{
    const drawing *d = context;
    d->ink->move(d->ink->context, across(d, x1), down(d, y1));
    d->ink->line(d->ink->context, across(d, x2), down(d, y2));
}

static void bands(drawing *d)
{
    const pp_ink *ink = d->ink;
    ink->clip(ink->context);
    outline_path(d);
    ink->clipped(ink->context);
    for (size_t k = 0; k < d->m->class_count; k++) {
        ink->begin(ink->context, (pp_pen){.fill = (long)d->m->colour[k], .stroke = PP_NO_COLOUR});
        pp_raster_above(&d->m->raster, d->m->from[k], trace_corner, d);
        ink->end(ink->context);
    }
    for (size_t k = 1; k < d->m->class_count; k++) {
        ink->begin(ink->context,
                   (pp_pen){.fill = PP_NO_COLOUR, .stroke = LINES, .width = k == 1 ? 0.5 : 0.7});
        pp_raster_line(&d->m->raster, d->m->from[k], segment, d);
        ink->end(ink->context);
    }
    ink->unclip(ink->context);
}

/* Marks ------------------------------------------------------------------------------------ */

static void holes(const drawing *d)
{
    const pp_nominal *n = &d->r->files->nominal;
    for (int failing = 0; failing < 2; failing++) {
        size_t count = 0;
        double radius = 0.7;
        for (size_t k = 0; k < d->view.drawn_count; k++) {
            size_t i = d->view.drawn[k];
            if (d->m->fails[i] != failing) continue;
            d->dots[count++] = (pp_dot){across(d, n->x[i]), down(d, n->y[i])};
            radius = fmax(radius, fmin(0.55 * d->view.radius[i] * d->scale, failing ? 2.2 : 1.6));
        }
        if (count) d->ink->dots(d->ink->context, failing ? MARKS : QUIET, radius, count, d->dots);
    }
}

static void occupy(drawing *d, double x, double y, double half)
{
    pp_map_words_take(&d->labels, (pp_label_box){x - half, y - half, x + half, y + half});
}

static void pins(drawing *d)
{
    const pp_holddown *h = d->r->holddown;
    for (size_t i = 0; i < h->pin_count; i++) {
        double x = across(d, h->pin_x[i]), y = down(d, h->pin_y[i]);
        d->ink->circle(d->ink->context, (pp_pen){.fill = 0xffffff, .stroke = PINS, .width = 1.4}, x,
                       y, PIN);
        occupy(d, x, y, PIN);
    }
}

static void square(const drawing *d, double x, double y, double half, pp_pen pen)
{
    const pp_ink *ink = d->ink;
    ink->begin(ink->context, pen);
    ink->move(ink->context, x - half, y - half);
    ink->line(ink->context, x + half, y - half);
    ink->line(ink->context, x + half, y + half);
    ink->line(ink->context, x - half, y + half);
    ink->close(ink->context);
    ink->end(ink->context);
}

static void triangle(const drawing *d, double x, double y, double half)
{
    const pp_ink *ink = d->ink;
    ink->begin(ink->context, (pp_pen){.fill = SHIMS, .stroke = MARKS, .width = 0.8});
    ink->move(ink->context, x, y - half);
    ink->line(ink->context, x + half, y + half * 0.8);
    ink->line(ink->context, x - half, y + half * 0.8);
    ink->close(ink->context);
    ink->end(ink->context);
}

static void cross(const drawing *d, double x, double y, double half)
{
    const pp_ink *ink = d->ink;
    ink->begin(ink->context, (pp_pen){.fill = PP_NO_COLOUR, .stroke = RED, .width = 2});
    ink->move(ink->context, x - half, y - half);
    ink->line(ink->context, x + half, y + half);
    ink->move(ink->context, x - half, y + half);
    ink->line(ink->context, x + half, y - half);
    ink->end(ink->context);
}

/* Words ------------------------------------------------------------------------------------- */

/* d->words beside a mark; a line leads there from far away. */
static void label(drawing *d, double x, double y, double radius, long colour)
{
    pp_label_box box;
    bool away;
    double letter = d->p->letter;
    if (!pp_map_words_place(&d->labels, x, y, radius, width_of(d, said(d)) + 2, letter + 2, &box,
                            &away)) {
        d->unlabelled++;
        return;
    }
    if (away) {
        const pp_ink *ink = d->ink;
        double to_x = fmin(fmax(x, box.left), box.right);
        double to_y = fmin(fmax(y, box.top), box.bottom);
        ink->begin(ink->context, (pp_pen){.fill = PP_NO_COLOUR, .stroke = colour, .width = 0.6});
        ink->move(ink->context, x, y);
        ink->line(ink->context, to_x, to_y);
        ink->end(ink->context);
    }
    d->ink->word(d->ink->context, box.left + 1, box.bottom - 1 - 0.15 * letter, letter, colour,
                 true, said(d));
}

static void clamps(drawing *d)
{
    pp_length_unit units = d->r->job->units;
    double pad = d->r->job->holddown.clamp_pad / 2 * d->scale;
    double half = pad > CLAMP ? pad : CLAMP;
    const pp_pen pen = {.fill = PP_NO_COLOUR, .stroke = MARKS, .width = 1.8};
    for (size_t k = 0; k < d->m->clamp_count; k++) {
        const pp_clamp *c = &d->m->clamps[k];
        square(d, across(d, c->x), down(d, c->y), half, pen);
        occupy(d, across(d, c->x), down(d, c->y), half);
    }
    for (size_t k = 0; k < d->m->clamp_count; k++) {
        const pp_clamp *c = &d->m->clamps[k];
        pp_text_clear(&d->words);
        pp_text_print(&d->words, "%zu: ", k + 1);
        pp_people_force(&d->words, units, c->force);
        label(d, across(d, c->x), down(d, c->y), half, INK);
    }
}

static void shims(drawing *d)
{
    const pp_holddown *h = d->r->holddown;
    if (d->m->kind != PP_MAP_SHIMS) return;
    for (size_t k = 0; k < h->shim_count; k++) {
        double x = across(d, h->shims[k].x), y = down(d, h->shims[k].y);
        triangle(d, x, y, SHIM);
        occupy(d, x, y, SHIM);
    }
    for (size_t k = 0; k < h->shim_count; k++) {
        pp_text_clear(&d->words);
        pp_text_print(&d->words, "%zu", k + 1);
        label(d, across(d, h->shims[k].x), down(d, h->shims[k].y), SHIM, INK);
    }
}

/* The survey's point on this data row, in the plate's frame */
static bool find_row(const pp_survey *survey, size_t row, double *x, double *y)
{
    double z;
    for (size_t i = 0; i < survey->count; i++) {
        if (pp_survey_row(survey, i) != row) continue;
        pp_survey_to_plate(&survey->frame, survey->x[i], survey->y[i], survey->z[i], x, y, &z);
        return true;
    }
    return false;
}

static void outliers(drawing *d)
{
    const pp_surface *s = d->r->flatness ? &d->r->flatness->surface : NULL;
    if (!s || !d->r->survey || d->m->kind != PP_MAP_UNDER_FOOT) return;
    for (size_t k = 0; k < s->outlier_count; k++) {
        double x, y;
        if (!find_row(d->r->survey, s->outliers[k], &x, &y)) continue;
        cross(d, across(d, x), down(d, y), OUTLIER);
        occupy(d, across(d, x), down(d, y), OUTLIER);
    }
    for (size_t k = 0; k < s->outlier_count; k++) {
        double x, y;
        if (!find_row(d->r->survey, s->outliers[k], &x, &y)) continue;
        pp_text_clear(&d->words);
        pp_text_print(&d->words, "row %zu", s->outliers[k]);
        label(d, across(d, x), down(d, y), OUTLIER, 0x9c4400);
    }
}

static void add_value(drawing *d, double value)
{
    pp_length_unit units = d->r->job->units;
    if (d->m->force)
        pp_people_force(&d->words, units, value);
    else
        pp_people_limit(&d->words, units, value);
}

/* A contour line carries its value, where there is room on it: once, a long line twice. */
typedef struct line_words {
    drawing *d;
    size_t pieces, from; /* so far; the first that may carry it */
    bool said;
} line_words;

static void count_piece(void *context, double x1, double y1, double x2, double y2)
{
    (void)x1, (void)y1, (void)x2, (void)y2;
    ((line_words *)context)->pieces++;
}

static void word_on_line(void *context, double x1, double y1, double x2, double y2)
{
    line_words *l = context;
    drawing *d = l->d;
    if (l->pieces++ < l->from || l->said) return;
    double wide = width_of(d, said(d)) + 2, tall = d->p->letter + 2;
    double x = across(d, (x1 + x2) / 2), y = down(d, (y1 + y2) / 2);
    pp_label_box box = {x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2};
    l->said = pp_map_words_here(&d->labels, box);
    if (l->said)
        d->ink->word(d->ink->context, box.left + 1, box.bottom - 1 - 0.15 * d->p->letter,
                     d->p->letter, LINES, true, said(d));
}

static void line_labels(drawing *d)
{
    static const double at[] = {0.25, 0.75}; /* of its pieces, which run up the picture */
    for (size_t k = 1; k < d->m->class_count; k++) {
        line_words line = {.d = d};
        pp_raster_line(&d->m->raster, d->m->from[k], count_piece, &line);
        if (line.pieces < LINE_LEAST) continue;
        pp_text_clear(&d->words);
        add_value(d, d->m->from[k]);
        for (int n = line.pieces < LINE_LONG; n < 2; n++) {
            line_words l = {.d = d, .from = (size_t)(at[n] * (double)line.pieces)};
            pp_raster_line(&d->m->raster, d->m->from[k], word_on_line, &l);
        }
    }
}

/* Below ---------------------------------------------------------------------------------- */

static void add_class_words(drawing *d, size_t k)
{
    const pp_hold_map *m = d->m;
    bool first = k == 0, last = k + 1 == m->class_count;
    pp_text_clear(&d->words);
    if (last) pp_text_add(&d->words, "above "), add_value(d, m->from[k]);
    if (first) {
        bool below = m->from[1] < 0; /* the pin plane */
        pp_text_add(&d->words, below ? "sags, more than " : "up to ");
        add_value(d, below ? -m->from[1] : m->from[1]);
        if (below) pp_text_add(&d->words, " below the pins");
    }
    if (!first && !last) {
        if (m->from[k] >= 0)
            add_value(d, m->from[k]), pp_text_add(&d->words, " to ");
        else
            pp_text_add(&d->words, "up to ");
        add_value(d, m->from[k + 1]);
    }
    pp_text_add(&d->words, ": ");
    pp_people_count(&d->words, m->holes[k]);
    pp_text_add(&d->words, m->holes[k] == 1 ? " hole" : " holes");
}

static double legend_top(const drawing *d) { return 2 * MARGIN + d->plate_height + 4; }

static bool has_outliers(const drawing *d)
{
    return d->m->kind == PP_MAP_UNDER_FOOT && d->r->flatness && d->r->survey &&
           d->r->flatness->surface.outlier_count > 0;
}

/* That nothing sags need not be said. */
static size_t first_class(const drawing *d) { return d->m->from[1] < 0 && !d->m->holes[0]; }

static size_t legend_rows(const drawing *d)
{
    return d->m->class_count - first_class(d) + (d->m->failing > 0) +
           (d->r->holddown->pin_count > 0) + has_outliers(d);
}

static void legend_word(drawing *d, double y, const char *text)
{
    d->ink->word(d->ink->context, MARGIN + 2.2 * d->p->letter, y + 0.35 * d->p->letter,
                 d->p->letter, INK, false, text);
}

static void legend(drawing *d)
{
    double letter = d->p->letter, y = legend_top(d) + letter / 2, x = MARGIN + 0.8 * letter;
    for (size_t k = first_class(d); k < d->m->class_count; k++, y += LINE * letter) {
        square(d, x, y, 0.45 * letter,
               (pp_pen){.fill = (long)d->m->colour[k], .stroke = SOFT, .width = 0.6});
        add_class_words(d, k);
        legend_word(d, y, said(d));
    }
    if (d->m->failing) {
        d->ink->circle(d->ink->context, (pp_pen){.fill = MARKS, .stroke = PP_NO_COLOUR}, x, y,
                       0.2 * letter);
        pp_text_clear(&d->words);
        pp_people_count(&d->words, d->m->failing);
        pp_text_add(&d->words, d->m->failing == 1 ? " hole not held" : " holes not held");
        legend_word(d, y, said(d));
        y += LINE * letter;
    }
    if (d->r->holddown->pin_count) {
        d->ink->circle(d->ink->context, (pp_pen){.fill = 0xffffff, .stroke = PINS, .width = 1.4}, x,
                       y, PIN);
        legend_word(d, y, "support pin");
        y += LINE * letter;
    }
    if (has_outliers(d)) {
        cross(d, x, y, 0.35 * letter);
        legend_word(d, y, "survey point that stands out, by its row");
    }
}

/* Whole --------------------------------------------------------------------------------- */

static pp_status begin(const pp_hold_picture *p, pp_memory *memory, drawing *d, pp_error *error)
{
    *d = (drawing){.p = p, .r = p->results, .m = p->map};
    return fit(d, memory, error);
}

double pp_hold_picture_height(const pp_hold_picture *picture, pp_memory *memory, pp_error *error)
{
    drawing d;
    if (begin(picture, memory, &d, error) != PP_OK) return 0;
    return legend_top(&d) + LINE * picture->letter * (double)legend_rows(&d) + MARGIN;
}

pp_status pp_hold_picture_draw(const pp_hold_picture *picture, const pp_ink *ink, pp_memory *memory,
                               size_t *unlabelled, pp_error *error)
{
    drawing d;
    PP_TRY(begin(picture, memory, &d, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    d.ink = ink;
    d.labels.room = LABELS_MOST;
    d.labels.frame = (pp_label_box){0, 0, picture->width, 2 * MARGIN + d.plate_height};
    PP_TAKE(d.labels.taken, &memory->scratch, LABELS_MOST);
    PP_TAKE(d.dots, &memory->scratch, d.view.drawn_count);
    rim(&d, 0xf4f6f8, PP_NO_COLOUR);
    bands(&d);
    rim(&d, PP_NO_COLOUR, SOFT);
    holes(&d);
    pins(&d);
    shims(&d);
    clamps(&d);
    outliers(&d);
    line_labels(&d);
    legend(&d);
    pp_arena_release(&memory->scratch, mark);
    bool failed = d.words.failed;
    pp_text_free(&d.words);
    *unlabelled = d.unlabelled;
    return failed ? pp_fail_memory(error) : PP_OK;
}
