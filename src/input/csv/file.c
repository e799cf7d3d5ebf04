#include "input/csv/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* "; check the name on line 12 of plate.ini" */
static const char *where_named(const char *in, const pp_job_file *named, char text[256])
{
    if (in && named->line > 0)
        snprintf(text, 256, "check the name on line %ld of %.200s", named->line, in);
    else
        snprintf(text, 256, "check the name");
    return text;
}

pp_status pp_file_open(const char *named_in, const pp_job_file *named, pp_file *file,
                       pp_error *error)
{
    char remedy[256];
    where_named(named_in, named, remedy);
    /* O_NONBLOCK: opening a pipe must not wait for a writer */
    int handle = open(named->path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (handle < 0) {
        int why = errno;
        char reason[128];
        return pp_fail_at(error, PP_EIO, named->path, 0, 0, "can't be opened (%s); %s",
                          strerror_r(why, reason, sizeof reason), remedy);
    }
    struct stat status;
    const char *wrong = NULL;
    if (fstat(handle, &status) != 0)
        wrong = "can't be examined";
    else if (S_ISDIR(status.st_mode))
        wrong = "is a folder, not a file";
    else if (!S_ISREG(status.st_mode))
        wrong = "is a pipe or a device, not a file";
    if (wrong) {
        close(handle);
        return pp_fail_at(error, PP_EIO, named->path, 0, 0, "%s; %s", wrong, remedy);
    }
    *file = (pp_file){handle, (size_t)status.st_size, named->path};
    return PP_OK;
}

pp_status pp_file_read(const pp_file *file, size_t offset, char *bytes, size_t length, size_t *got,
                       pp_error *error)
{
    size_t done = 0;
    while (done < length) {
        ssize_t count = pread(file->handle, bytes + done, length - done, (off_t)(offset + done));
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) {
            int why = errno;
            char reason[128];
            return pp_fail_at(error, PP_EIO, file->path, 0, 0,
                              "can't be read (%s); check the disk or copy the file anew",
                              strerror_r(why, reason, sizeof reason));
        }
        if (count == 0) break;
        done += (size_t)count;
    }
    *got = done;
    return PP_OK;
}

void pp_file_close(pp_file *file)
{
    if (file->handle >= 0) close(file->handle);
    file->handle = -1;
}
