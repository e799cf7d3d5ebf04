/* Inside the history: conditions as SQL. */
#ifndef PP_HISTORY_CLAUSES_H
#define PP_HISTORY_CLAUSES_H

#include "base/text.h"
#include "history/select.h"

/* When the plate was drilled, as well as is known. */
#define PP_DAY "coalesce(r.drilled_date, r.inspection_date, substr(r.added_utc, 1, 10))"

/* " AND (...)" for every condition, with parameters from ?first on; r, p and m are the tables. */
void pp_clauses_add(const pp_selection *selection, int first, pp_text *sql);
void pp_clauses_bind(const pp_selection *selection, int first, struct sqlite3_stmt *statement);
bool pp_selection_has(const pp_selection *selection, pp_factor factor);

#endif
