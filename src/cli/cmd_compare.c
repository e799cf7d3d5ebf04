/* plateproof compare BEFORE NOW: two reports of a plate; compare FOLDER --rounds 1,2: two rounds.
 */
#include <stdio.h>
#include <stdlib.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "comparison/comparison.h"
#include "report/comparison/comparison_report.h"
#include "report/folder/folder.h"
#include "run/rounds.h"

static const pp_command_help help = {
    "plateproof compare BEFORE NOW | FOLDER --rounds 1,2",
    "Compares two report folders of a plate, hole by hole: what was repaired, what is new, what "
    "is\n"
    "worse or better beyond the uncertainty of both, what is unchanged; and how much the plate's\n"
    "face moved between two surveys (released stress), where, tilt apart. Or two rounds of\n"
    "measuring of one report: the holes as they were after each, judged alike.\n"
    "With -o DIR comparison.html, comparison.json, comparison.csv (and moved.csv, of the face) "
    "are\n"
    "written.\n\n"
    "Own options:\n"
    "      --rounds A,B      of one folder: after round A against after round B\n"
    "      --inputs DIR      of --rounds: the job and its data are in DIR now\n\n"
    "Examples:\n"
    "  plateproof compare drilled-report reworked-report -o rework\n"
    "  plateproof compare plate-report --rounds 1,2\n"
    "\nExit status: 0 nothing got worse; 1 something is new or worse, or the verdict; 2 the "
    "command\n"
    "line or the reports are wrong; 3 a file could not be read or written.\n",
    .output = "DIR",
    .json = true,
    .json_beside = true,
};

typedef struct compare_run {
    const pp_common_options *common;
    char *const *words;
    int word_count;
    const char *rounds, *inputs;
    unsigned round[2];
    pp_results results[2];
    pp_memory memory;
    pp_error error;
    pp_comparison comparison;
    pp_text json, csv, moved, html, words_text;
} compare_run;

/* ---- the command line ---- */

static bool read_round(const char **at, unsigned *round)
{
    char *end;
    if (**at < '0' || **at > '9') return false;
    unsigned long value = strtoul(*at, &end, 10);
    if (value < 1 || value > PP_ROUND_MAX) return false;
    *round = (unsigned)value, *at = end;
    return true;
}

static bool read_options(compare_run *r)
{
    if (!r->rounds && r->word_count == 1)
        pp_say(stderr, "plateproof: compare wants two report folders, or one with --rounds 1,2\n");
    else if (!r->rounds && r->inputs)
        pp_say(stderr,
               "plateproof: --inputs is of --rounds; two reports are compared as they are\n");
    else if (r->rounds && r->word_count == 2)
        pp_say(stderr, "plateproof: --rounds compares two rounds of one report folder; give one\n");
    else if (!r->rounds)
        return true;
    else {
        const char *at = r->rounds;
        if (read_round(&at, &r->round[0]) && *at++ == ',' && read_round(&at, &r->round[1]) &&
            !*at && r->round[0] < r->round[1])
            return true;
        pp_say(stderr,
               "plateproof: --rounds %s is no pair of rounds; write the earlier one, a comma and "
               "the later one, as 1,2\n",
               r->rounds);
    }
    return false;
}

/* ---- what it does ---- */

static pp_status write_files(compare_run *r, pp_folder *folder)
{
    const pp_comparison *c = &r->comparison;
    PP_TRY(pp_comparison_csv(c, &r->csv, &r->error));
    PP_TRY(pp_comparison_page(c, &r->memory, &r->html, &r->error));
    PP_TRY(pp_folder_open(folder, r->common->output, false, &r->memory.keep, &r->error));
    PP_TRY(pp_folder_add(folder, "comparison.json", r->json.data, r->json.length, &r->error));
    PP_TRY(pp_folder_add(folder, "comparison.csv", r->csv.data, r->csv.length, &r->error));
    PP_TRY(pp_folder_add(folder, "comparison.html", r->html.data, r->html.length, &r->error));
    if (c->face.places) {
        PP_TRY(pp_comparison_moved_csv(c, &r->moved, &r->error));
        PP_TRY(pp_folder_add(folder, "moved.csv", r->moved.data, r->moved.length, &r->error));
    }
    return pp_folder_commit(folder, &r->error);
}

static pp_status ask(compare_run *r)
{
    int threads = r->common->threads;
    if (!r->rounds)
        return pp_compare_reports(r->words[0], r->words[1], threads, &r->memory, &r->comparison,
                                  &r->error);
    PP_TRY(pp_rounds_run(r->words[0], r->inputs, r->round, threads, &r->memory, r->results,
                         &r->error));
    return pp_compare_rounds(r->words[0], r->round, r->results, threads, &r->memory, &r->comparison,
                             &r->error);
}

static pp_status compare(compare_run *r)
{
    PP_TRY(ask(r));
    PP_TRY(pp_comparison_json(&r->comparison, &r->json, &r->error));
    PP_TRY(pp_comparison_words(&r->comparison, &r->words_text, &r->error));
    if (!r->common->output) return PP_OK;
    pp_folder folder = {0};
    pp_status status = write_files(r, &folder);
    if (status != PP_OK) pp_folder_abandon(&folder);
    return status;
}

static int run(compare_run *r)
{
    if (compare(r) != PP_OK) return pp_exit_error(&r->error);
    const pp_text *text = r->common->json ? &r->json : &r->words_text;
    int status = r->common->json || !r->common->quiet ? pp_write_out(text->data, text->length) : 0;
    if (status) return status;
    return pp_comparison_is_worse(&r->comparison) ? PP_EXIT_FAILS : PP_EXIT_CONFORMS;
}

int pp_cmd_compare(int argc, char **argv)
{
    static const compare_run nothing;
    compare_run r = nothing;
    const pp_own_option own[] = {
        {"rounds", true, &r.rounds}, {"inputs", true, &r.inputs}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 2, &help, &line, &status) || line.done) return status;
    r.common = &line.common, r.words = line.words, r.word_count = line.count;
    if (!read_options(&r)) return PP_EXIT_USAGE;
    status = run(&r);
    pp_text *texts[] = {&r.json, &r.csv, &r.moved, &r.html, &r.words_text};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) pp_text_free(texts[i]);
    pp_memory_free(&r.memory);
    return status;
}
