#include "bundle/plate_holes.h"

#include <string.h>

#include "holes/measures.h"
#include "input/lists/sizes.h"

typedef struct reading {
    const pp_set *set;
    const pp_set_plate *plate;
    int threads;
    pp_memory *keep; /* results */
    pp_arena *names; /* texts */
    pp_memory own;   /* the lists, given back at the end */
    pp_hole_files files;
    pp_measures measures;
    pp_plate_hole *hole;
    pp_plate_holes out;
} reading;

/* Does the entry face look to the front? */
static bool entry_in_front(const pp_set_plate *plate)
{
    if (plate->entry_looks == PP_LOOKS_BY_VIEW) return plate->view == PP_FROM_FRONT;
    return plate->entry_looks == PP_LOOKS_FRONT;
}

void pp_plate_to_bundle(const pp_set_plate *plate, double x, double y, double *bx, double *by)
{
    const double degree = 0.017453292519943295;
    double c = cos(plate->turn_deg * degree), s = sin(plate->turn_deg * degree);
    double quarter = plate->turn_deg / 90;
    if (quarter == floor(quarter)) c = round(c), s = round(s); /* right angles exactly */
    double fx = plate->view == PP_TURNED_Y ? -x : x, fy = plate->view == PP_TURNED_X ? -y : y;
    *bx = c * fx - s * fy + plate->shift_x;
    *by = s * fx + c * fy + plate->shift_y;
}

/* ---- the lists ---- */

static pp_status nameless(const pp_readings *m, size_t row, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, m->file, m->line ? m->line[row] : 0, 0,
                      "the row has no hole name, and the plate has no nominal list to find it by; "
                      "name the holes, or give nominal = FILE");
}

/* A plate without a nominal list: every name that was measured is a hole of it. */
static pp_status make_nominal(reading *r, pp_error *error)
{
    const pp_readings *m = &r->files.measured;
    const char **name;
    double *x, *y;
    uint8_t *kind;
    size_t count = 0;
    pp_names names;
    for (size_t i = 0; i < m->count; i++)
        if (!m->name || !m->name[i][0]) return nameless(m, i, error);
    PP_TAKE(name, &r->own.keep, m->count);
    PP_TAKE(x, &r->own.keep, m->count);
    PP_TAKE(y, &r->own.keep, m->count);
    PP_TAKE_ZERO(kind, &r->own.keep, m->count);
    PP_TRY(pp_names_build(m->name, m->count, &r->own.keep, &names, error));
    for (size_t i = 0; i < m->count; i++) {
        if (pp_names_find(&names, m->name[i]) != i) continue; /* met before */
        name[count] = m->name[i];
        x[count] = m->x[i];
        y[count++] = m->y[i];
    }
    pp_nominal *nominal = &r->files.nominal;
    *nominal =
        (pp_nominal){.count = count, .name = name, .x = x, .y = y, .kind = kind, .file = m->file};
    return pp_names_build(nominal->name, count, &r->own.keep, &nominal->names, error);
}

static pp_status read_lists(reading *r, pp_error *error)
{
    const pp_job *job = r->plate->job;
    double pitch;
    /* no gauge tells a diameter here, and no metal is looked for */
    pp_hole_sizes sizes = {NAN, NAN, NAN, 0};
    r->out.has_nominal = job->holes.nominal.path != NULL;
    if (r->out.has_nominal) {
        PP_TRY(pp_holelist_read(job, r->threads, &r->own, &r->files, error));
        PP_TRY(pp_reading_keep(r->files.nominal.reading, r->names, &r->out.nominal_read, error));
    } else {
        PP_TRY(pp_readings_read(job, r->threads, &r->own, &r->files.measured, error));
        r->files.measured_given = true;
        PP_TRY(make_nominal(r, error));
    }
    PP_TRY(pp_need_sizes(&r->files.measured, "a bundle", error));
    r->files.placed_later = true;
    PP_TRY(pp_reading_keep(r->files.measured.reading, r->names, &r->out.measured_read, error));
    PP_TRY(pp_pitch_find(job->holes.pitch, &r->files.nominal, r->threads, &r->own, &pitch, error));
    return pp_measures_take(job, &r->files, pitch, &sizes, r->threads, &r->own, &r->measures,
                            error);
}

/* ---- from measures to holes ---- */

static pp_status put_bore(const reading *r, size_t b, pp_plate_hole *hole, pp_error *error)
{
    const pp_bore *bore = &r->measures.bores[b];
    const pp_job *job = r->plate->job;
    int edge = (bore->face == PP_ENTRY) == entry_in_front(r->plate) ? 0 : 1;
    if (isnan(bore->diameter_min))
        return pp_fail_at(error, PP_EINPUT, r->files.measured.file,
                          r->files.measured.line ? r->files.measured.line[bore->row - 1] : 0, 0,
                          "hole %.200s of plate %s has no diameter; a bundle needs the diameter of "
                          "every hole, a gauge does not tell it",
                          hole->name, r->plate->name);
    pp_plate_to_bundle(r->plate, bore->at.x, bore->at.y, &hole->x[edge], &hole->y[edge]);
    hole->r[edge] = bore->diameter_min / 2;
    hole->u_centre[edge] = pp_bore_error_of(&r->measures, b).u_centre;
    hole->u_diameter = job->holes.uncertainty_diameter / 2;
    return PP_OK;
}

/* entry, exit: bore indices or PP_NONE. */
static pp_status put_hole(reading *r, pp_plate_hole *hole, uint32_t entry, uint32_t exit,
                          pp_error *error)
{
    hole->measured = true;
    if (entry != PP_NONE) PP_TRY(put_bore(r, entry, hole, error));
    if (exit != PP_NONE) PP_TRY(put_bore(r, exit, hole, error));
    r->out.measured++;
    if (entry != PP_NONE && exit != PP_NONE) return PP_OK;
    uint8_t face = entry != PP_NONE ? PP_ENTRY : PP_EXIT;
    int from = (face == PP_ENTRY) == entry_in_front(r->plate) ? 0 : 1, to = 1 - from;
    hole->x[to] = hole->x[from];
    hole->y[to] = hole->y[from];
    hole->r[to] = hole->r[from];
    hole->u_centre[to] = hole->u_centre[from];
    hole->one_face = true;
    r->out.one_face++;
    return PP_OK;
}

static pp_status keep_name(const reading *r, const char *name, const char **kept, pp_error *error)
{
    *kept = pp_arena_text(r->names, name, strlen(name));
    return *kept ? PP_OK : pp_fail_memory(error);
}

static pp_status put_nominal_holes(reading *r, pp_error *error)
{
    const pp_nominal *nominal = &r->files.nominal;
    const pp_measures *m = &r->measures;
    for (size_t h = 0; h < nominal->count; h++) {
        if (nominal->kind[h] != PP_TUBE_HOLE) continue;
        pp_plate_hole *hole = &r->hole[r->out.count++];
        *hole = (pp_plate_hole){.nominal = true, .plugged = m->plugged[h]};
        PP_TRY(keep_name(r, nominal->name[h], &hole->name, error));
        hole->nominal_x = hole->nominal_y = NAN;
        if (r->out.has_nominal)
            pp_plate_to_bundle(r->plate, nominal->x[h], nominal->y[h], &hole->nominal_x,
                               &hole->nominal_y);
        uint32_t entry = m->bore_of[PP_ENTRY][h], exit = m->bore_of[PP_EXIT][h];
        if (entry != PP_NONE || exit != PP_NONE) PP_TRY(put_hole(r, hole, entry, exit, error));
    }
    return PP_OK;
}

/* Bores of one extra stand together, entry before exit. */
static pp_status put_extra_holes(reading *r, pp_error *error)
{
    const pp_measures *m = &r->measures;
    for (size_t b = m->extra_first; b < m->bore_count;) {
        uint32_t extra = m->extra_of[b - m->extra_first], entry = PP_NONE, exit = PP_NONE;
        for (; b < m->bore_count && m->extra_of[b - m->extra_first] == extra; b++) {
            if (m->bores[b].face == PP_ENTRY) entry = (uint32_t)b;
            if (m->bores[b].face == PP_EXIT) exit = (uint32_t)b;
        }
        pp_plate_hole *hole = &r->hole[r->out.count++];
        *hole = (pp_plate_hole){.nominal_x = NAN, .nominal_y = NAN};
        PP_TRY(keep_name(r, m->extra[extra], &hole->name, error));
        PP_TRY(put_hole(r, hole, entry, exit, error));
    }
    return PP_OK;
}

static pp_status fill(reading *r, pp_error *error)
{
    const pp_measures *m = &r->measures;
    const char **claimed;
    PP_TAKE(r->hole, &r->keep->keep, r->files.nominal.count + m->bore_count - m->extra_first);
    PP_TRY(put_nominal_holes(r, error));
    PP_TRY(put_extra_holes(r, error));
    PP_TAKE(claimed, &r->keep->keep, m->doubly_claimed_count);
    for (size_t i = 0; i < m->doubly_claimed_count; i++)
        PP_TRY(keep_name(r, r->files.nominal.name[m->doubly_claimed[i]], &claimed[i], error));
    r->out.claimed = claimed;
    r->out.claimed_count = m->doubly_claimed_count;
    r->out.hole = r->hole;
    return PP_OK;
}

pp_status pp_plate_holes_read(const pp_set *set, const pp_set_plate *plate, int threads,
                              pp_memory *memory, pp_arena *names, pp_plate_holes *holes,
                              pp_error *error)
{
    reading r = {.set = set, .plate = plate, .threads = threads, .keep = memory, .names = names};
    pp_status status = read_lists(&r, error);
    if (status == PP_OK) status = fill(&r, error);
    pp_memory_free(&r.own);
    if (status == PP_OK) *holes = r.out;
    return status;
}
