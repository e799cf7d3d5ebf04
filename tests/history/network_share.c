/* Loaded before the C library: every file lies on a network share. For tests/history/network.py. */
#include <sys/vfs.h>

int statfs(const char *path, struct statfs *facts)
{
    (void)path;
    *facts = (struct statfs){.f_type = 0x6969}; /* NFS */
    return 0;
}
