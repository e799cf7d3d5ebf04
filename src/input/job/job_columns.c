#include "input/job/job_columns.h"

#include <string.h>

#include "base/text.h"

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

/* One word from *at on: as far as a comma or a colon, or between quotation marks. False: the mark
 * is not closed, or something else follows it. */
static bool take_word(const char **at, const char **word, size_t *length)
{
    const char *c = *at;
    while (is_blank(*c)) c++;
    if (*c == '"') {
        *word = ++c;
        const char *end = strchr(c, '"');
        if (!end) return false;
        *length = (size_t)(end - c);
        c = end + 1;
        while (is_blank(*c)) c++;
        *at = c;
        return *c == '\0' || *c == ',' || *c == ':';
    }
    *word = c;
    while (*c && *c != ',' && *c != ':') c++;
    *length = (size_t)(c - *word);
    while (*length && is_blank((*word)[*length - 1])) --*length;
    *at = c;
    return true;
}

static pp_status refuse(const pp_key_text *given, pp_error *error, const char *what)
{
    char name[PP_KEY_NAME_MAX];
    return pp_fail_at(error, PP_EINPUT, given->file, given->line, 0, "%s = \"%s\": %s",
                      pp_key_name(given->key, name), given->text, what);
}

/* At most as many words as there are commas, and one. */
static size_t count_places(const char *text)
{
    size_t count = 1;
    for (; *text; text++) count += *text == ',';
    return count;
}

pp_status pp_columns_store_map(const pp_key_text *given, pp_arena *keep, void *place,
                               pp_error *error)
{
    pp_column_map map = {.line = given->line, .key = given->key->key};
    pp_column_word *items;
    PP_TAKE(items, keep, count_places(given->text));
    for (const char *at = given->text; at;) {
        const char *word, *column;
        size_t word_length, column_length;
        bool whole = take_word(&at, &word, &word_length) && word_length && *at == ':';
        if (whole) at++;
        whole = whole && take_word(&at, &column, &column_length) && column_length && *at != ':';
        if (!whole)
            return refuse(given, error,
                          "a header word and its column are wanted; write word:column, with commas "
                          "between, and a word with a comma or colon in quotation marks");
        for (size_t i = 0; i < map.count; i++)
            if (pp_same_word(word, word_length, items[i].word) ||
                pp_same_word(column, column_length, items[i].column))
                return refuse(given, error, "a word or a column is there twice; keep one");
        pp_column_word *item = &items[map.count++];
        item->word = pp_arena_text(keep, word, word_length);
        item->column = pp_arena_text(keep, column, column_length);
        if (!item->word || !item->column) return pp_fail_memory(error);
        at = *at ? at + 1 : NULL;
    }
    map.items = items;
    *(pp_column_map *)place = map;
    return PP_OK;
}

pp_status pp_columns_store_words(const pp_key_text *given, pp_arena *keep, void *place,
                                 pp_error *error)
{
    pp_word_list list = {0};
    const char **words;
    PP_TAKE(words, keep, count_places(given->text));
    for (const char *at = given->text; at;) {
        const char *word;
        size_t length;
        if (!take_word(&at, &word, &length) || !length || *at == ':')
            return refuse(given, error,
                          "names are wanted; write them with commas between, and a name "
                          "with a comma or colon in quotation marks");
        words[list.count] = pp_arena_text(keep, word, length);
        if (!words[list.count++]) return pp_fail_memory(error);
        at = *at ? at + 1 : NULL;
    }
    list.words = words;
    *(pp_word_list *)place = list;
    return PP_OK;
}
