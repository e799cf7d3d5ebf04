/* plateproof correct: the next plate's hole list, corrected for what the machine repeats. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "answer/paths.h"
#include "base/number.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "correction/correction.h"
#include "history/select.h"
#include "holes/pitch.h"
#include "report/correction/correction_report.h"
#include "report/folder/folder.h"
#include "rules/limits.h"

static const pp_command_help help = {
    "plateproof correct JOB|NOMINAL.csv --from FOLDER ...",
    "Learns from measured plates of one machine what it repeats, and writes the next plate's hole\n"
    "list with that taken out in advance, with a promise what comes of it. Where that is not\n"
    "earned nothing is corrected. JOB is the next plate's job file (nominal list, position limit,\n"
    "machine), or its nominal list alone.\n"
    "corrected.csv, correction.json and correction.html go to JOBNAME-correction beside it, or to\n"
    "-o DIR. The list is for the machine: name it as [holes] commanded when the plate is "
    "inspected.\n"
    "What is not given here is taken from the job's section [correct].\n\n"
    "Own options:\n"
    "      --from FOLDER        the report of a plate; once for each plate\n"
    "      --history FILE       the plates of the machine since its last event, of this history\n"
    "      --machine NAME       of the history; else the job's [machine] name\n"
    "      --last N             the most recent N plates of the history; 8\n"
    "      --limit LENGTH       diametral position limit, mm; else the job's\n"
    "      --use WHAT           field (default), or terms: no smooth field\n"
    "      --machine-sets LIST  set at the machine, not in the list: scale, squareness\n"
    "      --cap LENGTH         largest shift, mm; else half of the position limit\n"
    "      --step LENGTH        shifts are rounded to it, mm; 0.001\n\n"
    "Example:\n"
    "  plateproof correct next.ini --history shop.history -o next-correction\n"
    "\nExit status: 0 corrected; 1 nothing is corrected; 2 the command line or the data are wrong; "
    "3\n"
    "a file could not be read or written.\n",
    .output = "DIR",
    .json = true,
    .json_beside = true,
    .repeated = "from",
};

typedef struct correct_run {
    const pp_common_options *common;
    const char *path, *history, *machine, *last, *limit, *use, *machine_sets, *cap, *step;
    const char *from[PP_REPEATS_MAX];
    pp_correct_options options;
    double last_plates;
    pp_memory memory;
    pp_error error;
    pp_job job;
    pp_nominal next;
    pp_correction correction;
    pp_text csv, json, html, words;
} correct_run;

/* ---- the command line ---- */

static bool read_length(const char *option, const char *text, bool zero, double *value)
{
    if (!text) return true;
    bool good =
        pp_number_read(text, strlen(text), '.', value) && (*value > 0 || (zero && *value == 0));
    if (!good)
        pp_say(stderr, "plateproof: --%s %s is no number above zero; write it in mm\n", option,
               text);
    return good;
}

/* A name of what a machine can be set by; false: none. */
static bool add_set(correct_run *r, const char *name, size_t length)
{
    if (length == 5 && strncmp(name, "scale", 5) == 0)
        r->options.machine_sets |= 1u << PP_STATIC_SCALE | 1u << PP_STATIC_SCALE_XY;
    else if (length == 10 && strncmp(name, "squareness", 10) == 0)
        r->options.machine_sets |= 1u << PP_STATIC_SQUARENESS;
    else
        return false;
    return true;
}

static bool read_sets(correct_run *r)
{
    for (const char *at = r->machine_sets; at && *at;) {
        at += strspn(at, " ,");
        size_t length = strcspn(at, " ,");
        if (length && !add_set(r, at, length)) {
            pp_say(
                stderr,
                "plateproof: --machine-sets %s: a machine is set by scale, squareness, or both\n",
                r->machine_sets);
            return false;
        }
        at += length;
    }
    return true;
}

static bool read_options(correct_run *r)
{
    r->options = (pp_correct_options){.limit = NAN,
                                      .cap = NAN,
                                      .step = NAN,
                                      .hole_diameter = NAN,
                                      .ligament_minimum = NAN,
                                      .threads = r->common->threads};
    r->last_plates = NAN;
    if (!read_length("limit", r->limit, false, &r->options.limit) ||
        !read_length("cap", r->cap, false, &r->options.cap) ||
        !read_length("step", r->step, true, &r->options.step) ||
        !read_length("last", r->last, false, &r->last_plates) || !read_sets(r))
        return false;
    if (r->use && strcmp(r->use, "field") != 0 && strcmp(r->use, "terms") != 0) {
        pp_say(stderr, "plateproof: --use %s is not known; write field or terms\n", r->use);
        return false;
    }
    if (r->from[0] && r->history) {
        pp_say(stderr, "plateproof: give the measured plates once: --from FOLDER for each, or "
                       "--history FILE\n");
        return false;
    }
    return true;
}

/* ---- the job's own section ---- */

static pp_status fail_key(correct_run *r, const char *key, const char *what)
{
    return pp_fail_at(&r->error, PP_EINPUT, r->path, pp_job_key_line(&r->job, "correct", key), 0,
                      "%s", what);
}

/* Folders of the job's `from`, as seen from the job file. */
static pp_status take_folders(correct_run *r)
{
    const pp_word_list *from = &r->job.correct.from;
    const char *slash = strrchr(r->path, '/');
    if (from->count >= PP_REPEATS_MAX)
        return fail_key(r, "from", "names more folders than can be learned from");
    for (size_t i = 0; i < from->count; i++) {
        bool own = slash && from->words[i][0] != '/';
        r->from[i] = pp_text_kept(&r->memory.keep, "%.*s%s", own ? (int)(slash - r->path) + 1 : 0,
                                  r->path, from->words[i]);
        if (!r->from[i]) return pp_fail_memory(&r->error);
    }
    return PP_OK;
}

static void take(double *value, double of_job)
{
    if (isnan(*value)) *value = of_job;
}

/* What the command line leaves open is as the job has it. */
static pp_status take_job(correct_run *r)
{
    const pp_job *job = &r->job;
    pp_correct_options *o = &r->options;
    take(&o->limit, job->holes.position_limit);
    take(&o->cap, job->correct.cap);
    take(&o->step, job->correct.step);
    take(&r->last_plates, job->correct.last);
    o->use_field = r->use ? strcmp(r->use, "field") == 0 : job->correct.use == PP_USE_FIELD;
    for (size_t i = 0; !r->machine_sets && i < job->correct.machine_sets.count; i++) {
        const char *name = job->correct.machine_sets.words[i];
        if (!add_set(r, name, strlen(name)))
            return fail_key(r, "machine_sets",
                            "a machine is set by scale, squareness, or both; write one of them");
    }
    if (r->from[0] || r->history) return PP_OK;
    if (job->correct.from.count && job->correct.history.path)
        return fail_key(r, "history",
                        "stands beside from; give the measured plates by one of them");
    PP_TRY(take_folders(r));
    r->history = job->correct.history.path;
    if (r->from[0] || r->history) return PP_OK;
    return pp_fail_at(&r->error, PP_ENOTHING, r->path, 0, 0,
                      "says nothing of measured plates to learn from; give --from FOLDER for each, "
                      "--history FILE, or the same in [correct]");
}

/* ---- what it works on ---- */

/* The smallest ligament allowed, where the job says enough to know it. */
static pp_status take_limits(correct_run *r)
{
    double pitch;
    pp_limits limits;
    pp_error none;
    PP_TRY(pp_pitch_find(r->job.holes.pitch, &r->next, r->common->threads, &r->memory, &pitch,
                         &r->error));
    pp_status status = pp_limits_resolve_unjudged(&r->job, pitch, &r->memory, &limits, &none);
    if (status == PP_ENOMEM) return pp_fail_memory(&r->error);
    if (status != PP_OK) return PP_OK;
    r->options.hole_diameter = limits.hole_nominal.value;
    r->options.ligament_minimum = limits.ligament_minimum.value;
    return PP_OK;
}

static pp_status read_next(correct_run *r)
{
    const char *dot = strrchr(r->path, '.');
    if (dot && strcmp(dot, ".csv") == 0) {
        PP_TRY(pp_job_blank(&r->memory, &r->job, &r->error));
        r->job.path = r->path;
        r->job.holes.nominal = (pp_job_file){.path = r->path, .written = r->path};
        char *name = pp_text_kept(&r->memory.keep, "%.*s", (int)(dot - r->path), r->path);
        if (!name) return pp_fail_memory(&r->error);
        r->job.name = pp_path_file_name(name);
    } else {
        PP_TRY(pp_job_read(r->path, &r->memory, &r->job, &r->error));
    }
    if (!r->job.holes.nominal.path)
        return pp_fail_at(&r->error, PP_EINPUT, r->path, 0, 0,
                          "names no nominal hole list; give [holes] nominal");
    PP_TRY(take_job(r));
    PP_TRY(pp_nominal_read(&r->job, r->common->threads, &r->memory, &r->next, &r->error));
    return take_limits(r);
}

/* Folders of the machine's latest plates since its last event. */
static pp_status find_folders(correct_run *r, pp_history *history)
{
    pp_selection selection = {0};
    pp_history_rows rows;
    const char *machine = r->machine ? r->machine : r->job.machine.name;
    PP_TRY(pp_history_open(r->history, PP_HISTORY_READ, history, &r->error));
    if (machine) selection.conditions[selection.count++] = (pp_condition){PP_BY_MACHINE, machine};
    PP_TRY(pp_history_select(history, &selection, PP_WANT_MOMENTS, PP_ROWS_WHOLE, NULL,
                             &r->memory.keep, &rows, &r->error));
    pp_history_rows_since(&rows);
    if (rows.count == 0)
        return pp_fail_at(&r->error, PP_ENOTHING, r->history, 0, 0,
                          "has no plate of this machine with holes since its last event");
    size_t most = r->last_plates < PP_CORRECTION_PLATES_MAX ? (size_t)r->last_plates
                                                            : PP_CORRECTION_PLATES_MAX;
    size_t first = rows.count > most ? rows.count - most : 0;
    for (size_t i = first; i < rows.count; i++) r->from[i - first] = rows.rows[i].folder;
    return PP_OK;
}

static pp_status correct(correct_run *r)
{
    pp_drilled_plate *plates;
    size_t count = 0;
    PP_TRY(read_next(r));
    if (r->history) {
        pp_history history = {0};
        pp_status found = find_folders(r, &history);
        pp_history_close(&history);
        PP_TRY(found);
    }
    while (r->from[count]) count++;
    plates = pp_arena_take(&r->memory.keep, count, sizeof *plates);
    if (!plates) return pp_fail_memory(&r->error);
    for (size_t i = 0; i < count; i++)
        PP_TRY(pp_drilled_plate_read(r->from[i], r->options.limit, r->common->threads, &r->memory,
                                     &plates[i], &r->error));
    PP_TRY(pp_correct(&r->next, plates, count, &r->options, &r->memory, &r->correction, &r->error));
    const char *own = r->job.machine.name;
    if (own && strcmp(own, r->correction.machine) != 0)
        return pp_fail_at(&r->error, PP_EINPUT, r->path, 0, 0,
                          "is for the machine '%.100s', the plates were drilled by '%.100s'; a "
                          "correction is of one machine",
                          own, r->correction.machine);
    return PP_OK;
}

/* ---- what it writes ---- */

static pp_status write_files(correct_run *r, const char *target, pp_folder *folder)
{
    PP_TRY(pp_folder_open(folder, target, false, &r->memory.keep, &r->error));
    PP_TRY(pp_folder_add(folder, "corrected.csv", r->csv.data, r->csv.length, &r->error));
    PP_TRY(pp_folder_add(folder, "correction.json", r->json.data, r->json.length, &r->error));
    PP_TRY(pp_folder_add(folder, "correction.html", r->html.data, r->html.length, &r->error));
    return pp_folder_commit(folder, &r->error);
}

/* The list goes out only with a decision for it; --json alone writes no files. */
static pp_status write_out(correct_run *r)
{
    const char *target = r->common->output;
    PP_TRY(pp_correction_json(&r->correction, &r->options, &r->json, &r->error));
    PP_TRY(pp_correction_words(&r->correction, &r->options, &r->words, &r->error));
    if (!r->correction.correct || (r->common->json && !target)) return PP_OK;
    PP_TRY(pp_correction_csv(&r->correction, &r->csv, &r->error));
    PP_TRY(pp_correction_page(&r->correction, &r->options, &r->html, &r->error));
    if (!target) {
        const char *slash = strrchr(r->path, '/');
        int length = slash ? (int)(slash - r->path) + 1 : 0;
        target = pp_text_kept(&r->memory.keep, "%.*s%s-correction", length, r->path, r->job.name);
        if (!target) return pp_fail_memory(&r->error);
    }
    pp_folder folder = {0};
    pp_status status = write_files(r, target, &folder);
    if (status != PP_OK)
        pp_folder_abandon(&folder);
    else
        pp_text_print(&r->words,
                      "Written to %s; name it as [holes] commanded when the plate is "
                      "inspected\n",
                      target);
    return status;
}

static int run(correct_run *r)
{
    pp_status done = correct(r);
    if (done == PP_OK) done = write_out(r);
    if (done != PP_OK) return pp_exit_error(&r->error);
    const pp_text *text = r->common->json ? &r->json : &r->words;
    int status = r->common->json || !r->common->quiet ? pp_write_out(text->data, text->length) : 0;
    return status ? status : r->correction.correct ? PP_EXIT_CONFORMS : PP_EXIT_FAILS;
}

int pp_cmd_correct(int argc, char **argv)
{
    static const correct_run nothing;
    correct_run r = nothing;
    const pp_own_option own[] = {{"from", true, &r.from[0]},
                                 {"history", true, &r.history},
                                 {"machine", true, &r.machine},
                                 {"last", true, &r.last},
                                 {"limit", true, &r.limit},
                                 {"use", true, &r.use},
                                 {"machine-sets", true, &r.machine_sets},
                                 {"cap", true, &r.cap},
                                 {"step", true, &r.step},
                                 {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &help, &line, &status) || line.done) return status;
    r.common = &line.common, r.path = line.words[0];
    if (!read_options(&r)) return PP_EXIT_USAGE;
    status = run(&r);
    pp_text_free(&r.csv);
    pp_text_free(&r.json);
    pp_text_free(&r.html);
    pp_text_free(&r.words);
    pp_memory_free(&r.memory);
    return status;
}
