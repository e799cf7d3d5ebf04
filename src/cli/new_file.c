#include "cli/new_file.h"
#include "cli/say.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bool write_all(int handle, const char *data, size_t length)
{
    while (length) {
        ssize_t done = write(handle, data, length);
        if (done < 0 && errno == EINTR) continue;
        if (done < 0) return false;
        data += done;
        length -= (size_t)done;
    }
    return true;
}

int pp_new_file_write(const char *path, const pp_text *text)
{
    if (text->failed) return pp_exit_error(&(pp_error){PP_ENOMEM, .message = "memory ran out"});
    int handle = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (handle < 0 && errno == EEXIST) {
        pp_say(stderr, "%s: the file is there already; choose another name or remove it first\n",
               path);
        return PP_EXIT_USAGE;
    }
    bool written = handle >= 0 && write_all(handle, text->data, text->length);
    int why = errno;
    if (handle >= 0 && close(handle) != 0 && written) written = false, why = errno;
    if (written) return PP_EXIT_CONFORMS;
    if (handle >= 0) unlink(path);
    pp_say(stderr, "%s: the file could not be written (%s); check the folder and the disk\n", path,
           strerror(why));
    return PP_EXIT_SYSTEM;
}

int pp_list_write(pp_text *text, const pp_common_options *common)
{
    int status;
    if (text->failed)
        status = pp_exit_error(&(pp_error){PP_ENOMEM, .message = "memory ran out"});
    else if (common->output && strcmp(common->output, "-") != 0 && !common->json)
        status = pp_new_file_write(common->output, text);
    else
        status = pp_write_out(text->data, text->length);
    pp_text_free(text);
    return status;
}

void pp_list_add_field(pp_text *text, const char *name)
{
    bool formula = name[0] && strchr("=+-@\t\r", name[0]);
    if (!formula && !strpbrk(name, ",\"\r\n")) {
        pp_text_add(text, name);
        return;
    }
    pp_text_add(text, formula ? "\"'" : "\"");
    for (const char *c = name; *c; c++)
        pp_text_add_bytes(text, *c == '"' ? "\"\"" : c, 1 + (*c == '"'));
    pp_text_add(text, "\"");
}
