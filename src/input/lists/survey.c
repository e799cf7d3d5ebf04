#include "input/lists/survey.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "input/lists/list_parts.h"
#include "input/lists/outline.h"

enum { X, Y, Z, COLUMNS };

static const pp_csv_column SURVEY_COLUMNS[COLUMNS] = {
    [X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [Z] = {.names = {"z"}, .type = PP_CSV_LENGTH, .needed = true},
};

/* ---- the frame ---- */

pp_survey_frame pp_survey_frame_of(const pp_job *job, double angle_deg)
{
    /* whole quarter turns are exact; what is left is within 45 degrees */
    double quarters = nearbyint(angle_deg / 90);
    double rest = remainder(angle_deg, 90) * (PP_PI / 180);
    double c = cos(rest), s = sin(rest);
    int turn = (int)(fmod(quarters, 4) + 4) % 4;
    pp_survey_frame frame = {
        .up = job->survey.up, .origin_x = job->survey.origin_x, .origin_y = job->survey.origin_y};
    frame.cosine = turn == 0 ? c : turn == 1 ? -s : turn == 2 ? -c : s;
    frame.sine = turn == 0 ? s : turn == 1 ? c : turn == 2 ? -s : -c;
    return frame;
}

/* ---- how far the points reach ---- */

enum { PART_POINTS = 1 << 16 };

typedef struct box {
    double low[3], high[3];
} box;

typedef struct boxing {
    const pp_survey *survey;
    box *parts;
} boxing;

static void widen(const double *values, size_t count, double *low, double *high)
{
    double l = values[0], h = values[0];
    for (size_t i = 1; i < count; i++) {
        l = values[i] < l ? values[i] : l;
        h = values[i] > h ? values[i] : h;
    }
    *low = l;
    *high = h;
}

static pp_status box_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const boxing *b = context;
    size_t begin = part * PART_POINTS, count = b->survey->count - begin;
    if (count > PART_POINTS) count = PART_POINTS;
    box *own = &b->parts[part];
    widen(b->survey->x + begin, count, &own->low[0], &own->high[0]);
    widen(b->survey->y + begin, count, &own->low[1], &own->high[1]);
    widen(b->survey->z + begin, count, &own->low[2], &own->high[2]);
    return PP_OK;
}

static pp_status find_box(const pp_survey *survey, int threads, pp_arena *scratch, box *all,
                          pp_error *error)
{
    size_t parts = (survey->count + PART_POINTS - 1) / PART_POINTS;
    boxing b = {.survey = survey};
    PP_TAKE(b.parts, scratch, parts);
    PP_TRY(pp_parallel(threads, parts, box_part, &b, error));
    *all = b.parts[0];
    for (size_t p = 1; p < parts; p++)
        for (int axis = 0; axis < 3; axis++) {
            all->low[axis] = fmin(all->low[axis], b.parts[p].low[axis]);
            all->high[axis] = fmax(all->high[axis], b.parts[p].high[axis]);
        }
    return PP_OK;
}

/* ---- points in one line ----
 *
 * Two points as far apart as the longest side of the box make the line. A plane needs a point to
 * the side of it. How far: the slope across is known about length/width times worse than the slope
 * along, so beyond 1000 (LINE_SHARE) it is noise. A single profile across a bowed plate has all
 * its points in one plane, the upright one: in the plan of the plate they are one line, and
 * PROFILE_SHARE, more than any plate bows over its length, tells it from a plate that was surveyed
 * standing. */
#define LINE_SHARE 1e-3
#define PROFILE_SHARE 0.02

typedef struct line {
    double start[3], direction[3]; /* unit */
    double length;
} line;

static void point_of(const pp_survey *s, size_t i, bool plan, double p[3])
{
    if (plan) {
        pp_survey_to_plate(&s->frame, s->x[i], s->y[i], s->z[i], &p[0], &p[1], &p[2]);
        p[2] = 0;
    } else {
        p[0] = s->x[i], p[1] = s->y[i], p[2] = s->z[i];
    }
}

/* Coordinates are at most PP_CSV_LENGTH_MAX: squares do not overflow. */
static double square_distance(const double a[3], const double b[3])
{
    double dx = a[0] - b[0], dy = a[1] - b[1], dz = a[2] - b[2];
    return dx * dx + dy * dy + dz * dz;
}

static size_t farthest(const pp_survey *s, bool plan, const double from[3])
{
    size_t best = 0;
    double most = -1;
    for (size_t i = 0; i < s->count; i++) {
        double p[3];
        point_of(s, i, plan, p);
        double d = square_distance(p, from);
        if (d > most) most = d, best = i;
    }
    return best;
}

static line through(const double a[3], const double b[3])
{
    line l = {.length = sqrt(square_distance(a, b))};
    memcpy(l.start, a, sizeof l.start);
    for (int k = 0; k < 3; k++) l.direction[k] = l.length > 0 ? (b[k] - a[k]) / l.length : 0;
    return l;
}

static double distance_from_line(const line *l, const double p[3])
{
    double v[3] = {p[0] - l->start[0], p[1] - l->start[1], p[2] - l->start[2]};
    const double *d = l->direction;
    double cross[3] = {v[1] * d[2] - v[2] * d[1], v[2] * d[0] - v[0] * d[2],
                       v[0] * d[1] - v[1] * d[0]};
    return sqrt(cross[0] * cross[0] + cross[1] * cross[1] + cross[2] * cross[2]);
}

/* How far the points leave the line, looking no further once it is more than `enough`. */
static double width_beside(const pp_survey *s, bool plan, const line *l, double enough)
{
    double width = 0;
    for (size_t i = 0; i < s->count && width <= enough; i++) {
        double p[3];
        point_of(s, i, plan, p);
        width = fmax(width, distance_from_line(l, p));
    }
    return width;
}

static line longest_line(const pp_survey *s, bool plan)
{
    double first[3], a[3], b[3];
    point_of(s, 0, plan, first);
    point_of(s, farthest(s, plan, first), plan, a);
    point_of(s, farthest(s, plan, a), plan, b);
    return through(a, b);
}

static pp_status fail_line(const pp_survey *s, const pp_job_file *file, double width, double length,
                           pp_error *error)
{
    if (length == 0)
        return pp_fail_at(error, PP_EINPUT, file->path, 0, 0,
                          "all %zu points lie in one place; a plane needs points spread over the "
                          "plate",
                          s->count);
    return pp_fail_at(error, PP_EINPUT, file->path, 0, 0,
                      "all %zu points lie in one line (within %.3f mm over %.3f mm); a plane "
                      "needs points to the side of it, survey the plate across too",
                      s->count, width, length);
}

static pp_status check_spread(const pp_survey *s, const pp_job_file *file, const box *all,
                              pp_error *error)
{
    /* A sure sign without looking at every point: three of the first few are far from a line. The
     * farthest point is at most sqrt(3) longest sides away. */
    double longest = 0;
    for (int k = 0; k < 3; k++) longest = fmax(longest, all->high[k] - all->low[k]);
    double a[3], b[3];
    point_of(s, 0, true, a);
    point_of(s, s->count - 1, true, b);
    line sample = through(a, b);
    if (sample.length > longest / 4 &&
        width_beside(s, true, &sample, longest * PROFILE_SHARE) > longest * PROFILE_SHARE)
        return PP_OK;

    line l = longest_line(s, false);
    double width = width_beside(s, false, &l, l.length * PROFILE_SHARE);
    if (width <= l.length * LINE_SHARE) return fail_line(s, file, width, l.length, error);
    if (width > l.length * PROFILE_SHARE) return PP_OK;
    line plan = longest_line(s, true);
    double across = width_beside(s, true, &plan, plan.length * LINE_SHARE);
    if (across <= plan.length * LINE_SHARE) return fail_line(s, file, across, plan.length, error);
    return PP_OK;
}

/* ---- the outline ---- */

static pp_status fail_outside(const pp_csv_request *request, const pp_survey *s, size_t row,
                              pp_memory *memory, pp_error *error)
{
    long line_number, cell;
    double x, y, z;
    pp_survey_to_plate(&s->frame, s->x[row], s->y[row], s->z[row], &x, &y, &z);
    PP_TRY(pp_csv_find(request, pp_survey_row(s, row) - 1, X, memory, &line_number, &cell, error));
    return pp_outline_fail(request->job, request->file->path, line_number, cell, x, y, error);
}

/* The corners of the box tell for all points, because what is allowed is convex. */
static pp_status check_outline(const pp_csv_request *request, const pp_survey *s, const box *all,
                               pp_memory *memory, pp_error *error)
{
    bool inside = true;
    for (int corner = 0; corner < 8; corner++) {
        double p[3], x, y, z;
        for (int k = 0; k < 3; k++) p[k] = corner >> k & 1 ? all->high[k] : all->low[k];
        pp_survey_to_plate(&s->frame, p[0], p[1], p[2], &x, &y, &z);
        inside &= pp_outline_near(request->job, x, y);
    }
    for (size_t i = 0; !inside && i < s->count; i++) {
        double x, y, z;
        pp_survey_to_plate(&s->frame, s->x[i], s->y[i], s->z[i], &x, &y, &z);
        if (!pp_outline_near(request->job, x, y)) return fail_outside(request, s, i, memory, error);
    }
    return PP_OK;
}

/* ---- rows excluded ---- */

static pp_status fail_exclude(const pp_job *job, pp_error *error, const char *text, size_t rows)
{
    return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "survey", "exclude"), 0,
                      "\"%s\" does not name rows of the survey, which has %zu; write data rows and "
                      "ranges of them, the first row of numbers being 1, such as 12, 40-44",
                      text, rows);
}

/* Mark the rows of "12, 40-44". */
static pp_status mark_excluded(const pp_job *job, size_t rows, bool *excluded, pp_error *error)
{
    const char *text = job->survey.exclude, *at = text;
    for (;;) {
        char *end;
        unsigned long long first = strtoull(at, &end, 10), last = first;
        bool good = end != at && !strchr(at, '+') && *(at + strspn(at, " \t")) != '-';
        at = end + strspn(end, " \t");
        if (good && *at == '-') {
            const char *from = ++at;
            last = strtoull(from, &end, 10);
            good = end != from && *(from + strspn(from, " \t")) != '-';
            at = end + strspn(end, " \t");
        }
        if (!good || first < 1 || last < first || last > rows || (*at && *at != ','))
            return fail_exclude(job, error, text, rows);
        for (size_t k = (size_t)first; k <= last; k++) excluded[k - 1] = true;
        if (!*at++) return PP_OK;
    }
}

/* The survey without the rows that the job excludes. */
static pp_status exclude_rows(const pp_job *job, pp_survey *s, pp_memory *memory, pp_error *error)
{
    double *x, *y, *z;
    size_t *row, n = 0;
    bool *excluded;
    PP_TAKE_ZERO(excluded, &memory->scratch, s->count);
    PP_TRY(mark_excluded(job, s->count, excluded, error));
    PP_TAKE(x, &memory->keep, s->count);
    PP_TAKE(y, &memory->keep, s->count);
    PP_TAKE(z, &memory->keep, s->count);
    PP_TAKE(row, &memory->keep, s->count);
    for (size_t k = 0; k < s->count; k++) {
        if (excluded[k]) continue;
        x[n] = s->x[k], y[n] = s->y[k], z[n] = s->z[k];
        row[n++] = k + 1;
    }
    s->count = n;
    s->x = x, s->y = y, s->z = z;
    s->row = row;
    return PP_OK;
}

/* ---- the whole ---- */

static pp_status check(const pp_csv_request *request, const pp_survey *s, int threads,
                       pp_memory *memory, pp_error *error)
{
    box all = {0};
    if (s->count < 3)
        return pp_fail_at(error, PP_EINPUT, request->file->path, 0, 0,
                          "%zu survey point%s; a plane needs at least 3", s->count,
                          s->count == 1 ? "" : "s");
    PP_TRY(find_box(s, threads, &memory->scratch, &all, error));
    PP_TRY(check_outline(request, s, &all, memory, error));
    return check_spread(s, request->file, &all, error);
}

static pp_status read_turned(const pp_job *job, const pp_job_file *file, double angle_deg,
                             int threads, pp_memory *memory, pp_table_note *note, pp_survey *survey,
                             pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = file,
                              .what = "the survey",
                              .unit = job->survey.length_unit,
                              .section = "survey",
                              .map = &job->survey.columns,
                              .note = note,
                              .columns = SURVEY_COLUMNS,
                              .column_count = COLUMNS,
                              .plain_min = COLUMNS,
                              .plain_max = COLUMNS};
    pp_csv_table table;
    PP_TRY(pp_csv_read(&request, threads, memory, &table, error));
    pp_survey s = {.count = table.rows,
                   .x = table.column[X].number,
                   .y = table.column[Y].number,
                   .z = table.column[Z].number,
                   .frame = pp_survey_frame_of(job, angle_deg),
                   .file = pp_file_written(file),
                   .reading = table.reading};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    if (job->survey.exclude && file == &job->survey.file)
        PP_TRY(exclude_rows(job, &s, memory, error));
    pp_status status = check(&request, &s, threads, memory, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *survey = s;
    return status;
}

pp_status pp_survey_read_noted(const pp_job *job, const pp_job_file *file, int threads,
                               pp_memory *memory, pp_table_note *note, pp_survey *survey,
                               pp_error *error)
{
    return read_turned(job, file, job->survey.angle_deg, threads, memory, note, survey, error);
}

pp_status pp_survey_read_turned(const pp_job *job, const pp_job_file *file, double angle_deg,
                                int threads, pp_memory *memory, pp_survey *survey, pp_error *error)
{
    pp_table_note note = {0};
    return read_turned(job, file, angle_deg, threads, memory, &note, survey, error);
}

pp_status pp_survey_read(const pp_job *job, const pp_job_file *file, int threads, pp_memory *memory,
                         pp_survey *survey, pp_error *error)
{
    pp_table_note note = {0};
    return read_turned(job, file, job->survey.angle_deg, threads, memory, &note, survey, error);
}
