/* A file in memory, with a name that can be opened. */
#ifndef PP_TESTS_FUZZ_MEMORY_FILE_H
#define PP_TESTS_FUZZ_MEMORY_FILE_H

#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#include "fuzz/target.h"

/* Returns the handle to close afterwards. */
static inline int memory_file(const uint8_t *data, size_t size, char path[64])
{
    int handle = memfd_create("fuzz", MFD_CLOEXEC);
    FUZZ_CHECK(handle >= 0 && write(handle, data, size) == (ssize_t)size);
    snprintf(path, 64, "/proc/self/fd/%d", handle);
    return handle;
}

#endif
