/* Nominal holes, readings and measures of the sample answer. */
#include "support/sample_draft.h"

static size_t row_length(const draft *d, unsigned row)
{
    int offset = (int)row - (int)d->rings;
    return 2 * d->rings + 1 - (unsigned)abs(offset);
}

void sample_make_nominal(pp_sample *s, const pp_sample_options *o, draft *d)
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
            d->name[hole] = sample_name(s, "R%03uC%03u", row + 1, (unsigned)i + 1);
            row_label[hole] = row + 1;
            column_label[hole] = (uint32_t)i + 1;
        }
    }
    d->row_first[rows] = (uint32_t)hole;
    for (unsigned k = 0; k < OTHERS; k++, hole++) {
        d->x[hole] = (k ? -1 : 1) * (d->radius - 30);
        d->name[hole] = sample_name(s, "T%u", k + 1, 0);
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
    double dx = scatter * sample_normal(d), dy = scatter * sample_normal(d);
    double size = d->kind[hole] == PP_OTHER_HOLE ? 16.08 : NOMINAL_SIZE - 0.012;
    double diameter = size + 0.006 * sample_normal(d);
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
                     .at = {d->x[hole] + dx, d->y[hole] + dy},
                     .diameter_min = diameter,
                     .diameter_max = diameter,
                     .diameter_mean = diameter,
                     .position = 2 * hypot(dx, dy),
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
                                      .at = {d->x[middle] + 24, d->y[middle] + 3},
                                      .diameter_min = 25.69,
                                      .diameter_max = 25.69,
                                      .diameter_mean = 25.69,
                                      .position = NAN,
                                      .smallest_ligament = NAN};
    }
    m->bore_count = count;
    m->bores = d->bores;
    pp_bore_error *errors;
    TAKE(errors, count);
    for (size_t b = 0; b < count; b++)
        errors[b] = (pp_bore_error){
            U_CENTRE, {b < m->extra_first ? 2 * U_CENTRE : NAN, b < m->extra_first ? 0.001 : NAN}};
    m->bore_errors = errors;
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
            double metal = hypot(p->at.x - q->at.x, p->at.y - q->at.y) -
                           0.5 * (p->diameter_max + q->diameter_max);
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

/* The second row's hole was accepted under concession. */
static void make_dispositions(pp_sample *s)
{
    pp_readings *r = &s->files.measured;
    const char **disposition, **reference;
    uint8_t *face;
    uint32_t *round;
    TAKE(disposition, r->count);
    TAKE(reference, r->count);
    TAKE(face, r->count);
    TAKE(round, r->count);
    for (size_t i = 0; i < r->count; i++) {
        disposition[i] = i == 1 ? "accepted under concession" : "";
        reference[i] = i == 1 ? "CON-4" : "";
        round[i] = 1;
    }
    r->disposition = disposition;
    r->reference = reference;
    r->face = face;
    r->round = round;
}

void sample_make_measures(pp_sample *s, draft *d)
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
    double *edge, *edge_u, *drift;
    pp_distance_error *drift_error;
    TAKE(edge, m->bore_count);
    TAKE(edge_u, m->bore_count);
    TAKE(drift, d->count);
    TAKE(drift_error, d->count);
    for (size_t i = 0; i < m->bore_count; i++) {
        edge_u[i] = 0.0051;
        edge[i] =
            d->radius - hypot(d->bores[i].at.x, d->bores[i].at.y) - 0.5 * d->bores[i].diameter_max;
    }
    for (size_t i = 0; i < d->count; i++) {
        drift_error[i] = (pp_distance_error){sqrt(2) * U_CENTRE, 0.001};
        uint32_t in = d->bore_of[0][i], out = d->bore_of[1][i];
        drift[i] = in == PP_NONE || out == PP_NONE ? NAN
                                                   : hypot(d->bores[in].at.x - d->bores[out].at.x,
                                                           d->bores[in].at.y - d->bores[out].at.y);
    }
    m->edge = edge;
    m->edge_u = edge_u;
    m->drift = drift;
    m->drift_error = drift_error;
    if (d->conforming) return;
    make_dispositions(s);
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
    extra[0] = sample_name(s, "row %u", (unsigned)s->files.measured.count, 0);
    close[0] = (pp_close_pair){d->bore_of[0][d->tubes / 2], (uint32_t)m->bore_count - 1, -1.7};
    history[0] = (pp_reading_history){.hole = 1,
                                      .round = 1,
                                      .at = {d->x[1], d->y[1]},
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
