/* inspect, flatness, holddown, holes: run the stages and write the report. */
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/progress.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "cli/batch.h"
#include "cli/say.h"
#include "cli/session.h"
#include "cli/side_by_side.h"
#include "report/folder/folder.h"
#include "report/folder/write.h"
#include "report/json/json.h"
#include "report/terminal/terminal.h"
#include "run/run.h"

typedef struct branch {
    const char *name;
    pp_scope scope;
    int most; /* job files it takes; -1: any number */
    pp_command_help help;
} branch;

#define JOB_HELP                                                                                   \
    "The job file is INI text; 'plateproof new JOB.ini' writes a commented one.\n"                 \
    "The report goes to JOBNAME-report beside the job file, or to -o DIR.\n"

#define OWN_HELP                                                                                   \
    "Own options:\n"                                                                               \
    "      --xlsx         also write a spreadsheet, results.xlsx\n"                                \
    "      --qif-gz       results.qif.gz with every hole, however many, instead of results.qif\n"  \
    "      --pack         keep the job and its data in the folder, to be recomputed anywhere\n"    \
    "      --replace-signed  replace the report there although it is signed\n"                     \
    "      --paper SIZE   of the certificate: A4 (the default) or Letter\n"                        \
    "      --debug-checks  say on standard error how well a stack's layers are in balance\n"       \
    "      --progress-fd N  a JSON line for each step of the run to the open file N\n\n"

#define STATUS_HELP                                                                                \
    "\nExit status: 0 everything judged conforms; 1 something does not conform or is not\n"        \
    "proven; 2 the command line, the job file or the data are wrong; 3 a file could not\n"         \
    "be read or written.\n"

static const branch branches[] = {
    {"inspect",
     PP_SCOPE_ALL,
     -1,
     {"plateproof inspect JOB...",
      "Do everything the job file has data for: flatness, hold-down, holes and ligaments.\n"
      "Write the report folder and print a summary.\n\n" JOB_HELP
      "With several jobs: one line each, and with -o DIR the reports and a combined\n"
      "summary.csv in DIR.\n\n" OWN_HELP "Example:\n"
      "  plateproof inspect data/demo/plate.ini -o /srv/reports/plate\n" STATUS_HELP,
      .output = "DIR", .json = true}},
    {"flatness",
     PP_SCOPE_FLATNESS,
     1,
     {"plateproof flatness JOB",
      "Only the surface survey: reference planes, flatness, straightedge, out-of-flat "
      "areas.\n\n" JOB_HELP "\n" OWN_HELP
      "Example:\n  plateproof flatness plate.ini --json\n" STATUS_HELP,
      .output = "DIR", .json = true}},
    {"holddown",
     PP_SCOPE_HOLDDOWN,
     1,
     {"plateproof holddown JOB",
      "Only the hold-down study of the survey: under which holes the pressure foot closes the\n"
      "gap, with what force, and where more hold-down or a shim is needed. A plan, not an\n"
      "acceptance. A clamped plate stores energy: read the cautions in the report.\n\n" JOB_HELP
      "\n" OWN_HELP "Example:\n  plateproof holddown baffle.ini\n"
      "\nExit status: 0 ready to drill; 1 not ready to drill; 2 wrong input or\n"
      "nothing to compute; 3 a file could not be read or written.\n",
      .output = "DIR", .json = true}},
    {"holes",
     PP_SCOPE_HOLES,
     1,
     {"plateproof holes JOB",
      "Only the hole and ligament acceptance.\n\n" JOB_HELP "\n" OWN_HELP
      "Example:\n  plateproof holes plate.ini -o plate-holes\n" STATUS_HELP,
      .output = "DIR", .json = true}},
    {"stack",
     PP_SCOPE_STACK,
     1,
     {"plateproof stack JOB",
      "A stack of plates that are drilled together: which gaps between them the foot leaves\n"
      "open, what force closes them, and which order, face and turn of the layers would do\n"
      "better ([stack], [layer NAME]). Once drilled, with the holes of some layers measured:\n"
      "what those say of the layers between. A plan, not an acceptance, until then.\n\n" JOB_HELP
      "\n" OWN_HELP "Example:\n  plateproof stack baffles.ini\n"
      "\nExit status: 0 every gap closes under the foot, and measured layers conform; 1 some gap\n"
      "stays open or a layer is not proven to conform; 2 wrong input or nothing to compute; 3 a\n"
      "file could not be read or written.\n",
      .output = "DIR", .json = true}},
    {"roughing",
     PP_SCOPE_ROUGHING,
     1,
     {"plateproof roughing JOB",
      "Is the roughing pass enough, or must every hole be finished? From some holes measured\n"
      "after it, drawn at random ([roughing] measured; 'plateproof sample' draws): the\n"
      "probability that the whole plate conforms, how many holes to expect undersize, and the\n"
      "time that leaving out the second pass saves.\n\n" JOB_HELP "\n" OWN_HELP
      "Example:\n  plateproof roughing baffle.ini\n"
      "\nExit status: 0 the roughing pass is enough; 1 it is not, or it is not proven; 2 wrong\n"
      "input or nothing to compute; 3 a file could not be read or written.\n",
      .output = "DIR", .json = true}},
};

static const branch *find_branch(const char *name)
{
    for (size_t i = 0; i < sizeof branches / sizeof *branches; i++)
        if (strcmp(branches[i].name, name) == 0) return &branches[i];
    return &branches[0];
}

/* ---- one job ---- */

typedef struct setting {
    const branch *branch;
    const pp_common_options *common;
    const char *folder; /* NULL: beside the job file */
    pp_batch *batch;    /* of many jobs; NULL: one job with its whole summary */
    pp_report_options report;
    bool checks; /* --debug-checks */
    int lines;   /* of --progress-fd; -1 */
    pp_terminal_options terminal;
} setting;

static int verdict_status(const setting *s, const pp_results *results)
{
    if (results->stack && !results->stack_judgement->ready) return PP_EXIT_FAILS;
    if (results->roughing)
        return results->roughing->sufficient == PP_ROUGHING_YES ? PP_EXIT_CONFORMS : PP_EXIT_FAILS;
    if (s->branch->scope == PP_SCOPE_HOLDDOWN)
        return results->holddown_judgement->ready ? PP_EXIT_CONFORMS : PP_EXIT_FAILS;
    pp_verdict verdict = results->judgement->verdict;
    return verdict == PP_DOES_NOT_CONFORM || verdict == PP_NOT_PROVEN ? PP_EXIT_FAILS
                                                                      : PP_EXIT_CONFORMS;
}

/* Write a text made by a step that may have failed, and release it. */
static int print_made(pp_status made, pp_text *text, const pp_error *error)
{
    int status = made == PP_OK ? pp_write_out(text->data, text->length) : pp_exit_error(error);
    pp_text_free(text);
    return status;
}

/* Of a plate drilled to a corrected list: was the promise beside that list kept? */
static pp_status say_promise(const pp_results *results, pp_text *text, pp_error *error)
{
    size_t before = text->length;
    pp_promise_words(text, results);
    if (text->length > before) pp_text_add(text, "\n");
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

static int print_summary(const setting *s, const pp_results *results, const char *folder,
                         pp_memory *memory, pp_error *error)
{
    pp_terminal_options options = s->terminal;
    options.report = folder;
    pp_text text = {0};
    pp_status made = s->batch ? pp_terminal_write_line(results, &options, memory, &text, error)
                              : pp_terminal_write(results, &options, memory, &text, error);
    if (made == PP_OK && !s->batch) made = say_promise(results, &text, error);
    return print_made(made, &text, error);
}

static const char *report_folder(const setting *s, const pp_job *job, pp_memory *memory)
{
    return s->folder && !s->batch ? s->folder : pp_session_folder(job, s->folder, memory);
}

/* Of a stack: what its own equations leave over. */
static void say_checks(const pp_stack *stack)
{
    if (!stack) {
        pp_say(stderr, "plateproof: nothing to check: --debug-checks is of a stack\n");
        return;
    }
    pp_say(stderr,
           "stack: largest nodal force that no layer's loads balance %.2g N, of a foot's %.6g N; "
           "%zu of %zu contact points touch; %zu holes by single pivots; condition %.2g\n",
           stack->section.equilibrium, stack->foot_force, stack->touching, stack->points,
           stack->fallbacks, stack->condition);
}

/* The answer is there: write it where it was asked for. */
static int hand_over(const setting *s, const pp_results *results, pp_progress *p, pp_memory *memory,
                     pp_error *error)
{
    pp_progress_show(p, "writing the report", 0);
    pp_session_catch_signals(); /* until now there was nothing to clean away */
    if (s->common->json) {
        pp_text text = {0};
        pp_status made = pp_json_write(results, NULL, &text, error);
        pp_progress_end(p);
        return print_made(made, &text, error);
    }
    const char *folder = report_folder(s, results->job, memory);
    pp_status written = folder ? pp_report_write(results, folder, &s->report, memory, error)
                               : pp_fail_memory(error);
    pp_progress_end(p);
    if (written != PP_OK) return pp_exit_error(error);
    if (s->batch && pp_batch_add(s->batch, results, folder, error) != PP_OK)
        return pp_exit_error(error);
    return s->common->quiet ? PP_EXIT_CONFORMS : print_summary(s, results, folder, memory, error);
}

/* A folder that may not be replaced is refused before the work, not after it. */
static pp_status check_folder(const setting *s, const pp_job *job, pp_memory *memory,
                              pp_error *error)
{
    if (s->common->json) return PP_OK;
    const char *folder = report_folder(s, job, memory);
    if (!folder) return pp_fail_memory(error);
    return pp_folder_check(folder, s->report.replace_signed, &memory->keep, error);
}

static int run_job(const setting *s, const char *path)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job;
    pp_results results;
    pp_progress p = {.on = !s->common->quiet && isatty(STDERR_FILENO), .lines = s->lines};
    pp_run_options options = {.scope = s->branch->scope,
                              .threads = s->common->threads,
                              .stage = pp_progress_show,
                              .stage_context = &p};
    char date[16];
    int status;
    pp_status done = pp_job_read(path, &memory, &job, &error);
    if (done == PP_OK) done = check_folder(s, &job, &memory, &error);
    if (done == PP_OK) done = pp_run(&job, &options, &memory, &results, &error);
    if (done == PP_OK) {
        results.date = pp_session_date(&job, date, &results.date_from_epoch);
        int written = hand_over(s, &results, &p, &memory, &error);
        if (s->checks) say_checks(results.stack);
        status = written ? written : verdict_status(s, &results);
    } else {
        pp_progress_end(&p);
        status = pp_exit_error(&error);
    }
    pp_memory_free(&memory);
    return status;
}

/* ---- many jobs: a line each, reports side by side, one table of all ---- */

typedef struct batch_run {
    const setting *s;
    char *const *jobs;
    int count;
    pp_batch table;
    pp_progress progress;
    int worst;
    pp_status kept;
    pp_error error;
} batch_run;

static int run_one_of(void *context, int job, pp_text *row)
{
    const batch_run *b = context;
    pp_batch own = {0};
    setting s = *b->s;
    s.batch = &own;
    int status = run_job(&s, b->jobs[job]);
    *row = own.table;
    return status;
}

static void clear_progress(void *context)
{
    batch_run *b = context;
    pp_progress_end(&b->progress);
}

/* The table after every job: interrupted, it has those that were done. */
static bool take_row(void *context, int job, int status, int signal, const pp_text *row)
{
    batch_run *b = context;
    if (signal) {
        pp_say(stderr, "%s: ended by signal %d, is there too little memory? Run it by itself.\n",
               b->jobs[job], signal);
        status = PP_EXIT_SYSTEM;
    }
    if (row->length > 0)
        pp_text_add_bytes(&b->table.table, row->data, row->length);
    else
        pp_batch_add_failed(&b->table, b->jobs[job], status);
    if (status > b->worst) b->worst = status;
    if (row->failed || b->table.table.failed)
        b->kept = pp_fail_memory(&b->error);
    else if (b->s->folder)
        b->kept = pp_batch_write(&b->table, b->s->folder, &b->error);
    if (job + 1 < b->count)
        pp_progress_show(&b->progress, "plates", (double)(job + 1) / (double)b->count);
    return b->kept == PP_OK;
}

/* One plate a processor; of fewer plates each gets several. */
static int run_batch(const setting *s, const pp_command_line *line)
{
    pp_common_options common = *s->common;
    setting one = *s;
    batch_run b = {.s = &one,
                   .jobs = line->words,
                   .count = line->count,
                   .progress = {.on = !common.quiet && isatty(STDERR_FILENO), .lines = -1}};
    pp_error error = {0};
    int ended_by = 0;
    if (common.json) {
        pp_say(stderr, "plateproof: --json takes one job; run it once for each\n");
        return PP_EXIT_USAGE;
    }
    if (pp_batch_begin(&b.table, line->words, line->count, s->folder, &error) != PP_OK)
        return pp_exit_error(&error);
    int at_once = common.threads < line->count ? common.threads : line->count;
    common.threads /= at_once;
    one.common = &common;
    one.report.threads = common.threads;
    pp_side_work work = {line->count, at_once, run_one_of, clear_progress, take_row, &b};
    pp_progress_show(&b.progress, "plates", 0);
    if (pp_side_by_side(&work, &ended_by, &error) != PP_OK) b.worst = pp_exit_error(&error);
    pp_progress_end(&b.progress);
    if (b.kept != PP_OK) b.worst = pp_exit_error(&b.error);
    pp_batch_free(&b.table);
    if (ended_by) {
        signal(ended_by, SIG_DFL);
        raise(ended_by);
    }
    return b.worst;
}

int pp_cmd_inspect(int argc, char **argv)
{
    const branch *chosen = find_branch(argv[0]);
    const char *xlsx = NULL, *qif_gz = NULL, *paper = NULL, *pack = NULL, *replace = NULL,
               *lines = NULL, *checks = NULL;
    const pp_own_option own[] = {{"xlsx", false, &xlsx},
                                 {"qif-gz", false, &qif_gz},
                                 {"paper", true, &paper},
                                 {"pack", false, &pack},
                                 {"replace-signed", false, &replace},
                                 {"progress-fd", true, &lines},
                                 {"debug-checks", false, &checks},
                                 {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, chosen->most, &chosen->help, &line, &status) ||
        line.done)
        return status;
    if (paper && strcasecmp(paper, "A4") != 0 && strcasecmp(paper, "Letter") != 0) {
        pp_say(stderr, "plateproof: --paper %s is not known; write A4 or Letter\n", paper);
        return PP_EXIT_USAGE;
    }
    bool wrong;
    int handle = pp_progress_handle(lines, &wrong);
    if (wrong) return PP_EXIT_USAGE;
    setting s = {.branch = chosen,
                 .lines = handle,
                 .checks = checks != NULL,
                 .common = &line.common,
                 .folder = line.common.output,
                 .terminal = pp_session_terminal(),
                 .report = {.threads = line.common.threads,
                            .xlsx = xlsx != NULL,
                            .qif_gz = qif_gz != NULL,
                            .pack = pack != NULL,
                            .replace_signed = replace != NULL,
                            .letter = paper && strcasecmp(paper, "Letter") == 0,
                            .stopped = pp_session_stopped}};
    status = line.count > 1 ? run_batch(&s, &line) : run_job(&s, line.words[0]);
    return pp_session_end(status);
}
