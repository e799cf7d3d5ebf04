#include "comparison/comparison.h"

#include <math.h>
#include <string.h>

#include "base/names.h"
#include "base/text.h"
#include "comparison/parts.h"

static const double SAME = 1e-9; /* mm: what the CSVs' digits leave */
static const double COVERAGE = 2;

const char *pp_change_words(pp_change change)
{
    static const char *const WORDS[] = {"new",    "worse",    "unchanged",
                                        "better", "repaired", "not judged now"};
    return WORDS[change];
}

const char *pp_compared_words(pp_compared characteristic)
{
    static const char *const WORDS[] = {"position", "diameter", "ligament"};
    return WORDS[characteristic];
}

typedef struct comparing {
    pp_memory *memory;
    pp_comparison *out;
    pp_compared_item *items;
    size_t room;
} comparing;

/* ---- what belongs together ---- */

typedef struct matched {
    uint32_t *of; /* [items now]: the one before, PP_NAME_NONE */
    size_t lost;  /* items before that are not there now */
} matched;

typedef const char *(*key_maker)(const pp_side *side, size_t item, pp_arena *arena);

static const char *hole_key(const pp_side *side, size_t item, pp_arena *arena)
{
    return pp_text_kept(arena, "%s\x1f%s", side->holes[item].hole, side->holes[item].face);
}

static const char *pair_key(const pp_side *side, size_t item, pp_arena *arena)
{
    const pp_side_pair *p = &side->pairs[item];
    return pp_text_kept(arena, "%s\x1f%s\x1f%s", p->a, p->b, p->face);
}

static pp_status keys_of(const pp_side *side, size_t count, key_maker make, pp_arena *arena,
                         const char ***keys, pp_error *error)
{
    PP_TAKE(*keys, arena, count);
    for (size_t i = 0; i < count; i++)
        if (!((*keys)[i] = make(side, i, arena))) return pp_fail_memory(error);
    return PP_OK;
}

static pp_status match(comparing *c, size_t before, size_t now, key_maker make, matched *m,
                       pp_error *error)
{
    const char **old, **new;
    pp_names names;
    pp_arena *keep = &c->memory->keep;
    PP_TRY(keys_of(&c->out->state[0].side, before, make, keep, &old, error));
    PP_TRY(keys_of(&c->out->state[1].side, now, make, keep, &new, error));
    PP_TRY(pp_names_build(old, before, keep, &names, error));
    PP_TAKE(m->of, keep, now);
    pp_names_find_many(&names, new, now, m->of);
    m->lost = before;
    for (size_t i = 0; i < now; i++) m->lost -= m->of[i] != PP_NAME_NONE;
    return PP_OK;
}

/* ---- one characteristic ---- */

/* How bad a class is; -1: not judged. What lies in the remainder is allowed, to few. */
enum { GOOD = 0, IN_REMAINDER, NOT_PROVEN, OUT };

static int badness(const char *class)
{
    static const struct {
        const char *class;
        int badness;
    } CLASSES[] = {{"in", GOOD},
                   {"in tolerance", GOOD},
                   {"standard", GOOD},
                   {"in remainder", IN_REMAINDER},
                   {"not proven", NOT_PROVEN}};
    if (!class[0]) return -1;
    for (size_t i = 0; i < sizeof CLASSES / sizeof *CLASSES; i++)
        if (strcmp(class, CLASSES[i].class) == 0) return CLASSES[i].badness;
    return OUT;
}

/* Is `now` further on the bad side? More position is worse, less ligament; of a diameter whichever
 * side it is out at. */
static bool goes_wrong(const pp_compared_item *item)
{
    bool low =
        item->characteristic == PP_COMPARED_LIGAMENT || strcmp(item->class_now, "undersize") == 0;
    return low ? item->now < item->before : item->now > item->before;
}

/* A difference within the uncertainty of both is none; where it is not known, any counts. */
static bool is_beyond(const pp_compared_item *item)
{
    double difference = fabs(item->now - item->before);
    return difference > (isnan(item->uncertainty) ? SAME : item->uncertainty + SAME);
}

static pp_status add_item(comparing *c, pp_compared_item *item, pp_error *error)
{
    int before = badness(item->class_before), now = badness(item->class_now);
    pp_comparison *o = c->out;
    o->compared[item->characteristic]++;
    bool beyond = item->beyond = is_beyond(item);
    o->moved[item->characteristic] += beyond && !isnan(item->uncertainty);
    o->unstated[item->characteristic] += isnan(item->uncertainty) ? 1 : 0;
    if (before == now && now < NOT_PROVEN) return PP_OK;
    if (now < 0 && before < NOT_PROVEN) return PP_OK;
    if (now < 0)
        item->change = PP_CHANGE_UNJUDGED;
    else if (now > before)
        item->change = before < NOT_PROVEN && now >= NOT_PROVEN ? PP_CHANGE_NEW : PP_CHANGE_WORSE;
    else if (now < before)
        item->change =
            before >= NOT_PROVEN && now < NOT_PROVEN ? PP_CHANGE_REPAIRED : PP_CHANGE_BETTER;
    else
        item->change = !beyond            ? PP_CHANGE_UNCHANGED
                       : goes_wrong(item) ? PP_CHANGE_WORSE
                                          : PP_CHANGE_BETTER;
    if (o->item_count == c->room) {
        pp_compared_item *more;
        c->room = c->room ? 2 * c->room : 256;
        PP_TAKE(more, &c->memory->keep, c->room);
        if (o->item_count) memcpy(more, c->items, o->item_count * sizeof *more);
        c->items = more;
    }
    c->items[o->item_count++] = *item;
    o->count[item->change]++;
    return PP_OK;
}

static pp_status compare_hole(comparing *c, const pp_side_hole *before, const pp_side_hole *now,
                              pp_error *error)
{
    const pp_side *sides[] = {&c->out->state[0].side, &c->out->state[1].side};
    pp_compared_item item = {.characteristic = PP_COMPARED_POSITION,
                             .hole = now->hole,
                             .face = now->face,
                             .class_before = before->position_class,
                             .class_now = now->position_class,
                             .before = before->position,
                             .now = now->position,
                             .uncertainty = COVERAGE * hypot(before->u_position, now->u_position)};
    if (!isnan(item.before) && !isnan(item.now)) PP_TRY(add_item(c, &item, error));
    bool small = strcmp(now->diameter_class, "undersize") == 0;
    item.characteristic = PP_COMPARED_DIAMETER;
    item.class_before = before->diameter_class, item.class_now = now->diameter_class;
    item.before = small ? before->diameter_min : before->diameter_max;
    item.now = small ? now->diameter_min : now->diameter_max;
    item.uncertainty = COVERAGE * hypot(sides[0]->u_diameter, sides[1]->u_diameter);
    return isnan(item.before) || isnan(item.now) ? PP_OK : add_item(c, &item, error);
}

static pp_status compare_holes(comparing *c, pp_error *error)
{
    const pp_side *before = &c->out->state[0].side, *now = &c->out->state[1].side;
    matched m;
    if (!before->hole_count || !now->hole_count) return PP_OK;
    PP_TRY(match(c, before->hole_count, now->hole_count, hole_key, &m, error));
    c->out->only[0] = m.lost;
    for (size_t i = 0; i < now->hole_count; i++) {
        if (m.of[i] == PP_NAME_NONE)
            c->out->only[1]++;
        else
            PP_TRY(compare_hole(c, &before->holes[m.of[i]], &now->holes[i], error));
    }
    return PP_OK;
}

static pp_status compare_pairs(comparing *c, pp_error *error)
{
    const pp_side *before = &c->out->state[0].side, *now = &c->out->state[1].side;
    matched m;
    if (!before->pair_count || !now->pair_count) return PP_OK;
    PP_TRY(match(c, before->pair_count, now->pair_count, pair_key, &m, error));
    for (size_t i = 0; i < now->pair_count; i++) {
        if (m.of[i] == PP_NAME_NONE) continue;
        const pp_side_pair *b = &before->pairs[m.of[i]], *n = &now->pairs[i];
        pp_compared_item item = {.characteristic = PP_COMPARED_LIGAMENT,
                                 .hole = n->a,
                                 .other = n->b,
                                 .face = n->face,
                                 .class_before = b->class_,
                                 .class_now = n->class_,
                                 .before = b->ligament,
                                 .now = n->ligament,
                                 .uncertainty =
                                     COVERAGE * hypot(before->u_ligament, now->u_ligament)};
        if (!isnan(item.before) && !isnan(item.now)) PP_TRY(add_item(c, &item, error));
    }
    return PP_OK;
}

/* ---- all of it ---- */

static double figure_of(const pp_kept_report *r, const char *name)
{
    for (size_t i = 0; i < r->figure_count; i++)
        if (strcmp(r->figures[i].name, name) == 0) return r->figures[i].value;
    return NAN;
}

static bool same_number(double a, double b)
{
    return isnan(a) ? isnan(b) != 0 : fabs(a - b) <= SAME;
}

static pp_status find_limits(comparing *c, pp_error *error)
{
    const pp_kept_report *a = &c->out->report[0], *b = &c->out->report[1];
    pp_changed_limit *limits;
    PP_TAKE(limits, &c->memory->keep, a->figure_count);
    for (size_t i = 0; i < a->figure_count; i++)
        for (size_t k = 0; k < b->figure_count; k++) {
            const pp_kept_figure *x = &a->figures[i], *y = &b->figures[k];
            if (strcmp(x->name, y->name) != 0) continue;
            if (same_number(x->lower, y->lower) && same_number(x->upper, y->upper)) continue;
            limits[c->out->limit_count++] =
                (pp_changed_limit){x->name, {x->lower, x->upper}, {y->lower, y->upper}};
        }
    c->out->limits = limits;
    return PP_OK;
}

/* 0: says nothing, or conforms. */
static int verdict_rank(const char *verdict)
{
    return strcmp(verdict, pp_verdict_words(PP_DOES_NOT_CONFORM)) == 0 ? 2
           : strcmp(verdict, pp_verdict_words(PP_NOT_PROVEN)) == 0     ? 1
                                                                       : 0;
}

bool pp_comparison_has_holes(const pp_comparison *c)
{
    size_t any = c->only[0] + c->only[1];
    for (int k = 0; k < PP_COMPARED_KINDS; k++) any += c->compared[k];
    return any > 0;
}

bool pp_comparison_is_worse(const pp_comparison *c)
{
    return c->count[PP_CHANGE_NEW] || c->count[PP_CHANGE_WORSE] || c->verdict_worse;
}

static pp_status compare(comparing *c, pp_error *error)
{
    static const char flatness[] = "flatness.minimum_zone.flatness";
    pp_comparison *o = c->out;
    const pp_kept_report *a = &o->report[0], *b = &o->report[1];
    o->same_plate = strcmp(a->plate_id, b->plate_id) == 0 && strcmp(a->serial, b->serial) == 0;
    o->verdict_worse = verdict_rank(o->state[1].verdict) > verdict_rank(o->state[0].verdict);
    PP_TRY(compare_holes(c, error));
    PP_TRY(compare_pairs(c, error));
    PP_TRY(find_limits(c, error));
    o->face.flatness_before = o->rounds ? NAN : figure_of(a, flatness);
    o->face.flatness_now = o->rounds ? NAN : figure_of(b, flatness);
    PP_TRY(pp_compare_faces(&o->state[0].side, &o->state[1].side, c->memory, &o->face, error));
    size_t all = o->face.places;
    for (int k = 0; k < PP_COMPARED_KINDS; k++) all += o->compared[k];
    if (all || !isnan(o->face.flatness_before + o->face.flatness_now)) return PP_OK;
    return pp_fail(error, PP_EINPUT,
                   "the two reports have no hole and no map place in common; name two reports of "
                   "one plate");
}

/* In the order of the report among equals, as qsort would not. */
static pp_status sort_items(comparing *c, pp_error *error)
{
    pp_comparison *o = c->out;
    pp_compared_item *sorted;
    size_t n = 0;
    PP_TAKE(sorted, &c->memory->keep, o->item_count);
    for (int change = 0; change < PP_CHANGE_KINDS; change++)
        for (int kind = 0; kind < PP_COMPARED_KINDS; kind++)
            for (size_t i = 0; i < o->item_count; i++)
                if (c->items[i].change == (pp_change)change &&
                    c->items[i].characteristic == (pp_compared)kind)
                    sorted[n++] = c->items[i];
    o->items = sorted;
    return PP_OK;
}

pp_status pp_compare_reports(const char *before, const char *now, int threads, pp_memory *memory,
                             pp_comparison *comparison, pp_error *error)
{
    pp_comparison out = {0};
    comparing c = {.memory = memory, .out = &out};
    const char *folders[] = {before, now};
    for (int k = 0; k < 2; k++) {
        PP_TRY(pp_kept_report_read_any(folders[k], threads, memory, &out.report[k], error));
        out.state[k] = (pp_compared_state){.name = folders[k], .verdict = out.report[k].verdict};
        PP_TRY(pp_side_read(folders[k], threads, memory, &out.state[k].side, error));
    }
    PP_TRY(compare(&c, error));
    PP_TRY(sort_items(&c, error));
    *comparison = out;
    return PP_OK;
}

pp_status pp_compare_rounds(const char *folder, const unsigned round[2],
                            const pp_results results[2], int threads, pp_memory *memory,
                            pp_comparison *comparison, pp_error *error)
{
    pp_comparison out = {.rounds = true};
    comparing c = {.memory = memory, .out = &out};
    PP_TRY(pp_kept_report_read_any(folder, threads, memory, &out.report[0], error));
    out.report[1] = out.report[0];
    for (int k = 0; k < 2; k++) {
        pp_compared_state *s = &out.state[k];
        s->name = pp_text_kept(&memory->keep, "round %u", round[k]);
        if (!s->name) return pp_fail_memory(error);
        s->verdict = pp_verdict_words(results[k].judgement->verdict);
        PP_TRY(pp_side_of(&results[k], memory, &s->side, error));
    }
    PP_TRY(compare(&c, error));
    PP_TRY(sort_items(&c, error));
    *comparison = out;
    return PP_OK;
}
