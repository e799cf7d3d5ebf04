#include "cli/options.h"

#include <getopt.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/say.h"
#include "plateproof/version.h"

int pp_exit_of(pp_status status)
{
    switch (status) {
    case PP_OK:
        return PP_EXIT_CONFORMS;
    case PP_EINPUT:
    case PP_ENOTHING:
        return PP_EXIT_USAGE;
    case PP_EIO:
    case PP_ENOMEM:
    case PP_ENUMERIC:
    case PP_ECANCELLED:
        return PP_EXIT_SYSTEM;
    }
    return PP_EXIT_SYSTEM;
}

int pp_exit_error(const pp_error *error)
{
    char text[PP_ERROR_FILE_MAX + PP_ERROR_TEXT_MAX + 64];
    pp_error_format(error, text, sizeof text);
    if (error->file[0])
        fprintf(stderr, "%s\n", text); /* FILE:LINE: first, as editors and people expect it */
    else
        fprintf(stderr, "plateproof: %s\n", text);
    return pp_exit_of(error->status);
}

static int default_threads(void)
{
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) != 0) return 1;
    int count = CPU_COUNT(&set);
    return count < 1 ? 1 : count;
}

static bool parse_threads(const char *text, int *threads)
{
    char *end;
    long count = strtol(text, &end, 10);
    if (*text == '\0' || *end != '\0' || count < 1 || count > 256) {
        pp_say(stderr, "plateproof: --threads %s is not a whole number from 1 to 256\n", text);
        return false;
    }
    *threads = (int)count;
    return true;
}

enum {
    OWN_MAX = 32,
    OPTIONS_MAX = OWN_MAX + 8,
    FIRST_OWN = 1000,
    OPTION_JSON = 500,
    OPTION_THREADS,
    OPTION_HELP,
    OPTION_VERSION
};

static void print_help(const pp_command_help *help)
{
    printf("Usage: %s\n\n%s\nOptions of every command:\n", help->usage, help->text);
    if (help->output && strcmp(help->output, "FILE") == 0)
        pp_say(stdout, "  -o, --output FILE  a new file to write to (else standard output)\n");
    else if (help->output)
        pp_say(stdout, "  -o, --output DIR   where the results go\n");
    if (help->json) pp_say(stdout, "      --json         results to standard output, no files\n");
    pp_say(stdout,
           "  -q, --quiet        nothing on the terminal but errors\n"
           "      --threads N    how many processors to use (the results are the same for any N)\n"
           "      --help         this page\n"
           "      --version      the version\n");
}

/* Every command takes the common options, so that a script may give them to all; nothing given in
 * vain is passed over in silence. */
static void say_unused(const char *command, const pp_command_help *help,
                       const pp_common_options *common)
{
    if (common->output && !help->output)
        pp_say(stderr, "plateproof: %s writes no results to a file; -o is not used\n", command);
    if (common->json && !help->json)
        pp_say(stderr, "plateproof: %s has no results as JSON; --json is not used\n", command);
    if (common->json && common->output && help->json && help->output && !help->json_beside)
        pp_say(stderr, "plateproof: --json writes to standard output; -o is not used\n");
}

/* Options of every command, then the command's own. */
static void list_options(const pp_own_option *own, struct option options[OPTIONS_MAX])
{
    int n = 0, own_count = 0;
    options[n++] = (struct option){"output", required_argument, NULL, 'o'};
    options[n++] = (struct option){"json", no_argument, NULL, OPTION_JSON};
    options[n++] = (struct option){"quiet", no_argument, NULL, 'q'};
    options[n++] = (struct option){"threads", required_argument, NULL, OPTION_THREADS};
    options[n++] = (struct option){"help", no_argument, NULL, OPTION_HELP};
    options[n++] = (struct option){"version", no_argument, NULL, OPTION_VERSION};
    for (; own && own[own_count].name && own_count < OWN_MAX; own_count++)
        options[n++] = (struct option){own[own_count].name,
                                       own[own_count].takes_value ? required_argument : no_argument,
                                       NULL, FIRST_OWN + own_count};
    options[n] = (struct option){0};
}

static bool end_well(pp_command_line *line, int *status)
{
    line->done = true;
    *status = PP_EXIT_CONFORMS;
    return true;
}

static bool take_own(const pp_own_option *option, const pp_command_help *help, const char *command)
{
    const char **value = option->value;
    if (help->repeated && strcmp(help->repeated, option->name) == 0) {
        size_t given = 0;
        while (value[given]) given++;
        if (given + 1 >= PP_REPEATS_MAX) {
            pp_say(stderr, "plateproof: %s takes --%s at most %d times\n", command, option->name,
                   PP_REPEATS_MAX - 1);
            return false;
        }
        value += given;
    }
    *value = option->takes_value ? optarg : option->name;
    return true;
}

bool pp_options_parse(int argc, char **argv, const pp_own_option *own, int least, int most,
                      const pp_command_help *help, pp_command_line *line, int *status)
{
    struct option options[OPTIONS_MAX];
    list_options(own, options);
    *line = (pp_command_line){.common = {.threads = default_threads()}};
    *status = PP_EXIT_USAGE;
    optind = 0; /* start afresh: a command may be parsed more than once in a process */
    opterr = 0;
    for (int c; (c = getopt_long(argc, argv, ":o:qh", options, NULL)) != -1;) {
        switch (c) {
        case 'o':
            line->common.output = optarg;
            break;
        case 'q':
            line->common.quiet = true;
            break;
        case OPTION_JSON:
            line->common.json = true;
            break;
        case OPTION_THREADS:
            if (!parse_threads(optarg, &line->common.threads)) return false;
            break;
        case 'h':
        case OPTION_HELP:
            print_help(help);
            return end_well(line, status);
        case OPTION_VERSION:
            pp_say(stdout, "plateproof %s\n", pp_version());
            return end_well(line, status);
        case ':':
            pp_say(stderr, "plateproof: option %s needs a value; see 'plateproof %s --help'\n",
                   argv[optind - 1], argv[0]);
            return false;
        case '?':
            pp_say(stderr, "plateproof: %s does not know option %s; see 'plateproof %s --help'\n",
                   argv[0], argv[optind - 1], argv[0]);
            return false;
        default:
            if (!take_own(&own[c - FIRST_OWN], help, argv[0])) return false;
        }
    }
    line->count = argc - optind;
    line->words = argv + optind;
    if (line->count < least || (most >= 0 && line->count > most)) {
        pp_say(stderr, "plateproof: %s %s; usage: %s\n", argv[0],
               line->count < least ? "needs more to work on" : "got more than it takes",
               help->usage);
        return false;
    }
    say_unused(argv[0], help, &line->common);
    *status = PP_EXIT_CONFORMS;
    return true;
}

int pp_write_out(const char *text, size_t length)
{
    if (fwrite(text, 1, length, stdout) == length && fflush(stdout) == 0) return PP_EXIT_CONFORMS;
    pp_say(stderr, "plateproof: could not write to standard output; is the disk full?\n");
    return PP_EXIT_SYSTEM;
}
