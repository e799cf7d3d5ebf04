#include "input/job/job_values.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "input/job/ini.h"
#include "input/job/job_columns.h"

static pp_status store_text(const pp_key_text *given, pp_arena *keep, void *place, pp_error *error)
{
    const char *text = pp_arena_text(keep, given->text, strlen(given->text));
    if (!text) return pp_fail_memory(error);
    *(const char **)place = text;
    return PP_OK;
}

const char *pp_key_name(const pp_key *key, char name[PP_KEY_NAME_MAX])
{
    snprintf(name, PP_KEY_NAME_MAX, "[%s] %s", key->section, key->key);
    return name;
}

void pp_key_choice_words(const pp_key *key, char *text, size_t size)
{
    size_t used = 0;
    if (size) *text = '\0';
    for (const pp_key_choice *c = key->choice; c->word && used < size; c++) {
        const char *joint = c == key->choice ? "" : c[1].word ? ", " : " or ";
        used += (size_t)snprintf(text + used, size - used, "%s%s", joint, c->word);
    }
}

#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
static pp_status
refuse(const pp_key_text *given, pp_error *error, const char *format, ...)
{
    char what[PP_ERROR_TEXT_MAX], name[PP_KEY_NAME_MAX];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    return pp_fail_at(error, PP_EINPUT, given->file, given->line, 0, "%s = \"%s\": %s",
                      pp_key_name(given->key, name), given->text, what);
}

static bool is_day(int year, int month, int day)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (year < 1 || month < 1 || month > 12 || day < 1) return false;
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return day <= days[month - 1] + (month == 2 && leap);
}

static bool is_date(const char *text)
{
    static const char form[] = "0000-00-00";
    int part[3] = {0}, p = 0;
    if (strlen(text) != sizeof form - 1) return false;
    for (size_t i = 0; form[i]; i++) {
        if (form[i] == '-') {
            if (text[i] != '-') return false;
            p++;
        } else {
            if (text[i] < '0' || text[i] > '9') return false;
            part[p] = 10 * part[p] + (text[i] - '0');
        }
    }
    return is_day(part[0], part[1], part[2]);
}

static pp_status store_date(const pp_key_text *given, pp_arena *keep, void *place, pp_error *error)
{
    if (!is_date(given->text))
        return refuse(given, error, "this is no date; write year-month-day, as 2026-11-20");
    return store_text(given, keep, place, error);
}

static pp_status store_choice(const pp_key_text *given, void *place, pp_error *error)
{
    _Static_assert(sizeof(pp_axis) == sizeof(unsigned) && sizeof(pp_fit) == sizeof(unsigned),
                   "an enum of the job is stored as an unsigned");
    for (const pp_key_choice *c = given->key->choice; c->word; c++) {
        if (!pp_same_word(given->text, strlen(given->text), c->word)) continue;
        unsigned value = (unsigned)c->value;
        memcpy(place, &value, sizeof value);
        return PP_OK;
    }
    char words[256];
    pp_key_choice_words(given->key, words, sizeof words);
    return refuse(given, error, "this is not among its choices; write %s", words);
}

static pp_status store_yes_no(const pp_key_text *given, void *place, pp_error *error)
{
    size_t length = strlen(given->text);
    bool yes = pp_same_word(given->text, length, "yes");
    if (!yes && !pp_same_word(given->text, length, "no"))
        return refuse(given, error, "this is not among its choices; write yes or no");
    *(bool *)place = yes;
    return PP_OK;
}

static pp_status store_unit(const pp_key_text *given, void *place, pp_error *error)
{
    pp_length_unit unit;
    bool found = pp_unit_find_length(given->text, strlen(given->text), &unit);
    if (given->key->kind == PP_KEY_UNITS && (!found || (unit != PP_MM && unit != PP_INCH)))
        return refuse(given, error, "this is not among its choices; write mm or inch");
    if (!found)
        return refuse(given, error, "this is no unit of length; write %s",
                      pp_unit_choices(PP_LENGTH));
    *(pp_length_unit *)place = unit;
    return PP_OK;
}

/* One number of text[length], as the key wants it. */
static pp_status read_number(const pp_key_text *given, const char *text, size_t length,
                             pp_length_unit units, double *value, pp_value_unit *written,
                             pp_error *error)
{
    char name[PP_KEY_NAME_MAX];
    pp_value_place place = {given->file, given->line, pp_key_name(given->key, name)};
    pp_value_kind kind = {.quantity = given->key->quantity,
                          .difference = given->key->kind == PP_KEY_DIFFERENCE,
                          .bare = units,
                          .range = given->key->range};
    return pp_value_read(&place, text, length, &kind, value, written, error);
}

static pp_status store_real(const pp_key_text *given, pp_length_unit units, void *place,
                            pp_error *error)
{
    double value;
    pp_value_unit written;
    PP_TRY(read_number(given, given->text, strlen(given->text), units, &value, &written, error));
    /* "4" would be out of range, but "1" would pass for all of them */
    if (given->key->quantity == PP_SHARE && value == 1 && !written.given)
        return refuse(given, error, "this could be 1 %% or 100 %%; write it with the %% sign");
    *(double *)place = value;
    return PP_OK;
}

static pp_status store_tube(const pp_key_text *given, pp_length_unit units, pp_arena *keep,
                            pp_job *job, pp_error *error)
{
    double value;
    pp_value_unit written;
    PP_TRY(read_number(given, given->text, strlen(given->text), units, &value, &written, error));
    PP_TRY(store_text(given, keep, &job->holes.tube_diameter_text, error));
    job->holes.tube_diameter = value;
    job->holes.tube_diameter_unit = written.length;
    return PP_OK;
}

/* The part of a comma list that begins at *at; moves *at behind it, to NULL after the last. */
static const char *next_part(const char **at, size_t *length)
{
    const char *part = *at, *comma = strchr(part, ',');
    *length = comma ? (size_t)(comma - part) : strlen(part);
    *at = comma ? comma + 1 : NULL;
    while (*length && strchr(" \t", *part)) part++, (*length)--;
    while (*length && strchr(" \t", part[*length - 1])) (*length)--;
    return part;
}

static size_t count_parts(const char *text)
{
    size_t count = 1;
    for (; (text = strchr(text, ',')); text++) count++;
    return count;
}

/* A list of numbers. One unit behind the last could be meant for all of them, but bare numbers are
 * in the job's units: where the two differ the list is refused. */
static pp_status read_list(const pp_key_text *given, pp_length_unit units, size_t count,
                           double *values, pp_error *error)
{
    const char *at = given->text;
    bool bare = false, other = false;
    for (size_t i = 0; i < count; i++) {
        size_t length;
        const char *part = next_part(&at, &length);
        if (!length) return refuse(given, error, "a number is missing beside a comma; add it");
        pp_value_unit written;
        PP_TRY(read_number(given, part, length, units, &values[i], &written, error));
        bare = bare || (!written.given && values[i] != 0);
        other = other || written.length != units;
    }
    if (given->key->quantity == PP_LENGTH && bare && other)
        return refuse(given, error,
                      "some of its numbers have a unit, and the bare ones are in %s; write the "
                      "unit behind each",
                      pp_unit_name(units));
    return PP_OK;
}

static pp_status store_list(const pp_key_text *given, pp_length_unit units, pp_arena *keep,
                            void *place, pp_error *error)
{
    size_t count = count_parts(given->text);
    double *values;
    PP_TAKE(values, keep, count);
    PP_TRY(read_list(given, units, count, values, error));
    *(pp_job_list *)place = (pp_job_list){count, values};
    return PP_OK;
}

static pp_status store_point(const pp_key_text *given, pp_length_unit units, void *place,
                             pp_error *error)
{
    double values[2];
    if (count_parts(given->text) != 2)
        return refuse(given, error, "it takes two numbers; write x, y");
    PP_TRY(read_list(given, units, 2, values, error));
    memcpy(place, values, sizeof values);
    return PP_OK;
}

static pp_status store_two_holes(const pp_key_text *given, pp_arena *keep, pp_job *job,
                                 pp_error *error)
{
    const char *name[2] = {0}, *at = given->text;
    bool two = count_parts(given->text) == 2;
    for (size_t i = 0; two && i < 2; i++) {
        size_t length;
        const char *part = next_part(&at, &length);
        if (!length) two = false;
        name[i] = pp_arena_text(keep, part, length);
        if (!name[i]) return pp_fail_memory(error);
    }
    if (!two || strcmp(name[0], name[1]) == 0)
        return refuse(given, error, "it takes two different holes; write A1, A40");
    memcpy(job->holes.datum_holes, name, sizeof name);
    return PP_OK;
}

/* "A:entry, B:exit" */
static pp_status store_faces(const pp_key_text *given, pp_arena *keep, pp_job *job, pp_error *error)
{
    size_t count = count_parts(given->text);
    pp_face_name *names;
    PP_TAKE(names, keep, count);
    const char *at = given->text;
    for (size_t i = 0; i < count; i++) {
        size_t length;
        const char *part = next_part(&at, &length);
        const char *colon = memchr(part, ':', length);
        size_t word = colon ? (size_t)(colon - part) : 0;
        const char *face = colon ? colon + 1 : part;
        size_t face_length = colon ? length - word - 1 : 0;
        while (face_length && strchr(" \t", *face)) face++, face_length--;
        while (word && strchr(" \t", part[word - 1])) word--;
        bool exit = pp_same_word(face, face_length, "exit");
        if (!word || (!exit && !pp_same_word(face, face_length, "entry")))
            return refuse(given, error,
                          "a word and its face are wanted; write word:entry or word:exit, with "
                          "commas between");
        if (pp_same_word(part, word, exit ? "entry" : "exit"))
            return refuse(given, error,
                          "entry and exit keep their meaning; use exit_view where "
                          "the exit was measured from the other side");
        for (size_t k = 0; k < i; k++)
            if (pp_same_word(part, word, names[k].word))
                return refuse(given, error, "\"%.*s\" is there twice; keep one", (int)word, part);
        names[i] = (pp_face_name){pp_arena_text(keep, part, word), exit};
        if (!names[i].word) return pp_fail_memory(error);
    }
    job->holes.face_names = names;
    job->holes.face_name_count = count;
    return PP_OK;
}

/* "a.csv @ARM" */
static pp_status store_file(const pp_key_text *given, pp_arena *keep, void *place, pp_error *error)
{
    pp_job_file *file = place;
    const char *text = given->text, *at = NULL;
    for (const char *c = text; *c; c++)
        if (*c == '@' && (c == text || c[-1] == ' ' || c[-1] == '\t')) at = c;
    size_t length = at ? (size_t)(at - text) : strlen(text);
    while (length && strchr(" \t", text[length - 1])) length--;
    if (!length) return refuse(given, error, "there is no file before the @; write FILE @NAME");
    const char *instrument = at ? at + 1 : NULL;
    while (instrument && *instrument && strchr(" \t", *instrument)) instrument++;
    if (instrument && !*instrument)
        return refuse(given, error, "there is no instrument after the @; write FILE @NAME");

    pp_job_file result = {.line = given->line};
    result.written = pp_arena_text(keep, text, length);
    if (!result.written) return pp_fail_memory(error);
    result.path = pp_path_beside(keep, given->file, result.written);
    if (instrument) result.instrument = pp_arena_text(keep, instrument, strlen(instrument));
    if (!result.path || (instrument && !result.instrument)) return pp_fail_memory(error);
    *file = result;
    return PP_OK;
}

static pp_status store_limit(const pp_key_text *given, pp_length_unit units, void *place,
                             pp_error *error)
{
    pp_job_limit limit = {.line = given->line};
    PP_TRY(store_real(given, units, &limit.value, error));
    *(pp_job_limit *)place = limit;
    return PP_OK;
}

pp_status pp_key_store_in(const pp_key_text *given, pp_length_unit units, pp_arena *keep,
                          void *record, pp_error *error)
{
    void *place = (char *)record + given->key->offset;
    switch (given->key->kind) {
    case PP_KEY_TEXT:
        return store_text(given, keep, place, error);
    case PP_KEY_DATE:
        return store_date(given, keep, place, error);
    case PP_KEY_CHOICE:
        return store_choice(given, place, error);
    case PP_KEY_YES_NO:
        return store_yes_no(given, place, error);
    case PP_KEY_UNIT:
    case PP_KEY_UNITS:
        return store_unit(given, place, error);
    case PP_KEY_REAL:
    case PP_KEY_DIFFERENCE:
        return store_real(given, units, place, error);
    case PP_KEY_LIMIT:
        return store_limit(given, units, place, error);
    case PP_KEY_POINT:
        return store_point(given, units, place, error);
    case PP_KEY_LIST:
        return store_list(given, units, keep, place, error);
    case PP_KEY_FILE:
        return store_file(given, keep, place, error);
    case PP_KEY_COLUMNS:
        return pp_columns_store_map(given, keep, place, error);
    case PP_KEY_WORDS:
        return pp_columns_store_words(given, keep, place, error);
    case PP_KEY_TUBE:
    case PP_KEY_FACES:
    case PP_KEY_TWO_HOLES:
        break;
    }
    return PP_OK;
}

pp_status pp_key_store(const pp_key_text *given, pp_length_unit units, pp_arena *keep, pp_job *job,
                       void *item, pp_error *error)
{
    void *record = item ? item : (void *)job;
    switch (given->key->kind) {
    case PP_KEY_TUBE:
        return store_tube(given, units, keep, job, error);
    case PP_KEY_FACES:
        return store_faces(given, keep, job, error);
    case PP_KEY_TWO_HOLES:
        return store_two_holes(given, keep, job, error);
    default:
        return pp_key_store_in(given, units, keep, record, error);
    }
}
