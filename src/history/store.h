/* A history: one SQLite file that any SQL tool reads (schema.sql), kept whole by transactions.
 *
 * Write-ahead log and full synchronisation on a disk of this machine; on a network share, where
 * the log's shared memory does not work, a rollback journal instead. */
#ifndef PP_HISTORY_STORE_H
#define PP_HISTORY_STORE_H

#include <stdbool.h>

#include "base/memory.h"

struct sqlite3;
struct sqlite3_stmt;

typedef struct pp_history {
    struct sqlite3 *db;
    const char *path; /* as given, for messages */
    bool network;     /* lies on a network share */
    bool read_only;   /* may not be written; questions need not */
} pp_history;

typedef enum pp_history_mode {
    PP_HISTORY_READ,  /* it must be there */
    PP_HISTORY_CREATE /* made where it is not */
} pp_history_mode;

/* Open the history at `path`. Zero-initialise *history; close it whatever is returned.
 *
 * errors   PP_EINPUT  no database, another program's, or a newer plateproof's: never touched
 *          PP_EIO     missing, locked for 20 s, unreadable, a full disk */
pp_status pp_history_open(const char *path, pp_history_mode mode, pp_history *history,
                          pp_error *error);
void pp_history_close(pp_history *history);

/* Is this the kind of file system that is reached over a network? f_type of statfs. */
bool pp_history_is_network(unsigned long type);

/* One transaction: begin at once as a writer; commit, or roll back what was done.
 * errors   PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_history_begin(pp_history *history, pp_error *error);
pp_status pp_history_commit(pp_history *history, pp_error *error);
void pp_history_roll_back(pp_history *history);

/* A statement, to be finalised by pp_history_end; parameters are bound with the functions below,
 * from 1; NULL and NaN become NULL.
 * errors   PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_history_prepare(pp_history *history, const char *sql, struct sqlite3_stmt **statement,
                             pp_error *error);
void pp_history_bind_text(struct sqlite3_stmt *statement, int at, const char *text);
void pp_history_bind_real(struct sqlite3_stmt *statement, int at, double value);
void pp_history_bind_whole(struct sqlite3_stmt *statement, int at, long long value);
/* Run to the next row: *row false at the end. errors: PP_EINPUT: the file is no history, or
 * damaged; PP_EIO: locked, unreadable, not to be written, or the disk is full; PP_ENOMEM */
pp_status pp_history_step(pp_history *history, struct sqlite3_stmt *statement, bool *row,
                          pp_error *error);
/* A statement that gives no rows; ready for new parameters afterwards.
 * errors   PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_history_run(pp_history *history, struct sqlite3_stmt *statement, pp_error *error);
void pp_history_end(struct sqlite3_stmt *statement);
/* Columns of the row, from 0: a text in `arena` (NULL where NULL or memory ran out; *failed is set
 * then), a number (NaN where NULL), a whole number. */
const char *pp_history_text(struct sqlite3_stmt *statement, int column, pp_arena *arena,
                            bool *failed);
double pp_history_real(struct sqlite3_stmt *statement, int column);
long long pp_history_whole(struct sqlite3_stmt *statement, int column);
long long pp_history_last_row(pp_history *history);

#endif
