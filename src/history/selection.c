/* Conditions: which plates are meant. */
#include <string.h>

#include "base/nearest.h"
#include "base/text.h"
#include "history/clauses.h"
#include "history/report.h"
#include "history/select.h"

const char *const pp_factor_names[PP_FACTORS] = {"supplier",   "heat", "machine", "operator",
                                                 "instrument", "role", "stage"};

static const char *const COLUMN[PP_FACTORS] = {"p.supplier", "p.heat_number", "m.name",
                                               "r.operator", "r.instrument",  "p.plate_role",
                                               "r.stage"};

pp_status pp_selection_add(pp_selection *s, const char *text, pp_error *error)
{
    const char *equals = strchr(text, '=');
    size_t length = equals ? (size_t)(equals - text) : strlen(text);
    for (int f = 0; equals && f < PP_FACTORS; f++) {
        if (strlen(pp_factor_names[f]) != length || strncmp(pp_factor_names[f], text, length) != 0)
            continue;
        if (s->count == PP_CONDITIONS_MAX)
            return pp_fail(error, PP_EINPUT, "there are more than %d conditions; give fewer",
                           PP_CONDITIONS_MAX);
        s->conditions[s->count++] = (pp_condition){(pp_factor)f, equals + 1};
        return PP_OK;
    }
    return pp_fail(error, PP_EINPUT,
                   "--where %.80s is no condition; write KEY=VALUE with one of supplier, heat, "
                   "machine, operator, instrument, role, stage",
                   text);
}

pp_status pp_selection_check(const pp_selection *s, pp_error *error)
{
    if (s->since && !pp_is_iso_date(s->since))
        return pp_fail(error, PP_EINPUT, "--since %.40s is no date; write YYYY-MM-DD", s->since);
    if (s->until && !pp_is_iso_date(s->until))
        return pp_fail(error, PP_EINPUT, "--until %.40s is no date; write YYYY-MM-DD", s->until);
    if (s->since && s->until && strcmp(s->since, s->until) > 0)
        return pp_fail(error, PP_EINPUT, "--since is after --until; exchange them");
    return PP_OK;
}

void pp_clauses_add(const pp_selection *s, int first, pp_text *sql)
{
    int at = first;
    for (int f = 0; f < PP_FACTORS; f++) {
        bool open = false;
        for (size_t i = 0; i < s->count; i++) {
            if (s->conditions[i].factor != (pp_factor)f) continue;
            pp_text_print(sql, open ? " OR %s = ?%d" : " AND (%s = ?%d", COLUMN[f], at++);
            open = true;
        }
        if (open) pp_text_add(sql, ")");
    }
    if (s->since) pp_text_print(sql, " AND " PP_DAY " >= ?%d", at++);
    if (s->until) pp_text_print(sql, " AND " PP_DAY " <= ?%d", at++);
}

void pp_clauses_bind(const pp_selection *s, int first, struct sqlite3_stmt *statement)
{
    int at = first;
    for (int f = 0; f < PP_FACTORS; f++)
        for (size_t i = 0; i < s->count; i++)
            if (s->conditions[i].factor == (pp_factor)f)
                pp_history_bind_text(statement, at++, s->conditions[i].value);
    if (s->since) pp_history_bind_text(statement, at++, s->since);
    if (s->until) pp_history_bind_text(statement, at++, s->until);
}

bool pp_selection_has(const pp_selection *s, pp_factor factor)
{
    for (size_t i = 0; i < s->count; i++)
        if (s->conditions[i].factor == factor) return true;
    return false;
}
