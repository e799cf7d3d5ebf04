/* Writing one new file, whole or not at all, never over an existing one. */
#ifndef PP_CLI_NEW_FILE_H
#define PP_CLI_NEW_FILE_H

#include "base/text.h"
#include "cli/options.h"

/* Write `text` to a new file at `path`; prints what went wrong and returns the exit status:
 * PP_EXIT_USAGE if the file is there already, PP_EXIT_SYSTEM if it could not be written. */
int pp_new_file_write(const char *path, const pp_text *text);

/* A list made by a command goes to the new file -o names, or, as JSON always, to standard output.
 * Releases the text. Returns the exit status, mistakes printed. */
int pp_list_write(pp_text *text, const pp_common_options *common);

/* A name as a cell of a CSV: quoted as RFC 4180 says; what a spreadsheet would run as a formula
 * gets an apostrophe. */
void pp_list_add_field(pp_text *text, const char *name);

#endif
