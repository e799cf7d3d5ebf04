/* plateproof new FILE: a commented starter job file. */
#include <stdio.h>
#include <string.h>

#include "cli/commands.h"
#include "cli/new_file.h"
#include "cli/options.h"
#include "cli/say.h"
#include "input/job/starter.h"

static const pp_command_help help = {
    "plateproof new FILE [--units mm|inch]",
    "Writes a commented starter job file: every section and key with its meaning, defaults filled\n"
    "in, limits and uncertainties left empty and explained. A file that is there already is left\n"
    "alone. - writes to standard output.\n"
    "\n"
    "  --units mm|inch    what the file says its bare lengths are in (mm)\n"
    "\n"
    "Example: begin a job, fill it in, look at the report\n"
    "  plateproof new plate-7.ini\n"
    "  plateproof inspect plate-7.ini\n",
    .output = NULL,
};

int pp_cmd_new(int argc, char **argv)
{
    const char *units = "mm";
    const pp_own_option own[] = {{"units", true, &units}, {0}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &help, &line, &status) || line.done) return status;
    bool inch = strcmp(units, "inch") == 0 || strcmp(units, "in") == 0;
    if (!inch && strcmp(units, "mm") != 0) {
        pp_say(stderr, "plateproof: --units %s is neither mm nor inch; write one of them\n", units);
        return PP_EXIT_USAGE;
    }
    pp_text text = {0};
    pp_starter_write(inch ? PP_INCH : PP_MM, &text);
    if (strcmp(line.words[0], "-") == 0) {
        status = text.failed ? pp_exit_error(&(pp_error){PP_ENOMEM, .message = "memory ran out"})
                             : pp_write_out(text.data, text.length);
        pp_text_free(&text);
        return status;
    }
    status = pp_new_file_write(line.words[0], &text);
    pp_text_free(&text);
    if (status == PP_EXIT_CONFORMS && !line.common.quiet)
        pp_say(stdout, "%s: fill it in, then run plateproof inspect %s\n", line.words[0],
               line.words[0]);
    return status;
}
