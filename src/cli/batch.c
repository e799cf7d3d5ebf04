#include "cli/batch.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_ROOM = 4096 };

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* length of the name without its extension: what a report folder is called after */
static size_t stem(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot && dot != name ? (size_t)(dot - name) : strlen(name);
}

static bool same_report(const char *a, const char *b, bool one_parent)
{
    if (one_parent) a = base_name(a), b = base_name(b);
    size_t length = (size_t)(base_name(a) - a) + stem(base_name(a));
    return length == (size_t)(base_name(b) - b) + stem(base_name(b)) && strncmp(a, b, length) == 0;
}

pp_status pp_batch_begin(pp_batch *batch, char *const *jobs, int count, const char *parent,
                         pp_error *error)
{
    for (int i = 0; i < count; i++)
        for (int k = i + 1; k < count; k++)
            if (same_report(jobs[i], jobs[k], parent != NULL))
                return pp_fail(error, PP_EINPUT,
                               "%s and %s would write the same report folder; rename one of them%s",
                               jobs[i], jobs[k], parent ? ", or leave -o out" : "");
    if (parent && mkdir(parent, 0777) != 0 && errno != EEXIST)
        return pp_fail_at(error, PP_EIO, parent, 0, 0, "could not make the folder: %s",
                          strerror(errno));
    pp_text_add(&batch->table,
                "job,verdict,exit_status,holes,measured,flatness_mm,largest_position_mm,"
                "smallest_diameter_mm,largest_diameter_mm,smallest_ligament_mm,needs_holddown,sags,"
                "report\n");
    return batch->table.failed ? pp_fail_memory(error) : PP_OK;
}

/* Quoted; a name that a spreadsheet would take for a formula gets an apostrophe. */
static void add_quoted(pp_text *table, const char *text)
{
    pp_text_add(table, "\"");
    if (strchr("=+-@\t\r", text[0]) && text[0]) pp_text_add(table, "'");
    for (const char *c = text; *c; c++) {
        if (*c == '"') pp_text_add(table, "\"");
        pp_text_add_bytes(table, c, 1);
    }
    pp_text_add(table, "\"");
}

static void add_real(pp_text *table, bool known, double value)
{
    pp_text_add(table, ",");
    if (known && pp_given(value)) pp_text_add_number(table, value);
}

pp_status pp_batch_add(pp_batch *batch, const pp_results *r, const char *folder, pp_error *error)
{
    pp_text *t = &batch->table;
    const pp_judgement *j = r->judgement;
    bool fails = j->verdict == PP_DOES_NOT_CONFORM || j->verdict == PP_NOT_PROVEN;
    bool holes = r->measures != NULL;
    add_quoted(t, r->job->path);
    pp_text_print(t, ",%s,%d,", pp_verdict_words(j->verdict), fails ? 1 : 0);
    if (holes) pp_text_print(t, "%zu", r->measures->tube_count);
    pp_text_add(t, ",");
    if (holes) pp_text_print(t, "%zu", r->measures->measured);
    add_real(t, r->flatness != NULL, r->flatness ? r->flatness->minimum_zone.flatness : 0);
    add_real(t, holes, j->position_fold.largest);
    add_real(t, holes, j->diameter_fold.smallest);
    add_real(t, holes, j->diameter_fold.largest);
    add_real(t, holes, j->ligament_fold.smallest);
    if (r->holddown)
        pp_text_print(t, ",%zu,%zu,", r->holddown_judgement->counts.needs_holddown,
                      r->holddown_judgement->counts.sags);
    else
        pp_text_add(t, ",,,");
    add_quoted(t, folder);
    pp_text_add(t, "\n");
    return t->failed ? pp_fail_memory(error) : PP_OK;
}

void pp_batch_add_failed(pp_batch *batch, const char *job, int status)
{
    add_quoted(&batch->table, job);
    pp_text_print(&batch->table, ",,%d,,,,,,,,,,\n", status);
}

pp_status pp_batch_write(const pp_batch *batch, const char *parent, pp_error *error)
{
    char path[PATH_ROOM], draft[PATH_ROOM + 16];
    if (batch->table.failed) return pp_fail_memory(error);
    int length = snprintf(path, sizeof path, "%s/summary.csv", parent);
    if (length < 0 || length > PATH_ROOM - 16)
        return pp_fail_at(error, PP_EIO, parent, 0, 0, "the path is too long; use a shorter one");
    snprintf(draft, sizeof draft, "%s.%ld", path, (long)getpid());
    FILE *file = fopen(draft, "wb");
    bool written =
        file && fwrite(batch->table.data, 1, batch->table.length, file) == batch->table.length;
    if (file && fclose(file) != 0) written = false;
    if (!written || rename(draft, path) != 0) {
        int why = errno;
        unlink(draft);
        return pp_fail_at(error, PP_EIO, path, 0, 0, "could not write the summary: %s",
                          strerror(why));
    }
    return PP_OK;
}

void pp_batch_free(pp_batch *batch) { pp_text_free(&batch->table); }
