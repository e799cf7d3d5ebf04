#include "history/add.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "history/insert.h"

typedef struct known { /* the report of the same plate, stage and number that is there */
    long long report;
    const char *results_sha256, *inputs_sha256, *added_utc;
} known;

typedef struct adding {
    pp_history *h;
    const pp_kept_report *k;
    const char *now;
    pp_arena *scratch;
} adding;

/* *there: some report has this hash. */
static pp_status find_hash(const adding *a, bool *there, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_status status =
        pp_history_prepare(a->h, "SELECT 1 FROM report WHERE results_sha256 = ?1", &s, error);
    if (status == PP_OK) {
        pp_history_bind_text(s, 1, a->k->results_sha256);
        status = pp_history_step(a->h, s, there, error);
    }
    pp_history_end(s);
    return status;
}

static pp_status find_known(const adding *a, long long plate, bool *there, known *k,
                            pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool failed = false;
    pp_status status = pp_history_prepare(
        a->h,
        "SELECT report, results_sha256, inputs_sha256, added_utc FROM report WHERE plate = ?1 AND "
        "stage = ?2 AND report_number = ?3",
        &s, error);
    if (status == PP_OK) {
        pp_history_bind_whole(s, 1, plate);
        pp_history_bind_text(s, 2, a->k->stage);
        pp_history_bind_text(s, 3, a->k->report_number);
        status = pp_history_step(a->h, s, there, error);
    }
    if (status == PP_OK && *there)
        *k = (known){.report = pp_history_whole(s, 0),
                     .results_sha256 = pp_history_text(s, 1, a->scratch, &failed),
                     .inputs_sha256 = pp_history_text(s, 2, a->scratch, &failed),
                     .added_utc = pp_history_text(s, 3, a->scratch, &failed)};
    pp_history_end(s);
    return failed ? pp_fail_memory(error) : status;
}

/* The figures as they were, as JSON: {"name": value, ...}. Names need no escapes. */
static pp_status old_figures(const adding *a, long long report, pp_text *text, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool row = false;
    pp_status status = pp_history_prepare(
        a->h,
        "SELECT n.text, f.value FROM figure f JOIN name n USING (name) WHERE f.report = ?1 "
        "ORDER BY n.text",
        &s, error);
    if (status == PP_OK) pp_history_bind_whole(s, 1, report);
    pp_text_add(text, "{");
    while (status == PP_OK && (status = pp_history_step(a->h, s, &row, error)) == PP_OK && row) {
        bool failed = false;
        const char *name = pp_history_text(s, 0, a->scratch, &failed);
        if (failed) status = pp_fail_memory(error);
        if (text->length > 1) pp_text_add(text, ", ");
        pp_text_print(text, "\"%s\": ", name ? name : "");
        pp_text_add_number(text, pp_history_real(s, 1));
    }
    pp_text_add(text, "}");
    pp_history_end(s);
    if (status == PP_OK && text->failed) return pp_fail_memory(error);
    return status;
}

static pp_status remember(const adding *a, long long report, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_text figures = {0};
    pp_status status = old_figures(a, report, &figures, error);
    if (status == PP_OK)
        status = pp_history_prepare(a->h,
                                    "INSERT INTO replaced SELECT report, results_sha256, revision, "
                                    "verdict, ?2, ?3 FROM report WHERE report = ?1",
                                    &s, error);
    if (status == PP_OK) {
        pp_history_bind_whole(s, 1, report);
        pp_history_bind_text(s, 2, figures.data);
        pp_history_bind_text(s, 3, a->now);
        status = pp_history_run(a->h, s, error);
    }
    pp_history_end(s);
    pp_text_free(&figures);
    return status;
}

static void say_refusal(const adding *a, const known *old, char text[PP_ADDED_TEXT_MAX])
{
    bool same = strcmp(old->inputs_sha256, a->k->inputs_sha256) == 0;
    snprintf(text, PP_ADDED_TEXT_MAX,
             "another report of this plate, stage and number was added on %.10s (sha256 %s; this "
             "one %s): %s; give it a report_number of its own, or take it with --replace, which "
             "keeps the old one's figures",
             old->added_utc, old->results_sha256, a->k->results_sha256,
             same ? "the measurement is the same, its judging differs" : "the measurement differs");
}

/* ---- the same readings under another plate's name ---- */

/* Variances of many holes' errors agree so far only if the errors are the same ones. */
static const double ALIKE = 1e-9;
enum { HOLES_MIN = 8 };

typedef struct copy {
    long long report, plate;
    const char *plate_id, *serial, *added_utc;
} copy;

static pp_status find_copy_of_face(const adding *a, long long plate, const char *face,
                                   const pp_plate_moments *m, bool *there, copy *c, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool failed = false;
    pp_status status = pp_history_prepare(
        a->h,
        "SELECT r.report, r.plate, p.plate_id, p.serial, r.added_utc FROM moment m JOIN report r "
        "USING (report) JOIN plate p USING (plate) WHERE m.holes = ?1 AND m.face = ?2 AND r.plate "
        "<> ?3 AND abs(m.var_dx - ?4) <= ?7 * ?4 AND abs(m.var_dy - ?5) <= ?7 * ?5 AND "
        "abs(m.cov_dxdy - ?6) <= ?7 * ?8 AND coalesce(abs(m.mean_diameter - ?9) <= ?7 * ?9, 1) "
        "ORDER BY r.report LIMIT 1",
        &s, error);
    if (status == PP_OK) {
        const double values[] = {
            m->var_dx,       m->var_dy, m->cov_dxdy, ALIKE, sqrt(m->var_dx * m->var_dy),
            m->mean_diameter};
        pp_history_bind_whole(s, 1, (long long)m->holes);
        pp_history_bind_text(s, 2, face);
        pp_history_bind_whole(s, 3, plate);
        for (int i = 0; i < 6; i++) pp_history_bind_real(s, 4 + i, values[i]);
        status = pp_history_step(a->h, s, there, error);
    }
    if (status == PP_OK && *there)
        *c = (copy){.report = pp_history_whole(s, 0),
                    .plate = pp_history_whole(s, 1),
                    .plate_id = pp_history_text(s, 2, a->scratch, &failed),
                    .serial = pp_history_text(s, 3, a->scratch, &failed),
                    .added_utc = pp_history_text(s, 4, a->scratch, &failed)};
    pp_history_end(s);
    return failed ? pp_fail_memory(error) : status;
}

/* *there: another plate's report, *c, has these errors, hole by hole. */
static pp_status find_copy(const adding *a, long long plate, bool *there, copy *c, pp_error *error)
{
    static const char *const FACES[] = {"entry", "exit"};
    *there = false;
    for (int face = 0; face < 2 && !*there; face++) {
        const pp_plate_moments *m = &a->k->face[face];
        bool scattered = m->var_dx > 0 && m->var_dy > 0; /* else: readings made up as exact */
        if (!a->k->face_given[face] || m->holes < HOLES_MIN || !scattered) continue;
        PP_TRY(find_copy_of_face(a, plate, FACES[face], m, there, c, error));
    }
    return PP_OK;
}

static void say_copy(const copy *c, bool moved, char text[PP_ADDED_TEXT_MAX])
{
    const char *remedy =
        moved
            ? "a report of this plate is there, too: give this one the readings of its own plate"
            : "two plates never have the same errors, so give this report the readings of its own "
              "plate, or, if the other name was wrong, take this one in its place with --replace";
    snprintf(text, PP_ADDED_TEXT_MAX,
             "has the readings, hole by hole, of plate '%.100s' (serial '%.100s'), added on %.10s: "
             "%s",
             c->plate_id, c->serial, c->added_utc, remedy);
}

/* A plate whose only report moved to another name. */
static pp_status forget_empty_plate(const adding *a, long long plate, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_status status = pp_history_prepare(
        a->h,
        "DELETE FROM plate WHERE plate = ?1 AND NOT EXISTS (SELECT 1 FROM report WHERE plate = ?1)",
        &s, error);
    if (status == PP_OK) {
        pp_history_bind_whole(s, 1, plate);
        status = pp_history_run(a->h, s, error);
    }
    pp_history_end(s);
    return status;
}

static pp_status add(const adding *a, bool replace, pp_added *fate, char *text, pp_error *error)
{
    bool there, copied;
    long long plate;
    known old;
    copy other;
    PP_TRY(find_hash(a, &there, error));
    *fate = PP_ADDED_ALREADY_THERE;
    if (there) return PP_OK;
    PP_TRY(pp_insert_plate(a->h, a->k, &plate, error));
    PP_TRY(find_known(a, plate, &there, &old, error));
    if (there && !replace) {
        *fate = PP_ADDED_REFUSED;
        say_refusal(a, &old, text);
        return PP_OK;
    }
    PP_TRY(find_copy(a, plate, &copied, &other, error));
    if (copied && (there || !replace)) {
        *fate = PP_ADDED_REFUSED;
        say_copy(&other, there, text);
        return PP_OK;
    }
    long long row = there ? old.report : copied ? other.report : 0;
    if (row) PP_TRY(remember(a, row, error));
    *fate = row ? PP_ADDED_REPLACED : PP_ADDED_NEW;
    PP_TRY(pp_insert_report(a->h, a->k, plate, row, a->now, error));
    return copied ? forget_empty_plate(a, other.plate, error) : PP_OK;
}

pp_status pp_history_add(pp_history *h, const pp_kept_report *report, bool replace, const char *now,
                         pp_memory *memory, pp_added *fate, char text[PP_ADDED_TEXT_MAX],
                         pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    adding a = {.h = h, .k = report, .now = now, .scratch = &memory->scratch};
    text[0] = '\0';
    PP_TRY(pp_history_begin(h, error));
    pp_status status = add(&a, replace, fate, text, error);
    if (status == PP_OK && (*fate == PP_ADDED_NEW || *fate == PP_ADDED_REPLACED))
        status = pp_history_commit(h, error);
    else if (status == PP_OK)
        pp_history_roll_back(h);
    if (status != PP_OK) pp_history_roll_back(h);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

/* ---- events ---- */

/* *machine: its number, 0 for all. */
static pp_status find_machine(pp_history *h, const char *name, long long *machine, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    bool there = false;
    pp_status status =
        pp_history_prepare(h, "SELECT machine FROM machine WHERE name = ?1", &s, error);
    if (status == PP_OK) {
        pp_history_bind_text(s, 1, name);
        status = pp_history_step(h, s, &there, error);
    }
    if (there) *machine = pp_history_whole(s, 0);
    pp_history_end(s);
    if (status != PP_OK || there) return status;
    return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                      "knows no machine '%.100s'; 'plateproof history list' names them", name);
}

static pp_status insert_event(pp_history *h, const char *text, long long machine, const char *date,
                              const char *now, pp_error *error)
{
    struct sqlite3_stmt *s = NULL;
    pp_status status = pp_history_prepare(
        h, "INSERT INTO event (machine, date, text, added_utc) VALUES (?1, ?2, ?3, ?4)", &s, error);
    if (status == PP_OK) {
        if (machine) pp_history_bind_whole(s, 1, machine);
        pp_history_bind_text(s, 2, date);
        pp_history_bind_text(s, 3, text);
        pp_history_bind_text(s, 4, now);
        status = pp_history_run(h, s, error);
    }
    pp_history_end(s);
    return status;
}

pp_status pp_history_note(pp_history *h, const char *text, const char *machine, const char *date,
                          const char *now, pp_error *error)
{
    long long number = 0;
    if (!text[0]) return pp_fail(error, PP_EINPUT, "the note is empty; write what changed");
    if (!date || !pp_is_iso_date(date))
        return pp_fail(error, PP_EINPUT, "a note needs --date YYYY-MM-DD: when it changed");
    PP_TRY(pp_history_begin(h, error));
    pp_status status = machine ? find_machine(h, machine, &number, error) : PP_OK;
    if (status == PP_OK) status = insert_event(h, text, number, date, now, error);
    if (status == PP_OK) return pp_history_commit(h, error);
    pp_history_roll_back(h);
    return status;
}
