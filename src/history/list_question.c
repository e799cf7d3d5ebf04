/* What a history holds, and whether it is sound. */
#include <string.h>
#include <unistd.h>

#include "answer/paths.h"
#include "history/questions.h"
#include "history/report.h"

enum { LISTED_MAX = 4096 };

static pp_status count_of(pp_history *h, const char *sql, size_t *count, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool row;
    pp_status status = pp_history_prepare(h, sql, &s, error);
    if (status == PP_OK) status = pp_history_step(h, s, &row, error);
    if (status == PP_OK) *count = (size_t)pp_history_whole(s, 0);
    pp_history_end(s);
    return status;
}

static pp_status list_figures(pp_history *h, pp_arena *arena, pp_list_answer *a, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool more = true, failed = false;
    pp_listed_figure *figures;
    PP_TAKE(figures, arena, LISTED_MAX);
    pp_status status = pp_history_prepare(
        h,
        "SELECT n.text, n.unit, 'figure', f.c FROM (SELECT name, count(*) AS c FROM figure GROUP "
        "BY "
        "name) f JOIN name n USING (name) UNION ALL SELECT n.text, n.unit, 'count', count(*) FROM "
        "tally "
        "JOIN name n USING (name) GROUP BY name UNION ALL SELECT n.text, n.unit, 'term', "
        "count(value) FROM term JOIN "
        "name n USING (name) GROUP BY name ORDER BY 3, 1",
        &s, error);
    while (status == PP_OK && more && a->figure_count < LISTED_MAX) {
        status = pp_history_step(h, s, &more, error);
        if (status != PP_OK || !more) break;
        figures[a->figure_count++] = (pp_listed_figure){
            pp_history_text(s, 0, arena, &failed), pp_history_text(s, 1, arena, &failed),
            pp_history_text(s, 2, arena, &failed), (size_t)pp_history_whole(s, 3)};
        if (failed) status = pp_fail_memory(error);
    }
    a->figures = figures;
    pp_history_end(s);
    return status;
}

static pp_status list_machines(pp_history *h, pp_arena *arena, pp_list_answer *a, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool more = true, failed = false;
    pp_listed_machine *machines;
    PP_TAKE(machines, arena, LISTED_MAX);
    pp_status status = pp_history_prepare(
        h,
        "SELECT m.name, m.serial, count(DISTINCT r.plate) FROM machine m LEFT JOIN report r "
        "USING (machine) GROUP BY m.machine ORDER BY m.name",
        &s, error);
    while (status == PP_OK && more && a->machine_count < LISTED_MAX) {
        status = pp_history_step(h, s, &more, error);
        if (status != PP_OK || !more) break;
        machines[a->machine_count++] = (pp_listed_machine){pp_history_text(s, 0, arena, &failed),
                                                           pp_history_text(s, 1, arena, &failed),
                                                           (size_t)pp_history_whole(s, 2)};
        if (failed) status = pp_fail_memory(error);
    }
    a->machines = machines;
    pp_history_end(s);
    return status;
}

pp_status pp_ask_list(pp_history *h, pp_arena *arena, pp_list_answer *answer, pp_error *error)
{
    pp_list_answer a = {0};
    pp_history_event *events;
    PP_TRY(count_of(h, "SELECT count(*) FROM plate", &a.plates, error));
    PP_TRY(count_of(h, "SELECT count(*) FROM report", &a.reports, error));
    PP_TRY(count_of(h, "SELECT count(*) FROM replaced", &a.replaced, error));
    PP_TRY(list_figures(h, arena, &a, error));
    PP_TRY(list_machines(h, arena, &a, error));
    PP_TRY(pp_history_events(h, arena, &a.event_count, &events, error));
    a.events = events;
    *answer = a;
    return PP_OK;
}

/* ---- check ---- */

static pp_status check_file(pp_history *h, pp_arena *arena, const char **words, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool row = false, failed = false;
    size_t dangling = 0;
    pp_status status = pp_history_prepare(h, "PRAGMA integrity_check(1)", &s, error);
    if (status == PP_OK) status = pp_history_step(h, s, &row, error);
    *words = status == PP_OK && row ? pp_history_text(s, 0, arena, &failed) : "unknown";
    pp_history_end(s);
    PP_TRY(status);
    if (failed) return pp_fail_memory(error);
    PP_TRY(count_of(h, "SELECT count(*) FROM pragma_foreign_key_check", &dangling, error));
    if (dangling) *words = "rows refer to rows that are not there";
    return PP_OK;
}

pp_status pp_ask_check(pp_history *h, pp_memory *memory, pp_check_answer *answer, pp_error *error)
{
    pp_check_answer a = {0};
    struct sqlite3_stmt *s = NULL;
    bool more = true, failed = false;
    pp_checked_folder *missing, *differ;
    PP_TRY(check_file(h, &memory->keep, &a.integrity, error));
    PP_TRY(count_of(h, "SELECT count(*) FROM report", &a.reports, error));
    PP_TAKE(missing, &memory->keep, a.reports);
    PP_TAKE(differ, &memory->keep, a.reports);
    size_t room = a.reports;
    pp_status status = pp_history_prepare(
        h,
        "SELECT iif(p.plate_id <> '', p.plate_id, p.serial), r.folder, r.results_sha256 FROM "
        "report r JOIN plate p USING (plate) ORDER BY r.report",
        &s, error);
    while (status == PP_OK && more && room) {
        status = pp_history_step(h, s, &more, error);
        if (status != PP_OK || !more) break;
        room--;
        pp_checked_folder f = {pp_history_text(s, 0, &memory->keep, &failed),
                               pp_history_text(s, 1, &memory->keep, &failed)};
        const char *known = pp_history_text(s, 2, &memory->scratch, &failed);
        char sha256[65];
        pp_error gone;
        if (failed)
            status = pp_fail_memory(error);
        else if (pp_kept_report_hash(f.folder, sha256, &memory->scratch, &gone) != PP_OK)
            missing[a.missing_count++] = f;
        else if (strcmp(sha256, known) != 0)
            differ[a.differ_count++] = f;
    }
    pp_history_end(s);
    a.missing = missing, a.differ = differ;
    if (status == PP_OK) *answer = a;
    return status;
}
