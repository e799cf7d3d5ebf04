/* The job page's answers: the table of keys, a text checked by the program's own reader, a key set,
 * a file saved, how each data file was read. Each is given the JSON that was sent. */
#ifndef PP_SERVE_FORM_H
#define PP_SERVE_FORM_H

#include <jansson.h>

#include "plateproof/error.h"
#include "serve/server.h"

/* The one table of keys: {"sections": [{"name", "help", "keys": [{"key", "kind", "help", "choices",
 * "standard", "example", "range"}]}]}. */
json_t *pp_form_keys(void);

/* Every function: given `asked`, an object with "job" (checked to be proper); *answer on success.
 * errors  PP_EINPUT: something missing or wrong; PP_EIO; PP_ENOMEM */

/* The job that is asked about: of "text" where there is one, else as it stands in the folder. It
 * names no file outside.
 * errors   PP_EINPUT: the text is no sound job, or names a file outside; PP_EIO: it cannot be read;
 *          PP_ENOMEM */
pp_status pp_form_job(pp_server *server, const json_t *asked, pp_memory *memory, pp_job *job,
                      pp_error *error);

/* {"text", "version"} of the job file as it stands. errors: PP_EINPUT: no UTF-8 text, or too large;
 * PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_form_read(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* "text": {"problems": [{"line", "text"}], "sections": [{"name", "line", "entries": [{"key",
 * "value", "line"}]}], "text"}; every problem is told, the first as in the terminal.
 * errors   PP_EINPUT: the question lacks something */
pp_status pp_form_check(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* "text", "section", "key", "value": the same as pp_form_check of the changed text.
 * errors   PP_EINPUT: the question lacks something; PP_ENOMEM */
pp_status pp_form_edit(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* "text", and "version" of the file it began from (null: it was not there): {"version"}, or, where
 * the file is another one by now, {"conflict": its text, "version"} and nothing is written.
 * errors   PP_EINPUT: the question lacks something, or the name is none of a job file; PP_EIO: it
 *          cannot be saved; PP_ENOMEM */
pp_status pp_form_save(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* "text" of a job, saved or not: {"limits": [{"words", "value", "source"}], "lacks": which answer
 * a table still needs}; no limits of a text that the reader refuses. What holes, ligaments and
 * surface will be held against.
 * errors   PP_EINPUT: "text" is missing; PP_EIO: the job cannot be read; PP_ENOMEM */
pp_status pp_form_limits(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* How each file that the job names is read, from the very reader that a run goes through:
 * {"files": [{"role", "file", ...}]}. With "text", of a job that is not saved yet.
 * errors   PP_EINPUT, PP_EIO as pp_form_job; PP_ENOMEM */
pp_status pp_form_files(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* What stands where in the files of a job, as a picture of the plate, from the stages that a run
 * goes through. With "text", of a job that is not saved yet. Places: hundredths of a mm, plate
 * frame, x and y by turns, at most PP_PICTURE_PLACES_MAX of a kind, evenly thinned:
 *   {"outline": [loops], "survey": {"at", "count"}, "drawn": likewise (nominal holes), and either
 *    "found" (measured holes that belong to one drawn), "strange" (those of none), "missing" (drawn
 *    and not measured), "frame": {"words": how they met, "angle_deg", "dx", "dy", "rms",
 *    "turned_over"},
 *    or "unplaced": measured places as they stand, and "why"}; of a text that is refused nothing.
 * errors   PP_EINPUT, PP_EIO as pp_form_job; PP_ENOMEM */
enum { PP_PICTURE_PLACES_MAX = 20000 };
pp_status pp_form_picture(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

#endif
