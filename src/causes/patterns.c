#include "causes/patterns.h"

#include <string.h>

enum { RARE_REVERSALS = 20 };

typedef struct hunt {
    const pp_measures *measures;
    pp_error_field *field;
    int threads;
    pp_arena *scratch;
    pp_patterns *out;
    pp_extra_column labels[PP_LABEL_COLUMNS_MAX];
    int label_columns;
} hunt;

static size_t count_reversals(const int8_t *move, size_t count)
{
    size_t reversals = 0;
    int8_t last = 0;
    for (size_t i = 0; i < count; i++) {
        if (move[i] != 0 && last != 0 && move[i] != last) reversals++;
        if (move[i] != 0) last = move[i];
    }
    return reversals;
}

/* Terms that change slowly along the order would share the evidence of several set-ups or a swing.
 */
static void keep_slow_out(const hunt *h, const pp_choice *choice, const char *kept_out[])
{
    int steps = 0, waves = 0;
    bool chosen[PP_FIELD_KINDS] = {false};
    for (int k = 0; k < choice->members; k++) {
        const pp_member *m = &choice->member[k];
        if (m->fixed >= 0) {
            chosen[h->out->plain.model.kind[m->fixed]] = true;
            continue;
        }
        steps += m->component.family == PP_FAMILY_STEP;
        waves += m->component.family == PP_FAMILY_OSCILLATION;
    }
    for (int kind = 0; kind < PP_FIELD_KINDS; kind++) {
        bool out = (steps >= 2 || waves >= 1) && !chosen[kind] &&
                   pp_field_kind_is_slow((pp_field_kind)kind, h->out->rare_reversals);
        kept_out[kind] = out ? "the set-ups or the swing found in the order" : NULL;
    }
}

/* Fit with the components of a choice. */
static pp_status fit_choice(hunt *h, const pp_choice *choice, pp_error *error)
{
    const char *kept_out[PP_FIELD_KINDS];
    pp_component components[PP_COMPONENTS_MAX];
    int count = 0;
    for (int k = 0; k < choice->members; k++)
        if (choice->member[k].fixed < 0) components[count++] = choice->member[k].component;
    keep_slow_out(h, choice, kept_out);
    pp_fitting_request request = {.measures = h->measures,
                                  .field = h->field,
                                  .label_columns = h->label_columns,
                                  .labels = h->labels,
                                  .kept_out = kept_out,
                                  .components = components,
                                  .component_count = count,
                                  .threads = h->threads};
    return pp_fitting_solve(&request, h->scratch, &h->out->fitting, error);
}

/* The space of the last fit, and the final model in it. */
static pp_status build_space(hunt *h, pp_error *error)
{
    pp_patterns *o = h->out;
    const pp_fitting *f = &o->fitting;
    size_t fine[PP_COMPONENTS_MAX];
    int fine_count = 0;
    for (int k = 0; k < f->component_count; k++)
        if (f->component[k].family == PP_FAMILY_STEP) fine[fine_count++] = f->component[k].first;
    pp_space_request request = {.model = &o->plain.model,
                                .fit = &f->fit,
                                .rho = pp_search_correlation(h->field, &f->fit, h->scratch),
                                .threads = h->threads,
                                .fine = fine,
                                .fine_count = fine_count};
    PP_TRY(pp_space_build(&request, h->scratch, &o->space, error));
    for (int i = 0; i < o->space.fixed; i++)
        o->tested[i] = pp_screen_place(&f->screen, (int)o->space.kind[i]) >= 0;
    pp_image_shelf shelf = {.arena = h->scratch};
    return pp_search_model(&o->space,
                           &(pp_model_parts){o->tested, f->component, f->component_count}, &shelf,
                           h->scratch, &o->model, &o->s2, error);
}

static pp_status choose(hunt *h, pp_choice *choice, pp_error *error)
{
    pp_mark mark = pp_arena_mark(h->scratch);
    pp_image_shelf shelf = {.arena = h->scratch};
    PP_TRY(pp_search_choose(&h->out->space, h->out->s2, NULL, &shelf, h->scratch, choice, error));
    pp_arena_release(h->scratch, mark);
    return PP_OK;
}

static int count_components(const pp_choice *c)
{
    int count = 0;
    for (int k = 0; k < c->members; k++) count += c->member[k].fixed < 0;
    return count;
}

static bool same_components(const pp_choice *a, const pp_choice *b)
{
    if (count_components(a) != count_components(b)) return false;
    for (int k = 0; k < a->members; k++) {
        bool found = a->member[k].fixed >= 0;
        for (int j = 0; !found && j < b->members; j++)
            found = b->member[j].fixed < 0 &&
                    pp_component_same(&a->member[k].component, &b->member[j].component);
        if (!found) return false;
    }
    return true;
}

/* Choose, fit, choose again with the scale and the correlation of that fit; then the final fit. */
static pp_status search(hunt *h, pp_error *error)
{
    static const pp_choice NOTHING = {.members = 0};
    pp_choice first, second = NOTHING;
    PP_TRY(choose(h, &first, error));
    if (count_components(&first) > 0) {
        PP_TRY(fit_choice(h, &first, error));
        PP_TRY(build_space(h, error));
        PP_TRY(choose(h, &second, error));
        if (count_components(&second) == 0) second = NOTHING;
        if (!same_components(&first, &second)) {
            PP_TRY(fit_choice(h, &second, error));
            PP_TRY(build_space(h, error));
        }
    }
    h->out->choice = second;
    return PP_OK;
}

pp_status pp_patterns_find(const pp_measures *measures, pp_error_field *field, int threads,
                           pp_arena *scratch, pp_patterns *patterns, pp_error *error)
{
    hunt h = {measures, field, threads, scratch, patterns, {{0}}, 0};
    *patterns = (pp_patterns){.s2 = 1};
    patterns->rare_reversals[0] = count_reversals(field->move_x, field->count) < RARE_REVERSALS;
    patterns->rare_reversals[1] = count_reversals(field->move_y, field->count) < RARE_REVERSALS;
    bool seen;
    pp_choice nothing = {.members = 0};
    PP_TRY(pp_labels_take(measures, field, scratch, patterns->labels, h.labels, &h.label_columns,
                          error));
    PP_TRY(fit_choice(&h, &nothing, error));
    patterns->plain = patterns->fitting.screen;
    PP_TRY(build_space(&h, error));
    PP_TRY(pp_search_gate(&patterns->space, scratch, &seen, error));
    if (seen) PP_TRY(search(&h, error));
    patterns->left = pp_left_find(&patterns->model);
    return PP_OK;
}
