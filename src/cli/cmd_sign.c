#include <stdio.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "verify/sign.h"

static const pp_command_help HELP = {
    "plateproof sign FOLDER --key FILE",
    "Signs a report folder: writes signature.json, which covers every file in it. From then on a\n"
    "changed byte, a file added or a file removed is found by 'plateproof verify'.\n\n"
    "      --key FILE     the private key, made by 'plateproof keys'\n\n"
    "  plateproof sign plate-report --key inspection-office.key\n",
    .output = NULL,
};

int pp_cmd_sign(int argc, char **argv)
{
    const char *key = NULL;
    const pp_own_option own[] = {{"key", true, &key}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    if (!key) {
        pp_say(stderr, "plateproof: sign needs --key FILE; make a key with 'plateproof keys'\n");
        return PP_EXIT_USAGE;
    }
    pp_error error = {0};
    pp_memory memory = {0};
    char signer[PP_SIGNER_MAX + 1];
    pp_status done =
        pp_sign_folder(line.words[0], key, line.common.threads, &memory, signer, &error);
    if (done == PP_OK && !line.common.quiet)
        pp_say(stdout, "%s: signed as %s\n", line.words[0], signer);
    status = done == PP_OK ? PP_EXIT_CONFORMS : pp_exit_error(&error);
    pp_memory_free(&memory);
    return status;
}
