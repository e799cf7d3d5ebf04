#include "rules/counts.h"

#include <string.h>
#include <strings.h>

/* ---- dispositions ---- */

static bool has_text(const char *const *column, size_t row)
{
    return column && column[row] && *column[row];
}

static bool holds(const char *text, const char *word)
{
    size_t length = strlen(word);
    for (; *text; text++)
        if (strncasecmp(text, word, length) == 0) return true;
    return false;
}

static uint8_t what_is_said(const pp_readings *r, size_t row)
{
    uint8_t said = has_text(r->reference, row) ? PP_REFERENCED : 0;
    if (!has_text(r->disposition, row)) return said;
    const char *what = r->disposition[row];
    said |= PP_DISPOSED;
    if (holds(what, "sleeve") || holds(what, "bush")) said |= PP_SLEEVED;
    if (pp_same_word(what, strlen(what), "plugged") ||
        pp_same_word(what, strlen(what), "accepted under concession"))
        said |= PP_DECIDED;
    return said;
}

static void read_dispositions(const pp_measures *m, pp_hole_counts *c)
{
    for (size_t i = 0; i < m->readings->count; i++)
        if (m->hole_of_row[i] != PP_NONE)
            c->said[m->hole_of_row[i]] |= what_is_said(m->readings, i);
    for (size_t h = 0; h < m->nominal->count; h++) {
        bool bare = !(c->said[h] & PP_REFERENCED);
        c->plugged += m->plugged[h];
        c->plugged_bare += m->plugged[h] && bare;
        if ((c->said[h] & PP_DECIDED) && bare) c->bare[c->bare_count++] = (uint32_t)h;
    }
}

/* ---- exit readings ---- */

typedef struct around { /* a hole's neighbours read on the entry face, and of them on the exit */
    uint32_t entry, exit;
} around;

static bool is_read(const pp_measures *m, int face, size_t hole)
{
    return m->bore_of[face][hole] != PP_NONE;
}

static void look_around(const pp_measures *m, around *of)
{
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_ligament *l = &m->ligaments[i];
        if (l->face != PP_ENTRY) continue;
        of[l->a].entry++, of[l->b].entry++;
        of[l->a].exit += is_read(m, PP_EXIT, l->b);
        of[l->b].exit += is_read(m, PP_EXIT, l->a);
    }
}

/* Without ligaments (no diameters) all other holes stand for the neighbours. */
static pp_status find_missing_exits(const pp_measures *m, pp_memory *memory, pp_hole_counts *c,
                                    pp_error *error)
{
    around *of, all = {0};
    if (!m->faces[PP_EXIT]) return PP_OK;
    PP_TAKE_ZERO(of, &memory->scratch, m->nominal->count);
    look_around(m, of);
    for (size_t h = 0; h < m->nominal->count; h++) {
        if (m->nominal->kind[h] != PP_TUBE_HOLE) continue;
        all.entry += is_read(m, PP_ENTRY, h);
        all.exit += is_read(m, PP_EXIT, h);
    }
    for (size_t h = 0; h < m->nominal->count; h++) {
        if (m->nominal->kind[h] != PP_TUBE_HOLE || m->plugged[h]) continue;
        if (!is_read(m, PP_ENTRY, h) || is_read(m, PP_EXIT, h)) continue;
        const around *beside = of[h].entry ? &of[h] : &all;
        if (2 * beside->exit > beside->entry) c->no_exit[c->no_exit_count++] = (uint32_t)h;
    }
    return PP_OK;
}

pp_status pp_count_holes(const pp_judging *j, pp_hole_counts *counts, pp_error *error)
{
    const pp_measures *m = j->measures;
    pp_hole_counts c = {.superseded = m->history_count};
    PP_TAKE_ZERO(c.said, &j->memory->scratch, m->nominal->count);
    PP_TAKE(c.bare, &j->memory->scratch, m->nominal->count);
    PP_TAKE(c.no_exit, &j->memory->scratch, m->nominal->count);
    read_dispositions(m, &c);
    PP_TRY(find_missing_exits(m, j->memory, &c, error));
    *counts = c;
    return PP_OK;
}

/* ---- in words ---- */

static void add_faces(const pp_measures *m, pp_text *text)
{
    size_t entry = 0, exit = 0;
    for (size_t h = 0; h < m->nominal->count; h++) {
        if (m->nominal->kind[h] != PP_TUBE_HOLE) continue;
        entry += is_read(m, PP_ENTRY, h);
        exit += is_read(m, PP_EXIT, h);
    }
    if (m->measured == 0 && m->pairs_measured)
        pp_text_print(text, "; %zu of %zu ligaments measured directly", m->pairs_measured,
                      m->pair_count);
    else if (exit == 0)
        pp_text_add(text, ", entry face");
    else if (entry == 0)
        pp_text_add(text, ", exit face");
    else if (entry == m->measured && exit == m->measured)
        pp_text_add(text, ", both faces");
    else
        pp_text_print(text, ", %zu on the entry face, %zu on the exit face", entry, exit);
}

static void add_counts(const pp_judging *j, const pp_hole_counts *c, pp_text *text)
{
    const char *joint = "; ";
    if (c->plugged) {
        pp_text_print(text, "%s%zu plugged", joint, c->plugged);
        if (c->plugged_bare)
            pp_text_print(text, ", %zu of them without reference", c->plugged_bare);
        joint = ", ";
    }
    if (c->superseded) {
        pp_text_print(text, "%s%zu reading%s superseded", joint, c->superseded,
                      c->superseded == 1 ? "" : "s");
        joint = ", ";
    }
    if (j->measures->measured && j->measures->unmeasured_count &&
        j->job->holes.coverage == PP_EVERY_HOLE) {
        pp_text_print(text, "%s%zu not measured", joint, j->measures->unmeasured_count);
        joint = ", ";
    }
    if (c->no_exit_count)
        pp_text_print(text, "%s%zu without exit reading", joint, c->no_exit_count);
}

/* "985 of 1285 holes, entry face" */
static void add_holes(const pp_judging *j, const pp_hole_counts *c, pp_text *text)
{
    const pp_measures *m = j->measures;
    size_t checks = j->files->ligament_count ? 0 : j->files->check_count;
    if (m->tube_count == 0 && m->nominal->count > 0) {
        size_t others = m->nominal->count;
        pp_text_print(text, "%zu of %zu holes of kind other", others - m->others_unmeasured_count,
                      others);
        return;
    }
    if (m->measured == 0 && checks) {
        pp_text_print(text, "%zu attribute check%s; no hole was measured", checks,
                      checks == 1 ? "" : "s");
        return;
    }
    pp_text_print(text, "%zu of %zu holes", m->measured, m->tube_count);
    add_faces(m, text);
    if (c) add_counts(j, c, text);
}

/* Rows that were left out stand beside the verdict: a plate may conform without them only. */
static void add_survey(const pp_judging *j, pp_text *text)
{
    enum { EXCLUDED_SHOWN = 60 };
    const char *excluded = j->job->survey.exclude;
    pp_text_print(text, "%s%zu survey points", text->length ? "; " : "", j->flatness->points);
    if (!excluded) return;
    if (strlen(excluded) <= EXCLUDED_SHOWN)
        pp_text_print(text, ", without rows %s, excluded by the job", excluded);
    else
        pp_text_add(text, ", without the rows that the job excludes");
}

pp_status pp_write_basis(pp_judging *j, const pp_hole_counts *counts, pp_error *error)
{
    pp_text text = {0};
    if (j->measures) add_holes(j, counts, &text);
    if (j->flatness) add_survey(j, &text);
    const char *kept =
        text.failed ? NULL
                    : pp_arena_text(&j->memory->keep, text.length ? text.data : "", text.length);
    pp_text_free(&text);
    if (!kept) return pp_fail_memory(error);
    j->out->basis = kept;
    return PP_OK;
}
