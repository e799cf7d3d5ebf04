#include "answer/paths.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const char *pp_path_file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

char *pp_path_join(const char *folder, const char *path, pp_arena *arena)
{
    size_t folder_length = strlen(folder), length = strlen(path);
    if (path[0] == '/' || folder_length == 0) return pp_arena_text(arena, path, length);
    bool slash = folder[folder_length - 1] != '/';
    char *joined = pp_arena_take(arena, folder_length + slash + length + 1, 1);
    if (!joined) return NULL;
    memcpy(joined, folder, folder_length);
    if (slash) joined[folder_length] = '/';
    memcpy(joined + folder_length + slash, path, length + 1);
    return joined;
}

char *pp_path_default_report(const pp_job *job, pp_arena *arena)
{
    static const char ending[] = "-report";
    size_t folder = (size_t)(pp_path_file_name(job->path) - job->path), name = strlen(job->name);
    char *path = pp_arena_take(arena, folder + name + sizeof ending, 1);
    if (!path) return NULL;
    memcpy(path, job->path, folder);
    memcpy(path + folder, job->name, name);
    memcpy(path + folder + name, ending, sizeof ending);
    return path;
}

/* Absolute, without ".", ".." and links as far as its folder exists. The last name stays as it is:
 * a job file that is a link names its data from where the link lies. */
static char *resolve(const char *path, pp_arena *arena)
{
    char real[PATH_MAX];
    size_t length = strlen(path);
    while (length > 1 && path[length - 1] == '/') length--;
    char *copy = pp_arena_text(arena, path, length);
    if (!copy) return NULL;
    char *name = copy + (pp_path_file_name(copy) - copy);
    const char *folder = ".";
    if (name > copy) {
        folder = name - 1 == copy ? "/" : copy;
        if (name - 1 > copy) name[-1] = '\0';
    }
    if (realpath(folder, real)) return pp_path_join(real, name, arena);
    if (!getcwd(real, sizeof real)) real[0] = '\0';
    return pp_path_join(real, path, arena);
}

/* The same for a folder, its own link resolved too once it exists. */
static char *resolve_folder(const char *path, pp_arena *arena)
{
    char real[PATH_MAX];
    if (realpath(path, real)) return pp_arena_text(arena, real, strlen(real));
    return resolve(path, arena);
}

char *pp_path_relative(const char *path, const char *folder, pp_arena *arena)
{
    char *to = resolve(path, arena), *from = resolve_folder(folder, arena);
    if (!to || !from) return NULL;
    if (to[0] != '/' || from[0] != '/') return to;
    size_t common = 0; /* up to and including the last slash both share */
    for (size_t i = 0;; i++) {
        bool to_ends = to[i] == '/' || to[i] == '\0', from_ends = from[i] == '/' || from[i] == '\0';
        if (to_ends && from_ends) common = i;
        if (to[i] != from[i] || to[i] == '\0') break;
    }
    size_t up = 0;
    for (const char *p = from + common; *p; p++)
        if (*p == '/' && p[1]) up++;
    const char *rest = to + common;
    if (*rest == '/') rest++;
    char *relative = pp_arena_take(arena, 3 * up + strlen(rest) + 2, 1);
    if (!relative) return NULL;
    char *end = relative;
    for (size_t i = 0; i < up; i++) {
        memcpy(end, "../", 3);
        end += 3;
    }
    memcpy(end, rest, strlen(rest) + 1);
    if (!relative[0]) memcpy(relative, ".", 2);
    return relative;
}

char *pp_path_make_temporary(pp_arena *arena)
{
    const char *place = getenv("TMPDIR");
    char *folder = pp_path_join(place && *place ? place : P_tmpdir, "plateproof-XXXXXX", arena);
    return folder && mkdtemp(folder) ? folder : NULL;
}
