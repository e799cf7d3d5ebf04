#include "history/store.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/vfs.h>
#include <time.h>
#include <unistd.h>

#include "base/embedded.h"

extern const pp_embedded_file pp_schema_files[];

enum {
    APPLICATION = 0x50504831, /* "PPH1", as schema.sql says */
    SCHEMA_VERSION = 1,
    WAIT_MS = 20000,
    RETRY_MS = 25,
    ONE_THREAD = SQLITE_OPEN_NOMUTEX /* a history is used by the thread that opened it */
};

static pp_status fail_full(const char *path, pp_error *error)
{
    return pp_fail_at(error, PP_EIO, path, 0, 0,
                      "cannot be written: the disk is full; make room and add again, nothing is "
                      "half-written");
}

/* SQLite calls only its own writing of pages so, not the room for a log's shared memory. */
static bool is_full(const pp_history *h, int code)
{
    return code == SQLITE_IOERR_SHMSIZE ||
           ((code & 0xff) == SQLITE_IOERR && h->db && sqlite3_system_errno(h->db) == ENOSPC);
}

/* What SQLite says went wrong, with what to do. errors: PP_EINPUT, PP_EIO, PP_ENOMEM */
static pp_status history_fail(const pp_history *h, int code, pp_error *error)
{
    if (is_full(h, code)) return fail_full(h->path, error);
    switch (code & 0xff) {
    case SQLITE_NOMEM:
        return pp_fail_memory(error);
    case SQLITE_NOTADB:
        return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                          "is no history of plateproof: no database at all; name the history, or a "
                          "new file");
    case SQLITE_CORRUPT:
        return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                          "is damaged (%s); put back a copy, or add the reports to a new file",
                          sqlite3_errmsg(h->db));
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return pp_fail_at(error, PP_EIO, h->path, 0, 0,
                          "is held by another process, for %d s now; try again when that is done",
                          WAIT_MS / 1000);
    case SQLITE_FULL:
        return fail_full(h->path, error);
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return pp_fail_at(error, PP_EIO, h->path, 0, 0,
                          "may not be written; check the rights of the file and its folder");
    case SQLITE_CANTOPEN:
        return pp_fail_at(error, PP_EIO, h->path, 0, 0,
                          "cannot be opened; check the path and the rights of its folder");
    default:
        return pp_fail_at(error, PP_EIO, h->path, 0, 0, "the database says: %s; check the disk",
                          h->db ? sqlite3_errmsg(h->db) : "out of memory");
    }
}

bool pp_history_is_network(unsigned long type)
{
    static const unsigned long NETWORK[] = {
        0x6969,                                             /* NFS */
        0x517b,     0xff534d42ul, 0xfe534d42ul,             /* SMB, CIFS, SMB 2 */
        0x564c,     0x73757245,   0x5346414f,   0x01021997, /* NCP, Coda, AFS, 9P */
        0x00c36400,                                         /* Ceph */
    };
    for (size_t i = 0; i < sizeof NETWORK / sizeof *NETWORK; i++)
        if ((type & 0xfffffffful) == NETWORK[i]) return true;
    return false;
}

static bool lies_on_network(const char *path)
{
    struct statfs facts;
    return statfs(path, &facts) == 0 && pp_history_is_network((unsigned long)facts.f_type);
}

/* One whole number that a statement gives. */
static int ask(pp_history *h, const char *sql, long long *value)
{
    sqlite3_stmt *s = NULL;
    int code = sqlite3_prepare_v2(h->db, sql, -1, &s, NULL);
    if (code == SQLITE_OK) code = sqlite3_step(s);
    if (code == SQLITE_ROW) *value = sqlite3_column_int64(s, 0), code = SQLITE_OK;
    sqlite3_finalize(s);
    return code;
}

/* Is it ours? *empty: a new database, to be given its schema. */
static pp_status recognise(pp_history *h, bool *empty, pp_error *error)
{
    long long application = 0, version = 0, tables = 0;
    int code = ask(h, "PRAGMA application_id", &application);
    if (code == SQLITE_OK) code = ask(h, "PRAGMA user_version", &version);
    if (code == SQLITE_OK) code = ask(h, "SELECT count(*) FROM sqlite_schema", &tables);
    if (code != SQLITE_OK) return history_fail(h, code, error);
    *empty = application == 0 && version == 0 && tables == 0;
    if (*empty) return PP_OK;
    if (application != APPLICATION)
        return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                          "is the database of another program; name a history of plateproof, or a "
                          "new file");
    if (version > SCHEMA_VERSION)
        return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                          "was written by a newer plateproof (schema %lld, this one knows %d); use "
                          "that one, nothing was changed",
                          version, SCHEMA_VERSION);
    return PP_OK;
}

static void wait_a_little(void)
{
    struct timespec pause = {.tv_nsec = RETRY_MS * 1000000L};
    nanosleep(&pause, NULL);
}

static bool says(pp_history *h, const char *sql, const char *word, int *code)
{
    sqlite3_stmt *s = NULL;
    bool same = false;
    *code = sqlite3_prepare_v2(h->db, sql, -1, &s, NULL);
    if (*code == SQLITE_OK) *code = sqlite3_step(s);
    if (*code == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(s, 0);
        same = text && strcmp(text, word) == 0;
        *code = SQLITE_OK;
    }
    sqlite3_finalize(s);
    return same;
}

/* The switch is refused at once while another process writes, whatever the timeout: ask again. */
static pp_status choose_journal(pp_history *h, pp_error *error)
{
    const char *word = h->network ? "delete" : "wal";
    int code = SQLITE_OK;
    for (int waited = 0; waited <= WAIT_MS; waited += RETRY_MS) {
        if (says(h, "PRAGMA journal_mode", word, &code)) return PP_OK;
        if (says(h, h->network ? "PRAGMA journal_mode = DELETE" : "PRAGMA journal_mode = WAL", word,
                 &code))
            return PP_OK;
        if (code != SQLITE_OK && (code & 0xff) != SQLITE_BUSY) break;
        wait_a_little();
    }
    return history_fail(h, code == SQLITE_OK ? SQLITE_BUSY : code, error);
}

static pp_status execute(pp_history *h, const char *sql, pp_error *error)
{
    int code = sqlite3_exec(h->db, sql, NULL, NULL, NULL);
    return code == SQLITE_OK ? PP_OK : history_fail(h, code, error);
}

/* Another process may have been faster: look again inside the transaction. */
static pp_status make_schema(pp_history *h, pp_error *error)
{
    bool empty;
    PP_TRY(pp_history_begin(h, error));
    pp_status status = recognise(h, &empty, error);
    if (status == PP_OK && empty) status = execute(h, pp_schema_files[0].bytes, error);
    if (status == PP_OK) return pp_history_commit(h, error);
    pp_history_roll_back(h);
    return status;
}

static pp_status prepare_file(pp_history *h, pp_history_mode mode, pp_error *error)
{
    bool empty;
    sqlite3_busy_timeout(h->db, WAIT_MS);
    sqlite3_extended_result_codes(h->db, 1);
    PP_TRY(recognise(h, &empty, error));
    if (empty && mode == PP_HISTORY_READ)
        return pp_fail_at(error, PP_EINPUT, h->path, 0, 0,
                          "is an empty file; make a history with 'plateproof history add'");
    if (h->read_only) return PP_OK;
    h->network = lies_on_network(h->path);
    if (mode == PP_HISTORY_CREATE) PP_TRY(choose_journal(h, error));
    PP_TRY(execute(h, "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON", error));
    return empty ? make_schema(h, error) : PP_OK;
}

/* A name beside `path` that nobody has; its handle, or -1. */
static int open_beside(const char *path, size_t room, char *beside)
{
    enum { TRIES = 100 };
    int handle = -1;
    for (int i = 0; i < TRIES && handle < 0; i++) {
        if ((size_t)snprintf(beside, room, "%s.new-%ld-%d", path, (long)getpid(), i) >= room) {
            errno = ENAMETOOLONG;
            return -1;
        }
        handle = open(beside, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0644); /* as SQLite does */
        if (handle < 0 && errno != EEXIST) return -1;
    }
    return handle;
}

/* Onto the disk with the entry, too: what a report was added to must be found after a power cut. */
static bool sync_folder(const char *path)
{
    char folder[PATH_MAX];
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) + 1 : 0;
    snprintf(folder, sizeof folder, "%.*s", (int)length, path);
    int handle = open(slash ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (handle < 0) return false;
    bool synced = fsync(handle) == 0 || errno == EINVAL; /* not every share knows it */
    close(handle);
    return synced;
}

/* Unless another process was faster, whose file is as good. NFS has no such rename, but links. */
static bool put_in_place(const char *beside, const char *path)
{
    bool put = renameat2(AT_FDCWD, beside, AT_FDCWD, path, RENAME_NOREPLACE) == 0;
    if (!put && errno == EINVAL) put = link(beside, path) == 0;
    return (put || errno == EEXIST) && sync_folder(path);
}

/* A new history is made beside its place and put there whole: a disk that is full leaves nothing.
 * With a rollback journal, whose end leaves one complete file. */
static pp_status make_file(const char *path, pp_error *error)
{
    static const char *const PARTS[] = {"", "-journal"};
    char beside[PATH_MAX], name[PATH_MAX + 16];
    pp_history h = {.path = path};
    int handle = open_beside(path, sizeof beside, beside);
    if (handle < 0)
        return errno == ENOSPC ? fail_full(path, error) : history_fail(&h, SQLITE_CANTOPEN, error);
    close(handle);
    int code = sqlite3_open_v2(beside, &h.db, SQLITE_OPEN_READWRITE | ONE_THREAD, NULL);
    sqlite3_extended_result_codes(h.db, 1);
    pp_status status = code == SQLITE_OK ? execute(&h, "PRAGMA synchronous = FULL", error)
                                         : history_fail(&h, code, error);
    if (status == PP_OK) status = make_schema(&h, error);
    pp_history_close(&h);
    if (status == PP_OK && !put_in_place(beside, path))
        status = errno == ENOSPC
                     ? fail_full(path, error)
                     : pp_fail_at(error, PP_EIO, path, 0, 0,
                                  "cannot be made (%s); check its folder", strerror(errno));
    for (size_t k = 0; k < sizeof PARTS / sizeof *PARTS; k++) {
        snprintf(name, sizeof name, "%s%s", beside, PARTS[k]);
        unlink(name);
    }
    return status;
}

/* As a file of a URI: what could mean something there is written as its bytes. */
static bool write_uri(const char *path, const char *behind, size_t room, char *uri)
{
    size_t n = (size_t)snprintf(uri, room, "file:");
    for (const char *c = path; *c; c++) {
        if (n + 4 >= room) return false;
        bool plain = isalnum((unsigned char)*c) || strchr("/._-", *c);
        n += (size_t)snprintf(uri + n, room - n, plain ? "%c" : "%%%02X", (unsigned char)*c);
    }
    return (size_t)snprintf(uri + n, room - n, "?%s", behind) < room - n;
}

/* A file that may not be written, an archive's perhaps. Without a log beside it nobody is writing
 * it, and it is read as it stands; with one SQLite reads both, if it may. */
static pp_status open_to_read(const char *path, pp_history *h, pp_error *error)
{
    char log[PATH_MAX], uri[3 * PATH_MAX];
    struct stat facts;
    bool fits = (size_t)snprintf(log, sizeof log, "%s-wal", path) < sizeof log;
    bool still = stat(log, &facts) != 0 || facts.st_size == 0;
    h->read_only = true;
    if (!fits || !write_uri(path, still ? "immutable=1" : "mode=ro", sizeof uri, uri))
        return pp_fail_at(error, PP_EINPUT, path, 0, 0, "has too long a path; move it");
    int code =
        sqlite3_open_v2(uri, &h->db, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI | ONE_THREAD, NULL);
    return code == SQLITE_OK ? prepare_file(h, PP_HISTORY_READ, error)
                             : history_fail(h, code, error);
}

pp_status pp_history_open(const char *path, pp_history_mode mode, pp_history *h, pp_error *error)
{
    struct stat facts;
    *h = (pp_history){.path = path};
    bool there = stat(path, &facts) == 0;
    if (!there && mode == PP_HISTORY_READ)
        return pp_fail_at(error, PP_EIO, path, 0, 0,
                          "is not there; make a history with 'plateproof history add FILE "
                          "FOLDER...'");
    if (there && !S_ISREG(facts.st_mode))
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "is no regular file; name the history first, then report folders");
    if (mode == PP_HISTORY_READ && access(path, W_OK) != 0) return open_to_read(path, h, error);
    if (!there) PP_TRY(make_file(path, error));
    int code = sqlite3_open_v2(path, &h->db, SQLITE_OPEN_READWRITE | ONE_THREAD, NULL);
    if (code != SQLITE_OK) return history_fail(h, code, error);
    return prepare_file(h, mode, error);
}

void pp_history_close(pp_history *h)
{
    sqlite3_close(h->db);
    h->db = NULL;
}

pp_status pp_history_begin(pp_history *h, pp_error *error)
{
    return execute(h, "BEGIN IMMEDIATE", error);
}

pp_status pp_history_commit(pp_history *h, pp_error *error) { return execute(h, "COMMIT", error); }

void pp_history_roll_back(pp_history *h) { sqlite3_exec(h->db, "ROLLBACK", NULL, NULL, NULL); }

pp_status pp_history_prepare(pp_history *h, const char *sql, sqlite3_stmt **statement,
                             pp_error *error)
{
    int code = sqlite3_prepare_v2(h->db, sql, -1, statement, NULL);
    return code == SQLITE_OK ? PP_OK : history_fail(h, code, error);
}

void pp_history_bind_text(sqlite3_stmt *s, int at, const char *text)
{
    if (text) sqlite3_bind_text(s, at, text, -1, SQLITE_TRANSIENT);
}

void pp_history_bind_real(sqlite3_stmt *s, int at, double value)
{
    if (isfinite(value)) sqlite3_bind_double(s, at, value);
}

void pp_history_bind_whole(sqlite3_stmt *s, int at, long long value)
{
    sqlite3_bind_int64(s, at, value);
}

pp_status pp_history_step(pp_history *h, sqlite3_stmt *s, bool *row, pp_error *error)
{
    int code = sqlite3_step(s);
    *row = code == SQLITE_ROW;
    return *row || code == SQLITE_DONE ? PP_OK : history_fail(h, code, error);
}

pp_status pp_history_run(pp_history *h, sqlite3_stmt *s, pp_error *error)
{
    int code = sqlite3_step(s);
    pp_status status = code == SQLITE_DONE ? PP_OK : history_fail(h, code, error);
    sqlite3_reset(s);
    sqlite3_clear_bindings(s);
    return status;
}

void pp_history_end(sqlite3_stmt *s) { sqlite3_finalize(s); }

const char *pp_history_text(sqlite3_stmt *s, int column, pp_arena *arena, bool *failed)
{
    const char *text = (const char *)sqlite3_column_text(s, column);
    if (!text) return NULL;
    const char *kept = pp_arena_text(arena, text, strlen(text));
    if (!kept) *failed = true;
    return kept;
}

double pp_history_real(sqlite3_stmt *s, int column)
{
    return sqlite3_column_type(s, column) == SQLITE_NULL ? NAN : sqlite3_column_double(s, column);
}

long long pp_history_whole(sqlite3_stmt *s, int column) { return sqlite3_column_int64(s, column); }

long long pp_history_last_row(pp_history *h) { return sqlite3_last_insert_rowid(h->db); }
