#include "support/sample_results.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OTHERS = 2, SURVEY_SIDE = 9, MAP_COLUMNS = 17, MAP_ROWS = 17 };

static const double PITCH = 32, TUBE = 25.4, NOMINAL_SIZE = 25.7048, LOWER = 25.6032,
                    UPPER = 25.7556, UPPER_LIMIT = 25.9588, POSITION_LIMIT = 0.3,
                    LIGAMENT_STANDARD = 5.4052, LIGAMENT_MINIMUM = 3.048, EDGE_MINIMUM = 20,
                    U_CENTRE = 0.005, U_DIAMETER = 0.002, GUARD = 1.645, DISC_MARGIN = 60;

#define TAKE(pointer, count)                                                                       \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero(&s->memory.keep, (count), sizeof *(pointer));               \
        if (!(pointer)) abort();                                                                   \
    } while (0)

/* The parts that are filled in before they are const. */
typedef struct draft {
    uint32_t *pair_a, *pair_b;
    unsigned rings;
    size_t tubes, count;
    double radius;
    uint64_t random;
    double *x, *y;
    const char **name;
    uint8_t *kind;
    uint32_t *row_first; /* first hole of each row; [rows + 1] */
    bool *plugged;
    pp_bore *bores;
    uint32_t *bore_of[2];
    pp_ligament *ligaments;
    pp_finding *findings;
    uint32_t *exceptions;
    bool conforming;
} draft;

static double uniform(draft *d)
{
    d->random ^= d->random << 13, d->random ^= d->random >> 7, d->random ^= d->random << 17;
    return (double)(d->random >> 11) / 9007199254740992.0;
}

/* near enough to a normal deviate: the sum of twelve uniform ones */
static double normal(draft *d)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) sum += uniform(d);
    return sum;
}

static char *name_of(pp_sample *s, const char *format, unsigned a, unsigned b)
{
    char name[64];
    int length = snprintf(name, sizeof name, format, a, b);
    char *copy = pp_arena_text(&s->memory.keep, name, (size_t)length);
    if (!copy) abort();
    return copy;
}

static void make_job(pp_sample *s, const pp_sample_options *o, const draft *d)
{
    pp_job *job = &s->job;
    memset(job, 0, sizeof *job);
    job->path = o->job_path ? o->job_path : "sample/plate.ini";
    job->name = "plate";
    job->title = o->hostile ? "<script>alert(1)</script> & \"title\"" : "Front tube plate, sample";
    job->customer = o->hostile ? "=cmd|'/c calc'!A1" : "Example Boilerworks";
    job->order = "PO-4711";
    job->item = "E-101";
    job->plate_id = "TP-12";
    job->plate_role = "front tube plate";
    job->serial = "0098";
    job->drawing = "D-2207";
    job->drawing_revision = "C";
    job->material = "carbon steel plate";
    job->heat_number = "H 61.402";
    job->procedure = "QP-17";
    job->inspector = "A. Sample";
    job->inspection_date = "2026-11-20";
    job->stage = "after drilling";
    job->report_number = "R-2026-118";
    job->report_revision = "1";
    job->supersedes = "R-2026-118 rev 0";
    job->date = "2026-11-21";
    job->units = o->inch ? PP_INCH : PP_MM;
    job->plate.outline = PP_OUTLINE_DISC;
    job->plate.diameter = 2 * d->radius;
    job->plate.thickness = 38;
    job->plate.thickness_variation = 0.6;
    job->plate.elastic_modulus = 206000;
    job->plate.poisson_ratio = 0.3;
    job->plate.density = 7850;
    job->plate.yield_strength = 260;
    job->survey.uncertainty = 0.02;
    job->survey.flatness_limit = 1.5;
    job->survey.area_threshold = 0.5;
    job->support.kind = PP_SUPPORT_TABLE;
    job->support.touch_gap = NAN;
    job->foot.force = 6000;
    job->foot.outer_diameter = 160;
    job->foot.inner_diameter = 90;
    job->foot.thrust = 2500;
    job->holddown.gap_limit = 0.3;
    job->holddown.force_cap = 200000;
    job->holddown.clamp_force_limit = 40000;
    job->holddown.clamp_pad = 80;
    job->holes.tube_diameter = TUBE;
    job->holes.pitch = PITCH;
    job->holes.entry_face_is = "tube side";
    job->holes.position_limit = POSITION_LIMIT;
    job->holes.temperature = 24;
    job->holes.expansion = 11.5e-6;
    job->holes.confidence = 0.95;
    job->holes.uncertainty_position = 2 * U_CENTRE;
    job->holes.uncertainty_diameter = 2 * U_DIAMETER;
    job->holes.uncertainty_per_metre = NAN;
    job->holes.uncertainty_temperature = NAN;
    job->holes.uncertainty_ligament = NAN;
    job->holes.edge_ligament_minimum = EDGE_MINIMUM;
    job->holes.other_ligament_minimum = NAN;
    job->rules.set = "tema-style";
    job->rules.decision = PP_GUARDED;
    job->rules.remainder_share = 0.04;
    pp_instrument *instruments;
    TAKE(instruments, 2);
    instruments[0] =
        (pp_instrument){"ARM", "portable coordinate arm", "S-553", "C-2026-091", "2027-03-01"};
    instruments[1] =
        (pp_instrument){"GAUGE", "three-point bore gauge", "S-12", "C-2025-007", "2026-10-01"};
    job->instrument_count = 2;
    job->instruments = instruments;
}

static size_t row_length(const draft *d, unsigned row)
{
    int offset = (int)row - (int)d->rings;
    return 2 * d->rings + 1 - (unsigned)abs(offset);
}

static void make_nominal(pp_sample *s, const pp_sample_options *o, draft *d)
{
    unsigned rows = 2 * d->rings + 1;
    uint32_t *row_label, *column_label;
    double *diameter, *under, *over;
    TAKE(d->x, d->count);
    TAKE(d->y, d->count);
    TAKE(d->name, d->count);
    TAKE(d->kind, d->count);
    TAKE(d->row_first, rows + 1);
    TAKE(row_label, d->count);
    TAKE(column_label, d->count);
    TAKE(diameter, d->count);
    TAKE(under, d->count);
    TAKE(over, d->count);
    size_t hole = 0;
    for (unsigned row = 0; row < rows; row++) {
        d->row_first[row] = (uint32_t)hole;
        size_t length = row_length(d, row);
        for (size_t i = 0; i < length; i++, hole++) {
            d->x[hole] = PITCH * ((double)i - 0.5 * (double)(length - 1));
            d->y[hole] = PITCH * sqrt(0.75) * ((double)row - d->rings);
            d->name[hole] = name_of(s, "R%03uC%03u", row + 1, (unsigned)i + 1);
            row_label[hole] = row + 1;
            column_label[hole] = (uint32_t)i + 1;
        }
    }
    d->row_first[rows] = (uint32_t)hole;
    for (unsigned k = 0; k < OTHERS; k++, hole++) {
        d->x[hole] = (k ? -1 : 1) * (d->radius - 30);
        d->name[hole] = name_of(s, "T%u", k + 1, 0);
        d->kind[hole] = PP_OTHER_HOLE;
        diameter[hole] = 16;
        under[hole] = 0;
        over[hole] = 0.2;
    }
    if (o->hostile && d->tubes > 8) {
        d->name[3] = "=2+3";
        d->name[4] = "<img src=x onerror=alert(1)>";
        d->name[5] = "a,\"b\"\nc";
        d->name[6] = "-@hole";
        d->name[7] = "B\u00f6hrung \u00fc7";
    }
    s->files.nominal = (pp_nominal){.count = d->count,
                                    .name = d->name,
                                    .x = d->x,
                                    .y = d->y,
                                    .kind = d->kind,
                                    .diameter = diameter,
                                    .under = under,
                                    .over = over,
                                    .file = "nominal.csv"};
    s->measures.row_label = row_label;
    s->measures.column_label = column_label;
}

static pp_bore read_bore(draft *d, uint32_t hole, pp_face face, uint32_t row)
{
    double scatter = d->conforming ? 0.02 : 0.04;
    double dx = scatter * normal(d), dy = scatter * normal(d);
    double size = d->kind[hole] == PP_OTHER_HOLE ? 16.08 : NOMINAL_SIZE - 0.012;
    double diameter = size + 0.006 * normal(d);
    if (!d->conforming && hole == 1 && face == PP_ENTRY) dx = 0.1672, dy = -0.0833;
    if (!d->conforming && hole == 2) dx = 0.15, dy = 0; /* on the limit: not proven */
    if (!d->conforming && hole == 9) diameter = 25.9714;
    if (!d->conforming && hole == 10) diameter = 25.8012;
    return (pp_bore){.hole = hole,
                     .row = row,
                     .readings = 1,
                     .diameter_readings = 1,
                     .round = 1,
                     .face = (uint8_t)face,
                     .go = -1,
                     .no_go = -1,
                     .no_go_max = -1,
                     .x = d->x[hole] + dx,
                     .y = d->y[hole] + dy,
                     .diameter_min = diameter,
                     .diameter_max = diameter,
                     .diameter_mean = diameter,
                     .position = 2 * hypot(dx, dy),
                     .u_centre = U_CENTRE,
                     .smallest_ligament = NAN};
}

static void make_bores(pp_sample *s, draft *d)
{
    pp_measures *m = &s->measures;
    TAKE(d->bores, 2 * d->count + 1);
    TAKE(d->plugged, d->count);
    for (int face = 0; face < 2; face++) {
        TAKE(d->bore_of[face], d->count);
        for (size_t i = 0; i < d->count; i++) d->bore_of[face][i] = PP_NONE;
        m->bore_of[face] = d->bore_of[face];
        m->faces[face] = true;
    }
    size_t count = 0;
    uint32_t row = 1;
    uint32_t *hole_of_row;
    TAKE(hole_of_row, 2 * d->count + 1);
    uint32_t unread = d->conforming ? PP_NONE : (uint32_t)d->tubes - 1;
    for (uint32_t hole = 0; hole < d->count; hole++) {
        if (hole == unread) continue;
        for (int face = 0; face < 2; face++) {
            if (face == PP_EXIT && hole >= d->tubes / 2) continue;
            d->bore_of[face][hole] = (uint32_t)count;
            hole_of_row[row - 1] = hole;
            d->bores[count++] = read_bore(d, hole, face, row++);
        }
    }
    m->extra_first = count;
    m->hole_of_row = hole_of_row;
    if (!d->conforming) { /* a hole drilled on a wrong place: 24 mm beside the middle one */
        uint32_t middle = (uint32_t)d->tubes / 2;
        d->plugged[0] = true;
        hole_of_row[row - 1] = PP_NONE;
        d->bores[count++] = (pp_bore){.hole = PP_NONE,
                                      .row = row++,
                                      .readings = 1,
                                      .diameter_readings = 1,
                                      .round = 1,
                                      .go = -1,
                                      .no_go = -1,
                                      .no_go_max = -1,
                                      .x = d->x[middle] + 24,
                                      .y = d->y[middle] + 3,
                                      .diameter_min = 25.69,
                                      .diameter_max = 25.69,
                                      .diameter_mean = 25.69,
                                      .position = NAN,
                                      .u_centre = U_CENTRE,
                                      .smallest_ligament = NAN};
    }
    m->bore_count = count;
    m->bores = d->bores;
    m->plugged = d->plugged;
    s->files.measured_given = true;
    s->files.measured.count = row - 1;
    s->files.measured.file = "measured.csv";
}

/* next neighbour pairs of the triangular pattern, ordered by (a, b) */
static void make_pairs(pp_sample *s, draft *d)
{
    pp_measures *m = &s->measures;
    uint32_t *a, *b;
    TAKE(a, 3 * d->tubes);
    TAKE(b, 3 * d->tubes);
    size_t count = 0;
    for (unsigned row = 0; row <= 2 * d->rings; row++) {
        long length = (long)row_length(d, row);
        long above = row < 2 * d->rings ? (long)row_length(d, row + 1) : 0;
        for (long i = 0; i < length; i++) {
            uint32_t hole = d->row_first[row] + (uint32_t)i;
            if (i + 1 < length) a[count] = hole, b[count++] = hole + 1;
            long left = above > length ? i : i - 1;
            for (long k = left; above && k <= left + 1; k++)
                if (k >= 0 && k < above)
                    a[count] = hole, b[count++] = d->row_first[row + 1] + (uint32_t)k;
        }
    }
    m->pair_count = count;
    d->pair_a = a;
    d->pair_b = b;
}

static void note_smallest(pp_bore *bore, double ligament)
{
    if (!(bore->smallest_ligament <= ligament)) bore->smallest_ligament = ligament;
}

static void make_ligaments(pp_sample *s, draft *d)
{
    pp_measures *m = &s->measures;
    TAKE(d->ligaments, 2 * m->pair_count);
    size_t count = 0;
    for (size_t pair = 0; pair < m->pair_count; pair++) {
        bool read = false;
        for (int face = 0; face < 2; face++) {
            uint32_t i = d->bore_of[face][d->pair_a[pair]], k = d->bore_of[face][d->pair_b[pair]];
            if (i == PP_NONE || k == PP_NONE) continue;
            pp_bore *p = &d->bores[i], *q = &d->bores[k];
            double metal =
                hypot(p->x - q->x, p->y - q->y) - 0.5 * (p->diameter_max + q->diameter_max);
            bool direct = !d->conforming && count == 11;
            if (direct) metal = 2.9871; /* measured directly, thin */
            note_smallest(p, metal);
            note_smallest(q, metal);
            d->ligaments[count++] = (pp_ligament){metal,           0.0073f,       d->pair_a[pair],
                                                  d->pair_b[pair], (uint8_t)face, direct};
            read = true;
        }
        *(read ? &m->pairs_measured : &m->pairs_unmeasured) += 1;
    }
    m->ligament_count = count;
    m->ligaments = d->ligaments;
}

static void make_measures(pp_sample *s, draft *d)
{
    pp_measures *m = &s->measures;
    make_bores(s, d);
    make_pairs(s, d);
    make_ligaments(s, d);
    m->nominal = &s->files.nominal;
    m->readings = &s->files.measured;
    m->alignment = (pp_alignment){.kind = PP_ALIGN_BEST_FIT,
                                  .angle_deg = -0.7048176819721291,
                                  .dx = -3.2860207843546823,
                                  .dy = 1.2415136980115948,
                                  .rms = 0.0571,
                                  .symmetries = 1};
    m->pitch = PITCH;
    m->tube_count = d->tubes;
    m->measured = d->tubes - !d->conforming;
    double *edge, *drift;
    TAKE(edge, m->bore_count);
    TAKE(drift, d->count);
    for (size_t i = 0; i < m->bore_count; i++)
        edge[i] = d->radius - hypot(d->bores[i].x, d->bores[i].y) - 0.5 * d->bores[i].diameter_max;
    for (size_t i = 0; i < d->count; i++) {
        uint32_t in = d->bore_of[0][i], out = d->bore_of[1][i];
        drift[i] = in == PP_NONE || out == PP_NONE
                       ? NAN
                       : hypot(d->bores[in].x - d->bores[out].x, d->bores[in].y - d->bores[out].y);
    }
    m->edge = edge;
    m->drift = drift;
    if (d->conforming) return;
    uint32_t *unmeasured, *extra_of;
    const char **extra;
    pp_close_pair *close;
    pp_reading_history *history;
    TAKE(unmeasured, 1);
    TAKE(extra, 1);
    TAKE(extra_of, 1);
    TAKE(close, 1);
    TAKE(history, 1);
    unmeasured[0] = (uint32_t)d->tubes - 1;
    extra[0] = name_of(s, "row %u", (unsigned)s->files.measured.count, 0);
    close[0] = (pp_close_pair){d->bore_of[0][d->tubes / 2], (uint32_t)m->bore_count - 1, -1.7};
    history[0] = (pp_reading_history){.hole = 1,
                                      .round = 1,
                                      .x = d->x[1],
                                      .y = d->y[1],
                                      .diameter_min = 25.57,
                                      .diameter_max = 25.58};
    m->unmeasured_count = m->extra_count = m->close_count = m->history_count = 1;
    m->unmeasured = unmeasured;
    m->extra = extra;
    m->extra_of = extra_of;
    m->close = close;
    m->close_below = 1.524;
    m->history = history;
}

static void make_limits(pp_sample *s)
{
    pp_limits *l = &s->limits;
    pp_limit *all, *straightedge;
    TAKE(all, 16);
    TAKE(straightedge, 2);
    const char *table = "TEMA-style table, tube plate holes, standard fit (from memory)";
    l->set = "tema-style";
    l->table = PP_TABLE_INCH;
    l->note = "Tables recalled from memory; check them against the standard in force.";
    l->hole_nominal = (pp_limit){NOMINAL_SIZE, "hole_nominal", table};
    l->hole_under = (pp_limit){0.1016, "hole_under", table};
    l->hole_over = (pp_limit){0.0508, "hole_over", table};
    l->hole_over_limit = (pp_limit){0.254, "hole_over_limit", table};
    l->diameter_lower = LOWER;
    l->diameter_upper = UPPER;
    l->diameter_upper_limit = UPPER_LIMIT;
    l->ligament_standard = (pp_limit){LIGAMENT_STANDARD, "ligament_standard", table};
    l->ligament_minimum = (pp_limit){LIGAMENT_MINIMUM, "ligament_minimum", "job file, line 41"};
    l->ligament_nominal = PITCH - NOMINAL_SIZE;
    l->drift_limit = (pp_limit){NAN, "drift_limit", NULL};
    l->drift_allowance = 0.0608;
    l->drift_allowance_source = "0.0016 in x thickness / tube diameter (from memory)";
    l->position_limit = (pp_limit){POSITION_LIMIT, "position_limit", "job file, line 33"};
    l->pattern_limit = (pp_limit){NAN, "pattern_limit", NULL};
    l->edge_minimum = (pp_limit){EDGE_MINIMUM, "edge_ligament_minimum", "job file, line 34"};
    l->other_minimum = (pp_limit){NAN, "other_ligament_minimum", NULL};
    l->remainder_share = (pp_limit){0.04, "remainder_share", "tema-style"};
    l->flatness_limit = (pp_limit){1.5, "flatness_limit", "job file, line 20"};
    l->parallelism_limit = (pp_limit){NAN, "parallelism_limit", NULL};
    straightedge[0] = (pp_limit){1.2, "straightedge_limit", "job file, line 23"};
    straightedge[1] = (pp_limit){NAN, "straightedge_limit", NULL};
    l->straightedge_count = 2;
    l->straightedge = straightedge;
    const pp_limit given[] = {l->hole_nominal,    l->hole_under,        l->hole_over,
                              l->hole_over_limit, l->ligament_standard, l->ligament_minimum,
                              l->position_limit,  l->edge_minimum,      l->remainder_share,
                              l->flatness_limit,  straightedge[0]};
    memcpy(all, given, sizeof given);
    l->all = all;
    l->count = sizeof given / sizeof given[0];
}

/* a bowl, 2 mm deep at the rim */
static double height_at(const draft *d, double x, double y)
{
    return (d->conforming ? 1.0 : 2.1) * (x * x + 0.6 * y * y) / (d->radius * d->radius);
}

static void make_survey(pp_sample *s, draft *d)
{
    double *x, *y, *z;
    size_t count = (size_t)SURVEY_SIDE * SURVEY_SIDE;
    TAKE(x, count);
    TAKE(y, count);
    TAKE(z, count);
    for (size_t i = 0; i < count; i++) {
        x[i] = d->radius * 0.7 * ((double)(i % SURVEY_SIDE) / (SURVEY_SIDE - 1) * 2 - 1);
        y[i] = d->radius * 0.7 * ((double)(i / SURVEY_SIDE) / (SURVEY_SIDE - 1) * 2 - 1);
        z[i] = 412.5 + height_at(d, x[i], y[i]) + 0.004 * normal(d);
    }
    s->survey = (pp_survey){
        .count = count, .x = x, .y = y, .z = z, .frame = {.cosine = 1}, .file = "survey.csv"};
}

static void make_map(pp_sample *s, const draft *d)
{
    double *height, *deviation, *gap;
    TAKE(height, MAP_COLUMNS * MAP_ROWS);
    TAKE(deviation, MAP_COLUMNS * MAP_ROWS);
    TAKE(gap, MAP_COLUMNS * MAP_ROWS);
    pp_map *map = &s->flatness.map;
    *map = (pp_map){.columns = MAP_COLUMNS,
                    .rows = MAP_ROWS,
                    .x0 = -d->radius,
                    .y0 = -d->radius,
                    .dx = 2 * d->radius / (MAP_COLUMNS - 1),
                    .dy = 2 * d->radius / (MAP_ROWS - 1),
                    .height = height,
                    .deviation = deviation,
                    .gap = gap};
    for (size_t i = 0; i < (size_t)MAP_COLUMNS * MAP_ROWS; i++) {
        double x = map->x0 + map->dx * (double)(i % MAP_COLUMNS);
        double y = map->y0 + map->dy * (double)(i / MAP_COLUMNS);
        bool inside = hypot(x, y) <= d->radius * (1 + 1e-12);
        double z = height_at(d, x, y);
        height[i] = inside ? 412.5 + z : NAN;
        deviation[i] = inside ? z - 0.42 : NAN;
        gap[i] = inside ? z : NAN;
    }
}

static void make_flatness(pp_sample *s, draft *d)
{
    make_survey(s, d);
    pp_flatness *f = &s->flatness;
    pp_straightedge *straightedge;
    pp_area *areas;
    TAKE(straightedge, 2);
    TAKE(areas, 2);
    double r = d->radius;
    f->points = s->survey.count;
    f->least_squares = (pp_least_squares){.plane = {{0.013, -0.021, 412.9137}, {0, 0, 1}},
                                          .flatness = d->conforming ? 0.7431 : 1.6137,
                                          .peak = d->conforming ? 0.4017 : 0.9018,
                                          .valley = d->conforming ? 0.3414 : 0.7119,
                                          .rms = 0.3321,
                                          .highest = 8,
                                          .lowest = 40};
    f->least_squares_slope = (pp_slope_form){true, 1.25e-5, -3.5e-6, 412.9137};
    f->minimum_zone = (pp_minimum_zone){.plane = {{0, 0, 413.1}, {0, 0, 1}},
                                        .flatness = d->conforming ? 0.7188 : 1.5000312,
                                        .witness_count = 4,
                                        .witness = {{8, 1}, {72, 1}, {80, 1}, {40, -1}},
                                        .exact = 1};
    f->minimum_zone_slope = (pp_slope_form){true, 1.1e-5, -2.9e-6, 413.1};
    f->surface_valid = true;
    f->surface = (pp_surface){.rms = 0.0039,
                              .noise = 0.0042,
                              .degrees_of_freedom = 11.7,
                              .standard_error = 0.0016,
                              .smoothing = 3.1,
                              .unseen_share = 0.183,
                              .unseen_x = r,
                              .pitch = 0.16 * r};
    straightedge[0] = (pp_straightedge){
        1000, fmin(1000, 2 * r), d->conforming ? 0.41 : 1.2314, 0.0007, false, 12.5, -40.25, 31.5};
    straightedge[1] = (pp_straightedge){2000, fmin(2000, 2 * r), 1.9021, 0.0011, true, 0, 0, 120};
    f->straightedge_count = 2;
    f->straightedge = straightedge;
    areas[0] = (pp_area){PP_AREA_HIGH, 0.183 * r * r, 0.9018, 0.7 * r, 0.7 * r,
                         0.4 * r,      0.3 * r,       r,      r,       d->tubes / 8};
    areas[1] = (pp_area){PP_AREA_LOW, 0.05 * r * r, 0.7119,  0.1 * r, 0,
                         -0.2 * r,    -0.2 * r,     0.2 * r, 0.2 * r, d->tubes / 10};
    f->area_count = 2;
    f->areas = areas;
    make_map(s, d);
}

static void make_holddown(pp_sample *s, draft *d)
{
    pp_holddown *h = &s->holddown;
    pp_hold *holes;
    TAKE(holes, d->count);
    for (size_t i = 0; i < d->count; i++) {
        double gap = height_at(d, d->x[i], d->y[i]);
        double under = fmax(0, gap - 0.62);
        holes[i] = (pp_hold){.gap = gap,
                             .gap_under_foot = under,
                             .force_to_close = gap <= 0.3  ? 0
                                               : gap > 1.7 ? NAN
                                                           : 9700 * (gap - 0.3),
                             .tilt = 1.31 * gap,
                             .shift = 0.0249 * gap,
                             .held_gap_under_foot = 1.07 * under,
                             .spring_back = 0.0182 * gap,
                             .class = gap <= 0.3     ? PP_SEATED
                                      : under <= 0.3 ? PP_SEATS_UNDER_FOOT
                                                     : PP_NEEDS_HOLDDOWN,
                             .uncertain = fabs(gap - 0.3) < 0.05};
        h->counts.seated += holes[i].class == PP_SEATED;
        h->counts.seats_under_foot += holes[i].class == PP_SEATS_UNDER_FOOT;
        h->counts.needs_holddown += holes[i].class == PP_NEEDS_HOLDDOWN;
        h->counts.uncertain += holes[i].uncertain;
        h->largest_gap = fmax(h->largest_gap, gap);
        h->largest_gap_under_foot = fmax(h->largest_gap_under_foot, under);
        h->largest_force_to_close = fmax(h->largest_force_to_close, holes[i].force_to_close);
    }
    pp_area *areas;
    pp_clamp *plan;
    uint32_t *blocks;
    pp_shim *shims;
    TAKE(areas, 1);
    TAKE(plan, 2);
    TAKE(blocks, 1);
    TAKE(shims, 1);
    areas[0] = (pp_area){.side = PP_AREA_GAP,
                         .area = 0.4 * d->radius * d->radius,
                         .peak = 2.04,
                         .x = d->radius,
                         .xmin = 0.4 * d->radius,
                         .xmax = d->radius,
                         .ymin = -100,
                         .ymax = 100,
                         .holes = 5};
    blocks[0] = 1;
    plan[0] = (pp_clamp){0.9 * d->radius, 0, 7500, 1, blocks};
    plan[1] = (pp_clamp){-0.9 * d->radius, 0, 8000, 0, NULL};
    shims[0] = (pp_shim){d->radius, 0, -1, 2.04, 2.0, 2, {1, 1}};
    h->support = PP_SUPPORT_TABLE;
    h->plate_weight = 9.80665 * 7850e-9 * 38 * 3.14159265358979 * d->radius * d->radius;
    h->touch_gap = 0.02;
    h->gap_limit = 0.3;
    h->foot_force = 6000;
    h->ready = h->counts.needs_holddown == 0;
    h->count = d->count;
    h->holes = holes;
    h->largest_support_force = 8123.4;
    h->flattening_stress = 21.7;
    h->largest_tilt = 2.67;
    h->largest_shift = 0.0507;
    h->largest_spring_back = 0.0371;
    h->contact_points = 853;
    h->touching = 37;
    h->area_count = 1;
    h->areas = areas;
    h->clamping_advised = true;
    h->advice = "Two clamps bring every hole within the gap limit.";
    h->plan_found = true;
    h->clamp_count = 2;
    h->plan = plan;
    h->plan_worst_gap = 0.287;
    h->shim_count = 1;
    h->shims = shims;
    h->shims_valid = true;
    h->with_shims = (pp_hold_counts){.seated = d->count};
    h->with_shims_worst_gap = 0.21;
    h->turned_valid = true;
    h->turned = (pp_hold_counts){.seated = d->count - 1, .seats_under_foot = 1};
    h->turned_worst_gap = 0.12;
    h->turn_over = true;
}

static uint8_t verdict_of(double value, double u, double lower, double upper)
{
    double inside = INFINITY;
    if (!isnan(lower)) inside = fmin(inside, value - lower);
    if (!isnan(upper)) inside = fmin(inside, upper - value);
    return inside >= GUARD * u - 1e-6   ? PP_CONFORMS
           : inside < -GUARD * u - 1e-6 ? PP_DOES_NOT_CONFORM
                                        : PP_NOT_PROVEN;
}

/* Findings stand by characteristic: those of `which` start here. */
static void begin(pp_sample *s, pp_characteristic which)
{
    for (int c = (int)which; c <= PP_CHARACTERISTICS; c++)
        s->judgement.first[c] = s->judgement.count;
}

/* Appends the finding and folds it into its section. */
static const pp_finding *add_finding(pp_sample *s, draft *d, pp_finding finding)
{
    pp_judgement *j = &s->judgement;
    pp_section *section = &j->section[finding.characteristic];
    section->judged += finding.verdict != PP_NOT_JUDGED;
    section->not_proven += finding.verdict == PP_NOT_PROVEN;
    section->failed += finding.verdict == PP_DOES_NOT_CONFORM;
    if (finding.verdict > section->verdict) section->verdict = finding.verdict;
    if (finding.verdict >= PP_NOT_PROVEN) d->exceptions[j->exception_count++] = (uint32_t)j->count;
    d->findings[j->count] = finding;
    for (int c = finding.characteristic + 1; c <= PP_CHARACTERISTICS; c++)
        j->first[c] = j->count + 1;
    return &d->findings[j->count++];
}

static pp_finding of_bore(pp_characteristic which, const pp_bore *b, double value, double u)
{
    return (pp_finding){.characteristic = (uint8_t)which,
                        .face = b->face,
                        .subject = b->hole,
                        .other = PP_NONE,
                        .value = value,
                        .u = (float)u};
}

static void judge_positions(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    double sum = 0, u = 2 * U_CENTRE;
    begin(s, PP_POSITION);
    j->position_fold.largest = NAN;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        pp_finding finding = of_bore(PP_POSITION, b, b->position, u);
        if (!d->plugged[b->hole]) {
            finding.class_ = b->position > POSITION_LIMIT ? PP_CLASS_OUT : PP_CLASS_IN;
            finding.verdict = verdict_of(b->position, u, NAN, POSITION_LIMIT) & 15;
        }
        add_finding(s, d, finding);
        if (d->plugged[b->hole] || d->kind[b->hole] == PP_OTHER_HOLE) continue;
        sum += b->position;
        if (b->position <= j->position_fold.largest) continue;
        j->position_fold.largest = b->position;
        j->position_fold.largest_hole = b->hole;
        j->position_fold.largest_face = b->face;
    }
    j->position_fold.mean = sum / (double)m->extra_first;
    j->position_fold.not_proven = j->section[PP_POSITION].not_proven;
    j->position_fold.out = j->section[PP_POSITION].failed;
}

static pp_class class_of_diameter(double value, bool other)
{
    double lower = other ? 16 : LOWER, inner = other ? 16.2 : UPPER;
    return value < lower                           ? PP_CLASS_UNDER
           : value <= inner                        ? PP_CLASS_IN
           : value <= (other ? 16.2 : UPPER_LIMIT) ? PP_CLASS_REMAINDER
                                                   : PP_CLASS_OUT;
}

static void judge_diameters(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    pp_count_rule *rule = &j->diameter_fold.rule;
    double sum = 0;
    begin(s, PP_DIAMETER);
    j->diameter_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        bool other = d->kind[b->hole] == PP_OTHER_HOLE;
        double value = b->diameter_max;
        pp_finding finding = of_bore(PP_DIAMETER, b, value, U_DIAMETER);
        if (!d->plugged[b->hole]) {
            finding.class_ = (uint8_t)class_of_diameter(value, other);
            finding.verdict =
                verdict_of(value, U_DIAMETER, other ? 16 : LOWER, other ? 16.2 : UPPER_LIMIT) & 15;
        }
        add_finding(s, d, finding);
        if (d->plugged[b->hole] || other) continue;
        sum += value;
        rule->denominator++;
        rule->in += finding.class_ == PP_CLASS_IN;
        rule->remainder += finding.class_ == PP_CLASS_REMAINDER;
        rule->out += finding.class_ == PP_CLASS_OUT;
        rule->under += finding.class_ == PP_CLASS_UNDER;
        j->diameter_fold.smallest = fmin(j->diameter_fold.smallest, value);
        j->diameter_fold.largest = fmax(j->diameter_fold.largest, value);
    }
    j->diameter_fold.mean = sum / (double)rule->denominator;
    rule->remainder_allowed = (size_t)(0.04 * (double)d->tubes + 1e-9);
    j->diameter_fold.assurance =
        (pp_assurance){.probability_valid = true, .probability = 0.1234, .confidence = 0.95};
}

static void judge_ligaments(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    pp_count_rule *rule = &j->ligament_fold.rule;
    double sum = 0;
    begin(s, PP_LIGAMENT);
    j->ligament_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_ligament *l = &m->ligaments[i];
        pp_class class_ = l->value >= LIGAMENT_STANDARD  ? PP_CLASS_IN
                          : l->value >= LIGAMENT_MINIMUM ? PP_CLASS_REMAINDER
                                                         : PP_CLASS_OUT;
        add_finding(s, d,
                    (pp_finding){.characteristic = PP_LIGAMENT,
                                 .face = l->face,
                                 .class_ = (uint8_t)class_,
                                 .verdict = verdict_of(l->value, l->u, LIGAMENT_MINIMUM, NAN) & 15,
                                 .subject = l->a,
                                 .other = l->b,
                                 .value = l->value,
                                 .u = l->u});
        rule->denominator++;
        rule->in += class_ == PP_CLASS_IN;
        rule->remainder += class_ == PP_CLASS_REMAINDER;
        rule->out += class_ == PP_CLASS_OUT;
        sum += l->value;
        if (l->value >= j->ligament_fold.smallest) continue;
        j->ligament_fold.smallest = l->value;
        j->ligament_fold.smallest_a = l->a;
        j->ligament_fold.smallest_b = l->b;
        j->ligament_fold.smallest_face = l->face;
    }
    j->ligament_fold.mean = sum / (double)m->ligament_count;
    rule->remainder_allowed = (size_t)(0.04 * (double)m->pair_count + 1e-9);
}

static void judge_edges(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    begin(s, PP_EDGE);
    j->edge_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        pp_finding finding = of_bore(PP_EDGE, b, m->edge[i], 0.0051);
        bool judged = d->kind[b->hole] == PP_TUBE_HOLE && !d->plugged[b->hole];
        if (judged) {
            finding.class_ = PP_CLASS_IN;
            finding.verdict = verdict_of(m->edge[i], 0.0051, EDGE_MINIMUM, NAN) & 15;
        }
        add_finding(s, d, finding);
        if (!judged || m->edge[i] >= j->edge_fold.smallest) continue;
        j->edge_fold.smallest = m->edge[i];
        j->edge_fold.smallest_hole = b->hole;
    }
    begin(s, PP_DRIFT);
    j->drift_fold.largest = NAN;
    for (size_t i = 0; i < d->tubes; i++) {
        if (isnan(m->drift[i]) || m->drift[i] <= j->drift_fold.largest) continue;
        j->drift_fold.largest = m->drift[i];
        j->drift_fold.largest_hole = (uint32_t)i;
    }
}

static void judge_plate(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    pp_section *straightedge;
    TAKE(straightedge, 2);
    double u = 0.0141, value = s->flatness.minimum_zone.flatness;
    double gap = s->flatness.straightedge[0].gap;
    begin(s, PP_FLATNESS);
    add_finding(s, d,
                (pp_finding){.characteristic = PP_FLATNESS,
                             .class_ = value > 1.5 ? PP_CLASS_OUT : PP_CLASS_IN,
                             .verdict = verdict_of(value, u, NAN, 1.5) & 15,
                             .other = PP_NONE,
                             .value = value,
                             .u = (float)u});
    begin(s, PP_STRAIGHTEDGE);
    const pp_finding *finding =
        add_finding(s, d,
                    (pp_finding){.characteristic = PP_STRAIGHTEDGE,
                                 .class_ = gap > 1.2 ? PP_CLASS_OUT : PP_CLASS_IN,
                                 .verdict = verdict_of(gap, u, NAN, 1.2) & 15,
                                 .other = PP_NONE,
                                 .value = gap,
                                 .u = (float)u});
    straightedge[0] = (pp_section){.verdict = finding->verdict, .judged = 1};
    j->straightedge_count = 2;
    j->straightedge = straightedge;
}

static void judge_strays(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    begin(s, PP_EXTRA_HOLE);
    if (d->conforming) return;
    uint32_t *plugged, *repair;
    pp_finding finding = {.characteristic = PP_EXTRA_HOLE,
                          .class_ = PP_CLASS_OUT,
                          .verdict = PP_DOES_NOT_CONFORM,
                          .subject = (uint32_t)m->extra_first,
                          .other = PP_NONE,
                          .value = NAN,
                          .u = NAN};
    add_finding(s, d, finding);
    begin(s, PP_MISDRILLED);
    finding.characteristic = PP_MISDRILLED;
    finding.subject = m->close[0].a;
    finding.other = m->close[0].b;
    finding.value = m->close[0].ligament;
    add_finding(s, d, finding);
    TAKE(plugged, 1);
    TAKE(repair, 1);
    repair[0] = 9;
    j->misdrilled_count = j->plugged_count = j->repair_count = 1;
    j->misdrilled = m->close;
    j->plugged = plugged;
    j->repair = repair;
}

static void judge_others(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    pp_other_verdict *others;
    TAKE(others, OTHERS);
    for (uint32_t k = 0; k < OTHERS; k++) {
        uint32_t hole = (uint32_t)d->tubes + k, bore = d->bore_of[PP_ENTRY][hole];
        others[k] = (pp_other_verdict){hole, d->bores[bore].position, d->bores[bore].diameter_mean,
                                       PP_CONFORMS};
    }
    j->others_count = OTHERS;
    j->others = others;
}

/* failing findings first, then the unproven ones */
static void sort_exceptions(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    uint32_t *sorted;
    TAKE(sorted, j->exception_count + 1);
    size_t count = 0;
    for (int verdict = PP_DOES_NOT_CONFORM; verdict >= PP_NOT_PROVEN; verdict--)
        for (size_t i = 0; i < j->exception_count; i++)
            if (d->findings[d->exceptions[i]].verdict == verdict)
                sorted[count++] = d->exceptions[i];
    j->exceptions = sorted;
}

static void make_judgement(pp_sample *s, draft *d)
{
    static const char *const judged[] = {"flatness", "straightedge", "position",
                                         "diameter", "ligament",     "edge"};
    static const char *const not_judged[] = {"drift"};
    static const char *const cautions[] = {
        "Exit face read on some holes only: drift seen on these alone.",
        "Instrument GAUGE: calibration was due 2026-10-01, before the inspection date 2026-11-20.",
        "Flatness is as laid, at the surveyed points."};
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    j->job = &s->job;
    j->limits = &s->limits;
    j->measures = m;
    j->files = &s->files;
    TAKE(d->findings, 3 * m->bore_count + m->ligament_count + 8);
    TAKE(d->exceptions, 3 * m->bore_count + m->ligament_count + 8);
    judge_plate(s, d);
    judge_positions(s, d);
    judge_diameters(s, d);
    judge_ligaments(s, d);
    judge_edges(s, d);
    judge_strays(s, d);
    judge_others(s, d);
    sort_exceptions(s, d);
    j->findings = d->findings;
    j->judged_count = 6;
    j->judged = judged;
    j->not_judged_count = 1;
    j->not_judged = not_judged;
    j->caution_count = 3;
    j->cautions = cautions;
    j->decision_rule = "guarded (ISO 14253-1): conforms or not only where proven beyond a guard "
                       "band of 1.645 standard uncertainties";
    j->basis = name_of(s, "%u of %u holes, entry face; exit face in part", (unsigned)m->measured,
                       (unsigned)d->tubes);
    for (int c = 0; c < PP_CHARACTERISTICS; c++)
        if (j->section[c].verdict > j->verdict) j->verdict = j->section[c].verdict;
}

static void make_diagnosis(pp_sample *s, draft *d)
{
    pp_term *terms;
    uint32_t *changes;
    double *fitted;
    TAKE(terms, 3);
    TAKE(changes, 2);
    TAKE(fitted, d->count);
    terms[0] = (pp_term){.name = "scale common",
                         .state = PP_TERM_FOUND,
                         .value = 4.1e-5,
                         .standard_error = 5.2e-6,
                         .p = 3e-12,
                         .p_adjusted = 3e-11,
                         .share = 0.31,
                         .worst_effect = 0.041,
                         .is_cause = true,
                         .sentence = "The pattern is 41 parts per million too large, as if plate "
                                     "and scale differed by 3.6 K."};
    terms[1] = (pp_term){.name = "squareness",
                         .state = PP_TERM_NOT_FOUND,
                         .value = -2e-6,
                         .standard_error = 6e-6,
                         .p = 0.74,
                         .p_adjusted = 1,
                         .share = 0.001,
                         .worst_effect = 0.001};
    terms[2] = (pp_term){.name = "drift along y",
                         .state = PP_TERM_NOT_TESTED,
                         .value = NAN,
                         .standard_error = NAN,
                         .p = NAN,
                         .p_adjusted = NAN,
                         .share = NAN,
                         .worst_effect = NAN,
                         .partner = "scale x-y"};
    changes[0] = 1;
    changes[1] = 8;
    s->diagnosis = (pp_diagnosis){.valid = true,
                                  .holes = s->measures.measured,
                                  .order_known = true,
                                  .term_count = 3,
                                  .terms = terms,
                                  .scatter_x = 0.031,
                                  .scatter_y = 0.029,
                                  .autocorrelation = 0.07,
                                  .temperature_difference = 3.57,
                                  .temperature_standard_error = 0.45,
                                  .tool_change_count = 2,
                                  .tool_changes = changes,
                                  .rms_before = 0.057,
                                  .rms_after = 0.047,
                                  .fitted_dx = fitted,
                                  .fitted_dy = fitted};
    s->placement = (pp_placement){.valid = true,
                                  .zone = 0.2861,
                                  .lower_bound = 0.2861 - 1e-10,
                                  .angle_deg = 0.0021,
                                  .dx = -0.0213,
                                  .dy = 0.0087,
                                  .witness_count = 3,
                                  .witnesses = {1, 2, 3},
                                  .u = 0.01,
                                  .witnesses_suffice = true,
                                  .holes = s->measures.measured,
                                  .as_aligned = s->judgement.position_fold.largest,
                                  .saves = !d->conforming,
                                  .moved = 0.0244};
}

static void make_inputs(pp_sample *s)
{
    const char *roles[] = {"job", "survey", "nominal", "measured"};
    const char *written[] = {"plate.ini", "survey.csv", "nominal.csv", "measured.csv"};
    size_t rows[] = {0, s->survey.count, s->files.nominal.count, s->files.measured.count};
    for (size_t i = 0; i < 4; i++) {
        s->inputs[i] = (pp_input_file){.role = roles[i],
                                       .path = i ? written[i] : s->job.path,
                                       .written = written[i],
                                       .rows = rows[i],
                                       .instrument = i == 3 ? &s->job.instruments[0] : NULL};
        for (size_t k = 0; k < 64; k++)
            s->inputs[i].sha256[k] = "0123456789abcdef"[(5 * k + 7 * i) % 16];
    }
}

void pp_sample_make(pp_sample *s, const pp_sample_options *options)
{
    pp_sample_options o = options ? *options : (pp_sample_options){0};
    memset(s, 0, sizeof *s);
    draft d = {.rings = o.rings ? o.rings : 2, .random = 88172645463325252u};
    d.conforming = o.conforming;
    d.tubes = 1 + 3 * (size_t)d.rings * (d.rings + 1);
    d.count = d.tubes + OTHERS;
    d.radius = PITCH * d.rings + DISC_MARGIN;
    make_job(s, &o, &d);
    make_nominal(s, &o, &d);
    make_measures(s, &d);
    make_limits(s);
    make_flatness(s, &d);
    make_holddown(s, &d);
    make_judgement(s, &d);
    make_diagnosis(s, &d);
    make_inputs(s);
    s->results = (pp_results){.job = &s->job,
                              .command = "inspect",
                              .date = s->job.date,
                              .input_count = 4,
                              .inputs = s->inputs,
                              .survey = &s->survey,
                              .flatness = &s->flatness,
                              .holddown = &s->holddown,
                              .files = &s->files,
                              .measures = &s->measures,
                              .diagnosis = &s->diagnosis,
                              .placement = &s->placement,
                              .limits = &s->limits,
                              .judgement = &s->judgement};
}

void pp_sample_drop_holes(pp_sample *s)
{
    pp_judgement *j = &s->judgement;
    s->results.holddown = NULL;
    s->results.measures = NULL;
    s->results.files = NULL;
    s->results.diagnosis = NULL;
    s->results.placement = NULL;
    j->count = j->first[PP_POSITION];
    for (int c = PP_POSITION; c <= PP_CHARACTERISTICS; c++) j->first[c] = j->count;
    size_t kept = 0;
    while (kept < j->exception_count && j->exceptions[kept] < j->count) kept++;
    j->exception_count = kept;
    j->others_count = j->repair_count = j->misdrilled_count = j->plugged_count = 0;
}

void pp_sample_free(pp_sample *s) { pp_memory_free(&s->memory); }
