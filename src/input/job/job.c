#include "input/job/job.h"

#include <stdint.h>
#include <string.h>

#include "base/nearest.h"
#include "base/text.h"
#include "input/job/ini.h"
#include "input/job/job_checks.h"
#include "input/job/job_clamps.h"
#include "input/job/job_stack.h"
#include "input/job/job_values.h"

/* Sections that have a name of their own: any number of each. */
typedef enum named_kind {
    NAMED_INSTRUMENT,
    NAMED_LAYER,
    NAMED_CLAMP,
    NAMED_KINDS,
    NAMED_NONE
} named_kind;
static const char *const named_sections[NAMED_KINDS] = {"instrument", "layer", "clamp"};

/* The job on its way from the text. */
typedef struct reading {
    const pp_ini *ini;
    const pp_key *keys;
    size_t key_count;
    size_t *key_of; /* per entry of the INI text: index in the key table; key_count: passed over */
    pp_instrument *instruments;
    pp_layer *layers;
    pp_job_clamp *clamps;
    size_t *named_of; /* per section that has a name: index in the list of its kind */
    size_t named_count[NAMED_KINDS];
    long *layer_lines; /* [layer][key]: as key_lines */
    long *key_lines;   /* per key: where it is given a value */
    bool *key_bare;    /* per key: as a number without a unit */
    pp_job_noting noting;
    pp_error *error; /* noting's */
} reading;

/* "instrument ARM" -> "ARM", and of which kind; NULL if the section has no name. */
static const char *section_name(const char *section, named_kind *kind)
{
    for (int k = 0; k < NAMED_KINDS; k++) {
        size_t length = strlen(named_sections[k]);
        if (strncmp(section, named_sections[k], length) != 0) continue;
        if (section[length] && !strchr(" \t", section[length])) continue;
        const char *name = section + length;
        while (*name && strchr(" \t", *name)) name++;
        *kind = (named_kind)k;
        return name;
    }
    *kind = NAMED_NONE;
    return NULL;
}

static const char *table_section(const char *section)
{
    named_kind kind;
    return section_name(section, &kind) ? named_sections[kind] : section;
}

static const char *name_of(const reading *r, named_kind kind, size_t index)
{
    return kind == NAMED_LAYER   ? r->layers[index].name
           : kind == NAMED_CLAMP ? r->clamps[index].name
                                 : r->instruments[index].name;
}

static pp_status add_named(reading *r, const pp_ini_section *section, named_kind kind,
                           const char *name, size_t *index)
{
    if (!*name)
        return pp_fail_at(r->error, PP_EINPUT, r->ini->file, section->line, 0,
                          "the %s has no name; write [%s NAME]", named_sections[kind],
                          named_sections[kind]);
    for (size_t i = 0; i < r->named_count[kind]; i++)
        if (strcmp(name_of(r, kind, i), name) == 0)
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, section->line, 0,
                              "[%s] is there twice; keep one", section->name);
    *index = r->named_count[kind]++;
    if (kind == NAMED_LAYER)
        r->layers[*index] = (pp_layer){.name = name,
                                       .line = section->line,
                                       .key_lines = r->layer_lines + *index * r->key_count};
    else if (kind == NAMED_CLAMP)
        r->clamps[*index] = (pp_job_clamp){.name = name, .line = section->line};
    else
        r->instruments[*index] = (pp_instrument){.name = name};
    return PP_OK;
}

static pp_status check_section(reading *r, size_t index)
{
    const pp_ini_section *section = &r->ini->sections[index];
    named_kind kind;
    const char *name = section_name(section->name, &kind);
    if (name) return add_named(r, section, kind, name, &r->named_of[index]);
    size_t count;
    const pp_key_section *known = pp_key_sections(&count);
    const char *names[16];
    for (size_t i = 0; i < count; i++) {
        names[i] = known[i].name;
        if (strcmp(section->name, names[i]) == 0) return PP_OK;
    }
    if (strcmp(section->name, "bundle") == 0 || strcmp(section->name, "tube") == 0)
        return pp_fail_at(r->error, PP_EINPUT, r->ini->file, section->line, 0,
                          "[%s] is a section of a bundle's set file, which 'plateproof bundle' "
                          "reads; a plate's job file has none",
                          section->name);
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, section->line, 0,
                      "[%s] is no section of a job file; did you mean [%s]?", section->name,
                      names[pp_nearest_find(section->name, count, names)]);
}

static pp_status unknown_key(const reading *r, const pp_ini_section *section,
                             const pp_ini_entry *entry)
{
    const char *here = table_section(section->name);
    const char *best = "";
    size_t least = SIZE_MAX;
    for (size_t k = 0; k < r->key_count; k++) {
        const pp_key *key = &r->keys[k];
        if (strcmp(key->section, here) != 0) {
            if (strcmp(key->key, entry->key) != 0) continue;
            return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                              "\"%s\" is no key of [%s]; it belongs in [%s]", entry->key,
                              section->name, key->section);
        }
        size_t distance = pp_nearest_distance(entry->key, key->key);
        if (distance < least) least = distance, best = key->key;
    }
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                      "\"%s\" is no key of [%s]; did you mean \"%s\"?", entry->key, section->name,
                      best);
}

static pp_status given_twice(const reading *r, const pp_ini_section *section,
                             const pp_ini_entry *entry, long before)
{
    return pp_fail_at(r->error, PP_EINPUT, r->ini->file, entry->line, 0,
                      "\"%s\" of [%s] stands on line %ld already; keep one of them", entry->key,
                      section->name, before);
}

/* What the table knows of one key; the entry is passed over until then. */
static pp_status check_key(reading *r, const pp_ini_section *section, size_t e, long *seen)
{
    const pp_ini_entry *entry = &r->ini->entries[e];
    size_t k = pp_key_find(table_section(section->name), entry->key);
    r->key_of[e] = r->key_count;
    if (k == r->key_count) return unknown_key(r, section, entry);
    if (seen[k]) return given_twice(r, section, entry, seen[k]);
    seen[k] = entry->line;
    r->key_of[e] = k;
    return PP_OK;
}

/* Look the keys of a section up in the table. `seen`: per key, the line it stands on. */
static pp_status check_keys(reading *r, size_t index, long *seen)
{
    const pp_ini_section *section = &r->ini->sections[index];
    const char *name = table_section(section->name);
    named_kind kind;
    bool named = section_name(section->name, &kind) != NULL;
    for (size_t k = 0; named && k < r->key_count; k++)
        if (strcmp(r->keys[k].section, name) == 0) seen[k] = 0; /* each its own */
    long *lines = !named                ? r->key_lines
                  : kind == NAMED_LAYER ? r->layer_lines + r->named_of[index] * r->key_count
                                        : NULL;
    for (size_t e = section->first; e < section->first + section->count; e++) {
        const pp_ini_entry *entry = &r->ini->entries[e];
        PP_TRY(pp_job_note(&r->noting, check_key(r, section, e, seen)));
        size_t k = r->key_of[e];
        if (k == r->key_count || !*entry->value || !lines) continue;
        lines[k] = entry->line;
        char last = entry->value[strlen(entry->value) - 1];
        if (!named) r->key_bare[k] = (last >= '0' && last <= '9') || last == '.';
    }
    return PP_OK;
}

/* Of a section that is wrong itself nothing is looked at. */
static void pass_over(reading *r, const pp_ini_section *section)
{
    for (size_t e = section->first; e < section->first + section->count; e++)
        r->key_of[e] = r->key_count;
}

static pp_status check_all(reading *r, pp_memory *memory, pp_error *error)
{
    long *seen;
    PP_TAKE_ZERO(seen, &memory->scratch, r->key_count);
    for (size_t s = 0; s < r->ini->section_count; s++) {
        pp_status status = check_section(r, s);
        PP_TRY(pp_job_note(&r->noting, status));
        if (status == PP_OK)
            PP_TRY(check_keys(r, s, seen));
        else
            pass_over(r, &r->ini->sections[s]);
    }
    return PP_OK;
}

static bool in_section(const pp_key *key, named_kind kind)
{
    named_kind found;
    section_name(key->section, &found);
    return found == kind;
}

/* Reals of a section kind (NAMED_NONE: the job's own) to "not given" in *item. */
static void make_absent(void *item, named_kind kind, const pp_key *keys, size_t count)
{
    for (size_t k = 0; k < count; k++) {
        if (!in_section(&keys[k], kind)) continue;
        double *value = (double *)(void *)((char *)item + keys[k].offset);
        switch (keys[k].kind) {
        case PP_KEY_REAL:
        case PP_KEY_DIFFERENCE:
        case PP_KEY_TUBE:
        case PP_KEY_LIMIT: /* its value comes first */
            *value = NAN;
            break;
        default:
            break;
        }
    }
}

static pp_status fill_defaults(pp_job *job, void *item, named_kind kind, const pp_key *keys,
                               size_t count, pp_arena *keep, pp_error *error)
{
    make_absent(item ? item : job, kind, keys, count);
    for (size_t k = 0; k < count; k++) {
        if (!keys[k].standard || !in_section(&keys[k], kind)) continue;
        pp_key_text text = {&keys[k], keys[k].standard, "the program's defaults", 0};
        PP_TRY(pp_key_store(&text, PP_MM, keep, job, item, error));
    }
    return PP_OK;
}

pp_status pp_job_blank(pp_memory *memory, pp_job *job, pp_error *error)
{
    size_t count;
    const pp_key *keys = pp_keys(&count);
    pp_job blank = {.path = "", .name = ""};
    PP_TRY(fill_defaults(&blank, NULL, NAMED_NONE, keys, count, &memory->keep, error));
    blank.rules.table = PP_TABLE_METRIC; /* by the units, as without a tube */
    *job = blank;
    return PP_OK;
}

static pp_status store_entry(const reading *r, const pp_ini_section *section, size_t e,
                             pp_length_unit units, pp_arena *keep, pp_job *job)
{
    const pp_ini_entry *entry = &r->ini->entries[e];
    if (!*entry->value || r->key_of[e] == r->key_count) return PP_OK;
    const pp_key *key = &r->keys[r->key_of[e]];
    named_kind kind;
    void *item = NULL;
    if (section_name(section->name, &kind)) {
        size_t index = r->named_of[section - r->ini->sections];
        item = kind == NAMED_LAYER   ? (void *)&r->layers[index]
               : kind == NAMED_CLAMP ? (void *)&r->clamps[index]
                                     : (void *)&r->instruments[index];
    }
    pp_key_text text = {key, entry->value, r->ini->file, entry->line};
    return pp_key_store(&text, units, keep, job, item, r->error);
}

/* In file order, so that the first mistake of the file is the one that is told. The job's units
 * may stand below a length that is in them: they are known by then. */
static pp_status store_all(const reading *r, pp_length_unit units, pp_arena *keep, pp_job *job)
{
    for (size_t s = 0; s < r->ini->section_count; s++) {
        const pp_ini_section *section = &r->ini->sections[s];
        for (size_t e = section->first; e < section->first + section->count; e++)
            PP_TRY(pp_job_note(&r->noting, store_entry(r, section, e, units, keep, job)));
    }
    return PP_OK;
}

static bool anything_noted(const reading *r)
{
    return r->noting.problems && r->noting.problems->count;
}

/* What `units` says, or the default where it is left out or wrong (which is told in its turn). */
static pp_length_unit find_units(const reading *r)
{
    size_t units_key = pp_key_find("job", "units");
    pp_length_unit units = PP_MM;
    for (size_t e = 0; e < r->ini->entry_count; e++)
        if (r->key_of[e] == units_key)
            pp_unit_find_length(r->ini->entries[e].value, strlen(r->ini->entries[e].value), &units);
    return units;
}

static bool says_tubesheet(const char *text)
{
    return text && (strcasestr(text, "tubesheet") || strcasestr(text, "tube sheet"));
}

/* Which of the two words the job uses, so that reports use it too. */
static void keep_word_for_part(pp_job *job)
{
    job->rules.tubesheet = job->rules.part == PP_TUBESHEET || says_tubesheet(job->plate_role) ||
                           says_tubesheet(job->title);
    if (job->rules.part == PP_TUBESHEET) job->rules.part = PP_TUBE_PLATE;
}

static void fill_dependent_defaults(const reading *r, pp_job *job)
{
    if (!pp_job_key_line(job, "survey", "length_unit")) job->survey.length_unit = job->units;
    if (!pp_job_key_line(job, "holes", "length_unit")) job->holes.length_unit = job->units;
    for (size_t s = 0; s < r->ini->section_count; s++)
        if (strcmp(r->ini->sections[s].name, "support") == 0 &&
            job->support.kind == PP_SUPPORT_NONE)
            job->support.kind = PP_SUPPORT_TABLE;
    if (!job->holes.tube_diameter_text) job->holes.tube_diameter_unit = job->units;
    keep_word_for_part(job);
    job->rules.set_line = pp_job_key_line(job, "rules", "set");
    job->rules.table_given = pp_job_key_line(job, "rules", "table") > 0;
    if (!job->rules.table_given)
        job->rules.table =
            job->holes.tube_diameter_unit == PP_INCH ? PP_TABLE_INCH : PP_TABLE_METRIC;
}

/* A coefficient that nobody gave is known to a tenth: steels run from 10.5 to 12.5e-6 (common
 * practice, no source). At 20 C it does not matter. */
static void default_expansion_uncertainty(pp_job *job)
{
    static const double SHARE = 0.1;
    bool warm =
        pp_given(job->holes.temperature) && job->holes.temperature != PP_REFERENCE_TEMPERATURE;
    if (warm && !pp_given(job->holes.uncertainty_expansion) &&
        !pp_job_key_line(job, "holes", "expansion"))
        job->holes.uncertainty_expansion = SHARE;
}

/* "parts/front.ini" -> "front" */
static const char *job_name(const char *path, pp_arena *keep)
{
    const char *slash = strrchr(path, '/');
    const char *file = slash ? slash + 1 : path;
    const char *dot = strrchr(file, '.');
    return pp_arena_text(keep, file, dot && dot != file ? (size_t)(dot - file) : strlen(file));
}

/* Where a corrected list comes from its promise lies beside it. */
static pp_status place_promise(pp_job *job, pp_arena *keep, pp_error *error)
{
    static const char NAME[] = "correction.json";
    const char *const of[] = {job->holes.commanded.path, job->holes.commanded.written};
    const char *made[2];
    if (!of[0]) return PP_OK;
    for (int k = 0; k < 2; k++) {
        const char *slash = strrchr(of[k], '/');
        made[k] = pp_text_kept(keep, "%.*s%s", slash ? (int)(slash - of[k]) + 1 : 0, of[k], NAME);
        if (!made[k]) return pp_fail_memory(error);
    }
    job->holes.promise = (pp_job_file){.path = made[0], .written = made[1]};
    return PP_OK;
}

/* Room, as many of each named thing as there are sections at most */
static pp_status take_room(reading *r, pp_memory *memory, pp_error *error)
{
    size_t sections = r->ini->section_count;
    PP_TAKE_ZERO(r->key_of, &memory->scratch, r->ini->entry_count);
    PP_TAKE_ZERO(r->named_of, &memory->scratch, sections);
    PP_TAKE_ZERO(r->instruments, &memory->keep, sections);
    PP_TAKE_ZERO(r->layers, &memory->keep, sections);
    PP_TAKE_ZERO(r->clamps, &memory->keep, sections);
    PP_TAKE_ZERO(r->layer_lines, &memory->keep, sections * r->key_count);
    PP_TAKE_ZERO(r->key_lines, &memory->keep, r->key_count);
    PP_TAKE_ZERO(r->key_bare, &memory->keep, r->key_count);
    return PP_OK;
}

static pp_status fill_all_defaults(reading *r, pp_arena *keep, pp_job *job, pp_error *error)
{
    PP_TRY(fill_defaults(job, NULL, NAMED_NONE, r->keys, r->key_count, keep, error));
    for (size_t i = 0; i < r->named_count[NAMED_LAYER]; i++)
        PP_TRY(fill_defaults(job, &r->layers[i], NAMED_LAYER, r->keys, r->key_count, keep, error));
    for (size_t i = 0; i < r->named_count[NAMED_CLAMP]; i++)
        PP_TRY(fill_defaults(job, &r->clamps[i], NAMED_CLAMP, r->keys, r->key_count, keep, error));
    return PP_OK;
}

static pp_status read_ini(const pp_ini *ini, const pp_job_noting *noting, pp_memory *memory,
                          pp_job *job)
{
    pp_error *error = noting->error;
    reading r = {.ini = ini, .noting = *noting, .error = error};
    r.keys = pp_keys(&r.key_count);
    PP_TRY(take_room(&r, memory, error));
    PP_TRY(check_all(&r, memory, error));
    pp_job result = {.path = ini->file, .name = job_name(ini->file, &memory->keep)};
    if (!result.name) return pp_fail_memory(error);
    result.key_lines = r.key_lines;
    result.key_bare = r.key_bare;
    PP_TRY(fill_all_defaults(&r, &memory->keep, &result, error));
    PP_TRY(store_all(&r, find_units(&r), &memory->keep, &result));
    /* what a wrong value contradicts is no problem of its own */
    if (anything_noted(&r)) return PP_EINPUT;
    result.instruments = r.instruments;
    result.instrument_count = r.named_count[NAMED_INSTRUMENT];
    fill_dependent_defaults(&r, &result);
    PP_TRY(place_promise(&result, &memory->keep, error));
    default_expansion_uncertainty(&result);
    result.layer_count = r.named_count[NAMED_LAYER];
    result.clamp_count = r.named_count[NAMED_CLAMP];
    PP_TRY(pp_job_note(noting, pp_job_settle_clamps(&result, r.clamps, error)));
    PP_TRY(pp_job_note(noting, pp_job_settle_stack(&result, r.layers, memory, error)));
    PP_TRY(pp_job_check(&result, noting));
    if (anything_noted(&r)) return PP_EINPUT;
    *job = result;
    return PP_OK;
}

static pp_status settle(const pp_ini *ini, pp_job_problems *problems, pp_memory *memory,
                        pp_job *job, pp_error *error)
{
    pp_job_noting noting = {problems, &memory->keep, error};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = read_ini(ini, &noting, memory, job);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

pp_status pp_job_read(const char *path, pp_memory *memory, pp_job *job, pp_error *error)
{
    pp_ini ini;
    PP_TRY(pp_ini_read(path, memory, &ini, error));
    return settle(&ini, NULL, memory, job, error);
}

pp_status pp_job_parse(const char *path, const char *text, size_t length, pp_memory *memory,
                       pp_job *job, pp_error *error)
{
    pp_ini ini;
    PP_TRY(pp_ini_parse(path, text, length, memory, &ini, error));
    return settle(&ini, NULL, memory, job, error);
}

/* Make a comment of a line, or, where it would begin a section, the section of a name that nobody
 * asks for: what stands below must not seem to belong elsewhere. */
static void silence_line(char *text, size_t length, long line)
{
    char *at = text, *end = text + length;
    for (long i = 1; i < line && at < end; i++) {
        char *newline = memchr(at, '\n', (size_t)(end - at));
        at = newline ? newline + 1 : end;
    }
    char *stop = at < end ? memchr(at, '\n', (size_t)(end - at)) : NULL;
    size_t size = (size_t)((stop ? stop : end) - at);
    size_t blanks = 0;
    while (blanks < size && strchr(" \t", at[blanks])) blanks++;
    bool section = blanks + 3 <= size && at[blanks] == '[';
    memset(at, ' ', size);
    if (section)
        memcpy(at, "[-]", 3);
    else if (size)
        at[0] = ';';
}

/* Every line that is no INI text. */
static pp_status note_lines(const char *path, const char *text, size_t length, pp_memory *memory,
                            pp_ini *ini, pp_job_problems *problems, pp_error *error)
{
    pp_job_noting noting = {problems, &memory->keep, error};
    pp_status status = pp_ini_parse(path, text, length, memory, ini, error);
    char *copy = status == PP_EINPUT ? pp_arena_text(&memory->keep, text, length) : NULL;
    while (status == PP_EINPUT && copy && error->line > 0) {
        PP_TRY(pp_job_note(&noting, status));
        silence_line(copy, length, error->line);
        status = pp_ini_parse(path, copy, length, memory, ini, error);
    }
    if (status == PP_EINPUT && error->line == 0) PP_TRY(pp_job_note(&noting, status));
    return problems->count ? PP_EINPUT : status;
}

pp_status pp_job_parse_noted(const char *path, const char *text, size_t length, pp_memory *memory,
                             pp_job *job, pp_job_problems *problems, pp_error *error)
{
    pp_ini ini;
    pp_error own = {0};
    *problems = (pp_job_problems){0};
    pp_status status = note_lines(path, text, length, memory, &ini, problems, &own);
    if (status == PP_OK) status = settle(&ini, problems, memory, job, &own);
    if (status == PP_EINPUT && problems->count)
        return pp_fail_at(error, PP_EINPUT, path, problems->problem[0].line, 0, "%s",
                          problems->problem[0].text);
    return status == PP_OK ? PP_OK
                           : pp_fail_at(error, status, own.file, own.line, 0, "%s", own.message);
}

long pp_job_key_line(const pp_job *job, const char *section, const char *key)
{
    size_t count;
    pp_keys(&count);
    size_t k = pp_key_find(section, key);
    return job->key_lines && k < count ? job->key_lines[k] : 0;
}

bool pp_job_key_bare(const pp_job *job, const char *section, const char *key)
{
    size_t count;
    pp_keys(&count);
    size_t k = pp_key_find(section, key);
    return job->key_bare && k < count && job->key_bare[k];
}

long pp_layer_key_line(const pp_layer *layer, const char *key)
{
    size_t count;
    pp_keys(&count);
    size_t k = pp_key_find("layer", key);
    return layer->key_lines && k < count ? layer->key_lines[k] : 0;
}

const pp_instrument *pp_job_instrument(const pp_job *job, const char *name)
{
    for (size_t i = 0; name && i < job->instrument_count; i++)
        if (strcmp(job->instruments[i].name, name) == 0) return &job->instruments[i];
    return NULL;
}
