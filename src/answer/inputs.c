#include "answer/inputs.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/paths.h"
#include "base/parallel.h"
#include "input/job/job_files.h"

enum { CHUNK_BYTES = 1 << 20 };

void pp_inputs_add(pp_input_list *list, const pp_job *job, const char *role,
                   const pp_job_file *file, const pp_table_reading *reading)
{
    if (!file->path || list->count == PP_INPUT_FILES_MAX) return;
    list->items[list->count++] = (pp_input_file){
        .role = role,
        .path = file->path,
        .written = file->written,
        .rows = reading ? reading->rows : 0,
        .reading = reading,
        .instrument = file->instrument ? pp_job_instrument(job, file->instrument) : NULL};
}

void pp_inputs_add_path(pp_input_list *list, const char *role, const char *path,
                        const char *written)
{
    if (!path || list->count == PP_INPUT_FILES_MAX) return;
    list->items[list->count++] =
        (pp_input_file){.role = role, .path = path, .written = written ? written : path};
}

void pp_hash_begin(pp_hash *hash) { sha256_init(&hash->state); }

void pp_hash_add(pp_hash *hash, const void *bytes, size_t length)
{
    sha256_update(&hash->state, length, bytes);
}

void pp_hash_end(pp_hash *hash, char sha256[65])
{
    static const char digits[] = "0123456789abcdef";
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_digest(&hash->state, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++) {
        sha256[2 * i] = digits[digest[i] >> 4];
        sha256[2 * i + 1] = digits[digest[i] & 15];
    }
    sha256[64] = '\0';
}

void pp_hash_bytes(const void *bytes, size_t length, char sha256[65])
{
    pp_hash hash;
    pp_hash_begin(&hash);
    pp_hash_add(&hash, bytes, length);
    pp_hash_end(&hash, sha256);
}

static pp_status hash_open_file(int handle, uint8_t *chunk, const char *path, char sha256[65],
                                pp_error *error)
{
    pp_hash hash;
    pp_hash_begin(&hash);
    for (;;) {
        ssize_t got = read(handle, chunk, CHUNK_BYTES);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0)
            return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read (%s); check the file",
                              strerror(errno));
        if (got == 0) break;
        pp_hash_add(&hash, chunk, (size_t)got);
    }
    pp_hash_end(&hash, sha256);
    return PP_OK;
}

pp_status pp_hash_file(const char *path, char sha256[65], pp_error *error)
{
    int handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    struct stat facts;
    if (handle < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be opened (%s); check the path",
                          strerror(errno));
    if (fstat(handle, &facts) != 0 || !S_ISREG(facts.st_mode)) {
        close(handle);
        return pp_fail_at(error, PP_EIO, path, 0, 0, "is not a regular file; name a file");
    }
    uint8_t *chunk = malloc(CHUNK_BYTES); /* streaming: one buffer per file under way */
    pp_status status =
        chunk ? hash_open_file(handle, chunk, path, sha256, error) : pp_fail_memory(error);
    free(chunk);
    close(handle);
    return status;
}

static pp_status hash_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    pp_input_file *file = &((pp_input_list *)context)->items[part];
    return pp_hash_file(file->path, file->sha256, error);
}

pp_status pp_inputs_hash(pp_input_list *list, int threads, pp_error *error)
{
    return pp_parallel(threads, list->count, hash_part, list, error);
}

const char *pp_input_words(const char *role)
{
    if (strcmp(role, "datum_points") == 0) return "datum points";
    if (strcmp(role, "layer_survey") == 0) return "survey of a layer";
    if (strcmp(role, "layer_underside") == 0) return "underside of a layer";
    if (strcmp(role, "layer_measured") == 0) return "holes of a layer";
    if (strcmp(role, "layer_three_points") == 0) return "supports of a layer";
    if (strcmp(role, "thickness_points") == 0) return "thickness readings";
    if (strcmp(role, "outline") == 0) return "corners of the plate";
    if (strcmp(role, "promise") == 0) return "promise of the corrected list";
    if (strcmp(role, "roughed") == 0) return "roughed holes";
    if (strcmp(role, "sample_list") == 0) return "holes drawn to be measured";
    return strcmp(role, "checks") == 0 ? "attribute checks" : role;
}
