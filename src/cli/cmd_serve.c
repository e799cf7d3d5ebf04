/* plateproof serve [FOLDER]: the plates of a folder in the browser. */
#include <errno.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/serve_module.h"

extern char **environ;

static const pp_command_help HELP = {
    "plateproof serve [FOLDER] [--port N] [--open] [--idle-exit MINUTES]",
    "Shows the plates of a folder (the current one) in the browser of this machine: every job in\n"
    "it and in folders up to two levels down, with verdict and report. It prints an address that\n"
    "works once; a further one is printed when that was used. Ctrl-C ends it.\n"
    "\n"
    "Only this machine can reach it, and there is no option to change that; from elsewhere go\n"
    "through an SSH tunnel. Nothing outside the folder is read or written.\n"
    "\n"
    "Own options:\n"
    "      --port N           listen on this port of 127.0.0.1; default: any free one\n"
    "      --open             open the address in the browser\n"
    "      --idle-exit MINUTES  end when nobody has asked for so long\n"
    "\n"
    "Example:\n"
    "  plateproof serve data/demo --open\n",
    .output = NULL,
};

typedef struct told {
    bool open, quiet;
} told;

static void open_browser(const char *address)
{
    char opener[] = "xdg-open", words[128];
    char *argv[] = {opener, words, NULL};
    sigset_t none;
    posix_spawnattr_t how;
    pid_t child;
    snprintf(words, sizeof words, "%s", address);
    sigemptyset(&none);
    if (posix_spawnattr_init(&how) != 0) return;
    posix_spawnattr_setsigmask(&how, &none);
    posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSIGMASK);
    int failed = posix_spawnp(&child, opener, NULL, &how, argv, environ);
    posix_spawnattr_destroy(&how);
    if (failed)
        pp_say(stderr, "plateproof: no browser could be opened (%s: %s); open the address above\n",
               opener, strerror(failed));
}

static void tell_address(void *context, const char *address, bool first)
{
    const told *t = context;
    if (first)
        pp_say(stdout, "Open this address in the browser of this machine (it works once):\n  %s\n",
               address);
    else if (!t->quiet)
        pp_say(stdout, "Opened. For another browser:\n  %s\n", address);
    fflush(stdout);
    if (first && t->open) open_browser(address);
}

static bool read_number(const char *text, const char *option, double least, double most,
                        double *value)
{
    if (!text) return true;
    if (pp_number_read(text, strlen(text), '.', value) && *value >= least && *value <= most)
        return true;
    pp_say(stderr, "plateproof: %s %s is not a number from %g to %g\n", option, text, least, most);
    return false;
}

int pp_cmd_serve(int argc, char **argv)
{
    const char *port = NULL, *open = NULL, *idle = NULL;
    const pp_own_option own[] = {{"port", true, &port},
                                 {"open", false, &open},
                                 {"idle-exit", true, &idle},
                                 {NULL, false, NULL}};
    pp_command_line line;
    int status, ended_by = 0;
    if (!pp_options_parse(argc, argv, own, 0, 1, &HELP, &line, &status) || line.done) return status;
    double wanted_port = 0, minutes = 0;
    if (!read_number(port, "--port", 1, 65535, &wanted_port) ||
        !read_number(idle, "--idle-exit", 0.01, 100000, &minutes))
        return PP_EXIT_USAGE;
    if (wanted_port != (double)(unsigned)wanted_port) {
        pp_say(stderr, "plateproof: --port %s is not a whole number\n", port);
        return PP_EXIT_USAGE;
    }
    told t = {.open = open != NULL, .quiet = line.common.quiet};
    pp_serve_options options = {.folder = line.count ? line.words[0] : ".",
                                .port = (unsigned)wanted_port,
                                .idle_minutes = minutes,
                                .address = tell_address,
                                .context = &t};
    pp_error error = {0};
    pp_serve_function serve;
    if (pp_serve_load(&serve, &error) != PP_OK || serve(&options, &ended_by, &error) != PP_OK)
        return pp_exit_error(&error);
    if (!line.common.quiet)
        pp_say(stdout, ended_by ? "Ended.\n" : "Ended: nobody has asked for %s minutes.\n", idle);
    return PP_EXIT_CONFORMS;
}
