#include "report/folder/folder.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/paths.h"
#include "base/parallel.h"
#include "report/folder/report_files.h"

enum {
    RANDOM_LETTERS = 10,
    NAME_KEPT = 180, /* of the target's name in the temporary one: both fit NAME_MAX */
    ATTEMPTS = 16,   /* against other runs that change the target at the same moment */
    SNIFFED = 512,   /* bytes of results.json that tell whose it is */
    UNLINK_THREADS = 4,
    FLUSH_THREADS = 32,
    DISK_BYTES = 8 << 20 /* written of a file before the disk is told to begin with them */
};

static pp_status fail(const pp_folder *folder, pp_error *error, const char *what)
{
    return pp_fail_at(error, PP_EIO, folder->target, 0, 0,
                      "%s (%s); check the place and its free space, nothing was changed", what,
                      strerror(errno));
}

/* ---- what stands at the target ---- */

typedef enum standing { ABSENT, REPLACEABLE, SIGNED, FOREIGN, NO_FOLDER, UNKNOWN } standing;

static bool is_empty(int handle)
{
    int copy = openat(handle, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *list = copy < 0 ? NULL : fdopendir(copy);
    if (!list) {
        if (copy >= 0) close(copy);
        return false;
    }
    bool empty = true;
    for (struct dirent *entry; empty && (entry = readdir(list));)
        empty = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
    closedir(list);
    return empty;
}

/* What tells a folder of ours: this file, with its format early in it. */
static const struct {
    const char *file, *format;
} OURS[] = {{"results.json", "\"plateproof-results\""},
            {"correction.json", "\"plateproof-correction\""},
            {"comparison.json", "\"plateproof-comparison\""},
            {"history.csv", "figure,plate,date,value,centre,lower,upper,beyond"}};

static bool holds(int handle, const char *name, const char *format)
{
    char bytes[SNIFFED + 1];
    int file = openat(handle, name, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0) return false;
    ssize_t got = read(file, bytes, SNIFFED);
    close(file);
    if (got <= 0) return false;
    bytes[got] = '\0';
    return strstr(bytes, format) != NULL;
}

static bool holds_report(int handle)
{
    for (size_t i = 0; i < sizeof OURS / sizeof *OURS; i++)
        if (holds(handle, OURS[i].file, OURS[i].format)) return true;
    return false;
}

/* Does the name still lead to the folder that was opened by it? */
static bool leads_to(int parent, const char *name, int handle)
{
    struct stat opened, found;
    return fstat(handle, &opened) == 0 && fstatat(parent, name, &found, 0) == 0 &&
           opened.st_ino == found.st_ino && opened.st_dev == found.st_dev;
}

static standing examine_once(int parent, const char *name, bool *moved)
{
    int handle = openat(parent, name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    *moved = false;
    if (handle < 0)
        return errno == ENOENT ? ABSENT : errno == ENOTDIR || errno == ELOOP ? NO_FOLDER : UNKNOWN;
    standing found = is_empty(handle) || holds_report(handle) ? REPLACEABLE : FOREIGN;
    if (found == REPLACEABLE && faccessat(handle, "signature.json", F_OK, AT_SYMLINK_NOFOLLOW) == 0)
        found = SIGNED;
    *moved = found == FOREIGN && !leads_to(parent, name, handle);
    close(handle);
    return found;
}

/* Another run may take the folder away while it is looked at and remove its files: half a report is
 * foreign only if it still stands there. */
static standing examine(int parent, const char *name)
{
    bool moved = true;
    standing found = FOREIGN;
    for (int attempt = 0; moved && attempt < ATTEMPTS; attempt++)
        found = examine_once(parent, name, &moved);
    return found;
}

static pp_status check_standing(const pp_folder *folder, standing found, pp_error *error)
{
    switch (found) {
    case ABSENT:
    case REPLACEABLE:
        return PP_OK;
    case SIGNED:
        if (folder->replace_signed) return PP_OK;
        return pp_fail_at(error, PP_EINPUT, folder->target, 0, 0,
                          "the report there is signed; choose another place with --output, or "
                          "replace it with --replace-signed");
    case FOREIGN:
        return pp_fail_at(error, PP_EINPUT, folder->target, 0, 0,
                          "the folder exists and is no report of plateproof; choose another with "
                          "--output, or empty it");
    case NO_FOLDER:
        return pp_fail_at(error, PP_EINPUT, folder->target, 0, 0,
                          "is a file, not a folder; choose another place with --output");
    case UNKNOWN:
        break;
    }
    return fail(folder, error, "the folder cannot be read");
}

/* ---- temporary folders ---- */

/* ".NAME.plateproof-": what the temporary folders of this target begin with. */
static size_t temporary_prefix(const char *name, char prefix[NAME_MAX + 1])
{
    return (size_t)snprintf(prefix, NAME_MAX + 1, ".%.*s.plateproof-", NAME_KEPT, name);
}

static pp_status unlink_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const int *handle = context;
    unlinkat(*handle, pp_report_file_name(part), 0);
    return PP_OK;
}

/* Is this a name in the subfolder of packed inputs: three digits or more and a dash, or its index?
 */
static bool is_packed(const char *name)
{
    size_t digits = strspn(name, "0123456789");
    return strcmp(name, "index.json") == 0 || (digits >= 3 && name[digits] == '-');
}

/* Remove what packing put there, and the subfolder if nothing else is in it. */
static void clear_inputs(int handle)
{
    int inputs = openat(handle, PP_FOLDER_INPUTS, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    DIR *list = inputs < 0 ? NULL : fdopendir(inputs);
    if (!list) {
        if (inputs >= 0) close(inputs);
        return;
    }
    for (struct dirent *entry; (entry = readdir(list));)
        if (is_packed(entry->d_name)) unlinkat(inputs, entry->d_name, 0);
    closedir(list);
    unlinkat(handle, PP_FOLDER_INPUTS, AT_REMOVEDIR);
}

/* Remove the report files of a folder, hand over what else there is to `heir` (a handle, -1: leave
 * it), and the folder itself if nothing is left. */
static void clear_folder(int parent, const char *name, int handle, int heir)
{
    int copy = openat(handle, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *list = copy < 0 ? NULL : fdopendir(copy);
    if (!list) {
        if (copy >= 0) close(copy);
        return;
    }
    /* side by side: giving back the cached pages of large tables takes a while */
    pp_parallel(UNLINK_THREADS, pp_report_file_count(), unlink_file, &handle, NULL);
    clear_inputs(handle);
    for (struct dirent *entry; heir >= 0 && (entry = readdir(list));) {
        const char *item = entry->d_name;
        if (strcmp(item, ".") == 0 || strcmp(item, "..") == 0) continue;
        if (!pp_report_file_is_known(item)) renameat2(handle, item, heir, item, RENAME_NOREPLACE);
    }
    closedir(list);
    unlinkat(parent, name, AT_REMOVEDIR);
}

/* A run holds a lock on its temporary folder as long as it lives: what can be locked is left over.
 * Unless the run ended between the opening and the locking: then the handle is of the report it has
 * put in place, and the name leads elsewhere or nowhere. */
static void sweep_left_over(int parent, const char *name)
{
    int handle = openat(parent, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (handle < 0) return;
    if (flock(handle, LOCK_EX | LOCK_NB) == 0 && leads_to(parent, name, handle))
        clear_folder(parent, name, handle, -1);
    close(handle);
}

static void sweep(const pp_folder *folder)
{
    char prefix[NAME_MAX + 1];
    size_t length = temporary_prefix(folder->name, prefix);
    int copy = openat(folder->parent, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *list = copy < 0 ? NULL : fdopendir(copy);
    if (!list) {
        if (copy >= 0) close(copy);
        return;
    }
    for (struct dirent *entry; (entry = readdir(list));)
        if (strncmp(entry->d_name, prefix, length) == 0)
            sweep_left_over(folder->parent, entry->d_name);
    closedir(list);
}

static bool random_letters(char text[RANDOM_LETTERS + 1])
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz234567";
    unsigned char bytes[RANDOM_LETTERS];
    if (getrandom(bytes, sizeof bytes, 0) != (ssize_t)sizeof bytes) return false;
    for (int i = 0; i < RANDOM_LETTERS; i++) text[i] = letters[bytes[i] & 31];
    text[RANDOM_LETTERS] = '\0';
    return true;
}

/* Locked before anything is in it. Another run's sweep may take the folder between its making and
 * its locking; then the name no longer leads to it, and another is made. */
static bool make_temporary(pp_folder *folder, char *name)
{
    if (mkdirat(folder->parent, name, 0777) != 0) return false;
    int handle = openat(folder->parent, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (handle < 0) {
        if (errno == ENOENT) errno = EEXIST; /* swept away: as if the name had been taken */
        return false;
    }
    bool locked = flock(handle, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
    if (!locked || !leads_to(folder->parent, name, handle)) {
        close(handle);
        errno = EEXIST;
        return false;
    }
    folder->handle = handle;
    folder->temporary = name;
    return true;
}

/* ---- opening ---- */

/* Resolve the target into its parent, opened, and its own name. */
static pp_status find_place(pp_folder *folder, const char *target, pp_arena *arena, pp_error *error)
{
    char real[PATH_MAX];
    *folder = (pp_folder){.target = target, .parent = -1, .handle = -1};
    size_t length = strlen(target);
    while (length > 1 && target[length - 1] == '/') length--;
    bool exists = realpath(target, real) != NULL;
    char *path =
        exists ? pp_arena_text(arena, real, strlen(real)) : pp_arena_text(arena, target, length);
    if (!path) return pp_fail_memory(error);
    const char *name = pp_path_file_name(path);
    if (!name[0] || strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
        return pp_fail_at(error, PP_EINPUT, target, 0, 0,
                          "cannot become a report folder; choose another with --output");
    folder->name = pp_arena_text(arena, name, strlen(name));
    if (!folder->name) return pp_fail_memory(error);
    path[name - path] = '\0';
    folder->parent = open(path[0] ? path : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder->parent < 0)
        return pp_fail_at(error, PP_EIO, target, 0, 0,
                          "the folder it is to be made in cannot be opened (%s); create it, or "
                          "choose another place with --output",
                          strerror(errno));
    return PP_OK;
}

static void close_handles(pp_folder *folder)
{
    for (size_t i = 0; i < folder->file_count; i++)
        if (folder->files[i].handle >= 0) close(folder->files[i].handle);
    folder->file_count = 0;
    if (folder->handle >= 0) close(folder->handle);
    if (folder->parent >= 0) close(folder->parent);
    folder->handle = folder->parent = -1;
}

pp_status pp_folder_check(const char *target, bool replace_signed, pp_arena *arena, pp_error *error)
{
    pp_folder folder;
    pp_status status = find_place(&folder, target, arena, error);
    folder.replace_signed = replace_signed;
    if (status == PP_OK)
        status = check_standing(&folder, examine(folder.parent, folder.name), error);
    if (status == PP_OK && faccessat(folder.parent, ".", W_OK | X_OK, AT_EACCESS) != 0)
        status = fail(&folder, error, "no folder can be made there");
    close_handles(&folder);
    return status;
}

static pp_status open_temporary(pp_folder *folder, pp_arena *arena, pp_error *error)
{
    char prefix[NAME_MAX + 1], letters[RANDOM_LETTERS + 1];
    size_t length = temporary_prefix(folder->name, prefix);
    char *name = pp_arena_take(arena, length + sizeof letters, 1);
    if (!name) return pp_fail_memory(error);
    for (int attempt = 0; attempt < ATTEMPTS; attempt++) {
        if (!random_letters(letters)) break;
        memcpy(name, prefix, length);
        memcpy(name + length, letters, sizeof letters);
        if (make_temporary(folder, name)) return PP_OK;
        if (errno != EEXIST) break;
    }
    return fail(folder, error, "no folder can be made there");
}

pp_status pp_folder_open(pp_folder *folder, const char *target, bool replace_signed,
                         pp_arena *arena, pp_error *error)
{
    pp_folder opened;
    pp_status status = find_place(&opened, target, arena, error);
    opened.replace_signed = replace_signed;
    if (status == PP_OK)
        status = check_standing(&opened, examine(opened.parent, opened.name), error);
    if (status == PP_OK) {
        sweep(&opened);
        opened.files = pp_arena_take(arena, PP_FOLDER_FILES_MAX, sizeof *opened.files);
        status = opened.files ? open_temporary(&opened, arena, error) : pp_fail_memory(error);
    }
    if (status == PP_OK)
        *folder = opened;
    else
        close_handles(&opened);
    return status;
}

/* ---- writing ---- */

static pp_status write_file(void *context, const char *bytes, size_t length, pp_error *error)
{
    pp_folder_file *file = context;
    while (length > 0) {
        ssize_t done = write(file->handle, bytes, length);
        if (done < 0 && errno == EINTR) continue;
        if (done < 0) return fail(file->folder, error, "the report cannot be written");
        bytes += done;
        length -= (size_t)done;
        file->waiting += (size_t)done;
    }
    if (file->waiting < DISK_BYTES) return PP_OK;
    file->waiting = 0; /* let the disk work while the rest is made */
    sync_file_range(file->handle, 0, 0, SYNC_FILE_RANGE_WRITE);
    return PP_OK;
}

static pp_status add_file(pp_folder *folder, const char *name, int flags, pp_error *error)
{
    if (folder->file_count == PP_FOLDER_FILES_MAX)
        return pp_fail_at(error, PP_EIO, name, 0, 0, "too many files for one report");
    int handle = openat(folder->handle, name, O_WRONLY | O_CLOEXEC | flags, 0666);
    if (handle < 0) return fail(folder, error, "the report cannot be written");
    folder->files[folder->file_count++] = (pp_folder_file){folder, handle, 0};
    return PP_OK;
}

pp_status pp_folder_begin(pp_folder *folder, const char *name, pp_sink *sink, pp_error *error)
{
    PP_TRY(add_file(folder, name, O_CREAT | O_EXCL, error));
    *sink = (pp_sink){write_file, &folder->files[folder->file_count - 1]};
    return PP_OK;
}

pp_status pp_folder_begin_inputs(pp_folder *folder, pp_error *error)
{
    if (mkdirat(folder->handle, PP_FOLDER_INPUTS, 0777) != 0)
        return fail(folder, error, "the report cannot be written");
    folder->has_inputs = true;
    return PP_OK;
}

pp_status pp_folder_add(pp_folder *folder, const char *name, const char *bytes, size_t length,
                        pp_error *error)
{
    pp_sink sink = {0};
    PP_TRY(pp_folder_begin(folder, name, &sink, error));
    return sink.write(sink.context, bytes, length, error);
}

/* By the handle, not by the name: whatever the current folder is. */
void pp_folder_path(const pp_folder *folder, const char *name, char path[PP_FOLDER_PATH_MAX])
{
    snprintf(path, PP_FOLDER_PATH_MAX, "/proc/self/fd/%d/%s", folder->handle, name);
}

pp_status pp_folder_take_over(pp_folder *folder, const char *name, pp_error *error)
{
    return add_file(folder, name, 0, error);
}

/* ---- putting in place ---- */

static pp_status flush_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    pp_folder *folder = context;
    int handle = folder->files[part].handle;
    folder->files[part].handle = -1;
    bool flushed = fsync(handle) == 0 || errno == EINVAL; /* EINVAL: no such thing there */
    if (close(handle) != 0) flushed = false;
    return flushed ? PP_OK : fail(folder, error, "the report cannot be written");
}

/* All files at once, whatever the number of threads: they wait for the disk, which then writes its
 * own records once for all of them. */
static pp_status flush(pp_folder *folder, pp_error *error)
{
    PP_TRY(pp_parallel(FLUSH_THREADS, folder->file_count, flush_file, folder, error));
    int inputs = folder->has_inputs
                     ? openat(folder->handle, PP_FOLDER_INPUTS, O_RDONLY | O_DIRECTORY | O_CLOEXEC)
                     : -1;
    bool flushed = inputs < 0 || fsync(inputs) == 0 || errno == EINVAL;
    if (inputs >= 0) close(inputs);
    if (!flushed || (fsync(folder->handle) != 0 && errno != EINVAL))
        return fail(folder, error, "the report cannot be written");
    return PP_OK;
}

static void keep_mode(const pp_folder *folder)
{
    struct stat old;
    if (fstatat(folder->parent, folder->name, &old, 0) == 0)
        fchmod(folder->handle, old.st_mode & 07777);
}

/* Where the file system cannot exchange: two renames, the old one put back if the second fails. */
static bool replace_in_two_steps(const pp_folder *folder)
{
    char aside[NAME_MAX + 1];
    int length = snprintf(aside, sizeof aside, "%s-old", folder->temporary);
    if (length >= (int)sizeof aside) return false;
    if (renameat(folder->parent, folder->name, folder->parent, aside) != 0) return false;
    if (renameat(folder->parent, folder->temporary, folder->parent, folder->name) != 0) {
        int why = errno;
        renameat(folder->parent, aside, folder->parent, folder->name);
        errno = why;
        return false;
    }
    return renameat(folder->parent, aside, folder->parent, folder->temporary) == 0;
}

static bool cannot(void) { return errno == EINVAL || errno == ENOSYS || errno == ENOTSUP; }

/* True when the new folder stands at the target; *replaced: the old one now has the temporary name.
 */
static bool swap(const pp_folder *folder, standing found, bool *replaced)
{
    int parent = folder->parent;
    *replaced = found == REPLACEABLE || found == SIGNED;
    if (found == ABSENT) {
        if (renameat2(parent, folder->temporary, parent, folder->name, RENAME_NOREPLACE) == 0)
            return true;
        return cannot() && renameat(parent, folder->temporary, parent, folder->name) == 0;
    }
    keep_mode(folder);
    if (renameat2(parent, folder->temporary, parent, folder->name, RENAME_EXCHANGE) == 0)
        return true;
    return cannot() && replace_in_two_steps(folder);
}

static pp_status put_in_place(const pp_folder *folder, bool *replaced, pp_error *error)
{
    for (int attempt = 0; attempt < ATTEMPTS; attempt++) {
        standing found = examine(folder->parent, folder->name);
        PP_TRY(check_standing(folder, found, error));
        if (swap(folder, found, replaced)) return PP_OK;
        /* another run may have put its report there, or taken it away, since we looked */
        if (errno != EEXIST && errno != ENOTEMPTY && errno != ENOENT) break;
    }
    return fail(folder, error, "the report cannot be put in place");
}

pp_status pp_folder_commit(pp_folder *folder, pp_error *error)
{
    bool replaced;
    PP_TRY(flush(folder, error));
    PP_TRY(put_in_place(folder, &replaced, error));
    fsync(folder->parent);
    if (replaced) {
        int old = openat(folder->parent, folder->temporary,
                         O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
        if (old >= 0) {
            clear_folder(folder->parent, folder->temporary, old, folder->handle);
            close(old);
        }
    }
    close_handles(folder);
    return PP_OK;
}

void pp_folder_abandon(pp_folder *folder)
{
    if (folder->handle < 0) return;
    clear_folder(folder->parent, folder->temporary, folder->handle, -1);
    close_handles(folder);
}

/* ---- a report that stands ---- */

pp_status pp_folder_open_standing(pp_folder *folder, const char *target, pp_arena *arena,
                                  pp_error *error)
{
    pp_folder opened;
    pp_status status = find_place(&opened, target, arena, error);
    standing found = status == PP_OK ? examine(opened.parent, opened.name) : UNKNOWN;
    if (status == PP_OK && found == SIGNED)
        status = pp_fail_at(error, PP_EINPUT, target, 0, 0,
                            "is signed, and putting its inputs into it would break the signature; "
                            "pack before signing");
    if (status == PP_OK) {
        opened.handle = openat(opened.parent, opened.name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
        if (found != REPLACEABLE || opened.handle < 0 || !holds_report(opened.handle))
            status = pp_fail_at(error, PP_EINPUT, target, 0, 0,
                                "holds no results.json; name a report folder of plateproof");
    }
    if (status == PP_OK) {
        opened.files = pp_arena_take(arena, PP_FOLDER_FILES_MAX, sizeof *opened.files);
        if (!opened.files) status = pp_fail_memory(error);
    }
    if (status != PP_OK) {
        close_handles(&opened);
        return status;
    }
    clear_inputs(opened.handle);
    *folder = opened;
    return PP_OK;
}

pp_status pp_folder_finish_standing(pp_folder *folder, pp_error *error)
{
    pp_status status = flush(folder, error);
    if (status != PP_OK) clear_inputs(folder->handle);
    close_handles(folder);
    return status;
}

void pp_folder_give_up_standing(pp_folder *folder)
{
    clear_inputs(folder->handle);
    close_handles(folder);
}
