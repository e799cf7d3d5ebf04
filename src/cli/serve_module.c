#include "cli/serve_module.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const char NAME[] = "plateproof-serve.so";

/* The folder that the program's file is in; it may have been called by any name. */
static bool own_folder(char folder[PATH_MAX])
{
    ssize_t length = readlink("/proc/self/exe", folder, PATH_MAX - 1);
    if (length <= 0) return false;
    folder[length] = 0;
    char *slash = strrchr(folder, '/');
    if (!slash) return false;
    *slash = 0;
    return true;
}

pp_status pp_serve_load(pp_serve_function *serve, pp_error *error)
{
    static const char *const beside[] = {"", "/" PP_MODULE_FOLDER};
    char folder[PATH_MAX], path[2 * PATH_MAX];
    if (!own_folder(folder))
        return pp_fail(error, PP_EIO, "/proc is not there, by which the program finds its parts");
    for (size_t k = 0; k < sizeof beside / sizeof *beside; k++) {
        snprintf(path, sizeof path, "%s%s/%s", folder, beside[k], NAME);
        if (access(path, F_OK) != 0) continue;
        void *module = dlopen(path, RTLD_NOW | RTLD_LOCAL);
        void *found = module ? dlsym(module, "pp_serve") : NULL;
        if (!found) return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be loaded: %s", dlerror());
        memcpy(serve, &found, sizeof found); /* POSIX: a function's address fits */
        return PP_OK;
    }
    return pp_fail(error, PP_EIO,
                   "%s is neither in %s nor in %s/%s; install the program again with all its files",
                   NAME, folder, folder, PP_MODULE_FOLDER);
}
