#include "comparison/comparison.h"

#include <math.h>
#include <string.h>

#include "base/names.h"
#include "base/text.h"
#include "comparison/tables.h"

static const double SAME = 1e-9; /* mm: what the CSVs' digits leave */
static const double COVERAGE = 2;

const char *pp_change_words(pp_change change)
{
    static const char *const WORDS[] = {"new", "worse", "unchanged", "better", "repaired"};
    return WORDS[change];
}

const char *pp_compared_words(pp_compared characteristic)
{
    static const char *const WORDS[] = {"position", "diameter", "ligament"};
    return WORDS[characteristic];
}

typedef struct comparing {
    pp_memory *memory;
    int threads;
    pp_comparison *out;
    pp_compared_item *items;
    size_t room;
} comparing;

/* ---- rows of the two tables that belong together ---- */

typedef struct matched {
    pp_csv_table before, now;
    uint32_t *of; /* [now.rows]: the row before, PP_NAME_NONE */
    size_t lost;  /* rows before that are not there now */
} matched;

static pp_status keys_of(const pp_csv_table *t, int first, int count, pp_arena *arena,
                         const char ***keys, pp_error *error)
{
    PP_TAKE(*keys, arena, t->rows);
    for (size_t i = 0; i < t->rows; i++) {
        const char *a = t->column[first].text[i], *b = t->column[first + 1].text[i];
        (*keys)[i] = pp_text_kept(arena, "%s\x1f%s\x1f%s", a, b,
                                  count > 2 ? t->column[first + 2].text[i] : "");
        if (!(*keys)[i]) return pp_fail_memory(error);
    }
    return PP_OK;
}

/* *there: both reports have the table. */
static pp_status match_rows(comparing *c, pp_compared_table which, matched *m, bool *there,
                            pp_error *error)
{
    bool before, now;
    const char **old, **new;
    pp_names names;
    int count = which == PP_TABLE_OF_PAIRS ? 3 : 2;
    PP_TRY(pp_compared_table_read(c->out->folder[0], which, c->threads, c->memory, &before,
                                  &m->before, error));
    PP_TRY(pp_compared_table_read(c->out->folder[1], which, c->threads, c->memory, &now, &m->now,
                                  error));
    *there = before && now;
    if (!*there) return PP_OK;
    PP_TRY(keys_of(&m->before, 0, count, &c->memory->keep, &old, error));
    PP_TRY(keys_of(&m->now, 0, count, &c->memory->keep, &new, error));
    PP_TRY(pp_names_build(old, m->before.rows, &c->memory->keep, &names, error));
    PP_TAKE(m->of, &c->memory->keep, m->now.rows);
    pp_names_find_many(&names, new, m->now.rows, m->of);
    m->lost = m->before.rows;
    for (size_t i = 0; i < m->now.rows; i++) m->lost -= m->of[i] != PP_NAME_NONE;
    return PP_OK;
}

/* ---- one characteristic ---- */

/* How bad a class is; -1: not judged. What lies in the remainder is allowed, to few. */
enum { GOOD = 0, IN_REMAINDER, NOT_PROVEN, OUT };

static int badness(const char *class)
{
    static const struct {
        const char *class;
        int badness;
    } CLASSES[] = {{"in", GOOD},
                   {"in tolerance", GOOD},
                   {"standard", GOOD},
                   {"in remainder", IN_REMAINDER},
                   {"not proven", NOT_PROVEN}};
    if (!class[0]) return -1;
    for (size_t i = 0; i < sizeof CLASSES / sizeof *CLASSES; i++)
        if (strcmp(class, CLASSES[i].class) == 0) return CLASSES[i].badness;
    return OUT;
}

/* Is `now` further on the bad side? More position is worse, less ligament; of a diameter whichever
 * side it is out at. */
static bool goes_wrong(const pp_compared_item *item)
{
    bool low =
        item->characteristic == PP_COMPARED_LIGAMENT || strcmp(item->class_now, "undersize") == 0;
    return low ? item->now < item->before : item->now > item->before;
}

/* A difference within the uncertainty of both is none; where it is not known, any counts. */
static bool is_beyond(const pp_compared_item *item)
{
    double difference = fabs(item->now - item->before);
    return difference > (isnan(item->uncertainty) ? SAME : item->uncertainty + SAME);
}

static pp_status add_item(comparing *c, pp_compared_item *item, pp_error *error)
{
    int before = badness(item->class_before), now = badness(item->class_now);
    pp_comparison *o = c->out;
    o->compared[item->characteristic]++;
    bool beyond = is_beyond(item);
    o->moved[item->characteristic] += beyond;
    if (before == now && now < NOT_PROVEN) return PP_OK;
    if (now > before)
        item->change = before < NOT_PROVEN && now >= NOT_PROVEN ? PP_CHANGE_NEW : PP_CHANGE_WORSE;
    else if (now < before)
        item->change =
            before >= NOT_PROVEN && now < NOT_PROVEN ? PP_CHANGE_REPAIRED : PP_CHANGE_BETTER;
    else
        item->change = !beyond            ? PP_CHANGE_UNCHANGED
                       : goes_wrong(item) ? PP_CHANGE_WORSE
                                          : PP_CHANGE_BETTER;
    if (o->item_count == c->room) {
        pp_compared_item *more;
        c->room = c->room ? 2 * c->room : 256;
        PP_TAKE(more, &c->memory->keep, c->room);
        if (o->item_count) memcpy(more, c->items, o->item_count * sizeof *more);
        c->items = more;
    }
    c->items[o->item_count++] = *item;
    o->count[item->change]++;
    return PP_OK;
}

static double at(const pp_csv_table *t, int column, size_t row)
{
    return t->column[column].number ? t->column[column].number[row] : NAN;
}

static pp_status compare_holes(comparing *c, pp_error *error)
{
    matched m;
    bool there;
    PP_TRY(match_rows(c, PP_TABLE_OF_HOLES, &m, &there, error));
    if (!there) return PP_OK;
    c->out->only[0] = m.lost;
    for (size_t i = 0; i < m.now.rows; i++) {
        size_t b = m.of[i];
        if (m.of[i] == PP_NAME_NONE) {
            c->out->only[1]++;
            continue;
        }
        pp_compared_item item = {.characteristic = PP_COMPARED_POSITION,
                                 .hole = m.now.column[C_HOLE].text[i],
                                 .face = m.now.column[C_HOLE_FACE].text[i],
                                 .class_before = m.before.column[C_POSITION_CLASS].text[b],
                                 .class_now = m.now.column[C_POSITION_CLASS].text[i],
                                 .before = at(&m.before, C_POSITION, b),
                                 .now = at(&m.now, C_POSITION, i)};
        item.uncertainty =
            COVERAGE * hypot(at(&m.before, C_POSITION_U, b), at(&m.now, C_POSITION_U, i));
        if (!isnan(item.before) && !isnan(item.now)) PP_TRY(add_item(c, &item, error));
        item.characteristic = PP_COMPARED_DIAMETER, item.uncertainty = NAN;
        item.class_before = m.before.column[C_DIAMETER_CLASS].text[b];
        item.class_now = m.now.column[C_DIAMETER_CLASS].text[i];
        int end = strcmp(item.class_now, "undersize") == 0 ? C_DIAMETER_MIN : C_DIAMETER_MAX;
        item.before = at(&m.before, end, b), item.now = at(&m.now, end, i);
        if (!isnan(item.before) && !isnan(item.now)) PP_TRY(add_item(c, &item, error));
    }
    return PP_OK;
}

static pp_status compare_pairs(comparing *c, pp_error *error)
{
    matched m;
    bool there;
    PP_TRY(match_rows(c, PP_TABLE_OF_PAIRS, &m, &there, error));
    for (size_t i = 0; there && i < m.now.rows; i++) {
        size_t b = m.of[i];
        if (m.of[i] == PP_NAME_NONE) continue;
        pp_compared_item item = {.characteristic = PP_COMPARED_LIGAMENT,
                                 .hole = m.now.column[C_A].text[i],
                                 .other = m.now.column[C_B].text[i],
                                 .face = m.now.column[C_PAIR_FACE].text[i],
                                 .class_before = m.before.column[C_LIGAMENT_CLASS].text[b],
                                 .class_now = m.now.column[C_LIGAMENT_CLASS].text[i],
                                 .before = at(&m.before, C_LIGAMENT, b),
                                 .now = at(&m.now, C_LIGAMENT, i),
                                 .uncertainty = NAN};
        if (!isnan(item.before) && !isnan(item.now)) PP_TRY(add_item(c, &item, error));
    }
    return PP_OK;
}

/* ---- the face ---- */

static double figure_of(const pp_kept_report *r, const char *name)
{
    for (size_t i = 0; i < r->figure_count; i++)
        if (strcmp(r->figures[i].name, name) == 0) return r->figures[i].value;
    return NAN;
}

/* z = a + b x + c y by least squares, about the middle of the places. */
static void take_plane_out(size_t n, const double *x, const double *y, double *z)
{
    double mx = 0, my = 0, mz = 0, xx = 0, xy = 0, yy = 0, xz = 0, yz = 0, count = (double)n;
    for (size_t i = 0; i < n; i++) mx += x[i] / count, my += y[i] / count, mz += z[i] / count;
    for (size_t i = 0; i < n; i++) {
        double dx = x[i] - mx, dy = y[i] - my, dz = z[i] - mz;
        xx += dx * dx, xy += dx * dy, yy += dy * dy, xz += dx * dz, yz += dy * dz;
    }
    double det = xx * yy - xy * xy;
    double b = det > 0 ? (xz * yy - yz * xy) / det : 0, c = det > 0 ? (yz * xx - xz * xy) / det : 0;
    for (size_t i = 0; i < n; i++) z[i] -= mz + b * (x[i] - mx) + c * (y[i] - my);
}

/* Both maps lie on the same grid where plate and settings are the same; other places do not count.
 */
static pp_status compare_faces(comparing *c, pp_error *error)
{
    pp_csv_table before, now;
    bool first, second;
    pp_moved_face *f = &c->out->face;
    static const char flatness[] = "flatness.minimum_zone.flatness";
    f->flatness_before = figure_of(&c->out->report[0], flatness);
    f->flatness_now = figure_of(&c->out->report[1], flatness);
    PP_TRY(pp_compared_table_read(c->out->folder[0], PP_TABLE_OF_PLACES, c->threads, c->memory,
                                  &first, &before, error));
    PP_TRY(pp_compared_table_read(c->out->folder[1], PP_TABLE_OF_PLACES, c->threads, c->memory,
                                  &second, &now, error));
    if (!first || !second) return PP_OK;
    double *x, *y, *z;
    PP_TAKE(x, &c->memory->keep, now.rows);
    PP_TAKE(y, &c->memory->keep, now.rows);
    PP_TAKE(z, &c->memory->keep, now.rows);
    for (size_t i = 0, k = 0; i < now.rows; i++) { /* both in rows of y, then x */
        double px = at(&now, C_MAP_X, i), py = at(&now, C_MAP_Y, i);
        while (k < before.rows && (at(&before, C_MAP_Y, k) < py - SAME ||
                                   (fabs(at(&before, C_MAP_Y, k) - py) <= SAME &&
                                    at(&before, C_MAP_X, k) < px - SAME)))
            k++;
        if (k == before.rows) break;
        if (fabs(at(&before, C_MAP_X, k) - px) > SAME || fabs(at(&before, C_MAP_Y, k) - py) > SAME)
            continue;
        x[f->places] = px, y[f->places] = py;
        z[f->places++] = at(&now, C_MAP_HEIGHT, i) - at(&before, C_MAP_HEIGHT, k);
    }
    take_plane_out(f->places, x, y, z);
    for (size_t i = 0; i < f->places; i++) {
        f->rms += z[i] * z[i];
        if (fabs(z[i]) > fabs(f->largest)) f->largest = z[i], f->x = x[i], f->y = y[i];
    }
    f->rms = f->places ? sqrt(f->rms / (double)f->places) : 0;
    return PP_OK;
}

/* ---- all of it ---- */

static pp_status compare(comparing *c, pp_error *error)
{
    pp_comparison *o = c->out;
    for (int k = 0; k < 2; k++)
        PP_TRY(pp_kept_report_read_any(o->folder[k], c->threads, c->memory, &o->report[k], error));
    const pp_kept_report *a = &o->report[0], *b = &o->report[1];
    o->same_plate = strcmp(a->plate_id, b->plate_id) == 0 && strcmp(a->serial, b->serial) == 0;
    PP_TRY(compare_holes(c, error));
    PP_TRY(compare_pairs(c, error));
    PP_TRY(compare_faces(c, error));
    size_t all = o->face.places;
    for (int k = 0; k < PP_COMPARED_KINDS; k++) all += o->compared[k];
    if (all == 0 && isnan(o->face.flatness_before + o->face.flatness_now))
        return pp_fail(
            error, PP_EINPUT,
            "the two reports have no hole and no map place in common; name two reports of "
            "one plate");
    return PP_OK;
}

pp_status pp_compare_reports(const char *before, const char *now, int threads, pp_memory *memory,
                             pp_comparison *comparison, pp_error *error)
{
    pp_comparison out = {.folder = {before, now}};
    comparing c = {.memory = memory, .threads = threads, .out = &out};
    PP_TRY(compare(&c, error));
    pp_compared_item *sorted; /* in the order of the report among equals, as qsort would not */
    size_t n = 0;
    PP_TAKE(sorted, &memory->keep, out.item_count);
    for (int change = 0; change < PP_CHANGE_KINDS; change++)
        for (int kind = 0; kind < PP_COMPARED_KINDS; kind++)
            for (size_t i = 0; i < out.item_count; i++)
                if (c.items[i].change == (pp_change)change &&
                    c.items[i].characteristic == (pp_compared)kind)
                    sorted[n++] = c.items[i];
    out.items = sorted;
    *comparison = out;
    return PP_OK;
}
