#include "report/certificate/fonts.h"

#include <errno.h>
#include <fontconfig/fontconfig.h>
#include <ft2build.h>
#include FT_FREETYPE_H
#include <hb.h>
#include <pango/pangofc-fontmap.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include <zlib.h>

#include "report/certificate/font_files.h"

/* fontconfig and FreeType open fonts by path: a file in memory has one. -1: errno says why. */
static int file_in_memory(const char *name, const unsigned char *bytes, size_t length)
{
    int handle = memfd_create(name, MFD_CLOEXEC);
    for (size_t done = 0; handle >= 0 && done < length;) {
        ssize_t wrote = write(handle, bytes + done, length - done);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0) {
            close(handle);
            return -1;
        }
        done += (size_t)wrote;
    }
    return handle;
}

/* cairo keeps faces by the path they were opened by, beyond the life of the handle: regular and
 * bold go by paths that can never be the same, whatever number a handle gets. */
static const char REGULAR_PLACE[] = "/proc/self/fd/%d", BOLD_PLACE[] = "/proc/thread-self/fd/%d";

static bool add_file(FcConfig *config, const char *place, int handle)
{
    char path[64];
    snprintf(path, sizeof path, place, handle);
    return FcConfigAppFontAddFile(config, (const FcChar8 *)path);
}

static pp_status refused(pp_error *error)
{
    return pp_fail(
        error, PP_EIO,
        "the certificate's fonts cannot be opened (%s); is /proc mounted and memory free?",
        strerror(errno));
}

pp_status pp_fonts_open(bool system_too, pp_fonts *fonts, pp_error *error)
{
    pp_fonts opened = {
        .regular = file_in_memory("regular", pp_font_regular, pp_font_size(pp_font_regular)),
        .bold = file_in_memory("bold", pp_font_bold, pp_font_size(pp_font_bold))};
    FcConfig *config = system_too ? FcInitLoadConfigAndFonts() : FcConfigCreate();
    bool good = config && opened.regular >= 0 && opened.bold >= 0 &&
                add_file(config, REGULAR_PLACE, opened.regular) &&
                add_file(config, BOLD_PLACE, opened.bold);
    if (good) {
        opened.map = pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT);
        good = opened.map && PANGO_IS_FC_FONT_MAP(opened.map);
    }
    if (good) pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(opened.map), config);
    if (config) FcConfigDestroy(config); /* the map holds its own reference */
    if (!good) {
        pp_fonts_close(&opened);
        return refused(error);
    }
    *fonts = opened;
    return PP_OK;
}

void pp_fonts_close(pp_fonts *fonts)
{
    if (fonts->map) g_object_unref(fonts->map);
    if (fonts->regular >= 0) close(fonts->regular);
    if (fonts->bold >= 0) close(fonts->bold);
    *fonts = (pp_fonts){.regular = -1, .bold = -1};
}

void pp_fonts_expect_no_others(void)
{
    FcConfig *none = FcConfigCreate();
    if (!none) return;
    FcConfigSetCurrent(none); /* holds its own reference */
    FcConfigDestroy(none);
}

void pp_fonts_engine(char text[128])
{
    FT_Library library;
    int major = 0, minor = 0, patch = 0;
    if (FT_Init_FreeType(&library) == 0) {
        FT_Library_Version(library, &major, &minor, &patch);
        FT_Done_FreeType(library);
    }
    snprintf(text, 128, "cairo %s, pango %s, HarfBuzz %s, FreeType %d.%d.%d, zlib %s",
             cairo_version_string(), pango_version_string(), hb_version_string(), major, minor,
             patch, zlibVersion());
}
