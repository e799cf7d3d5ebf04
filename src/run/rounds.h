/* A plate as it was after earlier rounds of measuring, judged again from the inputs of its report.
 */
#ifndef PP_RUN_ROUNDS_H
#define PP_RUN_ROUNDS_H

#include "answer/results.h"

enum { PP_ROUND_MAX = 1000000 };

/* The holes as they were after round[0] and round[1]: of each hole and face the latest reading up
 * to then. The inputs must be the very files the report was made from.
 *
 * inputs   folder in which they are now; NULL: where the report says
 * results  [2], in memory->keep; without pages, dates and names of inputs
 * errors   PP_EINPUT: no report of holes, an input that has changed, a round that nobody measured;
 *          PP_EIO: an input is missing; PP_ENOMEM */
pp_status pp_rounds_run(const char *folder, const char *inputs, const unsigned round[2],
                        int threads, pp_memory *memory, pp_results results[2], pp_error *error);

#endif
