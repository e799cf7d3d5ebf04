/* plateproof bundle SET: will every tube go through. */
#include <stdio.h>
#include <strings.h>
#include <unistd.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "report/bundle/bundle_json.h"
#include "report/bundle/bundle_terminal.h"
#include "report/bundle/bundle_write.h"
#include "report/folder/folder.h"
#include "run/bundle_run.h"

static const pp_command_help help = {
    "plateproof bundle SET",
    "Says whether every tube of a bundle goes through all its plates, before any is pushed: from\n"
    "the measured holes of the tube plates and baffles, which hole belongs to which tube, what\n"
    "passes straight and with how much to spare, where to put plates that have play, and how\n"
    "tubes bend that do not pass straight. The set file is INI text: the tube, and a section\n"
    "for every plate.\n"
    "The report goes to SETNAME-report beside the set file, or to -o DIR.\n\n"
    "Own options:\n"
    "      --paper SIZE       of the fitter's sheet: A4 (the default) or Letter\n"
    "      --pack             keep the set file and every list in the report, under inputs/\n"
    "      --replace-signed   replace a report although it is signed\n\n"
    "Example:\n"
    "  plateproof bundle data/demo-bundle/set.ini -o /srv/reports/bundle\n"
    "\nExit status: 0 every tube conforms; 1 some tube does not conform or is not proven, or a\n"
    "hole is wrong; 2 the command line, the set file or the data are wrong; 3 a file could not\n"
    "be read or written.\n",
    .output = "DIR",
    .json = true,
};

typedef struct bundle_run {
    const pp_common_options *common;
    bool letter, pack, replace_signed;
    char date[16];
    bool shown; /* progress stands on the terminal */
    pp_memory memory;
    pp_error error;
    pp_set set;
    pp_bundle_results results;
    const char *folder;
} bundle_run;

static void show_stage(void *context, const char *name, double share)
{
    (void)share;
    bundle_run *r = context;
    if (r->common->quiet || !isatty(STDERR_FILENO)) return;
    pp_say(stderr, "\r\033[K%s", name);
    r->shown = true;
}

static pp_status find_folder(bundle_run *r)
{
    if (r->common->json) return PP_OK;
    r->folder =
        r->common->output ? r->common->output : pp_session_folder(r->set.job, NULL, &r->memory);
    if (!r->folder) return pp_fail_memory(&r->error);
    return pp_folder_check(r->folder, r->replace_signed, &r->memory.keep, &r->error);
}

static pp_status study(bundle_run *r)
{
    pp_bundle_options options = {
        .threads = r->common->threads, .stage = show_stage, .stage_context = r};
    PP_TRY(find_folder(r));
    PP_TRY(pp_bundle_run(&r->set, &options, &r->memory, &r->results, &r->error));
    r->results.date = pp_session_date(r->set.job, r->date, NULL);
    show_stage(r, "writing the report", 0);
    pp_session_catch_signals(); /* until now there was nothing to clean away */
    if (r->common->json) return PP_OK;
    pp_bundle_report_options report = {.threads = r->common->threads,
                                       .letter = r->letter,
                                       .replace_signed = r->replace_signed,
                                       .pack = r->pack,
                                       .stopped = pp_session_stopped};
    return pp_bundle_report_write(&r->results, r->folder, &report, &r->memory, &r->error);
}

static pp_status tell(bundle_run *r, pp_text *text)
{
    if (r->common->json) return pp_bundle_json_write(&r->results, NULL, text, &r->error);
    if (r->common->quiet) return PP_OK;
    pp_terminal_options terminal = pp_session_terminal();
    terminal.report = r->folder;
    return pp_bundle_terminal_write(&r->results, &terminal, &r->memory, text, &r->error);
}

static int run_set(bundle_run *r, const char *path)
{
    pp_text text = {0};
    pp_status done = pp_set_read(path, NULL, &r->memory, &r->set, &r->error);
    if (done == PP_OK) done = study(r);
    if (r->shown) pp_say(stderr, "\r\033[K");
    if (done == PP_OK) done = tell(r, &text);
    int status = done == PP_OK && text.length ? pp_write_out(text.data, text.length) : 0;
    pp_text_free(&text);
    if (done != PP_OK) return pp_exit_error(&r->error);
    if (status) return status;
    /* where nothing could be judged nothing is known to go through */
    return r->results.judgement->verdict == PP_CONFORMS ? PP_EXIT_CONFORMS : PP_EXIT_FAILS;
}

int pp_cmd_bundle(int argc, char **argv)
{
    const char *paper = NULL, *pack = NULL, *replace = NULL;
    const pp_own_option own[] = {{"paper", true, &paper},
                                 {"pack", false, &pack},
                                 {"replace-signed", false, &replace},
                                 {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &help, &line, &status) || line.done) return status;
    if (paper && strcasecmp(paper, "A4") != 0 && strcasecmp(paper, "Letter") != 0) {
        pp_say(stderr, "plateproof: --paper %s is not known; write A4 or Letter\n", paper);
        return PP_EXIT_USAGE;
    }
    bundle_run r = {.common = &line.common,
                    .letter = paper && strcasecmp(paper, "Letter") == 0,
                    .pack = pack != NULL,
                    .replace_signed = replace != NULL};
    status = run_set(&r, line.words[0]);
    pp_memory_free(&r.memory);
    return pp_session_end(status);
}
