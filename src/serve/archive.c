#include "serve/archive.h"

#include <archive.h>
#include <archive_entry.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "serve/beneath.h"
#include "serve/reply.h"

enum { FILES_MAX = 512, PIECE = 64 * 1024, AHEAD = 1 << 20 };

typedef struct packing {
    int root, out; /* the folder opened; the end that is written to */
    char report[PP_BENEATH_PATH_MAX];
} packing;

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Names of the ordinary files in `folder`, each with `before` in front, added to names[]. */
static size_t list_files(int root, const char *folder, const char *before, char **names,
                         size_t have)
{
    int handle = pp_beneath_open(root, folder, O_RDONLY | O_DIRECTORY);
    DIR *opened = handle >= 0 ? fdopendir(handle) : NULL;
    if (!opened && handle >= 0) close(handle);
    for (struct dirent *entry; opened && have < FILES_MAX && (entry = readdir(opened));) {
        if (!pp_beneath_proper(entry->d_name)) continue;
        pp_text name = {0};
        pp_text_print(&name, "%s%s", before, entry->d_name);
        if (!name.failed) names[have++] = name.data;
    }
    if (opened) closedir(opened);
    return have;
}

static bool add_bytes(struct archive *zip, int handle, long long size)
{
    char piece[PIECE];
    while (size > 0) {
        ssize_t got = read(handle, piece, sizeof piece);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) return false; /* shorter than it was */
        if (got > size) got = (ssize_t)size;
        if (archive_write_data(zip, piece, (size_t)got) != got) return false;
        size -= got;
    }
    return true;
}

/* True also for what is no ordinary file: it is left out. */
static bool add_file(const packing *p, struct archive *zip, const char *name)
{
    char path[PP_BENEATH_PATH_MAX];
    struct stat found;
    if (!pp_beneath_join("", p->report, name, path)) return true;
    int handle = pp_beneath_open_file(p->root, path, &found);
    if (handle < 0) return errno == EINVAL || errno == EXDEV || errno == ELOOP;
    const char *slash = strrchr(p->report, '/');
    struct archive_entry *entry = archive_entry_new();
    bool added = false;
    if (entry) {
        pp_text inside = {0};
        pp_text_print(&inside, "%s/%s", slash ? slash + 1 : p->report, name);
        archive_entry_set_pathname_utf8(entry, inside.failed ? name : inside.data);
        archive_entry_set_filetype(entry, AE_IFREG);
        archive_entry_set_perm(entry, 0644);
        archive_entry_set_size(entry, found.st_size);
        archive_entry_set_mtime(entry, found.st_mtim.tv_sec, 0);
        added =
            archive_write_header(zip, entry) == ARCHIVE_OK && add_bytes(zip, handle, found.st_size);
        archive_entry_free(entry);
        pp_text_free(&inside);
    }
    close(handle);
    return added;
}

static void pack(const packing *p, struct archive *zip, char **names, size_t count)
{
    bool whole = true;
    qsort(names, count, sizeof *names, by_name);
    for (size_t i = 0; i < count && whole; i++) whole = add_file(p, zip, names[i]);
    if (whole)
        archive_write_close(zip);
    else
        archive_write_fail(zip); /* without its directory it is no archive */
}

static void *pack_in_thread(void *context)
{
    packing *p = context;
    char **names = calloc(FILES_MAX, sizeof *names);
    struct archive *zip = archive_write_new();
    char inputs[PP_BENEATH_PATH_MAX];
    if (names && zip && archive_write_set_format_zip(zip) == ARCHIVE_OK &&
        archive_write_set_options(zip, "hdrcharset=UTF-8") <= ARCHIVE_OK &&
        archive_write_open_fd(zip, p->out) == ARCHIVE_OK) {
        size_t count = list_files(p->root, p->report, "", names, 0);
        if (pp_beneath_join("", p->report, "inputs", inputs))
            count = list_files(p->root, inputs, "inputs/", names, count);
        pack(p, zip, names, count);
        for (size_t i = 0; i < count; i++) free(names[i]);
    }
    if (zip) archive_write_free(zip);
    free(names);
    close(p->out);
    close(p->root);
    free(p);
    return NULL;
}

enum MHD_Result pp_archive_send(pp_request *request, const char *report)
{
    int ends[2];
    pthread_t thread;
    char name[PP_BENEATH_PATH_MAX + 8];
    const char *slash = strrchr(report, '/');
    packing *p = calloc(1, sizeof *p);
    if (!p || pipe2(ends, O_CLOEXEC) != 0) {
        free(p);
        return pp_reply_nothing(request, MHD_HTTP_INTERNAL_SERVER_ERROR);
    }
    fcntl(ends[1], F_SETPIPE_SZ, AHEAD);
    *p = (packing){.root = fcntl(request->server->root, F_DUPFD_CLOEXEC, 0), .out = ends[1]};
    snprintf(p->report, sizeof p->report, "%s", report);
    if (p->root < 0 || pthread_create(&thread, NULL, pack_in_thread, p) != 0) {
        if (p->root >= 0) close(p->root);
        close(ends[0]);
        close(ends[1]);
        free(p);
        return pp_reply_nothing(request, MHD_HTTP_INTERNAL_SERVER_ERROR);
    }
    pthread_detach(thread); /* ends with the pipe, when the browser has it all or went away */
    snprintf(name, sizeof name, "%s.zip", slash ? slash + 1 : report);
    return pp_reply_pipe(request, "application/zip", name, ends[0]);
}
