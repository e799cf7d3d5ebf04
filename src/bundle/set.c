#include "bundle/set.h"

#include <stdint.h>
#include <string.h>

#include "base/nearest.h"
#include "bundle/set_keys.h"
#include "input/job/ini.h"
#include "input/job/job_values.h"

static const char plate_section[] = "plate";

/* The set on its way from the text. */
typedef struct reading {
    long units_line; /* where `units` stands; 0: nowhere */
    const pp_ini *ini;
    pp_memory *memory;
    pp_set *set;
    pp_job *job; /* of [job] */
    pp_set_plate *plates;
    size_t plate_count;
    pp_error *error;
    const pp_set_places *places; /* NULL */
} reading;

/* ---- keys of a section ---- */

/* "plate B1" -> "B1"; NULL if the section is none of a plate. */
static const char *plate_name(const char *section)
{
    size_t length = sizeof plate_section - 1;
    if (strncmp(section, plate_section, length) != 0) return NULL;
    if (section[length] && !strchr(" \t", section[length])) return NULL;
    const char *name = section + length;
    while (*name && strchr(" \t", *name)) name++;
    return name;
}

/* The table that a section goes by: its keys are those with the returned section name. */
static const pp_key *table_of(const char *section, size_t *count)
{
    return strcmp(section, "job") == 0 ? pp_keys(count) : pp_set_keys(count);
}

static const pp_key *find_key(const char *section, const char *key)
{
    size_t count;
    const pp_key *table = table_of(section, &count);
    for (size_t k = 0; k < count; k++)
        if (strcmp(table[k].section, section) == 0 && strcmp(table[k].key, key) == 0)
            return &table[k];
    return NULL;
}

static pp_status unknown_key(const reading *r, const char *section, const pp_ini_entry *entry)
{
    size_t count, own, least = SIZE_MAX;
    const pp_key *table = table_of(section, &count), *keys = pp_set_keys(&own);
    const char *best = "";
    for (size_t k = 0; k < own; k++)
        if (strcmp(keys[k].section, section) != 0 && strcmp(keys[k].key, entry->key) == 0)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                              "\"%s\" is no key of [%s]; it belongs in [%s%s]", entry->key, section,
                              keys[k].section,
                              strcmp(keys[k].section, plate_section) == 0 ? " NAME" : "");
    for (size_t k = 0; k < count; k++) {
        if (strcmp(table[k].section, section) != 0) continue;
        size_t distance = pp_nearest_distance(entry->key, table[k].key);
        if (distance < least) least = distance, best = table[k].key;
    }
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                      "\"%s\" is no key of [%s]; did you mean \"%s\"?", entry->key, section, best);
}

static pp_status fill_defaults(const reading *r, bool of_plates, void *record)
{
    size_t count;
    const pp_key *keys = pp_set_keys(&count);
    for (size_t k = 0; k < count; k++) {
        if ((strcmp(keys[k].section, plate_section) == 0) != of_plates) continue;
        if (keys[k].kind == PP_KEY_REAL) *(double *)((char *)record + keys[k].offset) = NAN;
        if (!keys[k].standard) continue;
        pp_key_text text = {&keys[k], keys[k].standard, "the program's defaults", 0};
        PP_TRY(pp_key_store_in(&text, PP_MM, &r->memory->keep, record, r->error));
    }
    return PP_OK;
}

static pp_status given_twice(const reading *r, const pp_ini_section *s, size_t e)
{
    const pp_ini_entry *entries = r->ini->entries;
    for (size_t k = s->first; k < e; k++)
        if (strcmp(entries[k].key, entries[e].key) == 0)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entries[e].line, 0,
                              "\"%s\" of [%s] stands on line %ld already; keep one of them",
                              entries[e].key, s->name, entries[k].line);
    return PP_OK;
}

/* `section`: the name in the key table; `record`: where its keys have their place. */
static pp_status store_section(reading *r, const pp_ini_section *s, const char *section,
                               pp_length_unit units, void *record)
{
    for (size_t e = s->first; e < s->first + s->count; e++) {
        const pp_ini_entry *entry = &r->ini->entries[e];
        const pp_key *key = find_key(section, entry->key);
        if (!key) return unknown_key(r, section, entry);
        PP_TRY(given_twice(r, s, e));
        if (!*entry->value) continue;
        pp_key_text text = {key, entry->value, r->ini->file, entry->line};
        PP_TRY(pp_key_store_in(&text, units, &r->memory->keep, record, r->error));
        if (record == r->set || record == r->job) continue;
        pp_set_plate *plate = record;
        if (strcmp(key->key, "length_unit") == 0) plate->length_unit_given = true;
        if (strcmp(key->key, "exit_view") == 0) plate->exit_view_given = true;
    }
    return PP_OK;
}

/* ---- sections ---- */

static pp_status begin_plate(reading *r, const pp_ini_section *s, const char *name)
{
    if (!*name)
        return pp_fail_at(r->error, PP_EINPUT, r->ini->file, s->line, 0,
                          "the plate has no name; write [plate NAME]");
    for (size_t i = 0; i < r->plate_count; i++)
        if (strcmp(r->plates[i].name, name) == 0)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, s->line, 0,
                              "[%s] is there twice; give every plate its own name", s->name);
    if (r->plate_count == PP_PLATES_MAX)
        return pp_fail_at(r->error, PP_EINPUT, r->ini->file, s->line, 0,
                          "there are more than %d plates; leave some out, or divide the bundle",
                          PP_PLATES_MAX);
    pp_set_plate *plate = &r->plates[r->plate_count++];
    *plate = (pp_set_plate){.name = name, .line = s->line};
    return fill_defaults(r, true, plate);
}

static pp_status read_section(reading *r, const pp_ini_section *s, pp_length_unit units)
{
    static const char *const names[] = {"job", "bundle", "tube", "plate NAME"};
    const char *plate = plate_name(s->name);
    if (plate) {
        PP_TRY(begin_plate(r, s, plate));
        return store_section(r, s, plate_section, units, &r->plates[r->plate_count - 1]);
    }
    if (strcmp(s->name, "job") == 0) return store_section(r, s, "job", units, r->job);
    if (strcmp(s->name, "bundle") == 0 || strcmp(s->name, "tube") == 0)
        return store_section(r, s, s->name, units, r->set);
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, s->line, 0,
                      "[%s] is no section of a set file; did you mean [%s]?", s->name,
                      names[pp_nearest_find(s->name, 4, names)]);
}

/* The units are known before the lengths that are in them, wherever they stand. */
static pp_status find_units(reading *r, pp_length_unit *units)
{
    long line = 0;
    const char *first = NULL;
    *units = PP_MM;
    for (size_t i = 0; i < r->ini->section_count; i++) {
        const pp_ini_section *s = &r->ini->sections[i];
        if (strcmp(s->name, "job") != 0 && strcmp(s->name, "bundle") != 0) continue;
        for (size_t e = s->first; e < s->first + s->count; e++) {
            const pp_ini_entry *entry = &r->ini->entries[e];
            pp_length_unit found;
            if (strcmp(entry->key, "units") != 0 ||
                !pp_unit_find_length(entry->value, strlen(entry->value), &found))
                continue;
            if (first && found != *units)
                return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                                  "units = %s, but line %ld says %s; keep one of them",
                                  entry->value, line, first);
            *units = found;
            r->units_line = line = entry->line;
            first = entry->value;
        }
    }
    return PP_OK;
}

/* ---- what a plate's job gives ---- */

/* As if the plate had a job file: that a list's unit was stated in the set file is told with it. */
static pp_status say_where_units_stand(const reading *r, const pp_set_plate *plate, pp_job *job)
{
    size_t count;
    long *line;
    pp_error *error = r->error;
    pp_keys(&count);
    PP_TAKE_ZERO(line, &r->memory->keep, count);
    line[pp_key_find("job", "units")] = r->units_line;
    if (plate->length_unit_given) line[pp_key_find("holes", "length_unit")] = plate->line;
    job->key_lines = line;
    return PP_OK;
}

static pp_status clash(const reading *r, const pp_set_plate *plate, const char *key)
{
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, plate->line, 0,
                      "plate %s has a job file and %s of its own as well; keep the one in the job "
                      "file",
                      plate->name, key);
}

/* A file that `beside` names (NULL: the set file) to where it is now. */
static pp_status place_file(const reading *r, const char *beside, pp_job_file *file)
{
    if (!r->places || !file->path) return PP_OK;
    const char *written = file->written;
    if (beside && *written != '/') written = pp_path_beside(&r->memory->keep, beside, written);
    if (!written) return pp_fail_memory(r->error);
    const char *path = r->places->find(r->places->context, written);
    if (path) file->path = path;
    return PP_OK;
}

static pp_status place_lists(const reading *r, const pp_set_plate *plate, pp_job *job)
{
    const char *beside = plate->job_file.path ? plate->job_file.written : NULL;
    PP_TRY(place_file(r, beside, &job->holes.nominal));
    PP_TRY(place_file(r, beside, &job->holes.measured));
    return place_file(r, beside, &job->holes.datum_points);
}

/* The plate's job file, or a job made of the plate's own keys. */
static pp_status find_job(const reading *r, pp_set_plate *plate)
{
    pp_error *error = r->error;
    pp_job *job;
    PP_TAKE(job, &r->memory->keep, 1);
    PP_TRY(place_file(r, NULL, &plate->job_file));
    if (plate->job_file.path) {
        PP_TRY(pp_job_read(plate->job_file.path, r->memory, job, r->error));
        if (plate->nominal.path) return clash(r, plate, "nominal");
        if (plate->measured.path) return clash(r, plate, "measured");
        if (plate->length_unit_given) return clash(r, plate, "length_unit");
        if (plate->exit_view_given) return clash(r, plate, "exit_view");
        if (!pp_given(plate->thickness)) plate->thickness = job->plate.thickness;
    } else {
        PP_TRY(pp_job_blank(r->memory, job, r->error));
        job->path = r->ini->file;
        job->units = r->set->units;
        job->holes.nominal = plate->nominal;
        job->holes.measured = plate->measured;
        job->holes.length_unit = plate->length_unit_given ? plate->length_unit : r->set->units;
        job->holes.exit_view = plate->exit_view;
        PP_TRY(say_where_units_stand(r, plate, job));
    }
    PP_TRY(place_lists(r, plate, job));
    if (plate->align != PP_SET_ALIGN_BY_JOB)
        job->holes.align =
            plate->align == PP_SET_BEST_FIT ? PP_ALIGN_BEST_FIT : PP_ALIGN_AS_MEASURED;
    const pp_set *set = r->set;
    if (!pp_given(job->holes.uncertainty_position)) {
        job->holes.uncertainty_position = set->uncertainty_position;
        job->holes.uncertainty_per_metre = set->uncertainty_per_metre;
    }
    if (!pp_given(job->holes.uncertainty_diameter))
        job->holes.uncertainty_diameter = set->uncertainty_diameter;
    plate->job = job;
    return PP_OK;
}

/* ---- checks ---- */

static pp_status refuse(const reading *r, long line, const char *what)
{
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, line, 0, "%s", what);
}

static pp_status lacks(const reading *r, const pp_set_plate *plate, const char *what)
{
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, plate->line, 0, "plate %s has no %s",
                      plate->name, what);
}

static pp_status check_plate(const reading *r, pp_set_plate *plate)
{
    if (!pp_given(plate->station))
        return lacks(r, plate, "station; give its place along the tubes");
    if (!pp_given(plate->thickness))
        return lacks(r, plate, "thickness; give thickness, in its section or its job file");
    if (!plate->job->holes.measured.path)
        return lacks(r, plate, "measured holes; give measured = FILE, or job = FILE");
    if (plate->job->holes.align == PP_ALIGN_BEST_FIT && !plate->job->holes.nominal.path)
        return lacks(r, plate,
                     "nominal list to be fitted to; give nominal = FILE, or align = "
                     "as-measured");
    double before = plate->station_of == PP_STATION_FRONT    ? 0
                    : plate->station_of == PP_STATION_MIDDLE ? plate->thickness / 2
                                                             : plate->thickness;
    plate->front = plate->station - before;
    if (r->set->decision != PP_GUARDED) return PP_OK;
    if (!pp_given(plate->job->holes.uncertainty_position))
        return lacks(r, plate,
                     "uncertainty_position, which decision = guarded needs; give it in "
                     "[bundle] or in the plate's job file");
    if (!pp_given(plate->job->holes.uncertainty_diameter))
        return lacks(r, plate,
                     "uncertainty_diameter, which decision = guarded needs; give it in "
                     "[bundle] or in the plate's job file");
    return PP_OK;
}

static void sort_plates(pp_set_plate *plates, size_t count)
{
    for (size_t i = 1; i < count; i++)
        for (size_t k = i; k > 0 && plates[k - 1].front > plates[k].front; k--) {
            pp_set_plate swap = plates[k];
            plates[k] = plates[k - 1];
            plates[k - 1] = swap;
        }
}

static pp_status check_stations(const reading *r)
{
    for (size_t i = 0; i + 1 < r->plate_count; i++) {
        const pp_set_plate *a = &r->plates[i], *b = &r->plates[i + 1];
        if (a->front + a->thickness > b->front)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, b->line, 0,
                              "plates %s and %s overlap: %s ends at %.9g mm, %s begins at %.9g mm "
                              "along the tubes; check station, station_of, thickness and units",
                              a->name, b->name, a->name, a->front + a->thickness, b->name,
                              b->front);
    }
    for (size_t i = 0; i < r->plate_count; i++) {
        const pp_set_plate *plate = &r->plates[i];
        if (plate->role == PP_ROLE_FRONT && i > 0)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, plate->line, 0,
                              "plate %s is the one at the front, but %s stands before it; stations "
                              "grow from the front to the rear",
                              plate->name, r->plates[i - 1].name);
        if (plate->role == PP_ROLE_REAR && i + 1 < r->plate_count)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, plate->line, 0,
                              "plate %s is the one at the rear, but %s stands behind it; stations "
                              "grow from the front to the rear",
                              plate->name, r->plates[i + 1].name);
    }
    return PP_OK;
}

/* A tube of yours that is 25.4 times too thick is a slip of the unit. */
static pp_status check_tube(const reading *r)
{
    const pp_set *set = r->set;
    long line = 0;
    for (size_t i = 0; i < r->ini->section_count; i++)
        if (strcmp(r->ini->sections[i].name, "tube") == 0) line = r->ini->sections[i].line;
    if (!pp_given(set->tube.diameter))
        return refuse(r, line, "the tube has no diameter; give [tube] diameter");
    if (set->tube.wall * 2 >= set->tube.diameter)
        return refuse(r, line,
                      "the wall of the tube is half its diameter or more; check wall, diameter and "
                      "their units");
    if (set->tube.diameter_over > set->tube.diameter / 10)
        return refuse(r, line,
                      "diameter_over is more than a tenth of the diameter; give how much larger a "
                      "tube may be, not its size");
    if (set->accept == PP_ACCEPT_BENDING && !pp_set_bends(set))
        return refuse(r, line,
                      "accept = bending needs [tube] wall and elastic_modulus and [bundle] "
                      "friction; give them, or accept = straight");
    return PP_OK;
}

static pp_status check(reading *r)
{
    if (r->plate_count < PP_PLATES_MIN)
        return pp_fail_at(r->error, PP_EINPUT, r->ini->file, 0, 0,
                          "the set has %zu plates, and a bundle has %d at least; add a section "
                          "[plate NAME] for each",
                          r->plate_count, PP_PLATES_MIN);
    PP_TRY(check_tube(r));
    for (size_t i = 0; i < r->plate_count; i++) {
        PP_TRY(find_job(r, &r->plates[i]));
        PP_TRY(check_plate(r, &r->plates[i]));
    }
    sort_plates(r->plates, r->plate_count);
    return check_stations(r);
}

/* ---- all of it ---- */

/* "sets/e12.ini" -> "e12" */
static const char *set_name(const char *path, pp_arena *keep)
{
    const char *slash = strrchr(path, '/');
    const char *file = slash ? slash + 1 : path;
    const char *dot = strrchr(file, '.');
    return pp_arena_text(keep, file, dot && dot != file ? (size_t)(dot - file) : strlen(file));
}

pp_status pp_set_read(const char *path, const pp_set_places *places, pp_memory *memory, pp_set *set,
                      pp_error *error)
{
    pp_ini ini;
    pp_length_unit units;
    pp_set out = {0};
    reading r = {.ini = &ini, .memory = memory, .set = &out, .places = places, .error = error};
    PP_TRY(pp_ini_read(path, memory, &ini, error));
    PP_TAKE(r.job, &memory->keep, 1);
    PP_TAKE(r.plates, &memory->keep, PP_PLATES_MAX);
    PP_TRY(pp_job_blank(memory, r.job, error));
    PP_TRY(fill_defaults(&r, false, &out));
    PP_TRY(find_units(&r, &units));
    for (size_t i = 0; i < ini.section_count; i++) {
        for (size_t k = 0; k < i; k++)
            if (!plate_name(ini.sections[i].name) &&
                strcmp(ini.sections[i].name, ini.sections[k].name) == 0)
                return pp_fail_at(error, PP_EINPUT, path, ini.sections[i].line, 0,
                                  "[%s] stands on line %ld already; put its keys together",
                                  ini.sections[i].name, ini.sections[k].line);
        PP_TRY(read_section(&r, &ini.sections[i], units));
    }
    out.units = r.job->units = units;
    out.path = r.job->path = ini.file;
    out.name = r.job->name =
        places && places->name ? places->name : set_name(ini.file, &memory->keep);
    PP_TRY(place_file(&r, NULL, &out.tube.places));
    if (!out.name) return pp_fail_memory(error);
    if (out.title && !r.job->title) r.job->title = out.title;
    out.job = r.job;
    PP_TRY(check(&r));
    out.plates = r.plates;
    out.plate_count = r.plate_count;
    *set = out;
    return PP_OK;
}

bool pp_set_bends(const pp_set *set)
{
    return pp_given(set->tube.wall) && pp_given(set->tube.elastic_modulus) &&
           pp_given(set->friction);
}

const char *pp_plate_role_name(pp_plate_role role)
{
    return role == PP_ROLE_FRONT  ? "front tube plate"
           : role == PP_ROLE_REAR ? "rear tube plate"
                                  : "baffle";
}
