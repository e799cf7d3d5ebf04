/* Included before every file when clang-tidy reads it: the analyser sees one file at a time, cannot
 * know that a failure never returns PP_OK, and would follow callers into outputs that were not set.
 */
#include "plateproof/error.h"

#define pp_fail(error, status, ...) ((void)pp_fail(error, status, __VA_ARGS__), (status))
#define pp_fail_at(error, status, ...) ((void)pp_fail_at(error, status, __VA_ARGS__), (status))
#define pp_fail_memory(error) ((void)pp_fail_memory(error), PP_ENOMEM)
