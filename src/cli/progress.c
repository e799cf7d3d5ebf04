#include "cli/progress.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/number.h"
#include "cli/say.h"

int pp_progress_handle(const char *text, bool *wrong)
{
    double number;
    *wrong = false;
    if (!text) return -1;
    if (pp_number_read(text, strlen(text), '.', &number) && number >= 0 && number < 65536 &&
        number == (double)(int)number) {
        int mode = fcntl((int)number, F_GETFL);
        if (mode >= 0 && (mode & O_ACCMODE) != O_RDONLY) return (int)number;
    }
    pp_say(stderr,
           "plateproof: --progress-fd %s is no open file that can be written to; give the number "
           "of one, as in --progress-fd 3 3>steps\n",
           text);
    *wrong = true;
    return -1;
}

/* In one write, so that lines of several runs into one pipe do not mix (POSIX, PIPE_BUF). Stage
 * names are the program's own: nothing in them needs an escape. */
static void write_line(pp_progress *progress, const char *stage, double share)
{
    char line[256], number[PP_NUMBER_TEXT_MAX];
    pp_number_write_fixed(number, share, 3);
    int length =
        snprintf(line, sizeof line, "{\"stage\": \"%.150s\", \"share\": %s}\n", stage, number);
    if (write(progress->lines, line, (size_t)length) != length) progress->lines = -1;
}

void pp_progress_show(void *context, const char *stage, double share)
{
    pp_progress *progress = context;
    if (progress->lines >= 0) write_line(progress, stage, share);
    if (!progress->on) return;
    progress->shown = true;
    if (share > 0)
        pp_say(stderr, "\r\033[K%s %.0f %%", stage, 100 * share);
    else
        pp_say(stderr, "\r\033[K%s", stage);
}

void pp_progress_end(pp_progress *progress)
{
    if (progress->shown) pp_say(stderr, "\r\033[K");
}
