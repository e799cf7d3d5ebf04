#include "rules/work_list.h"

#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "holes/route.h"
#include "rules/work_parts.h"

/* One fault of one hole, before they are put together. */
typedef struct hole_fault {
    uint32_t key; /* pp_key_of_bore */
    pp_fault fault;
} hole_fault;

typedef struct making {
    const pp_judgement *j;
    pp_memory *memory;
    size_t count;
    hole_fault *entries; /* NULL: only counted */
    pp_work_row *rows;
    size_t row_count;
    pp_fault *faults;
} making;

/* --- gathering -------------------------------------------------------------------------------- */

static void add(making *m, uint32_t key, pp_fault fault)
{
    if (m->entries) m->entries[m->count] = (hole_fault){key, fault};
    m->count++;
}

static void add_finding(making *m, uint32_t finding)
{
    uint32_t keys[2];
    int holes = pp_work_blame(m->j, &m->j->findings[finding], keys);
    for (int i = 0; i < holes; i++) add(m, keys[i], pp_work_fault_of(m->j, finding));
}

/* An item of a count rule whose share is broken: a hole, or two. */
typedef struct excused {
    uint32_t subject, other, rank;
} excused;

static int by_item(const void *left, const void *right)
{
    const excused *a = left, *b = right;
    if (a->subject != b->subject) return a->subject < b->subject ? -1 : 1;
    if (a->other != b->other) return a->other < b->other ? -1 : 1;
    return a->rank < b->rank ? -1 : a->rank > b->rank;
}

static int by_rank(const void *left, const void *right)
{
    const excused *a = left, *b = right;
    return a->rank < b->rank ? -1 : a->rank > b->rank;
}

/* Allowed by itself, listed because too many are: proven so, of that characteristic. */
static bool breaks_share(const pp_judgement *j, uint32_t finding)
{
    const pp_finding *f = &j->findings[finding];
    return f->verdict == PP_CONFORMS && pp_exception_verdict(j, f) == PP_DOES_NOT_CONFORM;
}

/* Of the items in the remainder only so many are listed as are beyond the share: the farthest. The
 * exceptions have them farthest first. */
static pp_status add_beyond_share(making *m, uint8_t which, pp_error *error)
{
    const pp_judgement *j = m->j;
    const pp_count_rule *rule = pp_count_rule_of(j, which);
    if (!rule || rule->share != PP_DOES_NOT_CONFORM) return PP_OK;
    excused *list;
    size_t found = 0, items = 0;
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    PP_TAKE(list, &m->memory->scratch, j->exception_count);
    for (size_t i = 0; i < j->exception_count; i++) {
        const pp_finding *f = &j->findings[j->exceptions[i]];
        if (f->characteristic == which && breaks_share(j, j->exceptions[i]))
            list[found++] = (excused){f->subject, pp_finding_other(j, f), (uint32_t)i};
    }
    if (found) qsort(list, found, sizeof *list, by_item);
    for (size_t i = 0; i < found; i++) {
        bool again = items && list[items - 1].subject == list[i].subject &&
                     list[items - 1].other == list[i].other;
        if (!again) list[items++] = list[i];
    }
    if (items) qsort(list, items, sizeof *list, by_rank);
    for (size_t i = 0; i + rule->remainder_allowed < items; i++)
        add_finding(m, j->exceptions[list[i].rank]);
    pp_arena_release(&m->memory->scratch, mark);
    return PP_OK;
}

static bool holes_judged(const pp_judgement *j)
{
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        if (!pp_is_of_plate(which) && j->section[which].verdict != PP_NOT_JUDGED) return true;
    return false;
}

static void add_unmeasured(making *m)
{
    const pp_judgement *j = m->j;
    bool asked = j->job->holes.coverage == PP_EVERY_HOLE && j->files->measured_given;
    if (!asked || !holes_judged(j)) return;
    const pp_fault unmeasured = {.finding = PP_NONE, .todo = PP_TODO_REMEASURE, .needed = NAN};
    for (size_t i = 0; i < j->measures->unmeasured_count; i++)
        add(m, j->measures->unmeasured[i], unmeasured);
}

static void add_contradicting(making *m)
{
    const pp_judgement *j = m->j;
    const pp_fault apart = {PP_NONE, PP_TODO_REMEASURE, PP_REASON_REPEATS, NAN};
    for (size_t i = 0; i < j->contradicting_count; i++) add(m, j->contradicting[i], apart);
}

static pp_status gather(making *m, pp_error *error)
{
    const pp_judgement *j = m->j;
    m->count = 0;
    for (size_t i = 0; i < j->exception_count; i++)
        if (!pp_is_of_plate(j->findings[j->exceptions[i]].characteristic) &&
            !breaks_share(j, j->exceptions[i]))
            add_finding(m, j->exceptions[i]);
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        PP_TRY(add_beyond_share(m, (uint8_t)which, error));
    add_contradicting(m);
    add_unmeasured(m);
    return PP_OK;
}

/* --- rows ------------------------------------------------------------------------------------- */

static int by_hole(const void *left, const void *right)
{
    const hole_fault *a = left, *b = right;
    if (a->key != b->key) return a->key < b->key ? -1 : 1;
    return a->fault.finding < b->fault.finding ? -1 : a->fault.finding > b->fault.finding;
}

static uint32_t worse_bore(const pp_measures *m, uint32_t hole)
{
    uint32_t entry = m->bore_of[PP_ENTRY][hole], exit = m->bore_of[PP_EXIT][hole];
    if (entry == PP_NONE || exit == PP_NONE) return entry == PP_NONE ? exit : entry;
    return m->bores[exit].position > m->bores[entry].position ? exit : entry;
}

static pp_work_row row_of(const pp_measures *m, uint32_t key)
{
    pp_work_row row = {.ream = {.target = NAN, .lower = NAN, .upper = NAN, .keeps = PP_NONE}};
    if (key < m->nominal->count) {
        row.hole = key;
        row.bore = worse_bore(m, key);
        return row;
    }
    row.hole = PP_NONE;
    size_t low = m->extra_first, high = m->bore_count; /* bores stand by their extra */
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (pp_key_of_bore(m, middle) < key)
            low = middle + 1;
        else
            high = middle;
    }
    row.bore = (uint32_t)low;
    return row;
}

/* Entries sorted by hole to rows with their faults. */
static pp_status put_together(making *m, pp_error *error)
{
    for (size_t i = 0; i < m->count; i++)
        m->row_count += i == 0 || m->entries[i].key != m->entries[i - 1].key;
    PP_TAKE(m->rows, &m->memory->keep, m->row_count);
    PP_TAKE(m->faults, &m->memory->keep, m->count);
    size_t row = 0;
    for (size_t i = 0; i < m->count; i++) {
        m->faults[i] = m->entries[i].fault;
        if (i == 0 || m->entries[i].key != m->entries[i - 1].key) {
            m->rows[row] = row_of(m->j->measures, m->entries[i].key);
            m->rows[row++].faults = &m->faults[i];
        }
        m->rows[row - 1].fault_count++;
    }
    return PP_OK;
}

/* --- what the measured list says of their fate -------------------------------------------------
 */

static bool says(const char *text, const char *words)
{
    return pp_same_word(text, strlen(text), words);
}

/* How far a reading's disposition settles the hole. */
static pp_settled settles(const pp_measures *m, size_t reading, const pp_work_row *row)
{
    const pp_readings *r = m->readings;
    bool plugged = says(r->disposition[reading], "plugged");
    if (!plugged && !says(r->disposition[reading], "accepted under concession"))
        return PP_UNSETTLED;
    uint32_t round = r->round ? r->round[reading] : 1;
    if (!plugged && row->bore != PP_NONE && round < m->bores[row->bore].round)
        return PP_SETTLED_EARLIER;
    const char *reference = r->reference ? r->reference[reading] : NULL;
    return reference && *reference ? PP_SETTLED : PP_SETTLED_UNREFERENCED;
}

/* The last disposition counts, one that settles before others. */
static void note_disposition(const pp_measures *m, size_t reading, pp_work_row *row)
{
    static const uint8_t RANK[] = {[PP_UNSETTLED] = 0,
                                   [PP_SETTLED_EARLIER] = 1,
                                   [PP_SETTLED_UNREFERENCED] = 2,
                                   [PP_SETTLED] = 3};
    pp_settled settled = settles(m, reading, row);
    if (RANK[settled] < RANK[row->settled]) return;
    row->settled = (uint8_t)settled;
    row->disposition = m->readings->disposition[reading];
    row->reference = m->readings->reference ? m->readings->reference[reading] : NULL;
}

static pp_status settle(making *m, pp_error *error)
{
    const pp_measures *measures = m->j->measures;
    const pp_readings *r = measures->readings;
    if (!r || !r->disposition) return PP_OK;
    uint32_t *row_of_hole; /* row + 1 */
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    PP_TAKE_ZERO(row_of_hole, &m->memory->scratch, measures->nominal->count);
    for (size_t i = 0; i < m->row_count; i++) {
        pp_work_row *row = &m->rows[i];
        if (row->hole != PP_NONE) {
            row_of_hole[row->hole] = (uint32_t)i + 1;
            continue;
        }
        size_t reading = measures->bores[row->bore].row - 1;
        if (r->disposition[reading] && *r->disposition[reading])
            note_disposition(measures, reading, row);
    }
    for (size_t i = 0; i < r->count; i++) {
        uint32_t hole = measures->hole_of_row[i];
        if (hole == PP_NONE || !row_of_hole[hole] || !r->disposition[i] || !*r->disposition[i])
            continue;
        note_disposition(measures, i, &m->rows[row_of_hole[hole] - 1]);
    }
    pp_arena_release(&m->memory->scratch, mark);
    for (size_t i = 0; i < m->row_count; i++) {
        if (m->rows[i].settled != PP_SETTLED) continue;
        pp_fault *faults = m->faults + (m->rows[i].faults - m->faults);
        for (size_t k = 0; k < m->rows[i].fault_count; k++) {
            faults[k].todo = PP_TODO_NOTHING;
            faults[k].reason = PP_REASON_SETTLED;
        }
    }
    return PP_OK;
}

/* --- the list --------------------------------------------------------------------------------- */

static void sum_up(pp_work_row *row)
{
    for (size_t i = 0; i < row->fault_count; i++) {
        uint8_t todo = row->faults[i].todo;
        row->todos |= (uint8_t)(1u << todo);
        if (todo > row->todo) row->todo = todo;
    }
}

static pp_status put_in_order(making *m, pp_work_list *list, pp_error *error)
{
    double *x, *y;
    uint32_t *order;
    pp_work_row *sorted;
    pp_mark mark = pp_arena_mark(&m->memory->scratch);
    PP_TAKE(x, &m->memory->scratch, m->row_count);
    PP_TAKE(y, &m->memory->scratch, m->row_count);
    PP_TAKE(order, &m->memory->scratch, m->row_count);
    PP_TAKE(sorted, &m->memory->keep, m->row_count);
    for (size_t i = 0; i < m->row_count; i++) {
        pp_nominal_point at = pp_work_place(m->j->measures, &m->rows[i]);
        x[i] = at.x;
        y[i] = at.y;
    }
    PP_TRY(pp_route_find(m->row_count, x, y, &m->memory->scratch, order, &list->length, error));
    for (size_t i = 0; i < m->row_count; i++) {
        sorted[i] = m->rows[order[i]];
        sum_up(&sorted[i]);
        list->counts[sorted[i].todo]++;
    }
    list->count = m->row_count;
    list->rows = sorted;
    pp_arena_release(&m->memory->scratch, mark);
    return PP_OK;
}

pp_status pp_work_list_make(const pp_judgement *judgement, pp_memory *memory, pp_work_list *list,
                            pp_error *error)
{
    pp_work_list out = {0};
    making m = {.j = judgement, .memory = memory};
    if (judgement->measures) {
        pp_mark mark = pp_arena_mark(&memory->scratch);
        PP_TRY(gather(&m, error));
        PP_TAKE(m.entries, &memory->scratch, m.count);
        PP_TRY(gather(&m, error));
        if (m.count) qsort(m.entries, m.count, sizeof *m.entries, by_hole);
        PP_TRY(put_together(&m, error));
        pp_arena_release(&memory->scratch, mark);
        PP_TRY(settle(&m, error));
        PP_TRY(pp_work_ream(judgement, m.rows, m.row_count, m.faults, memory, error));
        PP_TRY(put_in_order(&m, &out, error));
    }
    *list = out;
    return PP_OK;
}

pp_nominal_point pp_work_place(const pp_measures *measures, const pp_work_row *row)
{
    if (row->hole != PP_NONE) return pp_nominal_at(measures->nominal, row->hole);
    pp_plate_point at = measures->bores[row->bore].at; /* the drawing has no place for it */
    return (pp_nominal_point){at.x, at.y};
}

const char *pp_work_name(const pp_measures *measures, const pp_work_row *row)
{
    return row->hole != PP_NONE ? measures->nominal->name[row->hole]
                                : pp_bore_name(measures, row->bore);
}

const char *pp_work_other(const pp_judgement *judgement, const pp_work_row *row,
                          const pp_fault *fault)
{
    const pp_measures *m = judgement->measures;
    if (fault->finding == PP_NONE) return NULL;
    const pp_finding *f = &judgement->findings[fault->finding];
    uint32_t other = pp_finding_other(judgement, f);
    switch (pp_characteristic_of(f->characteristic)->subject) {
    case PP_OF_TWO_HOLES:
        return m->nominal->name[f->subject == row->hole ? other : f->subject];
    case PP_OF_TWO_BORES: {
        uint32_t own = row->hole != PP_NONE ? row->hole : pp_key_of_bore(m, row->bore);
        return pp_bore_name(m, pp_key_of_bore(m, f->subject) == own ? other : f->subject);
    }
    default:
        return NULL;
    }
}
