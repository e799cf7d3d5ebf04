#include "report/folder/pack.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "answer/inputs.h"
#include "answer/paths.h"

enum { CHUNK_BYTES = 1 << 18, NAME_KEPT = 100 };

static bool is_plain(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' ||
           c == '-' || c == '_';
}

/* What an input is called in the folder: "003-nominal.csv". */
static void packed_name(size_t index, const char *written, char name[PP_PACKED_NAME_MAX])
{
    const char *own = pp_path_file_name(written);
    size_t skipped = strlen(own) > NAME_KEPT ? strlen(own) - NAME_KEPT : 0; /* keep the ending */
    int length = snprintf(name, PP_PACKED_NAME_MAX, "%03zu-%s", index, own + skipped);
    for (int i = 0; i < length; i++)
        if (!is_plain(name[i])) name[i] = '_';
}

static pp_status copy_bytes(int from, pp_sink *to, char *chunk, pp_hash *hash,
                            const pp_input_file *input, pp_error *error)
{
    for (;;) {
        ssize_t got = read(from, chunk, CHUNK_BYTES);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0)
            return pp_fail_at(error, PP_EIO, input->path, 0, 0, "cannot be read (%s)",
                              strerror(errno));
        if (got == 0) return PP_OK;
        pp_hash_add(hash, chunk, (size_t)got);
        PP_TRY(to->write(to->context, chunk, (size_t)got, error));
    }
}

static pp_status copy_input(const pp_input_file *input, pp_sink *to, pp_error *error)
{
    char sha256[65], *chunk = malloc(CHUNK_BYTES);
    int from = open(input->path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    pp_hash hash;
    pp_hash_begin(&hash);
    pp_status status = PP_OK;
    if (!chunk)
        status = pp_fail_memory(error);
    else if (from < 0)
        status =
            pp_fail_at(error, PP_EIO, input->path, 0, 0, "cannot be opened (%s)", strerror(errno));
    else
        status = copy_bytes(from, to, chunk, &hash, input, error);
    if (from >= 0) close(from);
    free(chunk);
    pp_hash_end(&hash, sha256);
    if (status == PP_OK && strcmp(sha256, input->sha256) != 0)
        status = pp_fail_at(error, PP_EIO, input->path, 0, 0,
                            "changed while the report was made; run it again");
    return status;
}

static json_t *entry_of(const pp_input_file *input, const char *file, const char *packed)
{
    return json_pack("{s:s, s:s, s:s, s:s}", "role", input->role, "file", file, "packed", packed,
                     "sha256", input->sha256);
}

static pp_status write_index(pp_folder *folder, json_t *files, pp_error *error)
{
    json_t *root =
        json_pack("{s:s, s:i, s:O}", "format", "plateproof-inputs", "version", 1, "files", files);
    char *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
    json_decref(root);
    if (!text) return pp_fail_memory(error);
    pp_status status =
        pp_folder_add(folder, PP_FOLDER_INPUTS "/index.json", text, strlen(text), error);
    free(text);
    return status;
}

static pp_status pack_each(pp_folder *folder, size_t count, const pp_input_file *inputs,
                           const char *job_file, json_t *files, pp_error *error)
{
    for (size_t i = 0; i < count; i++) {
        const pp_input_file *input = &inputs[i];
        const char *file = strcmp(input->role, "job") == 0 ? job_file : input->written;
        char packed[PP_PACKED_NAME_MAX], place[sizeof PP_FOLDER_INPUTS + PP_PACKED_NAME_MAX];
        pp_sink sink;
        packed_name(i, file, packed);
        snprintf(place, sizeof place, PP_FOLDER_INPUTS "/%s", packed);
        PP_TRY(pp_folder_begin(folder, place, &sink, error));
        PP_TRY(copy_input(input, &sink, error));
        if (json_array_append_new(files, entry_of(input, file, packed)) != 0)
            return pp_fail_memory(error);
    }
    return write_index(folder, files, error);
}

pp_status pp_pack_inputs(pp_folder *folder, size_t count, const pp_input_file *inputs,
                         const char *job_file, pp_error *error)
{
    if (count > PP_PACKED_FILES_MAX)
        return pp_fail(error, PP_EINPUT, "a folder keeps at most %d inputs", PP_PACKED_FILES_MAX);
    PP_TRY(pp_folder_begin_inputs(folder, error));
    json_t *files = json_array();
    pp_status status =
        files ? pack_each(folder, count, inputs, job_file, files, error) : pp_fail_memory(error);
    json_decref(files);
    return status;
}
