#include "report/tables/xlsx_library.h"

#include <dlfcn.h>
#include <stddef.h>
#include <string.h>

#define NAME_AND_PLACE(name) {#name, offsetof(pp_xlsx_library, name)},
static const struct {
    const char *name;
    size_t place;
} calls[] = {PP_XLSX_CALLS(NAME_AND_PLACE)};

static pp_status refused(pp_error *error)
{
    return pp_fail(error, PP_EIO,
                   "the library that writes spreadsheets, " PP_XLSX_LIBRARY
                   ", cannot be loaded (%s); install libxlsxwriter, or leave out --xlsx",
                   dlerror());
}

pp_status pp_xlsx_library_open(pp_xlsx_library *library, pp_error *error)
{
    pp_xlsx_library l = {.handle = dlopen(PP_XLSX_LIBRARY, RTLD_NOW | RTLD_LOCAL)};
    if (!l.handle) return refused(error);
    for (size_t k = 0; k < sizeof calls / sizeof *calls; k++) {
        void *found = dlsym(l.handle, calls[k].name);
        if (!found) {
            pp_status status = refused(error);
            dlclose(l.handle);
            return status;
        }
        memcpy((char *)&l + calls[k].place, &found, sizeof found); /* POSIX: it fits */
    }
    *library = l;
    return PP_OK;
}

void pp_xlsx_library_close(pp_xlsx_library *library)
{
    if (library->handle) dlclose(library->handle);
    library->handle = NULL;
}
