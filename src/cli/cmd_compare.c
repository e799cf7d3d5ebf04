/* plateproof compare BEFORE NOW: two reports of a plate. */
#include "cli/commands.h"
#include "cli/options.h"
#include "comparison/comparison.h"
#include "report/comparison/comparison_report.h"
#include "report/folder/folder.h"

static const pp_command_help help = {
    "plateproof compare BEFORE NOW",
    "Compares two report folders of a plate, hole by hole: what was repaired, what is new, what "
    "is\n"
    "worse or better beyond the uncertainty of both, what is unchanged; and how much the plate's\n"
    "face moved between two surveys (released stress), tilt apart.\n"
    "With -o DIR comparison.json and comparison.csv are written.\n\n"
    "Example:\n"
    "  plateproof compare drilled-report reworked-report -o rework\n"
    "\nExit status: 0 nothing got worse; 1 something is new or worse; 2 the command line or the\n"
    "reports are wrong; 3 a file could not be read or written.\n",
    .output = "DIR",
    .json = true,
    .json_beside = true,
};

typedef struct compare_run {
    const pp_common_options *common;
    pp_memory memory;
    pp_error error;
    pp_comparison comparison;
    pp_text json, csv, words;
} compare_run;

static pp_status write_files(compare_run *r, pp_folder *folder)
{
    PP_TRY(pp_comparison_csv(&r->comparison, &r->csv, &r->error));
    PP_TRY(pp_folder_open(folder, r->common->output, false, &r->memory.keep, &r->error));
    PP_TRY(pp_folder_add(folder, "comparison.json", r->json.data, r->json.length, &r->error));
    PP_TRY(pp_folder_add(folder, "comparison.csv", r->csv.data, r->csv.length, &r->error));
    return pp_folder_commit(folder, &r->error);
}

static pp_status compare(compare_run *r, char *const *words)
{
    PP_TRY(pp_compare_reports(words[0], words[1], r->common->threads, &r->memory, &r->comparison,
                              &r->error));
    PP_TRY(pp_comparison_json(&r->comparison, &r->json, &r->error));
    PP_TRY(pp_comparison_words(&r->comparison, &r->words, &r->error));
    if (!r->common->output) return PP_OK;
    pp_folder folder = {0};
    pp_status status = write_files(r, &folder);
    if (status != PP_OK) pp_folder_abandon(&folder);
    return status;
}

static int run(compare_run *r, char *const *words)
{
    if (compare(r, words) != PP_OK) return pp_exit_error(&r->error);
    const pp_text *text = r->common->json ? &r->json : &r->words;
    int status = r->common->json || !r->common->quiet ? pp_write_out(text->data, text->length) : 0;
    if (status) return status;
    const size_t *count = r->comparison.count;
    return count[PP_CHANGE_NEW] || count[PP_CHANGE_WORSE] ? PP_EXIT_FAILS : PP_EXIT_CONFORMS;
}

int pp_cmd_compare(int argc, char **argv)
{
    const pp_own_option own[] = {{NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 2, 2, &help, &line, &status) || line.done) return status;
    compare_run r = {.common = &line.common};
    status = run(&r, line.words);
    pp_text_free(&r.json);
    pp_text_free(&r.csv);
    pp_text_free(&r.words);
    pp_memory_free(&r.memory);
    return status;
}
