#include "serve/upload.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

static bool is_table(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot && (strcasecmp(dot, ".csv") == 0 || strcasecmp(dot, ".txt") == 0);
}

static pp_status refuse(const char *name, pp_error *error)
{
    if (errno == EEXIST)
        return pp_fail(error, PP_EINPUT,
                       "%s is there already and is left alone; choose another name for the plate",
                       name);
    return pp_fail(error, PP_EIO,
                   "%s cannot be written (%s); is there room, and may the folder be written to?",
                   name, strerror(errno));
}

static int open_parent(int root, const char *folder)
{
    if (*folder && !strchr(folder, '/') && mkdirat(root, folder, 0777) != 0 && errno != EEXIST)
        return -1;
    return pp_beneath_open(root, folder, O_RDONLY | O_DIRECTORY);
}

pp_status pp_upload_begin(int root, const char *path, pp_upload *upload, pp_error *error)
{
    char folder[PP_BENEATH_PATH_MAX];
    struct stat found;
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    *upload = (pp_upload){.parent = -1, .file = -1};
    if (!is_table(name) || strlen(name) >= sizeof upload->name)
        return pp_fail(error, PP_EINPUT, "%.80s is no table; drop files that end in .csv or .txt",
                       name);
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - path) : 0, path);
    snprintf(upload->name, sizeof upload->name, "%s", name);
    upload->parent = open_parent(root, folder);
    if (upload->parent < 0) return refuse(name, error);
    if (fstatat(upload->parent, name, &found, AT_SYMLINK_NOFOLLOW) == 0) {
        errno = EEXIST;
        pp_upload_end(upload);
        errno = EEXIST;
        return refuse(name, error);
    }
    snprintf(upload->temporary, sizeof upload->temporary, ".plateproof-%08x%08x",
             randombytes_random(), randombytes_random());
    upload->file =
        openat(upload->parent, upload->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (upload->file >= 0) return PP_OK;
    pp_status status = refuse(name, error);
    pp_upload_end(upload);
    return status;
}

pp_status pp_upload_add(pp_upload *upload, const char *bytes, size_t length, pp_error *error)
{
    upload->size += (long long)length;
    if (upload->size > PP_UPLOAD_MAX)
        return pp_fail(error, PP_EINPUT, "%s is larger than 4 GiB; copy it into the folder instead",
                       upload->name);
    while (length > 0) {
        ssize_t done = write(upload->file, bytes, length);
        if (done < 0 && errno == EINTR) continue;
        if (done < 0) return refuse(upload->name, error);
        bytes += done;
        length -= (size_t)done;
    }
    return PP_OK;
}

pp_status pp_upload_finish(pp_upload *upload, pp_error *error)
{
    if (fsync(upload->file) != 0 && errno != EINVAL) return refuse(upload->name, error);
    /* never over a file that was put there meanwhile */
    int placed = renameat2(upload->parent, upload->temporary, upload->parent, upload->name,
                           RENAME_NOREPLACE);
    if (placed != 0 && (errno == EINVAL || errno == ENOSYS)) {
        placed = linkat(upload->parent, upload->temporary, upload->parent, upload->name, 0);
        if (placed == 0) unlinkat(upload->parent, upload->temporary, 0);
    }
    if (placed != 0) return refuse(upload->name, error);
    upload->temporary[0] = '\0';
    fsync(upload->parent);
    return PP_OK;
}

void pp_upload_end(pp_upload *upload)
{
    if (upload->file >= 0 && upload->temporary[0]) unlinkat(upload->parent, upload->temporary, 0);
    if (upload->file >= 0) close(upload->file);
    if (upload->parent >= 0) close(upload->parent);
    upload->file = upload->parent = -1;
}
