/* The list a machine drilled to. */
#ifndef PP_INPUT_LISTS_COMMANDED_H
#define PP_INPUT_LISTS_COMMANDED_H

#include "input/lists/list_parts.h"

/* Read job->holes.commanded and put it beside the nominal places.
 *
 * nominal  with its table of names; commanded_x, commanded_y and commanded_reading are set
 * errors   PP_EINPUT with file, line, column: a hole that is missing, twice or unknown, one far
 *          from its nominal place, a list made for another pattern; PP_EIO: it cannot be read;
 * PP_ENOMEM */
pp_status pp_commanded_read_noted(const pp_job *job, int threads, pp_memory *memory,
                                  pp_table_note *note, pp_nominal *nominal, pp_error *error);

#endif
