#include "rules/rule_file.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/embedded.h"
#include "base/nearest.h"
#include "base/text.h"

extern const pp_embedded_file pp_rule_files[]; /* built from data/rules by cmake/embed.cmake */
extern const size_t pp_rule_file_count;

static const char suffix[] = ".ini";

size_t pp_rule_built_in_count(void) { return pp_rule_file_count; }

const char *pp_rule_built_in_name(size_t index, char name[PP_RULE_NAME_MAX])
{
    const char *file = pp_rule_files[index].name;
    snprintf(name, PP_RULE_NAME_MAX, "%.*s", (int)(strlen(file) - (sizeof suffix - 1)), file);
    return name;
}

static const pp_embedded_file *find_built_in(const char *name)
{
    char known[PP_RULE_NAME_MAX];
    for (size_t i = 0; i < pp_rule_file_count; i++)
        if (strcmp(name, pp_rule_built_in_name(i, known)) == 0) return &pp_rule_files[i];
    return NULL;
}

static const char *nearest_built_in(const char *name, char nearest[PP_RULE_NAME_MAX])
{
    size_t best = 0, least = SIZE_MAX;
    for (size_t i = 0; i < pp_rule_file_count; i++) {
        size_t distance = pp_nearest_distance(name, pp_rule_built_in_name(i, nearest));
        if (distance < least) least = distance, best = i;
    }
    return pp_rule_built_in_name(best, nearest);
}

bool pp_rule_is_sure(char letter) { return letter >= 'A' && letter <= 'D'; }

const char *pp_rule_sure_words(char letter)
{
    switch (letter) {
    case 'A':
        return "value published, seen in two sources";
    case 'B':
        return "value published, seen in one source";
    case 'C':
        return "value from memory, checked by arithmetic";
    case 'D':
        return "value from memory, not checked";
    default:
        return "how sure is not said";
    }
}

static bool is_path(const char *name)
{
    size_t length = strlen(name);
    return strchr(name, '/') ||
           (length > 4 && strcmp(name + length - (sizeof suffix - 1), suffix) == 0);
}

static pp_status open_ini(const char *name, const pp_rule_place *place, pp_memory *memory,
                          pp_ini *ini, pp_error *error)
{
    const pp_embedded_file *built_in = find_built_in(name);
    if (built_in)
        return pp_ini_parse(built_in->name, built_in->bytes, built_in->length, memory, ini, error);
    if (!is_path(name)) {
        char nearest[PP_RULE_NAME_MAX];
        return pp_fail_at(error, PP_EINPUT, place->beside, place->line, 0,
                          "there is no rule set \"%s\"; did you mean \"%s\"? (the path of a rule "
                          "file has a / or ends in .ini)",
                          name, nearest_built_in(name, nearest));
    }
    const char *path =
        place->file ? place->file
                    : pp_path_beside(&memory->keep, place->beside ? place->beside : "", name);
    if (!path) return pp_fail_memory(error);
    return pp_ini_read(path, memory, ini, error);
}

/* The section [set], of which there is one. */
static pp_status read_head(pp_rule_file *file, pp_error *error)
{
    static const char *const known[] = {"kind", "title", "note"};
    static const char *const kinds[] = {"holes", "flatness"};
    const char **place[] = {&file->kind, &file->title, &file->note};
    long kind_line = 0;
    const pp_ini *ini = &file->ini;
    const pp_ini_section *head = NULL;
    for (size_t s = 0; s < ini->section_count; s++) {
        if (strcmp(ini->sections[s].name, "set") != 0) continue;
        if (head)
            return pp_fail_at(error, PP_EINPUT, ini->file, ini->sections[s].line, 0,
                              "[set] is there twice; keep one");
        head = &ini->sections[s];
    }
    if (!head)
        return pp_fail_at(error, PP_EINPUT, ini->file, 0, 0,
                          "the file has no section [set], so it is no rule file; begin it with "
                          "[set], kind and title");
    for (size_t e = head->first; e < head->first + head->count; e++) {
        const pp_ini_entry *entry = &ini->entries[e];
        size_t k = pp_rule_word(entry->key, 3, known);
        if (k == 3)
            return pp_rule_unknown(file, entry->line, "key of [set]", entry->key, 3, known, error);
        if (*place[k])
            return pp_fail_at(error, PP_EINPUT, ini->file, entry->line, 0,
                              "\"%s\" is there twice; keep one", entry->key);
        if (*entry->value) *place[k] = entry->value;
        if (k == 0) kind_line = entry->line;
    }
    if (!file->kind)
        return pp_fail_at(error, PP_EINPUT, ini->file, head->line, 0,
                          "[set] does not say what the rules are for; give kind = holes or kind = "
                          "flatness");
    if (strcmp(file->kind, kinds[0]) != 0 && strcmp(file->kind, kinds[1]) != 0)
        return pp_rule_unknown(file, kind_line, "kind of rules", file->kind, 2, kinds, error);
    if (!file->title) file->title = file->name;
    return PP_OK;
}

pp_status pp_rule_file_open(const char *name, const char *kind, const pp_rule_place *place,
                            pp_memory *memory, pp_rule_file *file, pp_error *error)
{
    pp_rule_file result = {.name = pp_text_kept(&memory->keep, "%s", name)};
    if (!result.name) return pp_fail_memory(error);
    result.built_in = find_built_in(name) != NULL;
    PP_TRY(open_ini(name, place, memory, &result.ini, error));
    PP_TRY(read_head(&result, error));
    if (kind && strcmp(kind, result.kind) != 0)
        return pp_fail_at(error, PP_EINPUT, place->beside, place->line, 0,
                          "\"%s\" has rules for %s, not for %s; see plateproof rules", name,
                          result.kind, kind);
    *file = result;
    return PP_OK;
}

pp_status pp_rule_split(const char *text, char between, pp_memory *memory, pp_rule_words *words,
                        pp_error *error)
{
    size_t most = 1;
    for (const char *c = text; *c; c++) most += *c == between;
    const char **word;
    PP_TAKE(word, &memory->keep, most);
    size_t count = 0;
    for (const char *at = text; at;) {
        const char *end = strchr(at, between);
        size_t length = end ? (size_t)(end - at) : strlen(at);
        while (length && strchr(" \t", *at)) at++, length--;
        while (length && strchr(" \t", at[length - 1])) length--;
        word[count] = pp_arena_text(&memory->keep, at, length);
        if (!word[count]) return pp_fail_memory(error);
        if (length || between != ' ') count++; /* several blanks are one */
        at = end ? end + 1 : NULL;
    }
    *words = (pp_rule_words){count, word};
    return PP_OK;
}

pp_status pp_rule_length(const pp_rule_file *file, long line, const char *name, const char *text,
                         pp_length_unit bare, pp_range range, double *value, pp_error *error)
{
    if (strcmp(text, "-") == 0) {
        *value = NAN;
        return PP_OK;
    }
    pp_value_place place = {file->ini.file, line, name};
    pp_value_kind kind = {.quantity = PP_LENGTH, .bare = bare, .range = range};
    return pp_value_read(&place, text, strlen(text), &kind, value, NULL, error);
}

pp_status pp_rule_unit(const pp_rule_file *file, const pp_ini_section *section,
                       pp_length_unit *unit, pp_error *error)
{
    for (size_t e = section->first; e < section->first + section->count; e++) {
        const pp_ini_entry *entry = &file->ini.entries[e];
        if (strcmp(entry->key, "unit") != 0) continue;
        if (pp_unit_find_length(entry->value, strlen(entry->value), unit)) return PP_OK;
        return pp_fail_at(error, PP_EINPUT, file->ini.file, entry->line, 0,
                          "unit = \"%s\" is no unit of length; write %s", entry->value,
                          pp_unit_choices(PP_LENGTH));
    }
    return pp_fail_at(error, PP_EINPUT, file->ini.file, section->line, 0,
                      "[%s] does not say the unit of its numbers; add unit = mm or unit = in",
                      section->name);
}

pp_status pp_rule_once(const pp_rule_file *file, const pp_ini_section *section, pp_error *error)
{
    const pp_ini_entry *first = &file->ini.entries[section->first];
    for (size_t e = 0; e < section->count; e++) {
        if (strcmp(first[e].key, "row") == 0) continue;
        for (size_t k = 0; k < e; k++)
            if (strcmp(first[e].key, first[k].key) == 0)
                return pp_fail_at(error, PP_EINPUT, file->ini.file, first[e].line, 0,
                                  "%s is there twice; keep one", first[e].key);
    }
    return PP_OK;
}

size_t pp_rule_word(const char *word, size_t count, const char *const *known)
{
    size_t i = 0;
    while (i < count && strcmp(word, known[i]) != 0) i++;
    return i;
}

pp_status pp_rule_unknown(const pp_rule_file *file, long line, const char *kind, const char *what,
                          size_t count, const char *const *known, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, file->ini.file, line, 0,
                      "\"%s\" is no %s; did you mean \"%s\"?", what, kind,
                      known[pp_nearest_find(what, count, known)]);
}
