#include "history/insert.h"

#include <math.h>
#include <stdio.h>

/* ---- small steps ---- */

/* Run a statement whose one parameter is a text and which gives at most one whole number. */
static pp_status number_of(pp_history *h, const char *sql, const char *text, bool *there,
                           long long *number, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_status status = pp_history_prepare(h, sql, &s, error);
    if (status == PP_OK) {
        pp_history_bind_text(s, 1, text);
        status = pp_history_step(h, s, there, error);
    }
    if (status == PP_OK && *there) *number = pp_history_whole(s, 0);
    pp_history_end(s);
    return status;
}

static pp_status insert_two(pp_history *h, const char *sql, const char *a, const char *b,
                            pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_status status = pp_history_prepare(h, sql, &s, error);
    if (status == PP_OK) {
        pp_history_bind_text(s, 1, a);
        pp_history_bind_text(s, 2, b);
        status = pp_history_run(h, s, error);
    }
    pp_history_end(s);
    return status;
}

static pp_status name_number(pp_history *h, const char *name, const char *unit, long long *number,
                             pp_error *error)
{
    bool there = false;
    PP_TRY(number_of(h, "SELECT name FROM name WHERE text = ?1", name, &there, number, error));
    if (there) return PP_OK;
    PP_TRY(insert_two(h, "INSERT INTO name (text, unit) VALUES (?1, ?2)", name, unit, error));
    *number = pp_history_last_row(h);
    return PP_OK;
}

/* A machine is known by its name; a serial number told later is filled in. */
static pp_status machine_number(pp_history *h, const pp_kept_report *k, long long *number,
                                pp_error *error)
{
    if (!k->machine) return PP_OK;
    PP_TRY(insert_two(h,
                      "INSERT INTO machine (name, serial) VALUES (?1, ?2) ON CONFLICT (name) DO "
                      "UPDATE SET serial = excluded.serial WHERE serial = ''",
                      k->machine, k->machine_serial, error));
    bool there = false;
    return number_of(h, "SELECT machine FROM machine WHERE name = ?1", k->machine, &there, number,
                     error);
}

/* ---- the plate ---- */

static void bind_plate(struct sqlite3_stmt *s, const pp_kept_report *k)
{
    const char *texts[] = {k->order_number, k->item,        k->plate_id, k->serial, k->plate_role,
                           k->material,     k->heat_number, k->supplier, k->outline};
    for (int i = 0; i < 9; i++) pp_history_bind_text(s, i + 1, texts[i]);
    pp_history_bind_real(s, 10, k->size_x);
    pp_history_bind_real(s, 11, k->size_y);
    pp_history_bind_real(s, 12, k->thickness);
}

pp_status pp_insert_plate(pp_history *h, const pp_kept_report *k, long long *plate, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool there = false;
    pp_status status = pp_history_prepare(
        h,
        "INSERT INTO plate (order_number, item, plate_id, serial, plate_role, material, "
        "heat_number, supplier, outline, size_x, size_y, thickness) VALUES (?1, ?2, ?3, ?4, ?5, "
        "?6, ?7, ?8, ?9, ?10, ?11, ?12) ON CONFLICT (order_number, item, plate_id, serial) DO "
        "UPDATE SET plate_role = coalesce(plate_role, excluded.plate_role), material = "
        "coalesce(material, excluded.material), heat_number = coalesce(heat_number, "
        "excluded.heat_number), supplier = coalesce(supplier, excluded.supplier), outline = "
        "coalesce(outline, excluded.outline), size_x = coalesce(size_x, excluded.size_x), size_y = "
        "coalesce(size_y, excluded.size_y), thickness = coalesce(thickness, excluded.thickness) "
        "RETURNING plate",
        &s, error);
    if (status == PP_OK) {
        bind_plate(s, k);
        status = pp_history_step(h, s, &there, error);
    }
    if (status == PP_OK) *plate = pp_history_whole(s, 0);
    pp_history_end(s);
    return status;
}

/* ---- the report ---- */

static const char INSERT_REPORT[] =
    "INSERT INTO report (report, plate, stage, report_number, revision, inspection_date, "
    "drilled_date, machine, operator, program, drilling_temperature, inspector, instrument, "
    "verdict, basis, alignment, pattern_sha256, commanded_sha256, folder, results_sha256, "
    "inputs_sha256, tool_version, added_utc) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, "
    "?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23)";
static const char UPDATE_REPORT[] =
    "UPDATE report SET plate = ?2, stage = ?3, report_number = ?4, revision = ?5, inspection_date "
    "= ?6, drilled_date = ?7, machine = ?8, operator = ?9, program = ?10, drilling_temperature = "
    "?11, inspector = ?12, instrument = ?13, verdict = ?14, basis = ?15, alignment = ?16, "
    "pattern_sha256 = ?17, commanded_sha256 = ?18, folder = ?19, results_sha256 = ?20, "
    "inputs_sha256 = ?21, tool_version = ?22, added_utc = ?23 WHERE report = ?1";

static void bind_report(struct sqlite3_stmt *s, const pp_kept_report *k, long long plate,
                        long long machine, const char *now)
{
    pp_history_bind_whole(s, 2, plate);
    if (machine) pp_history_bind_whole(s, 8, machine);
    pp_history_bind_real(s, 11, k->drilling_temperature);
    const struct {
        int at;
        const char *text;
    } texts[] = {{3, k->stage},
                 {4, k->report_number},
                 {5, k->revision},
                 {6, k->inspection_date},
                 {7, k->drilled_date},
                 {9, k->operator_name},
                 {10, k->program},
                 {12, k->inspector},
                 {13, k->instrument},
                 {14, k->verdict},
                 {15, k->basis},
                 {16, k->alignment},
                 {17, k->pattern_sha256},
                 {18, k->commanded_sha256},
                 {19, k->folder},
                 {20, k->results_sha256},
                 {21, k->inputs_sha256},
                 {22, k->tool_version},
                 {23, now}};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        pp_history_bind_text(s, texts[i].at, texts[i].text);
}

static pp_status put_report(pp_history *h, const pp_kept_report *k, long long plate, long long row,
                            const char *now, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    long long machine = 0;
    PP_TRY(machine_number(h, k, &machine, error));
    pp_status status = pp_history_prepare(h, row ? UPDATE_REPORT : INSERT_REPORT, &s, error);
    if (status == PP_OK) {
        if (row) pp_history_bind_whole(s, 1, row);
        bind_report(s, k, plate, machine, now);
        status = pp_history_run(h, s, error);
    }
    pp_history_end(s);
    return status;
}

static pp_status clear_rows(pp_history *h, long long row, pp_error *error)
{
    static const char *const TABLES[] = {"figure", "tally", "moment", "term", "tool_run", "input"};
    for (size_t i = 0; i < sizeof TABLES / sizeof *TABLES; i++) {
        char sql[64];
        struct sqlite3_stmt *s = NULL;
        snprintf(sql, sizeof sql, "DELETE FROM %s WHERE report = ?1", TABLES[i]);
        pp_status status = pp_history_prepare(h, sql, &s, error);
        if (status == PP_OK) {
            pp_history_bind_whole(s, 1, row);
            status = pp_history_run(h, s, error);
        }
        pp_history_end(s);
        PP_TRY(status);
    }
    return PP_OK;
}

/* ---- what it holds ---- */

typedef struct rows {
    pp_history *h;
    const pp_kept_report *k;
    long long report;
    struct sqlite3_stmt *s;
} rows;

static pp_status put_figures(rows *r, pp_error *error)
{
    for (size_t i = 0; i < r->k->figure_count; i++) {
        const pp_kept_figure *f = &r->k->figures[i];
        long long name;
        PP_TRY(name_number(r->h, f->name, f->unit, &name, error));
        pp_history_bind_whole(r->s, 1, name);
        pp_history_bind_whole(r->s, 2, r->report);
        pp_history_bind_real(r->s, 3, f->value);
        pp_history_bind_real(r->s, 4, f->lower);
        pp_history_bind_real(r->s, 5, f->upper);
        pp_history_bind_real(r->s, 6, f->u);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

static pp_status put_tallies(rows *r, pp_error *error)
{
    for (size_t i = 0; i < r->k->tally_count; i++) {
        const pp_kept_tally *t = &r->k->tallies[i];
        long long name;
        PP_TRY(name_number(r->h, t->name, "count", &name, error));
        pp_history_bind_whole(r->s, 1, name);
        pp_history_bind_whole(r->s, 2, r->report);
        pp_history_bind_whole(r->s, 3, (long long)t->count);
        pp_history_bind_whole(r->s, 4, (long long)t->of);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

static pp_status put_moments(rows *r, pp_error *error)
{
    static const char *const FACES[] = {"entry", "exit"};
    for (int face = 0; face < 2; face++) {
        const pp_plate_moments *m = &r->k->face[face];
        if (!r->k->face_given[face]) continue;
        pp_history_bind_whole(r->s, 1, r->report);
        pp_history_bind_text(r->s, 2, FACES[face]);
        pp_history_bind_whole(r->s, 3, (long long)m->holes);
        const double values[] = {m->mean_dx, m->mean_dy, m->var_dx, m->var_dy, m->cov_dxdy};
        for (int i = 0; i < 5; i++) pp_history_bind_real(r->s, 4 + i, values[i]);
        pp_history_bind_whole(r->s, 9, (long long)m->diameters);
        pp_history_bind_real(r->s, 10, m->mean_diameter);
        pp_history_bind_real(r->s, 11, m->var_diameter);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

static pp_status put_terms(rows *r, pp_error *error)
{
    for (size_t i = 0; i < r->k->term_count; i++) {
        const pp_kept_term *t = &r->k->terms[i];
        long long name;
        PP_TRY(name_number(r->h, t->name, t->unit, &name, error));
        pp_history_bind_whole(r->s, 1, name);
        pp_history_bind_whole(r->s, 2, r->report);
        const double values[] = {t->value, t->standard_error, t->p_adjusted, t->worst_effect};
        for (int k = 0; k < 4; k++) pp_history_bind_real(r->s, 3 + k, values[k]);
        pp_history_bind_text(r->s, 7, t->state);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

static pp_status put_tools(rows *r, pp_error *error)
{
    for (size_t i = 0; i < r->k->tool_count; i++) {
        const pp_kept_tool *t = &r->k->tools[i];
        pp_history_bind_whole(r->s, 1, r->report);
        pp_history_bind_whole(r->s, 2, (long long)i + 1);
        pp_history_bind_text(r->s, 3, t->tool);
        pp_history_bind_whole(r->s, 4, (long long)t->first_order);
        pp_history_bind_whole(r->s, 5, (long long)t->holes);
        pp_history_bind_whole(r->s, 6, (long long)t->used_before);
        const double values[] = {t->level, t->slope, t->slope_se, t->scatter};
        for (int k = 0; k < 4; k++) pp_history_bind_real(r->s, 7 + k, values[k]);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

/* Several files of one role (the layers of a stack) get numbers. */
static pp_status put_inputs(rows *r, pp_error *error)
{
    for (size_t i = 0; i < r->k->input_count; i++) {
        const pp_kept_input *input = &r->k->inputs[i];
        pp_history_bind_whole(r->s, 1, r->report);
        pp_history_bind_text(r->s, 2, input->role);
        pp_history_bind_text(r->s, 3, input->file);
        pp_history_bind_text(r->s, 4, input->sha256);
        PP_TRY(pp_history_run(r->h, r->s, error));
    }
    return PP_OK;
}

static pp_status fill(pp_history *h, const pp_kept_report *k, long long report, pp_error *error)
{
    static const struct {
        const char *sql;
        pp_status (*put)(rows *r, pp_error *error);
    } TABLES[] = {
        {"INSERT INTO figure VALUES (?1, ?2, ?3, ?4, ?5, ?6)", put_figures},
        {"INSERT INTO tally VALUES (?1, ?2, ?3, ?4)", put_tallies},
        {"INSERT INTO moment VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)", put_moments},
        {"INSERT OR REPLACE INTO term VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)", put_terms},
        {"INSERT INTO tool_run VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)", put_tools},
        {"INSERT INTO input VALUES (?1, ?2 || coalesce((SELECT ' ' || (count(*) + 1) FROM input "
         "WHERE report = ?1 AND (role = ?2 OR role LIKE ?2 || ' %') HAVING count(*) > 0), ''), ?3, "
         "?4)",
         put_inputs}};
    for (size_t i = 0; i < sizeof TABLES / sizeof *TABLES; i++) {
        rows r = {.h = h, .k = k, .report = report};
        pp_status status = pp_history_prepare(h, TABLES[i].sql, &r.s, error);
        if (status == PP_OK) status = TABLES[i].put(&r, error);
        pp_history_end(r.s);
        PP_TRY(status);
    }
    return PP_OK;
}

pp_status pp_insert_report(pp_history *h, const pp_kept_report *k, long long plate, long long row,
                           const char *now, pp_error *error)
{
    PP_TRY(put_report(h, k, plate, row, now, error));
    if (row)
        PP_TRY(clear_rows(h, row, error));
    else
        row = pp_history_last_row(h);
    return fill(h, k, row, error);
}
