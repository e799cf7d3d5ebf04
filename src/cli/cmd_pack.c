#include <stdio.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "report/folder/pack.h"
#include "verify/compare.h"

static const pp_command_help HELP = {
    "plateproof pack FOLDER [--inputs DIR] [--outside]",
    "Puts the job and the data that a report was made from into its folder, under inputs/, so that "
    "it\n"
    "can be recomputed anywhere. They must still be the very files (SHA-256). Pack before "
    "signing:\n"
    "the signature then covers them. 'plateproof inspect --pack' does it in one go.\n\n"
    "      --inputs DIR   the job and its data are in DIR now\n"
    "      --outside      inputs may lie outside the job's folder\n\n"
    "  plateproof pack plate-report\n"
    "  plateproof sign plate-report --key inspection-office.key\n",
    .output = NULL,
};

/* Every input is there and the very file that was recorded. */
static pp_status check_inputs(const pp_recorded *recorded, int threads, pp_memory *memory,
                              pp_error *error)
{
    pp_differences *comparison;
    PP_TAKE_ZERO(comparison, &memory->keep, 1);
    PP_TRY(pp_compare_inputs(recorded, threads, memory, comparison, error));
    if (comparison->count == 0) return PP_OK;
    const pp_difference *d = &comparison->items[0];
    switch (d->kind) {
    case PP_INPUT_CHANGED:
        return pp_fail_at(error, PP_EINPUT, d->file, 0, 0,
                          "is not the file that the report was made from; make the report anew");
    case PP_INPUT_NOT_OPENED:
        return pp_fail_at(error, PP_EINPUT, d->file, 0, 0, "was not opened: %s", d->recorded);
    default:
        return pp_fail_at(error, PP_EIO, d->file, 0, 0,
                          "is not there; say where with --inputs DIR");
    }
}

static pp_status pack(const char *target, const pp_recorded_options *options, int threads,
                      size_t *count, pp_memory *memory, pp_error *error)
{
    pp_recorded recorded;
    pp_folder folder;
    pp_input_file *inputs;
    PP_TRY(pp_recorded_read(target, options, memory, &recorded, error));
    pp_status status = check_inputs(&recorded, threads, memory, error);
    pp_recorded_free(&recorded);
    PP_TRY(status);
    PP_TAKE(inputs, &memory->keep, recorded.input_count);
    for (size_t i = 0; i < recorded.input_count; i++) inputs[i] = recorded.inputs[i].file;
    *count = recorded.input_count;
    if (recorded.sealed) return PP_OK; /* they are there already, and the same */
    PP_TRY(pp_folder_open_standing(&folder, target, &memory->keep, error));
    status = pp_pack_inputs(&folder, recorded.input_count, inputs, recorded.job_file, error);
    if (status == PP_OK) return pp_folder_finish_standing(&folder, error);
    pp_folder_give_up_standing(&folder);
    return status;
}

int pp_cmd_pack(int argc, char **argv)
{
    const char *inputs = NULL, *outside = NULL;
    const pp_own_option own[] = {
        {"inputs", true, &inputs}, {"outside", false, &outside}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    const pp_recorded_options options = {inputs, outside != NULL};
    pp_error error = {0};
    pp_memory memory = {0};
    size_t count = 0;
    if (pack(line.words[0], &options, line.common.threads, &count, &memory, &error) != PP_OK)
        status = pp_exit_error(&error);
    else if (!line.common.quiet)
        pp_say(stdout, "%s: %zu inputs are in the folder\n", line.words[0], count);
    pp_memory_free(&memory);
    return status;
}
