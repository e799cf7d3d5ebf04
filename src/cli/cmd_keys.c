#include <stdio.h>

#include "answer/paths.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "verify/sign.h"

static const pp_command_help HELP = {
    "plateproof keys NAME [-o DIR] [--no-passphrase]",
    "Makes a key pair for signing reports: NAME.key and NAME.pub, here or in DIR.\n\n"
    "NAME.key is private: only its owner can read it, it is encrypted with the passphrase you are\n"
    "asked for, it is never shown, and whoever has it and the passphrase signs in your name. Keep "
    "it\n"
    "off shared drives. NAME.pub is public: give it to everybody who is to check your reports, on "
    "a\n"
    "way they trust.\n\n"
    "      --passphrase FILE  the passphrase is the first line of FILE; else it is asked for\n"
    "      --no-passphrase    no passphrase: for a machine that signs by itself\n\n"
    "  plateproof keys inspection-office\n"
    "  plateproof sign plate-report --key inspection-office.key\n"
    "  plateproof verify plate-report --trust inspection-office.pub\n",
    .output = "DIR",
};

int pp_cmd_keys(int argc, char **argv)
{
    const char *none = NULL, *file = NULL;
    const pp_own_option own[] = {
        {"no-passphrase", false, &none}, {"passphrase", true, &file}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    if (none && file) {
        pp_say(stderr, "plateproof: --passphrase and --no-passphrase contradict each other\n");
        return PP_EXIT_USAGE;
    }
    pp_error error = {0};
    pp_arena arena = {0};
    char public_key[PP_PUBLIC_KEY_MAX];
    const char *path = line.words[0];
    const pp_passphrase passphrase = pp_session_passphrase(&file);
    if (line.common.output) path = pp_path_join(line.common.output, path, &arena);
    pp_status made = path ? pp_keys_make(path, none ? NULL : &passphrase, public_key, &error)
                          : pp_fail_memory(&error);
    if (made == PP_OK && !line.common.quiet)
        pp_say(stdout,
               "%s.key  private; keep it to yourself\n%s.pub  public; give it away\n"
               "public key %s\n",
               path, path, public_key);
    status = made == PP_OK ? PP_EXIT_CONFORMS : pp_exit_error(&error);
    pp_arena_free(&arena);
    return status;
}
