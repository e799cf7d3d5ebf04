#include <stdio.h>
#include <string.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "run/verification.h"
#include "verify/sign.h"

static const pp_command_help HELP = {
    "plateproof sign FOLDER --key FILE [--role ROLE] [--as-is]",
    "Recomputes a report folder and, if it holds, signs it: signature.json covers every file in "
    "it,\n"
    "the time of this machine's clock, the signer's role, the verdict and the report number. From\n"
    "then on a changed byte, a file added or a file removed is found by 'plateproof verify'. "
    "Others\n"
    "sign after you, each with a key and a role of their own.\n\n"
    "      --key FILE         the private key, made by 'plateproof keys'\n"
    "      --role ROLE        inspector (the default), customer or third-party\n"
    "      --as-is            sign without recomputing, or although it does not hold: said in the\n"
    "                         signature and by verify\n"
    "      --inputs DIR       the job and its data are in DIR now\n"
    "      --outside          inputs may lie outside the job's folder\n"
    "      --passphrase FILE  the key's passphrase is the first line of FILE; else it is asked "
    "for\n\n"
    "Exit status: 0 signed; 1 the folder does not hold and was not signed; 2 wrong words, key or\n"
    "folder; 3 a file cannot be read or written, or inputs are missing.\n\n"
    "  plateproof sign plate-report --key inspection-office.key --role inspector\n",
    .output = NULL,
};

static const char *role_words(const char *role)
{
    if (!role || strcmp(role, "inspector") == 0) return "inspector";
    if (strcmp(role, "customer") == 0) return "customer";
    return strcmp(role, "third-party") == 0 ? "third party" : NULL;
}

static const char *text_at(const json_t *root, const char *section, const char *key)
{
    const json_t *object = section ? json_object_get(root, section) : root;
    return json_string_value(json_object_get(object, key));
}

/* What is signed beside the files. */
static void state_facts(const json_t *root, pp_signing *signing)
{
    const char *plate = text_at(root, "job", "plate_id");
    signing->plate = plate ? plate : text_at(root, "job", "serial");
    signing->report = text_at(root, "job", "report_number");
    signing->revision = text_at(root, "job", "report_revision");
    signing->verdict = text_at(root, NULL, "verdict");
}

static int refuse(const char *folder, const pp_verification *v)
{
    if (!v->inputs_there) {
        pp_say(
            stderr,
            "%s: inputs are missing, so it cannot be recomputed and was not signed; name them with "
            "--inputs DIR, or sign it unproven with --as-is\n",
            folder);
        return PP_EXIT_SYSTEM;
    }
    pp_say(
        stderr,
        "%s: does not hold and was not signed; 'plateproof verify %s' says why, and --as-is signs "
        "it all the same\n",
        folder, folder);
    return PP_EXIT_FAILS;
}

static int sign(const char *folder, const pp_verification_options *options, bool as_is,
                pp_signing *signing, bool quiet, pp_memory *memory, pp_error *error)
{
    pp_verification v = {0};
    char signer[PP_SIGNER_MAX + 1];
    pp_verification_options look = *options;
    look.signature_only = as_is;
    if (pp_verify(folder, &look, memory, &v, error) != PP_OK) return pp_exit_error(error);
    int status = PP_EXIT_CONFORMS;
    /* an earlier signature that no longer holds is refused by the signing itself */
    signing->recomputed =
        v.recomputation == PP_ANSWER_HOLDS && v.pages == PP_ANSWER_HOLDS && !as_is;
    if (!as_is && !signing->recomputed) status = refuse(folder, &v);
    state_facts(v.recorded.root, signing);
    if (status == PP_EXIT_CONFORMS &&
        pp_sign_folder(folder, signing, memory, signer, error) != PP_OK)
        status = pp_exit_error(error);
    if (status == PP_EXIT_CONFORMS && !quiet)
        pp_say(stdout, "%s: signed as %s, %s%s\n", folder, signer, signing->role,
               as_is ? ", as it is: not recomputed" : "");
    pp_verification_free(&v);
    return status;
}

int pp_cmd_sign(int argc, char **argv)
{
    const char *key = NULL, *role = NULL, *as_is = NULL, *inputs = NULL, *outside = NULL;
    const char *passphrase_file = NULL;
    const pp_own_option own[] = {
        {"key", true, &key},          {"role", true, &role},
        {"as-is", false, &as_is},     {"inputs", true, &inputs},
        {"outside", false, &outside}, {"passphrase", true, &passphrase_file},
        {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    if (!key) {
        pp_say(stderr, "plateproof: sign needs --key FILE; make a key with 'plateproof keys'\n");
        return PP_EXIT_USAGE;
    }
    if (!role_words(role)) {
        pp_say(stderr,
               "plateproof: --role %s is not known; write inspector, customer or third-party\n",
               role);
        return PP_EXIT_USAGE;
    }
    pp_error error = {0};
    pp_memory memory = {0};
    char date[16];
    pp_passphrase passphrase = pp_session_passphrase(&passphrase_file);
    const pp_verification_options options = {.inputs = {inputs, outside != NULL},
                                             .date = pp_session_date(NULL, date, NULL),
                                             .threads = line.common.threads};
    pp_signing signing = {.key_path = key,
                          .passphrase = &passphrase,
                          .role = role_words(role),
                          .threads = line.common.threads};
    status =
        sign(line.words[0], &options, as_is != NULL, &signing, line.common.quiet, &memory, &error);
    pp_memory_free(&memory);
    return status;
}
