/* The files a run read, each named and hashed, so that anyone can tell later whether they are still
 * the same. */
#ifndef PP_ANSWER_INPUTS_H
#define PP_ANSWER_INPUTS_H

#include <nettle/sha2.h>

#include "answer/results.h"

enum { PP_INPUT_FILES_MAX = 128 }; /* of a bundle up to three a plate, of a stack four a layer */

/* Zero-initialise. The order of adding is the order in results.json; the job file comes first. */
typedef struct pp_input_list {
    size_t count;
    pp_input_file items[PP_INPUT_FILES_MAX];
} pp_input_list;

/* Note a table that was read, and how (NULL: not known). The texts are not copied. A file without a
 * path (the job names none) is passed over. */
void pp_inputs_add(pp_input_list *list, const pp_job *job, const char *role,
                   const pp_job_file *file, const pp_table_reading *reading);

/* The same for a file that the job does not name by a pp_job_file: the job file itself, rule files.
 */
void pp_inputs_add_path(pp_input_list *list, const char *role, const char *path,
                        const char *written);

/* Fill in the SHA-256 of every file of the list, on at most `threads` threads.
 * errors: PP_EIO when a file is missing or cannot be read. */
pp_status pp_inputs_hash(pp_input_list *list, int threads, pp_error *error);

/* SHA-256 of one file as 64 hexadecimal digits and a zero (FIPS 180-4).
 * errors   PP_EIO: no regular file, or it cannot be read; PP_ENOMEM */
pp_status pp_hash_file(const char *path, char sha256[65], pp_error *error);

typedef struct pp_hash {
    struct sha256_ctx state;
} pp_hash;
/* The same piece by piece: begin, add the bytes in order, end. */
void pp_hash_begin(pp_hash *hash);
void pp_hash_add(pp_hash *hash, const void *bytes, size_t length);
void pp_hash_end(pp_hash *hash, char sha256[65]);

/* SHA-256 of bytes in memory. */
void pp_hash_bytes(const void *bytes, size_t length, char sha256[65]);

/* What a role is called where people read it. */
const char *pp_input_words(const char *role);

#endif
