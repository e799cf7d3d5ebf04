#include "causes/labels.h"

#include <stdlib.h>
#include <string.h>

static const char *const *column_of(const pp_readings *r, pp_label_kind kind)
{
    return kind == PP_LABEL_SETUP ? r->setup : kind == PP_LABEL_SESSION ? r->session : r->spindle;
}

/* The label of every nominal hole, from whichever of its rows tells it: of the latest round, the
 * first row. The session is that of the entry face, which is what the field is made of. */
static pp_status take_texts(const pp_measures *m, pp_label_kind kind, pp_arena *arena,
                            const char ***texts, pp_error *error)
{
    const pp_readings *r = m->readings;
    const char *const *column = column_of(r, kind);
    const char **text;
    uint32_t *round;
    PP_TAKE_ZERO(text, arena, m->nominal->count);
    PP_TAKE_ZERO(round, arena, m->nominal->count);
    for (size_t row = 0; row < r->count; row++) {
        uint32_t hole = m->hole_of_row[row];
        if (hole >= m->nominal->count || !column[row] || !column[row][0]) continue;
        if (kind == PP_LABEL_SESSION && r->face && r->face[row] != PP_ENTRY) continue;
        if (text[hole] && r->round[row] <= round[hole]) continue;
        text[hole] = column[row], round[hole] = r->round[row];
    }
    *texts = text;
    return PP_OK;
}

static int by_name(const void *left, const void *right)
{
    return strcmp(*(const char *const *)left, *(const char *const *)right);
}

/* Different labels in the order of their names, and the one of each item. */
static pp_status number_labels(const pp_error_field *f, const char **text, pp_arena *arena,
                               pp_label_set *set, pp_error *error)
{
    PP_TAKE(set->name, arena, f->count);
    PP_TAKE(set->of_item, arena, f->count);
    for (size_t i = 0; i < f->count; i++) set->name[i] = text[f->hole[i]];
    qsort(set->name, f->count, sizeof *set->name, by_name);
    for (size_t i = 0; i < f->count; i++)
        if (i == 0 || strcmp(set->name[i], set->name[set->count - 1]) != 0)
            set->name[set->count++] = set->name[i];
    PP_TAKE_ZERO(set->holes, arena, set->count);
    for (size_t i = 0; i < f->count; i++) {
        const char **found =
            bsearch(&text[f->hole[i]], set->name, set->count, sizeof *set->name, by_name);
        set->of_item[i] = (uint32_t)(found - set->name);
        set->holes[set->of_item[i]]++;
    }
    return PP_OK;
}

static int columns_of(const pp_label_set *set, pp_label_kind kind, size_t label)
{
    if (set->holes[label] < PP_LABEL_HOLES_MIN) return 0;
    return kind != PP_LABEL_SPINDLE && set->holes[label] >= PP_LABEL_TURN_HOLES ? 3 : 2;
}

static void add_columns(pp_label_set *set, pp_label_kind kind, size_t holes, pp_extra_column *extra,
                        int *extra_count)
{
    size_t wanted = 0;
    for (size_t label = 1; label < set->count; label++)
        wanted += (size_t)columns_of(set, kind, label);
    if (wanted == 0) {
        set->why_not = "all holes bear the same label";
    } else if (wanted > holes / PP_LABEL_HOLES_PER_COLUMN ||
               wanted + (size_t)*extra_count > PP_LABEL_COLUMNS_MAX) {
        set->why_not = "too many labels for so few holes";
    } else {
        for (size_t label = 1; label < set->count; label++)
            for (int way = 0; way < columns_of(set, kind, label); way++)
                extra[(*extra_count)++] = (pp_extra_column){
                    .way = (pp_extra_way)way, .label = set->of_item, .which = (uint32_t)label};
    }
}

pp_status pp_labels_take(const pp_measures *measures, const pp_error_field *field, pp_arena *arena,
                         pp_label_set *sets, pp_extra_column *extra, int *extra_count,
                         pp_error *error)
{
    *extra_count = 0;
    for (int kind = 0; kind < PP_LABEL_KINDS; kind++) {
        pp_label_set set = {.given = column_of(measures->readings, (pp_label_kind)kind) != NULL};
        const char **text;
        if (set.given) {
            PP_TRY(take_texts(measures, (pp_label_kind)kind, arena, &text, error));
            for (size_t i = 0; i < field->count; i++)
                if (!text[field->hole[i]]) set.why_not = "the labels of some holes are missing";
        }
        if (set.given && !set.why_not) {
            PP_TRY(number_labels(field, text, arena, &set, error));
            add_columns(&set, (pp_label_kind)kind, field->count, extra, extra_count);
        }
        sets[kind] = set;
    }
    return PP_OK;
}
