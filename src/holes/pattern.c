#include "holes/pattern.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/compare.h"

/* A layout as rows along x: rows dy apart, holes dx apart, every second row shifted by half of dx
 * if staggered; `cell` is where the first hole lies when the middle of a cell is at the centre. */
typedef struct lattice {
    double dx, dy;
    bool staggered;
    double cell_x, cell_y;
} lattice;

static lattice lattice_of(pp_layout layout, double pitch)
{
    double root2 = sqrt(2), root3 = sqrt(3);
    switch (layout) {
    case PP_TRIANGULAR_30:
        return (lattice){pitch, pitch * root3 / 2, true, 0, pitch / root3};
    case PP_TRIANGULAR_60:
        return (lattice){pitch * root3, pitch / 2, true, pitch / root3, 0};
    case PP_SQUARE_90:
        return (lattice){pitch, pitch, false, pitch / 2, pitch / 2};
    case PP_SQUARE_45:
        return (lattice){pitch * root2, pitch / root2, true, pitch / root2, 0};
    }
    return (lattice){0};
}

/* The part of the field where centres may lie: half its width and height, or its radius. */
typedef struct reach {
    double x, y;
    double radius; /* NaN: rectangular */
} reach;

static pp_status find_reach(const pp_pattern_options *o, reach *r, pp_error *error)
{
    double inset = o->hole / 2 + o->margin;
    *r = (reach){o->width / 2 - inset, o->height / 2 - inset, NAN};
    if (o->round) r->x = r->y = r->radius = o->diameter / 2 - inset;
    if (!(o->pitch > 0) || !isfinite(o->pitch))
        return pp_fail(error, PP_EINPUT, "the pitch is not above zero; give the pattern's pitch");
    if (!(o->hole >= 0) || !(o->margin >= 0) || !isfinite(inset))
        return pp_fail(error, PP_EINPUT,
                       "hole and margin can't be below zero; give 0 where they don't matter");
    if (o->hole > o->pitch)
        return pp_fail(error, PP_EINPUT,
                       "the hole is larger than the pitch, so that neighbours would overlap; check "
                       "both and their units");
    if (!isfinite(r->x) || !isfinite(r->y))
        return pp_fail(error, PP_EINPUT,
                       "the field has no size; give its diameter, or its width and height");
    if (pp_less_than(r->x, 0) || pp_less_than(r->y, 0))
        return pp_fail(error, PP_ENOTHING,
                       "the field is too small for one hole with its margin; check the sizes and "
                       "their units");
    return PP_OK;
}

static bool in_a_lane(const pp_pattern_options *o, double x, double y)
{
    for (size_t i = 0; i < o->lane_count; i++) {
        const pp_lane *lane = &o->lanes[i];
        double off = fabs((lane->vertical ? x : y) - lane->place);
        if (pp_less_than(off, lane->width / 2 + o->hole / 2)) return true;
    }
    return false;
}

/* A row of the lattice: its y, its first x, and the range of i (x = first + i dx) that fits. */
typedef struct row_span {
    double y, first;
    long long from, to;
} row_span;

static row_span span_of(const pp_pattern_options *o, const lattice *l, const reach *r, long long j)
{
    row_span s;
    bool odd = l->staggered && j % 2 != 0;
    s.y = (double)j * l->dy + (o->on_cell ? l->cell_y : 0);
    s.first = (odd ? l->dx / 2 : 0) + (o->on_cell ? l->cell_x : 0);
    double half = r->x + PP_ALLOWANCE;
    if (!isnan(r->radius)) half = sqrt(half * half - s.y * s.y); /* NaN beyond: an empty span */
    s.from = isnan(half) ? 0 : (long long)ceil((-half - s.first) / l->dx);
    s.to = isnan(half) ? -1 : (long long)floor((half - s.first) / l->dx);
    return s;
}

/* Column of hole i of row j among all that the lattice has: half steps where it is staggered. */
static long long column_of(const lattice *l, long long j, long long i)
{
    return l->staggered ? 2 * i + (j % 2 != 0) : i;
}

/* Where the lattice meets the field. */
typedef struct filling {
    const pp_pattern_options *options;
    lattice lattice;
    reach reach;
    long long row_from, row_to;
    long long column_from, column_to;
} filling;

static pp_status begin_filling(const pp_pattern_options *o, filling *f, pp_error *error)
{
    f->options = o;
    f->lattice = lattice_of(o->layout, o->pitch);
    PP_TRY(find_reach(o, &f->reach, error));
    double rows = (2 * f->reach.y + o->pitch) / f->lattice.dy;
    double columns = (2 * f->reach.x + o->pitch) / f->lattice.dx;
    if (rows * columns > 1.5 * PP_PATTERN_MAX || rows > PP_PATTERN_MAX || columns > PP_PATTERN_MAX)
        return pp_fail(error, PP_EINPUT,
                       "the pattern would have more than %d holes; check the pitch, the field and "
                       "their units",
                       PP_PATTERN_MAX);
    double shift = o->on_cell ? f->lattice.cell_y : 0, half = f->reach.y + PP_ALLOWANCE;
    f->row_from = (long long)ceil((-half - shift) / f->lattice.dy);
    f->row_to = (long long)floor((half - shift) / f->lattice.dy);
    f->column_from = -(long long)columns - 3;
    f->column_to = (long long)columns + 3;
    if (f->lattice.staggered) f->column_from *= 2, f->column_to *= 2;
    return PP_OK;
}

/* The holes, in order; x, y and the rest may be NULL to count only. `used` marks columns. */
static size_t fill(const filling *f, double *x, double *y, uint32_t *row, uint32_t *column,
                   uint32_t *row_count, uint32_t *used)
{
    size_t count = 0;
    uint32_t rows = 0;
    for (long long j = f->row_from; j <= f->row_to; j++) {
        row_span s = span_of(f->options, &f->lattice, &f->reach, j);
        size_t before = count;
        for (long long i = s.from; i <= s.to; i++) {
            double hole_x = s.first + (double)i * f->lattice.dx + f->options->centre_x;
            double hole_y = s.y + f->options->centre_y;
            if (in_a_lane(f->options, hole_x, hole_y)) continue;
            long long c = column_of(&f->lattice, j, i) - f->column_from;
            used[c] = 1;
            if (x) {
                x[count] = hole_x;
                y[count] = hole_y;
                row[count] = rows + 1;
                column[count] = (uint32_t)c;
            }
            count++;
        }
        rows += count > before;
    }
    *row_count = rows;
    return count;
}

static pp_status take_holes(const filling *f, uint32_t *used, size_t columns, pp_memory *memory,
                            pp_pattern *pattern, pp_error *error)
{
    pp_pattern result = {0};
    result.count = fill(f, NULL, NULL, NULL, NULL, &result.row_count, used);
    if (!result.count)
        return pp_fail(error, PP_ENOTHING,
                       "no hole fits into the field; check the sizes and the lanes");
    double *x, *y;
    uint32_t *row, *column;
    PP_TAKE(x, &memory->keep, result.count);
    PP_TAKE(y, &memory->keep, result.count);
    PP_TAKE(row, &memory->keep, result.count);
    PP_TAKE(column, &memory->keep, result.count);
    fill(f, x, y, row, column, &result.row_count, used);
    for (size_t c = 0; c < columns; c++) /* number the columns that have holes */
        if (used[c]) used[c] = ++result.column_count;
    for (size_t i = 0; i < result.count; i++) column[i] = used[column[i]];
    result.x = x;
    result.y = y;
    result.row = row;
    result.column = column;
    *pattern = result;
    return PP_OK;
}

pp_status pp_pattern_make(const pp_pattern_options *options, pp_memory *memory, pp_pattern *pattern,
                          pp_error *error)
{
    filling f = {0};
    PP_TRY(begin_filling(options, &f, error));
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t columns = (size_t)(f.column_to - f.column_from + 1);
    uint32_t *used;
    PP_TAKE_ZERO(used, &memory->scratch, columns);
    pp_status status = take_holes(&f, used, columns, memory, pattern, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

static int digits_for(uint32_t number)
{
    int digits = 3;
    for (uint32_t limit = 1000; digits < 10 && number >= limit; limit *= 10) digits++;
    return digits;
}

size_t pp_pattern_name(const pp_pattern *pattern, size_t hole, char name[PP_PATTERN_NAME_MAX])
{
    return (size_t)snprintf(name, PP_PATTERN_NAME_MAX, "R%0*uC%0*u", digits_for(pattern->row_count),
                            pattern->row[hole], digits_for(pattern->column_count),
                            pattern->column[hole]);
}

/* A coordinate to 1e-6 mm: drawings have no more, and the digits stay few. */
static void add_coordinate(pp_text *csv, double mm, pp_length_unit unit)
{
    static const double steps_per_mm = 1e6, steps_per_inch = 1e8;
    double per_unit = unit == PP_INCH ? steps_per_inch : steps_per_mm;
    pp_text_add_number(csv, round(mm / pp_unit_mm(unit) * per_unit) / per_unit);
}

void pp_pattern_csv(const pp_pattern *pattern, pp_length_unit unit, pp_text *csv)
{
    pp_text_print(csv, "hole,x_%s,y_%s\n", pp_unit_name(unit), pp_unit_name(unit));
    for (size_t i = 0; i < pattern->count; i++) {
        char name[PP_PATTERN_NAME_MAX];
        pp_text_add_bytes(csv, name, pp_pattern_name(pattern, i, name));
        pp_text_add(csv, ",");
        add_coordinate(csv, pattern->x[i], unit);
        pp_text_add(csv, ",");
        add_coordinate(csv, pattern->y[i], unit);
        pp_text_add(csv, "\n");
    }
}
