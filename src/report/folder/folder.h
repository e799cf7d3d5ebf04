/* A report folder, whole or not at all.
 *
 * Files are written into a hidden temporary folder beside the target, flushed to the disk, and put
 * in place by one rename (an exchange, where a report is replaced). Until then the target is as it
 * was, whatever fails: a full disk, a signal, a killed process. The temporary folder of a killed
 * run is removed by the next run; that of a live run never is, for the run holds a lock on it. Two
 * runs into one folder do not disturb each other: the last to finish stays.
 *
 * An existing folder is replaced only if it is empty or holds a results.json of plateproof, and one
 * that is signed (signature.json) only on request: what somebody signed is not lost by a rerun.
 * Files in it that no report has (notes, photographs) are carried over.
 */
#ifndef PP_REPORT_FOLDER_FOLDER_H
#define PP_REPORT_FOLDER_FOLDER_H

#include <stdbool.h>

#include "base/memory.h"
#include "base/sink.h"

#define PP_FOLDER_INPUTS "inputs" /* the subfolder of packed inputs; report/folder/pack.h */

enum { PP_FOLDER_FILES_MAX = 1100 };

typedef struct pp_folder_file {
    struct pp_folder *folder;
    int handle;
    size_t waiting; /* bytes written since the disk was last told to begin with them */
} pp_folder_file;

typedef struct pp_folder {
    const char *target; /* as given, for messages */
    bool replace_signed;
    const char *name;      /* last part of the resolved target */
    const char *temporary; /* name of the temporary folder, in the same parent */
    int parent, handle;    /* of the parent and of the temporary folder */
    bool has_inputs;       /* the subfolder was made */
    size_t file_count;     /* written, still open for the last flush */
    pp_folder_file *files; /* room for PP_FOLDER_FILES_MAX */
} pp_folder;

/* Check the target and make the temporary folder. Texts come from `arena`.
 * errors  PP_EINPUT  the target is no folder, or holds what is no report of plateproof
 *         PP_EIO     its parent does not exist or cannot be written */
pp_status pp_folder_open(pp_folder *folder, const char *target, bool replace_signed,
                         pp_arena *arena, pp_error *error);

/* Only the check: would pp_folder_open refuse the target? Made before a long computation.
 * errors   PP_EINPUT, PP_EIO as pp_folder_open; PP_ENOMEM */
pp_status pp_folder_check(const char *target, bool replace_signed, pp_arena *arena,
                          pp_error *error);

/* Begin a file; its sink refers to `folder`. Files that were begun may be written side by side.
 * errors   PP_EIO: it cannot be written, or there are too many */
pp_status pp_folder_begin(pp_folder *folder, const char *name, pp_sink *sink, pp_error *error);

/* Make the subfolder PP_FOLDER_INPUTS; files are then begun as "inputs/NAME". errors: PP_EIO: it
 * cannot be made */
pp_status pp_folder_begin_inputs(pp_folder *folder, pp_error *error);

/* Open a report that stands already, to put its inputs into it: what packing left there before is
 * removed, files are begun in it directly. To be finished or given up; its index is written last,
 * and without it nothing in the subfolder counts. errors: PP_EINPUT no report, or signed (which
 * packing would break); PP_EIO: it cannot be opened or written */
pp_status pp_folder_open_standing(pp_folder *folder, const char *target, pp_arena *arena,
                                  pp_error *error);
pp_status pp_folder_finish_standing(pp_folder *folder, pp_error *error);
void pp_folder_give_up_standing(pp_folder *folder);

/* One whole file. errors: PP_EIO as pp_folder_begin */
pp_status pp_folder_add(pp_folder *folder, const char *name, const char *bytes, size_t length,
                        pp_error *error);

/* For writers that want a path: a place for the file `name` in the temporary folder, to be taken
 * over once it is written.
 * errors   PP_EIO: it is not there, or cannot be opened */
enum { PP_FOLDER_PATH_MAX = 320 };
void pp_folder_path(const pp_folder *folder, const char *name, char path[PP_FOLDER_PATH_MAX]);
pp_status pp_folder_take_over(pp_folder *folder, const char *name, pp_error *error);

/* Put the folder in place; it is closed then. On failure the target is unchanged and the folder is
 * still to be abandoned. errors: PP_EIO, PP_EINPUT (the target has become something else) */
pp_status pp_folder_commit(pp_folder *folder, pp_error *error);

/* Remove the temporary folder. Harmless after a commit. */
void pp_folder_abandon(pp_folder *folder);

#endif
