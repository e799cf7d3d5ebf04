#include "holes/pitch.h"

#include <string.h>

#include "base/compare.h"
#include "base/parallel.h"

enum { PARTS = 64 };

/* --- pitch ------------------------------------------------------------------------------------ */

static const double PITCH_STEP = 0.01; /* mm: a larger step between sorted distances cuts them */

enum { RADIX_BITS = 11, RADIX_SIZE = 1 << RADIX_BITS, RADIX_PASSES = 6 };

/* Sort non-negative doubles: their bits, read as integers, are in the same order. */
static void sort_distances(size_t count, double *values, double *spare)
{
    for (int pass = 0; pass < RADIX_PASSES; pass++) {
        uint32_t next[RADIX_SIZE] = {0};
        int shift = pass * RADIX_BITS;
        for (size_t i = 0; i < count; i++) {
            uint64_t bits;
            memcpy(&bits, &values[i], sizeof bits);
            next[bits >> shift & (RADIX_SIZE - 1)]++;
        }
        uint32_t total = 0;
        for (size_t k = 0; k < RADIX_SIZE; k++) {
            uint32_t here = next[k];
            next[k] = total;
            total += here;
        }
        for (size_t i = 0; i < count; i++) {
            uint64_t bits;
            memcpy(&bits, &values[i], sizeof bits);
            spare[next[bits >> shift & (RADIX_SIZE - 1)]++] = values[i];
        }
        double *swap = values;
        values = spare;
        spare = swap;
    } /* an even number of passes: the result stands where it began */
}

static double median(const double *sorted, size_t count)
{
    return count % 2 ? sorted[count / 2] : 0.5 * (sorted[count / 2 - 1] + sorted[count / 2]);
}

/* Median of the largest group of sorted distances (tie: the shorter). */
static double largest_group_median(const double *sorted, size_t count)
{
    size_t best_first = 0, best_count = 0;
    for (size_t first = 0; first < count;) {
        size_t end = first + 1;
        while (end < count && sorted[end] - sorted[end - 1] <= PITCH_STEP) end++;
        if (end - first > best_count) {
            best_first = first;
            best_count = end - first;
        }
        first = end;
    }
    return median(sorted + best_first, best_count);
}

/* Distance from place k of the grid to the nearest other point: rings of cells, outwards. */
static double nearest_other(const pp_grid *grid, size_t k)
{
    double x = grid->x[k], y = grid->y[k];
    for (double radius = grid->cell;; radius *= 2) {
        pp_grid_window w = pp_grid_around(grid, x, y, radius);
        double best = INFINITY;
        for (size_t row = w.row_first; row <= w.row_last; row++) {
            size_t end = pp_grid_end(grid, w, row);
            for (size_t j = pp_grid_first(grid, w, row); j < end; j++) {
                double dx = grid->x[j] - x, dy = grid->y[j] - y, square = dx * dx + dy * dy;
                if (j != k && square < best) best = square;
            }
        }
        bool all = w.column_first == 0 && w.column_last == grid->columns - 1 && w.row_first == 0 &&
                   w.row_last == grid->rows - 1;
        if (best <= radius * radius || all) return sqrt(best);
    }
}

typedef struct distance_search {
    const pp_grid *grid;
    double *distance;
} distance_search;

static pp_status distance_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    distance_search *s = context;
    size_t end = pp_part_begin(s->grid->count, PARTS, part + 1);
    for (size_t k = pp_part_begin(s->grid->count, PARTS, part); k < end; k++)
        s->distance[k] = nearest_other(s->grid, k);
    return PP_OK;
}

pp_status pp_pitch_find(double given, const pp_nominal *nominal, int threads, pp_memory *memory,
                        double *pitch, pp_error *error)
{
    if (pp_given(given)) {
        *pitch = given;
        return PP_OK;
    }
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *x, *y, *distance, *spare;
    PP_TAKE(x, &memory->scratch, nominal->count);
    PP_TAKE(y, &memory->scratch, nominal->count);
    size_t n = 0;
    double x_low = INFINITY, x_high = -INFINITY, y_low = INFINITY, y_high = -INFINITY;
    for (size_t i = 0; i < nominal->count; i++) {
        if (nominal->kind[i] != PP_TUBE_HOLE) continue;
        x[n] = nominal->x[i];
        y[n] = nominal->y[i];
        x_low = fmin(x_low, x[n]);
        x_high = fmax(x_high, x[n]);
        y_low = fmin(y_low, y[n]);
        y_high = fmax(y_high, y[n]);
        n++;
    }
    double found = NAN;
    if (n >= 2) {
        /* about one hole a cell; a single row counts by its length */
        double width = x_high - x_low, height = y_high - y_low;
        double cell = fmax(sqrt(width * height / (double)n), fmax(width, height) / (double)n);
        pp_grid grid;
        PP_TRY(pp_grid_build(n, x, y, cell, &memory->scratch, &grid, error));
        PP_TAKE(distance, &memory->scratch, n);
        PP_TAKE(spare, &memory->scratch, n);
        distance_search search = {&grid, distance};
        PP_TRY(pp_parallel(threads, PARTS, distance_part, &search, error));
        sort_distances(n, distance, spare);
        found = largest_group_median(distance, n);
    }
    pp_arena_release(&memory->scratch, mark);
    *pitch = found;
    return PP_OK;
}

/* --- rows and columns ------------------------------------------------------------------------- */

enum { BINS_PER_PITCH = 20, BINS_PER_HOLE = 16, BINS_LEAST = 4096 };

/* Number the runs of occupied bins: an empty bin between two holes begins a new row. */
static pp_status number_runs(const pp_nominal *nominal, const double *place, double pitch,
                             pp_memory *memory, const uint32_t **labels, pp_error *error)
{
    uint32_t *label;
    PP_TAKE_ZERO(label, &memory->keep, nominal->count);
    *labels = label;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < nominal->count; i++) {
        if (nominal->kind[i] != PP_TUBE_HOLE) continue;
        low = place[i] < low ? place[i] : low;
        high = place[i] > high ? place[i] : high;
    }
    if (!(low <= high)) return PP_OK;

    pp_mark mark = pp_arena_mark(&memory->scratch);
    double most = (double)BINS_PER_HOLE * (double)nominal->count + BINS_LEAST;
    double width = pitch / BINS_PER_PITCH;
    if (!((high - low) / width < most)) width = (high - low) / most;
    if (!(width > 0)) width = 1;
    size_t bins = (size_t)((high - low) / width) + 1;
    uint32_t *run;
    PP_TAKE_ZERO(run, &memory->scratch, bins);
    for (size_t i = 0; i < nominal->count; i++)
        if (nominal->kind[i] == PP_TUBE_HOLE) run[(size_t)((place[i] - low) / width)] = 1;
    uint32_t runs = 0;
    for (size_t b = 0; b < bins; b++)
        if (run[b]) run[b] = b > 0 && run[b - 1] ? runs : ++runs;
    for (size_t i = 0; i < nominal->count; i++)
        if (nominal->kind[i] == PP_TUBE_HOLE) label[i] = run[(size_t)((place[i] - low) / width)];
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

pp_status pp_labels_find(const pp_nominal *nominal, double pitch, pp_memory *memory,
                         const uint32_t **rows, const uint32_t **columns, pp_error *error)
{
    PP_TRY(number_runs(nominal, nominal->y, pitch, memory, rows, error));
    return number_runs(nominal, nominal->x, pitch, memory, columns, error);
}

/* --- neighbours ------------------------------------------------------------------------------- */

/* Round holes at least a pitch apart have at most 6 neighbours within 1.25 pitches; a hole with
 * many more says that the pitch is wrong. */
enum { PAIRS_PER_HOLE_MOST = 32 };

typedef struct neighbour_search {
    const pp_neighbour_question *question;
    double reach, reach_square;
    size_t *start;
    pp_neighbours *out; /* NULL while counting */
} neighbour_search;

static void insert_sorted(uint32_t *list, size_t count, uint32_t value)
{
    size_t i = count;
    for (; i > 0 && list[i - 1] > value; i--) list[i] = list[i - 1];
    list[i] = value;
}

/* Neighbours of hole a that come after it; into b[] in order unless it is NULL. */
static size_t later_neighbours(const neighbour_search *s, uint32_t a, uint32_t *b)
{
    const pp_nominal *nominal = s->question->nominal;
    const pp_grid *grid = s->question->grid;
    const bool *plugged = s->question->plugged;
    double x = nominal->x[a], y = nominal->y[a];
    size_t found = 0;
    pp_grid_window w = pp_grid_around(grid, x, y, s->reach);
    for (size_t row = w.row_first; row <= w.row_last; row++) {
        size_t end = pp_grid_end(grid, w, row);
        for (size_t k = pp_grid_first(grid, w, row); k < end; k++) {
            double dx = grid->x[k] - x, dy = grid->y[k] - y;
            uint32_t other = grid->item[k];
            if (other <= a || dx * dx + dy * dy > s->reach_square) continue;
            if (nominal->kind[other] != PP_TUBE_HOLE) continue;
            if (plugged[a] && plugged[other]) continue;
            if (b) insert_sorted(b, found, other);
            found++;
        }
    }
    return found;
}

static pp_status refuse_pitch(const neighbour_search *s, pp_error *error)
{
    return pp_fail_at(
        error, PP_EINPUT, s->question->job_file, s->question->pitch_line, 0,
        "pitch = %g mm makes neighbours of holes all over the pattern; check pitch and "
        "its unit against the nominal list",
        s->question->pitch);
}

static pp_status neighbour_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    neighbour_search *s = context;
    const pp_nominal *nominal = s->question->nominal;
    size_t pairs = 0, count = nominal->count, end = pp_part_begin(count, PARTS, part + 1);
    for (size_t i = pp_part_begin(count, PARTS, part); i < end; i++) {
        uint32_t *b = s->out ? s->out->b + s->start[i] : NULL;
        bool tube = nominal->kind[i] == PP_TUBE_HOLE;
        size_t found = tube ? later_neighbours(s, (uint32_t)i, b) : 0;
        if (s->out) continue;
        s->start[i + 1] = found;
        pairs += found;
        if (pairs / PAIRS_PER_HOLE_MOST > count) return refuse_pitch(s, error);
    }
    return PP_OK;
}

pp_status pp_neighbours_find(const pp_neighbour_question *question, int threads, pp_memory *memory,
                             pp_neighbours *neighbours, pp_error *error)
{
    pp_neighbours out = {0};
    size_t count = question->nominal->count;
    bool asked = pp_given(question->pitch);
    PP_TAKE_ZERO(out.start, &memory->scratch, count + 1);
    double reach = PP_NEIGHBOUR_PITCHES * question->pitch + PP_ALLOWANCE;
    neighbour_search search = {
        .question = question, .reach = reach, .reach_square = reach * reach, .start = out.start};
    if (asked) PP_TRY(pp_parallel(threads, PARTS, neighbour_part, &search, error));
    for (size_t i = 0; i < count; i++) out.start[i + 1] += out.start[i];
    out.count = out.start[count];
    if (out.count / PAIRS_PER_HOLE_MOST > count) return refuse_pitch(&search, error);
    PP_TAKE(out.b, &memory->scratch, out.count);
    search.out = &out;
    if (asked) PP_TRY(pp_parallel(threads, PARTS, neighbour_part, &search, error));
    *neighbours = out;
    return PP_OK;
}
