#include "cli/session.h"

#include <errno.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

const char *pp_session_date(const pp_job *job, char text[16], bool *from_epoch)
{
    if (from_epoch) *from_epoch = false;
    if (job && job->date) return job->date;
    time_t when = time(NULL);
    const char *epoch = getenv("SOURCE_DATE_EPOCH");
    if (epoch && *epoch) {
        char *end;
        errno = 0;
        long long seconds = strtoll(epoch, &end, 10);
        if (errno == 0 && *end == '\0' && seconds >= 0) {
            when = (time_t)seconds;
            if (from_epoch) *from_epoch = true;
        }
    }
    struct tm parts;
    if (!gmtime_r(&when, &parts) || strftime(text, 16, "%Y-%m-%d", &parts) == 0)
        return "1970-01-01";
    return text;
}

/* ---- passphrases ---- */

static bool read_line(FILE *from, char line[PP_PASSPHRASE_MAX + 1])
{
    if (!fgets(line, PP_PASSPHRASE_MAX + 1, from)) return false;
    line[strcspn(line, "\r\n")] = '\0';
    return line[0] != '\0';
}

static bool ask_once(FILE *terminal, const char *prompt, char line[PP_PASSPHRASE_MAX + 1])
{
    struct termios before, silent;
    fputs(prompt, terminal);
    fflush(terminal);
    bool known = tcgetattr(fileno(terminal), &before) == 0;
    if (known) {
        silent = before;
        silent.c_lflag &= ~(tcflag_t)ECHO;
        tcsetattr(fileno(terminal), TCSAFLUSH, &silent);
    }
    bool given = read_line(terminal, line);
    if (known) tcsetattr(fileno(terminal), TCSAFLUSH, &before);
    fputs("\n", terminal);
    return given;
}

static bool ask_at_terminal(FILE *terminal, bool again, char passphrase[PP_PASSPHRASE_MAX + 1])
{
    char second[PP_PASSPHRASE_MAX + 1];
    if (!ask_once(terminal, "passphrase: ", passphrase)) return false;
    if (!again) return true;
    bool same = ask_once(terminal, "the same again: ", second) && strcmp(passphrase, second) == 0;
    explicit_bzero(second, sizeof second);
    if (!same) fputs("the two differ\n", terminal);
    return same;
}

static bool ask_passphrase(void *context, bool again, char passphrase[PP_PASSPHRASE_MAX + 1])
{
    const char *file = *(const char *const *)context;
    FILE *from = file ? fopen(file, "re") : fopen("/dev/tty", "r+e");
    if (!from) return false;
    bool given = file ? read_line(from, passphrase) : ask_at_terminal(from, again, passphrase);
    fclose(from);
    return given;
}

pp_passphrase pp_session_passphrase(const char *const *file)
{
    return (pp_passphrase){ask_passphrase, (void *)(uintptr_t)file};
}

pp_terminal_options pp_session_terminal(void)
{
    pp_terminal_options options = {0};
    struct winsize size;
    const char *no_color = getenv("NO_COLOR");
    if (!isatty(STDOUT_FILENO)) return options;
    options.colour = !(no_color && *no_color);
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        options.width = size.ws_col;
    return options;
}

const char *pp_session_folder(const pp_job *job, const char *parent, pp_memory *memory)
{
    const char *slash = strrchr(job->path, '/');
    const char *before = parent ? parent : job->path;
    int length = parent ? (int)strlen(parent) : slash ? (int)(slash - job->path) : 0;
    bool root = length == 0 && slash && !parent; /* a job file in "/" */
    size_t room = (size_t)length + strlen(job->name) + sizeof "/-report";
    char *folder = pp_arena_take(&memory->keep, room, 1);
    if (folder)
        snprintf(folder, room, "%.*s%s%s-report", length, before, length || root ? "/" : "",
                 job->name);
    return folder;
}

/* The one mutable global of the program: a signal handler has nothing else to write to. */
static volatile sig_atomic_t caught;

static void note_signal(int signal) { caught = signal; }

static const int asked[] = {SIGINT, SIGTERM, SIGHUP};

void pp_session_catch_signals(void)
{
    struct sigaction action = {.sa_handler = note_signal}, before;
    sigemptyset(&action.sa_mask);
    action.sa_flags = (int)SA_RESETHAND; /* a second one ends at once */
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++)
        if (sigaction(asked[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN) /* nohup */
            sigaction(asked[i], &action, NULL);
    signal(SIGXFSZ, SIG_IGN); /* a file beyond the limit is an error to report, not an end */
}

void pp_session_release_signals(void)
{
    struct sigaction now;
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++)
        if (sigaction(asked[i], NULL, &now) == 0 && now.sa_handler == note_signal)
            signal(asked[i], SIG_DFL);
}

bool pp_session_stopped(void *unused)
{
    (void)unused;
    return caught != 0;
}

int pp_session_poll(struct pollfd *files, nfds_t count)
{
    sigset_t held, before;
    sigemptyset(&held);
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) sigaddset(&held, asked[i]);
    pthread_sigmask(SIG_BLOCK, &held, &before);
    int ready = caught ? -1 : ppoll(files, count, NULL, &before); /* none gets lost in between */
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return ready;
}

int pp_session_end(int status)
{
    if (caught == 0) return status;
    signal(caught, SIG_DFL);
    raise(caught);
    return status;
}
