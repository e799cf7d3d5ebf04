#include <malloc.h>
#include <stdio.h>
#include <string.h>

#include "base/nearest.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "linalg/linalg.h"
#include "plateproof/version.h"
#include "report/certificate/fonts.h"

typedef struct command {
    const char *name;
    int (*run)(int argc, char **argv);
    const char *does;
} command;

static const command commands[] = {
    {"inspect", pp_cmd_inspect, "the main job: everything the job file has data for"},
    {"flatness", pp_cmd_inspect, "only the surface survey: planes, flatness, out-of-flat areas"},
    {"holddown", pp_cmd_inspect, "only the hold-down study of the survey"},
    {"holes", pp_cmd_inspect, "only the hole and ligament acceptance"},
    {"bundle", pp_cmd_bundle, "whether every tube goes through all plates of a bundle"},
    {"stack", pp_cmd_inspect, "a stack of plates: gaps between layers, order, and after drilling"},
    {"roughing", pp_cmd_inspect, "whether the roughing pass is enough"},
    {"compare", pp_cmd_compare, "two reports of a plate: repaired, new, worse, better, unchanged"},
    {"correct", pp_cmd_correct,
     "the next plate's hole list, corrected for what the machine repeats"},
    {"history", pp_cmd_history, "many plates in one file: charts, capability, causes, tool life"},
    {"pattern", pp_cmd_pattern, "writes a nominal hole list: triangular or square, with lanes"},
    {"pins", pp_cmd_pins, "support-pin positions under the webs between holes"},
    {"rules", pp_cmd_rules, "the rule sets, and every limit they give with its source"},
    {"sample", pp_cmd_sample, "a random list of holes to measure"},
    {"verify", pp_cmd_verify, "recomputes a report and says whether it still holds"},
    {"pack", pp_cmd_pack, "puts the inputs into a report folder, to be recomputed anywhere"},
    {"keys", pp_cmd_keys, "makes a key pair for signing reports"},
    {"sign", pp_cmd_sign, "signs a report folder"},
    {"new", pp_cmd_new, "writes a commented starter job file"},
    {"serve", pp_cmd_serve, "a folder of plates in the browser, for this screen alone"},
};
enum { COMMANDS = sizeof commands / sizeof *commands };

static void print_usage(FILE *to)
{
    pp_say(to, "Usage: plateproof COMMAND ...\n\n"
               "Proves drilled tube plates and baffle plates: how flat, where to hold down, and\n"
               "whether every hole and ligament is within the rules.\n\n");
    for (int i = 0; i < COMMANDS; i++)
        pp_say(to, "  %-10s %s\n", commands[i].name, commands[i].does);
    pp_say(to, "\nStart with 'plateproof new JOB.ini', then 'plateproof inspect JOB.ini'.\n"
               "Each command explains itself: 'plateproof COMMAND --help'.\n");
}

static int unknown(const char *word)
{
    enum { SLIPS_MAX = 3 };
    const char *names[COMMANDS];
    for (int i = 0; i < COMMANDS; i++) names[i] = commands[i].name;
    const char *nearest = names[pp_nearest_find(word, COMMANDS, names)];
    const char *end = strrchr(word, '.');
    if (word[0] == '-')
        pp_say(stderr,
               "plateproof: %s is no option here; a command comes first, and 'plateproof --help' "
               "lists them\n",
               word);
    else if (end && strcmp(end, ".ini") == 0)
        pp_say(stderr,
               "plateproof: %s is no command; to inspect that job write 'plateproof inspect %s'\n",
               word, word);
    else if (pp_nearest_distance(word, nearest) <= SLIPS_MAX)
        pp_say(stderr, "plateproof: there is no command %s; did you mean '%s'?\n", word, nearest);
    else
        pp_say(stderr, "plateproof: there is no command %s; 'plateproof --help' lists them\n",
               word);
    return PP_EXIT_USAGE;
}

/* Pages and papers grow in memory, and every first touch of a page costs the kernel more than most
 * of the work done in it: what was freed is used again instead of going back. Blocks of an arena
 * (base/memory.h) are larger and still go back. */
static void keep_freed_memory(void)
{
#ifdef __GLIBC__
    enum { KEPT = 64 << 20 };
    mallopt(M_MMAP_THRESHOLD, KEPT);
    mallopt(M_TRIM_THRESHOLD, KEPT);
#endif
}

int main(int argc, char **argv)
{
    keep_freed_memory();
    pp_blas_single_thread();
    pp_fonts_expect_no_others();
    if (argc < 2) {
        print_usage(stderr);
        return PP_EXIT_USAGE;
    }
    const char *word = argv[1];
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || strcmp(word, "help") == 0) {
        print_usage(stdout);
        return PP_EXIT_CONFORMS;
    }
    if (strcmp(word, "--version") == 0) {
        pp_say(stdout, "plateproof %s\n", pp_version());
        return PP_EXIT_CONFORMS;
    }
    for (int i = 0; i < COMMANDS; i++)
        if (strcmp(word, commands[i].name) == 0) return commands[i].run(argc - 1, argv + 1);
    return unknown(word);
}
