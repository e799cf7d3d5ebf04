/* Papers that other versions of the drawing libraries made: compared by their text. */
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "answer/paths.h"
#include "report/certificate/fonts.h"
#include "verify/compare_parts.h"

extern char **environ;

static const char CREATOR[] = "/Creator (plateproof";
enum { ENGINE_MAX = 160, TEXT_MAX = 16 << 20 };

/* The libraries that drew a paper, as its /Creator names them behind the version. */
static bool engine_of(const char *bytes, size_t length, char engine[ENGINE_MAX])
{
    const char *at = memmem(bytes, length, CREATOR, sizeof CREATOR - 1);
    if (!at) return false;
    const char *end = memchr(at, ')', length - (size_t)(at - bytes));
    const char *from = end ? memchr(at, ';', (size_t)(end - at)) : NULL;
    if (!from) return false;
    int room = (int)(end - from) - 2;
    snprintf(engine, ENGINE_MAX, "%.*s", room < 0 ? 0 : room, from + 2);
    return true;
}

typedef enum reading { READ, UNREADABLE, NO_READER } reading;

/* What pdftotext reads from a file, to be freed. */
static reading text_of_paper(const char *path, pp_text *text)
{
    int ends[2], status = -1;
    pid_t child;
    char name[] = "pdftotext", quiet[] = "-q", layout[] = "-layout", out[] = "-";
    char *file = strdup(path);
    char *const arguments[] = {name, quiet, layout, file, out, NULL};
    posix_spawn_file_actions_t actions;
    if (!file || pipe2(ends, O_CLOEXEC) != 0) {
        free(file);
        return NO_READER;
    }
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
    bool started = posix_spawnp(&child, name, &actions, NULL, arguments, environ) == 0;
    posix_spawn_file_actions_destroy(&actions);
    close(ends[1]);
    char chunk[4096];
    for (ssize_t got; started && (got = read(ends[0], chunk, sizeof chunk)) > 0;)
        if (text->length < TEXT_MAX) pp_text_add_bytes(text, chunk, (size_t)got);
    close(ends[0]);
    if (started) waitpid(child, &status, 0);
    free(file);
    if (!started || (WIFEXITED(status) && WEXITSTATUS(status) == 127)) return NO_READER;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 && !text->failed ? READ : UNREADABLE;
}

static reading text_of_bytes(const pp_text *made, const char *folder, const char *name,
                             pp_arena *arena, pp_text *text)
{
    const char *path = pp_path_join(folder, name, arena);
    FILE *file = path ? fopen(path, "wbx") : NULL;
    bool good = file && fwrite(made->data, 1, made->length, file) == made->length;
    if (file && fclose(file) != 0) good = false;
    reading got = good ? text_of_paper(path, text) : NO_READER;
    if (file) unlink(path);
    return got;
}

typedef enum likeness { SAME, DIFFERENT, UNKNOWN } likeness;

static likeness compare_texts(const char *folder, const char *name, const pp_text made[2],
                              pp_arena *arena)
{
    pp_text recorded = {0};
    const char *path = pp_path_join(folder, name, arena);
    const char *scratch = pp_path_make_temporary(arena);
    reading read = path && scratch ? text_of_paper(path, &recorded) : NO_READER;
    likeness found = read == NO_READER ? UNKNOWN : DIFFERENT;
    for (int i = 0; i < 2 && read == READ && found == DIFFERENT; i++) {
        pp_text now = {0};
        if (!made[i].length) continue;
        reading ours = text_of_bytes(&made[i], scratch, name, arena, &now);
        if (ours == NO_READER) found = UNKNOWN;
        if (ours == READ && now.length == recorded.length &&
            (!now.length || memcmp(now.data, recorded.data, now.length) == 0))
            found = SAME;
        pp_text_free(&now);
    }
    pp_text_free(&recorded);
    if (scratch) rmdir(scratch);
    return found;
}

void pp_compare_paper(const char *folder, const char *name, const pp_mapped *file,
                      const pp_text made[2], pp_arena *arena, pp_difference *difference)
{
    char theirs[ENGINE_MAX], ours[128];
    pp_fonts_engine(ours);
    if (!engine_of(file->bytes, file->length, theirs) || strcmp(theirs, ours) == 0) return;
    likeness found = compare_texts(folder, name, made, arena);
    if (found == DIFFERENT) return;
    difference->kind = PP_PAGE_OTHER_ENGINE;
    difference->where = found == SAME ? "their text is the same; pictures were not compared"
                                      : "not compared: pdftotext of poppler-utils is not installed";
    difference->recorded = pp_compare_keep(arena, theirs, strlen(theirs));
    difference->now = pp_compare_keep(arena, ours, strlen(ours));
}
