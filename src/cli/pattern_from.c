#include "cli/pattern_from.h"

#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "cli/new_file.h"
#include "cli/say.h"
#include "holes/derive.h"
#include "input/lists/holelist.h"

static const char WHAT[] = "derived from the measured holes: proves regularity, not the drawing";

typedef struct deriving {
    pp_memory memory;
    pp_job job;
    pp_readings readings;
    size_t count;
    const char **name; /* [hole] */
    pp_measured_point *hole;
    pp_derived found;
} deriving;

/* The first row of the same hole. */
static pp_status find_firsts(deriving *d, uint32_t *first, pp_error *error)
{
    const pp_readings *r = &d->readings;
    for (size_t i = 0; i < r->count; i++) first[i] = (uint32_t)i;
    if (!r->name) return PP_OK;
    pp_names names;
    PP_TRY(pp_names_build(r->name, r->count, &d->memory.scratch, &names, error));
    for (size_t i = 0; i < r->count; i++)
        if (r->name[i][0]) first[i] = pp_names_find(&names, r->name[i]);
    return PP_OK;
}

/* One place for each hole: the mean of its last round on the entry face, or on the only one. */
static pp_status gather(deriving *d, pp_error *error)
{
    const pp_readings *r = &d->readings;
    uint32_t *first, *round, *rows;
    double *x, *y;
    PP_TAKE(first, &d->memory.scratch, r->count);
    PP_TAKE_ZERO(round, &d->memory.scratch, r->count);
    PP_TAKE_ZERO(rows, &d->memory.scratch, r->count);
    PP_TAKE(x, &d->memory.scratch, r->count);
    PP_TAKE(y, &d->memory.scratch, r->count);
    PP_TRY(find_firsts(d, first, error));
    uint8_t face = PP_EXIT;
    for (size_t i = 0; i < r->count; i++)
        if (r->face[i] == PP_ENTRY) face = PP_ENTRY;
    for (size_t i = 0; i < r->count; i++) {
        uint32_t f = first[i];
        if (r->face[i] != face || r->round[i] < round[f]) continue;
        if (r->round[i] > round[f]) round[f] = r->round[i], rows[f] = 0, x[f] = y[f] = 0;
        rows[f]++;
        x[f] += r->x[i];
        y[f] += r->y[i];
    }
    PP_TAKE(d->hole, &d->memory.keep, r->count);
    PP_TAKE(d->name, &d->memory.keep, r->count);
    for (size_t i = 0; i < r->count; i++) {
        if (rows[i] == 0) continue;
        d->name[d->count] = r->name ? r->name[i] : "";
        d->hole[d->count++] = (pp_measured_point){x[i] / rows[i], y[i] / rows[i]};
    }
    return PP_OK;
}

static pp_status derive(deriving *d, const char *path, pp_length_unit units, int threads,
                        pp_error *error)
{
    PP_TRY(pp_job_blank(&d->memory, &d->job, error));
    d->job.holes.measured.path = d->job.holes.measured.written = path;
    d->job.units = d->job.holes.length_unit = units;
    PP_TRY(pp_readings_read(&d->job, threads, &d->memory, &d->readings, error));
    PP_TRY(gather(d, error));
    pp_status status = pp_pattern_derive(d->count, d->hole, &d->memory, &d->found, error);
    if (status == PP_EINPUT && !error->file[0])
        snprintf(error->file, sizeof error->file, "%s", path);
    return status;
}

static void add_csv(const deriving *d, pp_length_unit units, pp_text *text)
{
    static const double FINE = 1e-5; /* of the unit */
    double unit = pp_unit_mm(units);
    pp_text_print(text, "# %s\nhole,x_%s,y_%s,derived\n", WHAT, pp_unit_name(units),
                  pp_unit_name(units));
    for (size_t i = 0; i < d->count; i++) {
        char number[24];
        snprintf(number, sizeof number, "H%zu", i + 1);
        pp_list_add_field(text, d->name[i][0] ? d->name[i] : number);
        pp_text_add(text, ",");
        pp_text_add_number(text, round(d->found.at[i].x / unit / FINE) * FINE);
        pp_text_add(text, ",");
        pp_text_add_number(text, round(d->found.at[i].y / unit / FINE) * FINE);
        pp_text_add(text, ",yes\n");
    }
}

/* {"derived", "layout", "pitch", "angle_deg", "blocks", "rms", "largest", "farthest", "holes"}, mm
 */
static void add_json(const deriving *d, pp_text *text)
{
    const pp_derived *f = &d->found;
    pp_text_print(text, "{\"derived\": \"%s\", \"layout\": \"%s\", \"pitch\": ", WHAT,
                  f->square ? "square" : "triangular");
    pp_text_add_number(text, f->pitch);
    pp_text_add(text, ", \"angle_deg\": ");
    pp_text_add_number(text, f->angle_deg);
    pp_text_print(text, ", \"blocks\": %zu, \"rms\": ", f->blocks);
    pp_text_add_number(text, f->rms);
    pp_text_add(text, ", \"largest\": ");
    pp_text_add_number(text, f->largest);
    pp_text_print(text, ", \"count\": %zu}\n", d->count);
}

static int write_list(const deriving *d, pp_length_unit units, const pp_common_options *common)
{
    pp_text text = {0};
    const pp_derived *f = &d->found;
    if (common->json)
        add_json(d, &text);
    else
        add_csv(d, units, &text);
    int status = pp_list_write(&text, common);
    if (status != PP_EXIT_CONFORMS || common->json || common->quiet) return status;
    pp_say(stderr,
           "%zu holes, %s, pitch %.4f mm, rows at %.4f degrees, %zu block%s; they lie %.4f mm from "
           "it (root mean square), at most %.4f mm (%s).\nThe list is %s.\n",
           d->count, f->square ? "square" : "triangular", f->pitch, f->angle_deg, f->blocks,
           f->blocks == 1 ? "" : "s", f->rms, f->largest, d->name[f->farthest], WHAT);
    return status;
}

int pp_pattern_from(const char *path, pp_length_unit units, const pp_common_options *common)
{
    deriving d = {0};
    pp_error error = {0};
    pp_status result = derive(&d, path, units, common->threads, &error);
    int status = result == PP_OK ? write_list(&d, units, common) : pp_exit_error(&error);
    pp_memory_free(&d.memory);
    return status;
}
