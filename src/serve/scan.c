#include "serve/scan.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/text.h"
#include "serve/beneath.h"

typedef struct walk {
    int root;
    const char *ending;
    pp_arena *arena;
    size_t room;
    pp_scan found;
    bool no_memory;
} walk;

static bool ends_in(const char *name, const char *ending)
{
    size_t length = strlen(name), end = strlen(ending);
    return length > end && strcasecmp(name + length - end, ending) == 0;
}

static void add(walk *w, const char *path)
{
    if (w->found.count == PP_SCAN_MAX) {
        w->found.more++;
        return;
    }
    if (w->found.count == w->room) {
        size_t room = w->room ? 2 * w->room : 64;
        const char **paths = pp_arena_take(w->arena, room, sizeof *paths);
        if (!paths) {
            w->no_memory = true;
            return;
        }
        if (w->room) memcpy(paths, w->found.paths, w->room * sizeof *paths);
        w->found.paths = paths;
        w->room = room;
    }
    const char *kept = pp_arena_text(w->arena, path, strlen(path));
    if (kept)
        w->found.paths[w->found.count++] = kept;
    else
        w->no_memory = true;
}

/* Of an entry of the open folder: S_IFDIR, S_IFREG or 0; a link counts as what it leads to unless
 * that is a folder. */
static mode_t kind_of(int folder, const struct dirent *entry)
{
    if (entry->d_type == DT_DIR) return S_IFDIR;
    if (entry->d_type == DT_REG) return S_IFREG;
    if (entry->d_type != DT_UNKNOWN && entry->d_type != DT_LNK) return 0;
    struct stat found;
    if (fstatat(folder, entry->d_name, &found, AT_SYMLINK_NOFOLLOW) != 0) return 0;
    if (S_ISLNK(found.st_mode))
        return fstatat(folder, entry->d_name, &found, 0) == 0 && S_ISREG(found.st_mode) ? S_IFREG
                                                                                        : 0;
    return found.st_mode & S_IFMT;
}

static bool look_into(walk *w, const char *path, int level)
{
    int handle = pp_beneath_open(w->root, path, O_RDONLY | O_DIRECTORY | (level ? O_NOFOLLOW : 0));
    DIR *folder = handle >= 0 ? fdopendir(handle) : NULL;
    if (!folder) {
        if (handle >= 0) close(handle);
        return false;
    }
    bool report = level > 0 && faccessat(handle, "results.json", F_OK, AT_SYMLINK_NOFOLLOW) == 0;
    for (struct dirent *entry; !report && !w->no_memory && (entry = readdir(folder));) {
        char name[PP_BENEATH_PATH_MAX];
        if (entry->d_name[0] == '.') continue;
        if (!pp_beneath_join("", path, entry->d_name, name) || !pp_beneath_proper(name)) continue;
        mode_t kind = kind_of(handle, entry);
        if (kind == S_IFREG && ends_in(entry->d_name, w->ending)) add(w, name);
        if (kind == S_IFDIR && level < PP_SCAN_LEVELS) look_into(w, name, level + 1);
    }
    closedir(folder);
    return true;
}

static int by_bytes(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

pp_status pp_scan_folder(int root, const char *ending, pp_arena *arena, pp_scan *scan,
                         pp_error *error)
{
    walk w = {.root = root, .ending = ending, .arena = arena};
    if (!look_into(&w, "", 0))
        return pp_fail(error, PP_EIO, "the folder cannot be read (%s); is it still there?",
                       strerror(errno));
    if (w.no_memory) return pp_fail_memory(error);
    if (w.found.count) qsort(w.found.paths, w.found.count, sizeof *w.found.paths, by_bytes);
    *scan = w.found;
    return PP_OK;
}
