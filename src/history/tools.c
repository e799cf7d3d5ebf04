/* The tools of a history: each with one line, whatever number of plates it drilled. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "history/clauses.h"
#include "history/select.h"

enum { TOOLS_MAX = 100000 };

/* The same tool goes on: same name and machine, used before. */
static pp_tool_row *goes_on(pp_tool_row *tools, size_t count, const pp_tool_row *now)
{
    if (!now->tool || now->used_before == 0) return NULL;
    for (size_t i = count; i-- > 0;) {
        bool same_machine =
            tools[i].machine == now->machine ||
            (tools[i].machine && now->machine && strcmp(tools[i].machine, now->machine) == 0);
        if (same_machine && tools[i].tool && strcmp(tools[i].tool, now->tool) == 0)
            return tools[i].used_before < now->used_before ? &tools[i] : NULL;
    }
    return NULL;
}

/* Two lines of one tool: by their holes. */
static void join(pp_tool_row *tool, const pp_tool_row *more)
{
    double a = tool->line.holes, b = more->line.holes, n = a + b;
    tool->line.level = (a * tool->line.level + b * more->line.level) / n;
    tool->line.slope = (a * tool->line.slope + b * more->line.slope) / n;
    double square = (a - 2) * tool->line.scatter * tool->line.scatter +
                    (b - 2) * more->line.scatter * more->line.scatter;
    tool->line.scatter = sqrt(square / (n - 4));
    tool->line.holes = n;
    tool->line.last = fmax(tool->line.last, more->line.last);
    tool->holes += more->holes;
}

static pp_tool_row read_tool(struct sqlite3_stmt *s, pp_arena *arena, bool *failed)
{
    pp_tool_row t = {.plate = pp_history_text(s, 0, arena, failed),
                     .tool = pp_history_text(s, 1, arena, failed),
                     .machine = pp_history_text(s, 2, arena, failed),
                     .used_before = (size_t)pp_history_whole(s, 3),
                     .holes = (size_t)pp_history_whole(s, 4)};
    t.line = (pp_tool_line){.level = pp_history_real(s, 5),
                            .slope = pp_history_real(s, 6),
                            .scatter = pp_history_real(s, 7),
                            .holes = (double)t.holes,
                            .last = (double)(t.used_before + t.holes)};
    return t;
}

static pp_status read_tools(pp_history *h, struct sqlite3_stmt *s, pp_arena *arena, size_t *count,
                            pp_tool_row *tools, pp_error *error)
{
    bool more = true, failed = false;
    while (*count < TOOLS_MAX) {
        PP_TRY(pp_history_step(h, s, &more, error));
        if (!more) return PP_OK;
        pp_tool_row now = read_tool(s, arena, &failed);
        if (failed) return pp_fail_memory(error);
        pp_tool_row *same = goes_on(tools, *count, &now);
        if (same)
            join(same, &now);
        else
            tools[(*count)++] = now;
    }
    return PP_OK;
}

pp_status pp_history_tools(pp_history *h, const pp_selection *selection, pp_arena *arena,
                           size_t *count, pp_tool_row **tools, pp_error *error)
{
    pp_text sql = {0};
    struct sqlite3_stmt *s = NULL;
    *count = 0;
    PP_TRY(pp_selection_check(selection, error));
    PP_TAKE(*tools, arena, TOOLS_MAX);
    pp_text_add(&sql, "SELECT iif(p.plate_id <> '', p.plate_id, p.serial), t.tool, m.name, "
                      "t.used_before, t.holes, t.level, t.slope, t.scatter FROM tool_run t JOIN "
                      "report r USING (report) JOIN plate p USING (plate) LEFT JOIN machine m ON "
                      "m.machine = r.machine WHERE t.holes >= ?1");
    pp_clauses_add(selection, 2, &sql);
    pp_text_add(&sql, " ORDER BY " PP_DAY ", r.report, t.run");
    pp_status status =
        sql.failed ? pp_fail_memory(error) : pp_history_prepare(h, sql.data, &s, error);
    if (status == PP_OK) {
        pp_history_bind_whole(s, 1, PP_TOOL_LINE_HOLES_MIN);
        pp_clauses_bind(selection, 2, s);
        status = read_tools(h, s, arena, count, *tools, error);
    }
    pp_history_end(s);
    pp_text_free(&sql);
    return status;
}
