/* Threads: work is cut into parts whose number does not depend on the number of threads, so that
 * sums taken part by part come out the same whatever runs them.
 */
#ifndef PP_BASE_PARALLEL_H
#define PP_BASE_PARALLEL_H

#include <stddef.h>

#include "plateproof/error.h"

/* Does part `part` of the work; `worker` (0 .. threads-1) selects the caller's workspace. */
typedef pp_status (*pp_part_work)(void *context, size_t part, int worker, pp_error *error);

/* Run parts 0 .. parts-1 on at most `threads` threads (1: on the calling one). Every part runs
 * unless an earlier one failed.
 * errors   that of the lowest failed part */
pp_status pp_parallel(int threads, size_t parts, pp_part_work work, void *context, pp_error *error);

/* First item of `part` when `count` items are cut into `parts` even parts. */
size_t pp_part_begin(size_t count, size_t parts, size_t part);

#endif
