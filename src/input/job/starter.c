#include "input/job/starter.h"

#include <stdio.h>
#include <string.h>

#include "input/job/job_values.h"

enum { HELP_COLUMN = 34 }; /* where the explanations begin */

/* Extra words after the help: choices, or an example where the key has no default. */
static void add_hint(const pp_key *key, const char *value, pp_text *text)
{
    char choices[256];
    pp_key_choice_words(key, choices, sizeof choices);
    if (*choices)
        pp_text_print(text, " (%s)", choices);
    else if (key->kind == PP_KEY_YES_NO)
        pp_text_add(text, " (yes or no)");
    else if (key->example && !*value)
        pp_text_print(text, "; e.g. %s", key->example);
}

static void add_key(const pp_key *key, const char *value, pp_text *text)
{
    char line[128];
    snprintf(line, sizeof line, "%s = %s", key->key, value);
    pp_text_print(text, "%-*s ; %s", HELP_COLUMN, line, key->help);
    add_hint(key, value, text);
    pp_text_add(text, "\n");
}

/* What the starter writes behind the =. */
static const char *starter_value(const pp_key *key, pp_length_unit units)
{
    if (key->kind == PP_KEY_UNITS) return units == PP_INCH ? "inch" : "mm";
    return key->standard ? key->standard : "";
}

static void add_section(const pp_key_section *section, pp_length_unit units, pp_text *text)
{
    size_t count;
    const pp_key *keys = pp_keys(&count);
    /* a section that needs a name can't stand in a job without it: shown as a comment */
    bool instrument = strcmp(section->name, "instrument") == 0;
    bool comment =
        instrument || strcmp(section->name, "layer") == 0 || strcmp(section->name, "clamp") == 0;
    char head[64];
    snprintf(head, sizeof head, comment ? ";[%s NAME]" : "[%s]", section->name);
    pp_text_print(text, "\n%-*s ; %s%s\n", HELP_COLUMN, head, section->help,
                  instrument ? "; named by @NAME after a file: measured = a.csv @NAME" : "");
    for (size_t k = 0; k < count; k++) {
        if (strcmp(keys[k].section, section->name) != 0) continue;
        if (comment) pp_text_add(text, ";");
        add_key(&keys[k], starter_value(&keys[k], units), text);
    }
}

void pp_starter_write(pp_length_unit units, pp_text *text)
{
    pp_text_add(
        text,
        "; A plateproof job. Fill in what you have: a key left empty is absent, and what needs it\n"
        "; is left out of the report. What follows blank and ; is a comment.\n"
        ";\n"
        "; Limits are left empty: they come from your drawing and code. Uncertainties are left\n"
        "; empty: they come from your measuring procedure, and decision = guarded needs them.\n"
        "; A length without a unit is in `units`; 38 mm, 1-1/4 in, 20 um, 6 kN say their own.\n"
        "; Files are looked for beside this one.\n"
        ";\n"
        "; To begin with: [survey] file for flatness; [holes] nominal, measured, tube_diameter\n"
        "; and position_limit for the holes; [plate] outline, size and thickness for both.\n");
    size_t count;
    const pp_key_section *sections = pp_key_sections(&count);
    for (size_t s = 0; s < count; s++) add_section(&sections[s], units, text);
}

/* ---- manual ---- */

/* The values that a key takes, in words. */
static void add_values(const pp_key *key, pp_text *text)
{
    char words[256];
    switch (key->kind) {
    case PP_KEY_TEXT:
        pp_text_add(text, "text");
        break;
    case PP_KEY_DATE:
        pp_text_add(text, "date, YYYY-MM-DD");
        break;
    case PP_KEY_CHOICE:
        pp_key_choice_words(key, words, sizeof words);
        pp_text_add(text, words);
        break;
    case PP_KEY_YES_NO:
        pp_text_add(text, "yes or no");
        break;
    case PP_KEY_UNIT:
        pp_text_add(text, pp_unit_choices(PP_LENGTH));
        break;
    case PP_KEY_UNITS:
        pp_text_add(text, "mm or inch");
        break;
    case PP_KEY_POINT:
        pp_text_add(text, "x, y: two lengths");
        break;
    case PP_KEY_FILE:
        pp_text_add(text, "file");
        break;
    case PP_KEY_FACES:
        pp_text_add(text, "word:entry or word:exit, with commas between");
        break;
    case PP_KEY_TWO_HOLES:
        pp_text_add(text, "two hole names with a comma between");
        break;
    case PP_KEY_COLUMNS:
        pp_text_add(text, "word:column, with commas between");
        break;
    case PP_KEY_WORDS:
        pp_text_add(text, "names with commas between");
        break;
    case PP_KEY_REAL:
    case PP_KEY_DIFFERENCE:
    case PP_KEY_LIMIT:
    case PP_KEY_LIST:
    case PP_KEY_TUBE:
        pp_range_words(key->range, key->quantity, words, sizeof words);
        pp_text_print(text, "%s%s", key->kind == PP_KEY_LIST ? "list: " : "", words);
        break;
    }
}

static void add_manual_row(const pp_key *key, pp_text *text)
{
    pp_text_print(text, "| `%s` | ", key->key);
    add_values(key, text);
    pp_text_add(text, " | ");
    if (key->standard) pp_text_print(text, "`%s`", key->standard);
    pp_text_add(text, " | ");
    if (key->example) pp_text_print(text, "`%s`", key->example);
    pp_text_print(text, " | %s |\n", key->help);
}

void pp_starter_write_manual(pp_text *text)
{
    size_t section_count, key_count;
    const pp_key_section *sections = pp_key_sections(&section_count);
    const pp_key *keys = pp_keys(&key_count);
    for (size_t s = 0; s < section_count; s++) {
        bool named = strcmp(sections[s].name, "instrument") == 0 ||
                     strcmp(sections[s].name, "layer") == 0 ||
                     strcmp(sections[s].name, "clamp") == 0;
        pp_text_print(text,
                      "\n### `[%s%s]`\n\n%c%s.\n\n"
                      "| key | values | default | example | meaning |\n"
                      "| --- | --- | --- | --- | --- |\n",
                      sections[s].name, named ? " NAME" : "", sections[s].help[0] - 'a' + 'A',
                      sections[s].help + 1);
        for (size_t k = 0; k < key_count; k++)
            if (strcmp(keys[k].section, sections[s].name) == 0) add_manual_row(&keys[k], text);
    }
}
