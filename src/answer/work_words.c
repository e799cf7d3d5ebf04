#include "answer/work_words.h"

#include <math.h>

#include "answer/for_people.h"
#include "answer/summary.h"
#include "base/constants.h"

const pp_todo PP_TODO_SHOWN[PP_TODO_ORDER] = {PP_TODO_REAM, PP_TODO_DECIDE, PP_TODO_SECOND_OPINION,
                                              PP_TODO_REMEASURE, PP_TODO_NOTHING};

const char *pp_todo_words(pp_todo todo)
{
    static const char *const words[] = {[PP_TODO_NOTHING] = "nothing",
                                        [PP_TODO_REMEASURE] = "re-measure",
                                        [PP_TODO_REAM] = "ream",
                                        [PP_TODO_SECOND_OPINION] = "second opinion",
                                        [PP_TODO_DECIDE] = "decide"};
    return todo < PP_TODOS ? words[todo] : "";
}

const char *pp_todo_reason_words(pp_todo_reason reason)
{
    switch (reason) {
    case PP_REASON_PLAIN:
        break;
    case PP_REASON_SETTLED:
        return "settled";
    case PP_REASON_LARGE_BESIDE:
        return "another reading is too large to ream";
    case PP_REASON_METAL:
        return "reaming would thin a ligament";
    case PP_REASON_EDGE:
        return "reaming would thin the edge";
    case PP_REASON_UNPROVABLE:
        return "tolerance too narrow for the uncertainty";
    case PP_REASON_REPEATS:
        return "repeat readings contradict each other";
    }
    return NULL;
}

/* ---- faults ---- */

static void add_place(pp_text *text, const pp_results *r, const pp_work_row *row,
                      const pp_fault *fault, const pp_finding *f)
{
    pp_subject_kind kind = pp_characteristic_of(f->characteristic)->subject;
    const char *other = pp_work_other(r->judgement, row, fault);
    bool face = kind == PP_OF_FACE || kind == PP_OF_BORE || other;
    if (!face) return;
    pp_text_add(text, " (");
    if (other) {
        pp_text_add(text, "to ");
        pp_text_add(text, other);
        pp_text_add(text, ", ");
    }
    pp_text_print(text, "%s)", pp_face_words(f->face));
}

void pp_work_faults(pp_text *text, const pp_results *results, const pp_work_row *row)
{
    for (size_t i = 0; i < row->fault_count; i++) {
        const pp_fault *fault = &row->faults[i];
        if (i) pp_text_add(text, "; ");
        if (fault->finding == PP_NONE) {
            pp_text_add(text, fault->reason == PP_REASON_REPEATS
                                  ? "repeat readings contradict each other"
                                  : "not measured");
            continue;
        }
        const pp_finding *f = &results->judgement->findings[fault->finding];
        pp_finding_fault(text, results, f);
        add_place(text, results, row, fault, f);
    }
}

bool pp_work_offset_of(const pp_measures *m, const pp_work_row *row, pp_work_offset *out)
{
    if (row->hole == PP_NONE || row->bore == PP_NONE) return false;
    const pp_bore *b = &m->bores[row->bore];
    pp_offset off = pp_offset_from(pp_nominal_at(m->nominal, row->hole), b->at);
    double direction = atan2(off.dy, off.dx) * 180 / PP_PI;
    *out = (pp_work_offset){off.dx, off.dy, b->position,
                            direction < 0 ? direction + 360 : direction + 0.0};
    return !isnan(off.dx) && !isnan(off.dy);
}

void pp_work_error(pp_text *text, const pp_results *results, const pp_work_row *row)
{
    pp_work_offset off;
    pp_length_unit units = results->job->units;
    if (!pp_work_offset_of(results->measures, row, &off)) return;
    pp_people_length(text, units, fabs(off.dx));
    pp_text_add(text, off.dx < 0 ? " left, " : " right, ");
    pp_people_length(text, units, fabs(off.dy));
    pp_text_add(text, off.dy < 0 ? " down" : " up");
    pp_text_print(text, " (%s)", pp_face_words(results->measures->bores[row->bore].face));
}

/* ---- what to do ---- */

/* The first fault that asks for it. */
static const pp_fault *fault_for(const pp_work_row *row, pp_todo todo)
{
    for (size_t i = 0; i < row->fault_count; i++)
        if (row->faults[i].todo == todo) return &row->faults[i];
    return NULL;
}

static bool asks(const pp_work_row *row, pp_todo todo) { return row->todos >> todo & 1; }

static const char *hole_name(const pp_results *r, uint32_t hole)
{
    return r->measures->nominal->name[hole];
}

static void add_ream(pp_text *text, const pp_results *r, const pp_work_row *row)
{
    pp_length_unit units = r->job->units;
    const pp_ream *ream = &row->ream;
    pp_text_add(text, row->todo == PP_TODO_REAM             ? "Ream to "
                      : row->todo == PP_TODO_SECOND_OPINION ? " If it is undersize indeed, ream to "
                                                            : " If it may stay, ream to ");
    pp_people_length(text, units, ream->target);
    pp_text_add(text, isnan(ream->upper) ? " (at least " : " (");
    pp_people_length(text, units, ream->lower);
    if (!isnan(ream->upper)) {
        pp_text_add(text, " to ");
        pp_people_length(text, units, ream->upper);
    }
    pp_text_add(text, ")");
    if (ream->keeps != PP_NONE)
        pp_text_print(text, ", no larger: the metal to %s", hole_name(r, ream->keeps));
    else if (ream->edge)
        pp_text_add(text, ", no larger: the metal to the plate's edge");
    pp_text_add(text, ", then measure again.");
}

static void add_reason(pp_text *text, const pp_results *r, const pp_work_row *row,
                       const pp_fault *fault)
{
    switch ((pp_todo_reason)fault->reason) {
    case PP_REASON_LARGE_BESIDE:
        pp_text_add(text, " Reaming does not help: another of its readings is as large already.");
        break;
    case PP_REASON_METAL:
        pp_text_print(text, " Reaming to size would leave too little metal to %s.",
                      hole_name(r, row->ream.keeps));
        break;
    case PP_REASON_EDGE:
        pp_text_add(text, " Reaming to size would leave too little metal to the plate's edge.");
        break;
    case PP_REASON_UNPROVABLE:
        pp_text_add(text, " Not to be reamed yet: its tolerance is too narrow to be proven with "
                          "the uncertainty stated.");
        break;
    case PP_REASON_REPEATS:
    case PP_REASON_PLAIN:
    case PP_REASON_SETTLED:
        break;
    }
}

static bool cut_too_large(const pp_results *r, const pp_work_row *row)
{
    for (size_t i = 0; i < row->fault_count; i++) {
        uint32_t finding = row->faults[i].finding;
        if (row->faults[i].todo != PP_TODO_DECIDE || finding == PP_NONE) continue;
        const pp_finding *f = &r->judgement->findings[finding];
        if (f->characteristic == PP_DIAMETER && f->class_ != PP_CLASS_UNDER) return true;
    }
    return false;
}

/* Metal is gone altogether: nothing that is put into a hole brings it back. */
static bool overlaps(const pp_results *r, const pp_work_row *row)
{
    for (size_t i = 0; i < row->fault_count; i++) {
        uint32_t finding = row->faults[i].finding;
        if (finding == PP_NONE) continue;
        const pp_finding *f = &r->judgement->findings[finding];
        bool metal = f->characteristic == PP_LIGAMENT || f->characteristic == PP_MISDRILLED ||
                     f->characteristic == PP_OTHER_LIGAMENT;
        if (metal && f->value < 0) return true;
    }
    return false;
}

static void add_decide(pp_text *text, const pp_results *r, const pp_work_row *row)
{
    pp_text_add(text, "Put to the customer: concession, or a repair under the code.");
    if (cut_too_large(r, row)) pp_text_add(text, " It is too large: reaming cannot help.");
    if (overlaps(r, row))
        pp_text_add(text, " Holes overlap: the metal between them is gone, and nothing put into "
                          "a hole brings it back.");
    for (size_t i = 0; i < row->fault_count; i++) add_reason(text, r, row, &row->faults[i]);
    if (row->settled == PP_SETTLED_EARLIER)
        pp_text_print(text, " An earlier round was accepted%s%s%s: ask whether that still holds.",
                      row->reference && *row->reference ? " (" : "",
                      row->reference ? row->reference : "",
                      row->reference && *row->reference ? ")" : "");
    if (row->settled == PP_SETTLED_UNREFERENCED)
        pp_text_print(text, " The list says \u201c%s\u201d without a reference: give it.",
                      row->disposition);
}

/* What an open fault needs to be proven: the finest uncertainty of all of them. */
typedef struct proof {
    double needed, now; /* expanded (k = 2); NaN: no uncertainty is concerned */
    bool claimed, unmeasured, narrow, repeats;
} proof;

static proof proof_of(const pp_results *r, const pp_work_row *row)
{
    proof p = {.needed = NAN, .now = NAN};
    for (size_t i = 0; i < row->fault_count; i++) {
        const pp_fault *fault = &row->faults[i];
        if (fault->todo != PP_TODO_REMEASURE) continue;
        bool repeats = fault->reason == PP_REASON_REPEATS;
        p.repeats = p.repeats || repeats;
        p.unmeasured = p.unmeasured || (fault->finding == PP_NONE && !repeats);
        if (fault->finding == PP_NONE) continue;
        const pp_finding *f = &r->judgement->findings[fault->finding];
        p.claimed = p.claimed || f->characteristic == PP_DOUBLY_CLAIMED;
        p.narrow = p.narrow || fault->reason == PP_REASON_UNPROVABLE;
        if (isnan(fault->needed) || fault->needed >= p.needed) continue; /* NaN at first */
        p.needed = fault->needed;
        p.now = 2 * (double)pp_finding_u(r->judgement, f);
    }
    return p;
}

/* Rounded down to the digits shown, so that what is read is enough. */
static void add_proof(pp_text *text, pp_length_unit units, const proof *p)
{
    double step = units == PP_INCH ? 0.0001 * pp_unit_mm(PP_INCH) : 0.001;
    if (isnan(p->needed)) return;
    if (p->needed < step) {
        pp_text_add(text, "; it is so near its limit that a decision is quicker than proof");
        return;
    }
    pp_text_add(text, ", with an uncertainty of at most ");
    pp_people_length(text, units, floor(p->needed / step + 1e-6) * step);
    pp_text_add(text, " (k = 2; now ");
    pp_people_length(text, units, p->now);
    pp_text_add(text, ")");
}

static void add_remeasure(pp_text *text, const pp_results *r, const pp_work_row *row)
{
    const proof p = proof_of(r, row);
    bool alone = row->todo == PP_TODO_REMEASURE;
    pp_text_add(text, !alone         ? " Measure again too"
                      : p.unmeasured ? "Measure it"
                                     : "Measure again");
    if (p.claimed) pp_text_add(text, ", with its name checked: two readings claim it");
    if (p.repeats) pp_text_add(text, ", and give the new reading a round of its own");
    add_proof(text, r->job->units, &p);
    pp_text_add(text, ".");
    for (size_t i = 0; p.narrow && alone && i < row->fault_count; i++)
        add_reason(text, r, row, &row->faults[i]);
}

static void add_nothing(pp_text *text, const pp_work_row *row)
{
    pp_text_print(text, "Nothing: %s (%s).", row->disposition, row->reference);
}

void pp_work_instruction(pp_text *text, const pp_results *results, const pp_work_row *row)
{
    if (asks(row, PP_TODO_DECIDE)) add_decide(text, results, row);
    if (asks(row, PP_TODO_SECOND_OPINION))
        pp_text_print(text,
                      "%sGauge and reading contradict each other: have another person repeat both "
                      "with another gauge before anything is cut.",
                      row->todo == PP_TODO_SECOND_OPINION ? "" : " ");
    if (asks(row, PP_TODO_REAM) && fault_for(row, PP_TODO_REAM)) add_ream(text, results, row);
    if (asks(row, PP_TODO_REMEASURE)) add_remeasure(text, results, row);
    if (row->todo == PP_TODO_NOTHING) add_nothing(text, row);
}

void pp_work_counts(pp_text *text, const pp_work_list *list)
{
    bool any = false;
    for (int i = 0; i < PP_TODO_ORDER; i++) {
        pp_todo todo = PP_TODO_SHOWN[i];
        if (!list->counts[todo]) continue;
        pp_text_print(text, "%s%s ", any ? ", " : "", pp_todo_words(todo));
        pp_people_count(text, list->counts[todo]);
        any = true;
    }
}

/* "R04C12", "4-12": says row and column in the words of the drawing */
static bool holds_two_numbers(const char *name)
{
    size_t numbers = 0;
    bool inside = false;
    for (; *name; name++) {
        bool digit = *name >= '0' && *name <= '9';
        numbers += digit && !inside;
        inside = digit;
    }
    return numbers >= 2;
}

void pp_work_where(pp_text *text, const pp_results *results, const pp_work_row *row)
{
    const pp_measures *m = results->measures;
    bool counted = row->hole != PP_NONE && m->row_label[row->hole];
    if (counted && !holds_two_numbers(pp_work_name(m, row)))
        pp_text_print(text, "row %u, column %u; ", (unsigned)m->row_label[row->hole],
                      (unsigned)m->column_label[row->hole]);
    pp_nominal_point at = pp_work_place(m, row);
    pp_text_add(text, "x\u00a0");
    pp_people_place(text, results->job->units, at.x);
    pp_text_add(text, ", y\u00a0");
    pp_people_place(text, results->job->units, at.y);
}
