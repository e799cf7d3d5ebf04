#include "bundle/mates.h"

#include <stdlib.h>
#include <string.h>

#include "base/grid.h"

/* What one plate has for one tube. */
typedef struct cell {
    uint32_t hole; /* index in the plate's holes; PP_NONE */
    bool expected;
} cell;

typedef struct matching {
    const pp_set *set;
    int threads;
    pp_memory *memory;
    pp_mates *out;
    pp_memory own;                 /* the holes, given back */
    pp_plate_holes *holes;         /* [plates] */
    pp_plate_mates *plate;         /* [plates] */
    const pp_table_reading **read; /* [2 * plates] */
    cell *cell;                    /* [plates][tubes] */
    pp_names names;                /* of the tubes */
    pp_grid grid;                  /* of the tubes */
    double reach;                  /* half a pitch */
    pp_mate_doubled *doubled;
    size_t doubled_count, doubled_room;
} matching;

static cell *cells_of(const matching *m, size_t plate)
{
    return m->cell + plate * m->out->tubes.count;
}

/* ---- units that must be wrong ---- */

static double spread(size_t count, const double *x, const double *y)
{
    double mx = 0, my = 0, sum = 0;
    for (size_t i = 0; i < count; i++) mx += x[i] / (double)count, my += y[i] / (double)count;
    for (size_t i = 0; i < count; i++) sum += (x[i] - mx) * (x[i] - mx) + (y[i] - my) * (y[i] - my);
    return sqrt(sum / (double)count);
}

/* 25.4, 10 and 1000 are far from every honest ratio. */
static bool is_slip(double ratio) { return !(ratio > 0.2 && ratio < 5); }

static pp_status check_units(const matching *m, size_t plate, pp_error *error)
{
    const pp_plate_holes *h = &m->holes[plate];
    const pp_set_plate *p = &m->set->plates[plate];
    double *x, *y, radius = 0;
    size_t n = 0;
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    PP_TAKE(x, &m->memory->scratch, h->count);
    PP_TAKE(y, &m->memory->scratch, h->count);
    for (size_t i = 0; i < h->count; i++) {
        if (!h->hole[i].measured) continue;
        x[n] = h->hole[i].x[0];
        y[n++] = h->hole[i].y[0];
        radius += h->hole[i].r[0];
    }
    double holes = spread(n, x, y);
    pp_arena_release(&m->memory->scratch, mark);
    const pp_tube_list *tubes = &m->out->tubes;
    double all = spread(tubes->count, tubes->x, tubes->y);
    if (n && is_slip(2 * radius / (double)n / m->set->tube.diameter))
        return pp_fail_at(
            error, PP_EINPUT, m->set->path, p->line, 0,
            "the holes of plate %s are %.4g mm wide on average, and the tube %.4g mm; "
            "check length_unit of the plate and the unit of [tube] diameter",
            p->name, 2 * radius / (double)n, m->set->tube.diameter);
    if (n >= tubes->count / 2 && n > 2 && holes > 0 && all > 0 && is_slip(holes / all))
        return pp_fail_at(error, PP_EINPUT, m->set->path, p->line, 0,
                          "the holes of plate %s spread over %.4g mm, and the tubes over %.4g mm; "
                          "check length_unit of the plate",
                          p->name, holes, all);
    return PP_OK;
}

/* ---- one plate ---- */

static double miss(const matching *m, const pp_plate_hole *h, uint32_t tube)
{
    double x = (h->x[0] + h->x[1]) / 2, y = (h->y[0] + h->y[1]) / 2;
    return hypot(x - m->out->tubes.x[tube], y - m->out->tubes.y[tube]);
}

static uint32_t tube_by_place(const matching *m, double x, double y)
{
    double distance;
    return m->reach > 0 ? pp_grid_nearest(&m->grid, x, y, m->reach, &distance) : PP_NONE;
}

/* The tube of every hole, PP_NONE where there is none. */
static void find_tubes(const matching *m, size_t plate, uint32_t *tube_of)
{
    const pp_plate_holes *h = &m->holes[plate];
    bool places = m->set->match == PP_MATCH_PLACES;
    for (size_t i = 0; i < h->count; i++) {
        const pp_plate_hole *hole = &h->hole[i];
        if (!places)
            tube_of[i] = pp_names_find(&m->names, hole->name);
        else if (hole->measured)
            tube_of[i] =
                tube_by_place(m, (hole->x[0] + hole->x[1]) / 2, (hole->y[0] + hole->y[1]) / 2);
        else
            tube_of[i] = PP_NONE;
    }
}

static pp_status note_doubled(matching *m, size_t plate, uint32_t tube, const char *first,
                              const char *second, pp_error *error)
{
    for (size_t i = 0; i < m->doubled_count; i++) {
        pp_mate_doubled *d = &m->doubled[i];
        if (d->plate != plate || d->tube != tube) continue;
        const char **longer;
        PP_TAKE(longer, &m->memory->keep, d->count + 1);
        memcpy(longer, d->hole, d->count * sizeof *longer);
        longer[d->count++] = second;
        d->hole = longer;
        return PP_OK;
    }
    if (m->doubled_count == m->doubled_room) {
        pp_mate_doubled *more;
        size_t room = m->doubled_room ? 2 * m->doubled_room : 64;
        PP_TAKE(more, &m->memory->keep, room);
        if (m->doubled_count) memcpy(more, m->doubled, m->doubled_count * sizeof *more);
        m->doubled = more;
        m->doubled_room = room;
    }
    const char **both;
    PP_TAKE(both, &m->memory->keep, 2);
    both[0] = first;
    both[1] = second;
    m->doubled[m->doubled_count++] = (pp_mate_doubled){tube, (uint32_t)plate, second ? 2 : 1, both};
    return PP_OK;
}

/* Every tube gets the nearest of its holes; of two both are listed. */
static pp_status give_holes(matching *m, size_t plate, uint32_t *tube_of, pp_error *error)
{
    const pp_plate_holes *h = &m->holes[plate];
    cell *cells = cells_of(m, plate);
    for (size_t i = 0; i < h->count; i++) {
        if (tube_of[i] == PP_NONE || !h->hole[i].measured || h->hole[i].plugged) continue;
        cell *c = &cells[tube_of[i]];
        uint32_t before = c->hole;
        if (before == PP_NONE) {
            c->hole = (uint32_t)i;
            continue;
        }
        const pp_plate_hole *a = &h->hole[before], *b = &h->hole[i];
        bool nearer = miss(m, b, tube_of[i]) < miss(m, a, tube_of[i]);
        if (nearer) c->hole = (uint32_t)i;
        PP_TRY(note_doubled(m, plate, tube_of[i], nearer ? b->name : a->name,
                            nearer ? a->name : b->name, error));
    }
    return PP_OK;
}

/* Which tubes should go through the plate: those of its nominal list; without one a tube plate has
 * them all, a baffle what was measured. */
static void expect(matching *m, size_t plate, const uint32_t *tube_of)
{
    const pp_plate_holes *h = &m->holes[plate];
    cell *cells = cells_of(m, plate);
    bool places = m->set->match == PP_MATCH_PLACES;
    for (size_t k = 0; k < m->out->tubes.count; k++)
        cells[k].expected = !h->has_nominal && m->set->plates[plate].role != PP_ROLE_BAFFLE;
    for (size_t i = 0; i < h->count; i++) {
        const pp_plate_hole *hole = &h->hole[i];
        uint32_t tube = tube_of[i];
        if (h->has_nominal && hole->nominal)
            tube = places ? tube_by_place(m, hole->nominal_x, hole->nominal_y) : tube_of[i];
        if (tube == PP_NONE) continue;
        if (hole->plugged)
            cells[tube].expected = false;
        else if (h->has_nominal ? hole->nominal : hole->measured)
            cells[tube].expected = true;
    }
}

static void count_plate(matching *m, size_t plate, const uint32_t *tube_of)
{
    const pp_plate_holes *h = &m->holes[plate];
    const pp_set_plate *p = &m->set->plates[plate];
    const cell *cells = cells_of(m, plate);
    pp_plate_mates *out = &m->plate[plate];
    out->holes = h->measured;
    out->one_face = h->one_face;
    out->has_nominal = h->has_nominal;
    out->rim = 1;
    for (size_t k = 0; k < m->out->tubes.count; k++) {
        out->expected += cells[k].expected;
        out->missing += cells[k].expected && cells[k].hole == PP_NONE;
    }
    for (size_t i = 0; i < h->count; i++) {
        out->plugged += h->hole[i].plugged;
        if (!h->hole[i].measured || tube_of[i] == PP_NONE) continue;
        for (int e = 0; e < 2; e++)
            out->rim =
                fmax(out->rim, hypot(h->hole[i].x[e] - p->shift_x, h->hole[i].y[e] - p->shift_y));
    }
}

/* Without a nominal list a hole that was not drilled cannot be seen; a tube whose neighbours all
 * have one is worth a look. */
static void look_for_gaps(matching *m, size_t plate)
{
    const pp_tube_list *tubes = &m->out->tubes;
    const cell *cells = cells_of(m, plate);
    pp_plate_mates *out = &m->plate[plate];
    double reach = 2.5 * m->reach;
    if (out->has_nominal || m->set->plates[plate].role != PP_ROLE_BAFFLE || !(m->reach > 0)) return;
    for (size_t k = 0; k < tubes->count; k++) {
        if (cells[k].hole != PP_NONE) continue;
        size_t neighbours = 0, there = 0;
        pp_grid_window w = pp_grid_around(&m->grid, tubes->x[k], tubes->y[k], reach);
        for (size_t row = w.row_first; row <= w.row_last; row++)
            for (size_t i = pp_grid_first(&m->grid, w, row); i < pp_grid_end(&m->grid, w, row);
                 i++) {
                uint32_t other = m->grid.item[i];
                if (other == k ||
                    hypot(m->grid.x[i] - tubes->x[k], m->grid.y[i] - tubes->y[k]) > reach)
                    continue;
                neighbours++;
                there += cells[other].hole != PP_NONE;
            }
        out->perhaps += neighbours > 0 && there == neighbours;
    }
}

static pp_status match_plate(matching *m, size_t plate, pp_error *error)
{
    pp_plate_holes *h = &m->holes[plate];
    pp_plate_mates *out = &m->plate[plate];
    cell *cells = cells_of(m, plate);
    uint32_t *tube_of;
    PP_TRY(pp_plate_holes_read(m->set, &m->set->plates[plate], m->threads, &m->own,
                               &m->memory->keep, h, error));
    m->read[2 * plate] = h->nominal_read;
    m->read[2 * plate + 1] = h->measured_read;
    PP_TRY(check_units(m, plate, error));
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    PP_TAKE(tube_of, &m->memory->scratch, h->count);
    for (size_t k = 0; k < m->out->tubes.count; k++) cells[k].hole = PP_NONE;
    find_tubes(m, plate, tube_of);
    PP_TRY(give_holes(m, plate, tube_of, error));
    for (size_t i = 0; i < h->claimed_count; i++) {
        uint32_t tube = pp_names_find(&m->names, h->claimed[i]);
        if (tube != PP_NAME_NONE) PP_TRY(note_doubled(m, plate, tube, h->claimed[i], NULL, error));
    }
    expect(m, plate, tube_of);
    count_plate(m, plate, tube_of);
    look_for_gaps(m, plate);
    if (m->set->match == PP_MATCH_NAMES)
        PP_TRY(pp_turn_hint(&m->set->plates[plate], h, tube_of, &m->out->tubes, m->memory,
                            &out->looks_turned, &out->turn_hint, error));
    pp_arena_release(&m->memory->scratch, mark);
    return PP_OK;
}

/* ---- lists ---- */

static pp_status list_missing(matching *m, pp_error *error)
{
    pp_mates *out = m->out;
    pp_mate_missing *missing;
    bool *incomplete;
    size_t count = 0, plates = m->set->plate_count;
    for (size_t p = 0; p < plates; p++) count += out->plate[p].missing;
    PP_TAKE(missing, &m->memory->keep, count);
    PP_TAKE_ZERO(incomplete, &m->memory->keep, out->tubes.count);
    for (size_t k = 0; k < out->tubes.count; k++)
        for (size_t p = 0; p < plates; p++) {
            const cell *c = &cells_of(m, p)[k];
            if (!c->expected || c->hole != PP_NONE) continue;
            missing[out->missing_count++] = (pp_mate_missing){(uint32_t)k, (uint32_t)p};
            incomplete[k] = true;
        }
    out->missing = missing;
    out->incomplete = incomplete;
    return PP_OK;
}

/* Measured, not plugged, and no tube goes through. */
static pp_status list_strays(matching *m, pp_error *error)
{
    pp_mate_stray *stray;
    size_t room = 0;
    for (size_t p = 0; p < m->set->plate_count; p++) room += m->holes[p].count;
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    uint32_t *tube_of, *list;
    PP_TAKE(tube_of, &m->memory->scratch, room);
    PP_TAKE(list, &m->memory->scratch, 2 * room);
    size_t n = 0;
    for (size_t p = 0; p < m->set->plate_count; p++) {
        find_tubes(m, p, tube_of);
        for (size_t i = 0; i < m->holes[p].count; i++) {
            const pp_plate_hole *h = &m->holes[p].hole[i];
            if (!h->measured || h->plugged || tube_of[i] != PP_NONE) continue;
            list[2 * n] = (uint32_t)p;
            list[2 * n++ + 1] = (uint32_t)i;
        }
    }
    PP_TAKE(stray, &m->memory->keep, n);
    for (size_t i = 0; i < n; i++)
        stray[i] = (pp_mate_stray){list[2 * i], m->holes[list[2 * i]].hole[list[2 * i + 1]].name,
                                   m->holes[list[2 * i]].has_nominal};
    m->out->stray = stray;
    m->out->stray_count = n;
    pp_arena_release(&m->memory->scratch, mark);
    return PP_OK;
}

static int by_tube(const void *a, const void *b)
{
    const pp_mate_doubled *p = a, *q = b;
    if (p->tube != q->tube) return p->tube < q->tube ? -1 : 1;
    return p->plate < q->plate ? -1 : p->plate > q->plate;
}

static pp_status list_doubled(matching *m, pp_error *error)
{
    bool *doubly;
    PP_TAKE_ZERO(doubly, &m->memory->keep, m->out->tubes.count);
    if (m->doubled_count) qsort(m->doubled, m->doubled_count, sizeof *m->doubled, by_tube);
    for (size_t i = 0; i < m->doubled_count; i++) doubly[m->doubled[i].tube] = true;
    m->out->doubly = doubly;
    m->out->doubled = m->doubled;
    m->out->doubled_count = m->doubled_count;
    return PP_OK;
}

/* ---- discs ---- */

typedef struct disc_arrays {
    size_t *first;
    pp_disc *disc;
    uint8_t *plate;
    float *u_centre, *u_radius;
    bool *shared;
    uint32_t *hole;
    const char **name;
} disc_arrays;

static pp_status take_discs(matching *m, size_t count, disc_arrays *a, pp_error *error)
{
    pp_arena *keep = &m->memory->keep;
    PP_TAKE(a->first, keep, m->out->tubes.count + 1);
    PP_TAKE(a->disc, keep, count);
    PP_TAKE(a->plate, keep, count);
    PP_TAKE(a->u_centre, keep, count);
    PP_TAKE(a->u_radius, keep, count);
    PP_TAKE(a->shared, keep, count);
    PP_TAKE(a->hole, keep, count);
    PP_TAKE(a->name, keep, count / 2);
    return PP_OK;
}

static void put_discs(const pp_set_plate *plate, const pp_plate_hole *h, uint8_t p, disc_arrays *a,
                      size_t n)
{
    for (size_t e = 0; e < 2; e++) {
        a->disc[n + e] =
            (pp_disc){plate->front + (e ? plate->thickness : 0), h->x[e], h->y[e], h->r[e]};
        a->plate[n + e] = p;
        a->u_centre[n + e] = (float)h->u_centre[e];
        a->u_radius[n + e] = (float)(h->u_diameter / 2);
        a->shared[n + e] = h->one_face;
        a->hole[n + e] = (uint32_t)(n / 2);
    }
    a->name[n / 2] = h->name;
}

static pp_status make_discs(matching *m, pp_error *error)
{
    size_t tubes = m->out->tubes.count, plates = m->set->plate_count, count = 0, n = 0;
    disc_arrays a;
    for (size_t i = 0; i < tubes * plates; i++) count += m->cell[i].hole != PP_NONE ? 2 : 0;
    PP_TRY(take_discs(m, count, &a, error));
    for (size_t k = 0; k < tubes; k++) {
        a.first[k] = n;
        for (size_t p = 0; p < plates; p++) {
            uint32_t hole = cells_of(m, p)[k].hole;
            if (hole == PP_NONE) continue;
            put_discs(&m->set->plates[p], &m->holes[p].hole[hole], (uint8_t)p, &a, n);
            n += 2;
        }
    }
    a.first[tubes] = n;
    m->out->discs = (pp_discs){tubes, a.first, a.disc, a.plate};
    m->out->u_centre = a.u_centre;
    m->out->u_radius = a.u_radius;
    m->out->shared = a.shared;
    m->out->hole = a.hole;
    m->out->hole_name = a.name;
    return PP_OK;
}

/* ---- all of it ---- */

static pp_status match(matching *m, pp_error *error)
{
    pp_arena *scratch = &m->memory->scratch;
    pp_tube_list *tubes = &m->out->tubes;
    PP_TRY(pp_tubes_find(m->set, m->threads, m->memory, tubes, &m->out->places_read, error));
    m->reach = tubes->pitch / 2;
    PP_TRY(pp_names_build(tubes->name, tubes->count, scratch, &m->names, error));
    PP_TRY(pp_grid_build(tubes->count, tubes->x, tubes->y, m->reach > 0 ? 2 * m->reach : 1, scratch,
                         &m->grid, error));
    PP_TAKE(m->holes, scratch, m->set->plate_count);
    PP_TAKE(m->cell, scratch, m->set->plate_count * tubes->count);
    PP_TAKE_ZERO(m->plate, &m->memory->keep, m->set->plate_count);
    PP_TAKE_ZERO(m->read, &m->memory->keep, 2 * m->set->plate_count);
    m->out->plate = m->plate;
    m->out->read = m->read;
    for (size_t p = 0; p < m->set->plate_count; p++) PP_TRY(match_plate(m, p, error));
    PP_TRY(list_missing(m, error));
    PP_TRY(list_strays(m, error));
    PP_TRY(list_doubled(m, error));
    return make_discs(m, error);
}

pp_status pp_mates_find(const pp_set *set, int threads, pp_memory *memory, pp_mates *mates,
                        pp_error *error)
{
    pp_mates out = {0};
    matching m = {.set = set, .threads = threads, .memory = memory, .out = &out};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = match(&m, error);
    pp_arena_release(&memory->scratch, mark);
    pp_memory_free(&m.own);
    if (status == PP_OK) *mates = out;
    return status;
}
