/* A job file's text, changed in one place: comments, order and everything else stay as they are. */
#ifndef PP_SERVE_EDIT_H
#define PP_SERVE_EDIT_H

#include "base/memory.h"
#include "base/text.h"

/* Give `key` of [section] the value: on its line, before the comment that stands there; as a new
 * line below the last one of its section; or in a new section at the end. An empty value leaves the
 * key there with nothing behind it, which is as if it were absent.
 *
 * given   text[length]  a job file that pp_ini_parse takes
 * out     out           the whole new text (the caller frees it)
 * errors  PP_EINPUT: the text is no INI text, or the value can't stand on a line; PP_ENOMEM */
pp_status pp_edit_set(const char *text, size_t length, const char *section, const char *key,
                      const char *value, pp_memory *memory, pp_text *out, pp_error *error);

#endif
