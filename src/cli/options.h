/* What every command shares: options, exit status, error printing. */
#ifndef PP_CLI_OPTIONS_H
#define PP_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "plateproof/error.h"

/* The one table of exit statuses. */
enum {
    PP_EXIT_CONFORMS = 0, /* everything judged conforms, or nothing was judged */
    PP_EXIT_FAILS = 1,    /* something does not conform or is not proven; not ready to drill */
    PP_EXIT_USAGE =
        2, /* command line, job file or data are wrong, or there is nothing to compute */
    PP_EXIT_SYSTEM = 3 /* a file is missing, could not be read or written, or memory ran out */
};
int pp_exit_of(pp_status status);

/* Print "plateproof: FILE:LINE: what; what to do" on standard error and return the exit status. */
int pp_exit_error(const pp_error *error);

/* The options every command knows. */
typedef struct pp_common_options {
    const char *output; /* -o, --output; NULL */
    bool json;          /* --json */
    bool quiet;         /* -q, --quiet */
    int threads;        /* --threads; default: the processors this process may use */
} pp_common_options;

/* One long option of a command's own. */
typedef struct pp_own_option {
    const char *name; /* "tube", without dashes */
    bool takes_value;
    const char **value; /* where the value goes; for a flag: set to the option's own name */
} pp_own_option;

typedef struct pp_command_help {
    const char *usage;    /* "plateproof rules [SET] [--tube D] ..." */
    const char *text;     /* the rest of the help page */
    const char *output;   /* what -o names: "DIR" or "FILE"; NULL: the command has no use for it */
    bool json;            /* --json has a meaning */
    bool json_beside;     /* --json and -o do not exclude each other */
    const char *repeated; /* one own option that may be given several times; NULL. Its values fill
                             an array of PP_REPEATS_MAX, which ends with NULL */
} pp_command_help;

enum { PP_ARGUMENTS_MAX = 4096, PP_REPEATS_MAX = 1024 };

typedef struct pp_command_line {
    pp_common_options common;
    int count;          /* positional arguments */
    char *const *words; /* [count], in order (getopt permutes argv) */
    bool done;          /* --help or --version was answered: return PP_EXIT_CONFORMS */
} pp_command_line;

/* Parse argv[1..] of a command (argv[0] is its name). `own` ends with a NULL name. `least` and
 * `most` positional arguments are expected (most < 0: any number). On a mistake prints what is
 * wrong and how to get help, and returns false with *status set. After --help or --version, returns
 * true with done. */
bool pp_options_parse(int argc, char **argv, const pp_own_option *own, int least, int most,
                      const pp_command_help *help, pp_command_line *line, int *status);

/* Write all of text to standard output; PP_EXIT_SYSTEM on failure (a full disk, a closed pipe). */
int pp_write_out(const char *text, size_t length);

#endif
