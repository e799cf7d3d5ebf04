/* holes.work_list of results.json. */
#include "answer/machine_names.h"
#include "answer/work_words.h"
#include "report/json/json_build.h"

/* More than anybody works through; worklist.csv has all. */
enum { ROWS_MAX = 20000 };

static void put_fault(pp_json_builder *b, json_t *faults, const pp_work_row *row,
                      const pp_fault *fault)
{
    const pp_judgement *j = b->results->judgement;
    json_t *object = pp_json_append_object(b, faults);
    pp_json_text(b, object, "todo", pp_todo_words((pp_todo)fault->todo));
    pp_json_text(b, object, "reason", pp_todo_reason_words((pp_todo_reason)fault->reason));
    if (fault->finding == PP_NONE) {
        bool repeats = fault->reason == PP_REASON_REPEATS;
        pp_json_text(b, object, "characteristic", repeats ? "repeat readings" : "not measured");
        return;
    }
    const pp_finding *f = &j->findings[fault->finding];
    pp_json_text(b, object, "characteristic",
                 pp_characteristic_words((pp_characteristic)f->characteristic));
    pp_json_text(b, object, "verdict", pp_verdict_words(pp_exception_verdict(j, f)));
    pp_json_text(b, object, "face", pp_named_face(f->face));
    pp_json_text(b, object, "other", pp_work_other(j, row, fault));
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"value", f->value}, {"lower", pp_finding_lower(j, f)},
                                 {"upper", pp_finding_upper(j, f)},
                                 {"standard", pp_finding_standard(j, f)},
                                 {"u", pp_named_uncertainty(pp_finding_u(j, f))},
                                 {"uncertainty_needed", fault->needed}));
}

static void put_ream(pp_json_builder *b, json_t *object, const pp_work_row *row)
{
    const pp_ream *ream = &row->ream;
    if (isnan(ream->target)) {
        pp_json_put(b, object, "ream", json_null());
        return;
    }
    json_t *to = pp_json_object(b, object, "ream");
    pp_json_reals(
        b, to,
        PP_NAMED_REALS({"to", ream->target}, {"lower", ream->lower}, {"upper", ream->upper}));
    pp_json_text(b, to, "keeps_metal_to",
                 ream->edge ? "edge" : pp_named_hole(b->results->measures, ream->keeps));
}

static void put_row(pp_json_builder *b, json_t *rows, const pp_work_row *row)
{
    const pp_measures *m = b->results->measures;
    json_t *object = pp_json_append_object(b, rows);
    pp_nominal_point at = pp_work_place(m, row);
    bool extra = row->hole == PP_NONE;
    pp_json_text(b, object, "hole", pp_work_name(m, row));
    pp_json_flag(b, object, "extra", extra);
    pp_json_count(b, object, "row", extra ? 0 : m->row_label[row->hole]);
    pp_json_count(b, object, "column", extra ? 0 : m->column_label[row->hole]);
    pp_json_real(b, object, "x", at.x);
    pp_json_real(b, object, "y", at.y);
    pp_json_text(b, object, "todo", pp_todo_words((pp_todo)row->todo));
    json_t *also = pp_json_array(b, object, "also");
    for (int i = 0; i < PP_TODO_ORDER; i++)
        if (PP_TODO_SHOWN[i] != (pp_todo)row->todo && row->todos >> PP_TODO_SHOWN[i] & 1)
            pp_json_append_text(b, also, pp_todo_words(PP_TODO_SHOWN[i]));
    pp_work_offset off = {NAN, NAN, NAN, NAN};
    bool known = pp_work_offset_of(m, row, &off);
    pp_json_text(b, object, "face", known ? pp_named_face(m->bores[row->bore].face) : NULL);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"dx", off.dx}, {"dy", off.dy}, {"position", off.position},
                                 {"direction_deg", off.direction_deg}));
    put_ream(b, object, row);
    pp_json_text(b, object, "disposition", row->disposition);
    pp_json_text(b, object, "reference", row->reference);
    json_t *faults = pp_json_array(b, object, "faults");
    for (size_t i = 0; i < row->fault_count; i++) put_fault(b, faults, row, &row->faults[i]);
}

void pp_json_work(pp_json_builder *b, json_t *holes)
{
    const pp_work_list *work = b->results->work;
    if (!work) return;
    json_t *object = pp_json_object(b, holes, "work_list");
    json_t *counts = pp_json_object(b, object, "counts");
    for (int i = 0; i < PP_TODO_ORDER; i++)
        pp_json_count(b, counts, pp_todo_words(PP_TODO_SHOWN[i]), work->counts[PP_TODO_SHOWN[i]]);
    pp_json_real(b, object, "way", work->length);
    pp_json_count(b, object, "count", work->count);
    json_t *rows = pp_json_array(b, object, "rows");
    for (size_t i = 0; i < work->count && i < ROWS_MAX; i++) put_row(b, rows, &work->rows[i]);
}
