/* Memory: two arenas a run.
 *
 * `keep` holds results and lives until the run is released, once, at the end. `scratch` holds
 * temporaries: a stage takes a mark on entry and releases to it before it returns. Blocks never
 * move, are 64-byte aligned and are NOT cleared unless the name says so. Every allocation can fail
 * and returns NULL (or PP_ENOMEM) then; sizes are checked for overflow.
 *
 * An arena is not thread-safe: what runs in parallel gets its memory beforehand, or one arena each.
 */
#ifndef PP_BASE_MEMORY_H
#define PP_BASE_MEMORY_H

#include <stddef.h>

#include "plateproof/error.h"

typedef struct pp_block pp_block;

typedef struct pp_arena {
    pp_block *newest;
    size_t used;     /* bytes used of the newest block */
    pp_block *spare; /* given back, to be used again */
} pp_arena;

typedef struct pp_mark {
    pp_block *block;
    size_t used;
} pp_mark;

typedef struct pp_memory {
    pp_arena keep;
    pp_arena scratch;
} pp_memory;

/* `count` items of `size` bytes; NULL when memory ran out (count 0 gives a valid pointer). */
void *pp_arena_take(pp_arena *arena, size_t count, size_t size);
/* The same, cleared to zero bytes. */
void *pp_arena_take_zero(pp_arena *arena, size_t count, size_t size);
/* A copy of text[length] with a terminating zero. */
char *pp_arena_text(pp_arena *arena, const char *text, size_t length);

/* How much is taken now, for pp_arena_release. */
pp_mark pp_arena_mark(const pp_arena *arena);
void pp_arena_release(pp_arena *arena, pp_mark mark); /* gives back what was taken since */
/* Memory that was given back to `from` is used by `to` from now on. */
void pp_arena_hand_over(pp_arena *from, pp_arena *to);
/* All that was taken from `from` belongs to `to` from now on, as if taken there before what was
 * taken last: a mark of `to` in an earlier block gives it back. `from` is then empty but for its
 * spares. */
void pp_arena_join(pp_arena *from, pp_arena *to);
/* Back to the system: what was given back to the arena. */
void pp_arena_trim(pp_arena *arena);
void pp_arena_free(pp_arena *arena); /* back to the system, everything */
void pp_memory_free(pp_memory *memory);

/* An array of `count` of `type`, or return early with PP_ENOMEM (needs `error` in scope). */
#define PP_TAKE(pointer, arena, count)                                                             \
    do {                                                                                           \
        (pointer) = pp_arena_take((arena), (count), sizeof *(pointer));                            \
        if (!(pointer)) return pp_fail_memory(error);                                              \
    } while (0)
#define PP_TAKE_ZERO(pointer, arena, count)                                                        \
    do {                                                                                           \
        (pointer) = pp_arena_take_zero((arena), (count), sizeof *(pointer));                       \
        if (!(pointer)) return pp_fail_memory(error);                                              \
    } while (0)

#endif
