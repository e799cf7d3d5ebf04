#include "base/memory.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

/* The first touch of memory costs more than most of the work done in it: large blocks are of huge
 * pages, and kept when given back, so that the next stage works in memory touched already. They are
 * large enough for most arrays of a million holes to fit any of them; only what is touched of a
 * block takes memory. */
enum {
    ALIGNMENT = 64,
    BLOCK_BYTES = 1 << 20,
    LARGE_BLOCK_BYTES = 128 << 20,
    HUGE_PAGE_BYTES = 2 << 20
};

struct pp_block {
    pp_block *older;
    void *allocated;      /* what free() wants */
    size_t bytes;         /* usable */
    size_t used_of_older; /* restores pp_arena.used when this block goes */
};

static char *payload(pp_block *block) { return (char *)block + ALIGNMENT; }

/* Small ones are aligned here: glibc before 2.38 does not find what aligned_alloc() has given and
 * got back, so that a process that works for long grows. */
static pp_block *new_block(size_t bytes)
{
    bool huge = bytes > BLOCK_BYTES;
    size_t alignment = huge ? HUGE_PAGE_BYTES : ALIGNMENT;
    if (bytes > SIZE_MAX - ALIGNMENT - alignment) return NULL;
    size_t total = (bytes + ALIGNMENT + alignment - 1) / alignment * alignment;
    void *allocated = huge ? aligned_alloc(alignment, total) : malloc(total + ALIGNMENT);
    if (!allocated) return NULL;
    if (huge) madvise(allocated, total, MADV_HUGEPAGE);
    size_t beyond = (uintptr_t)allocated % ALIGNMENT;
    pp_block *block = (pp_block *)((char *)allocated + (beyond ? ALIGNMENT - beyond : 0));
    block->allocated = allocated;
    block->bytes = bytes;
    return block;
}

/* The first spare block that is large enough; NULL if there is none. */
static pp_block *take_spare(pp_arena *arena, size_t bytes)
{
    for (pp_block **link = &arena->spare; *link; link = &(*link)->older) {
        pp_block *block = *link;
        if (block->bytes < bytes) continue;
        *link = block->older;
        return block;
    }
    return NULL;
}

static pp_block *block_for(pp_arena *arena, size_t bytes)
{
    pp_block *block = take_spare(arena, bytes);
    if (block) return block;
    if (bytes <= BLOCK_BYTES) return new_block(BLOCK_BYTES);
    return new_block(bytes > LARGE_BLOCK_BYTES ? bytes : LARGE_BLOCK_BYTES);
}

void *pp_arena_take(pp_arena *arena, size_t count, size_t size)
{
    if (size && count > (SIZE_MAX / 2) / size) return NULL;
    size_t bytes = (count * size + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
    if (bytes == 0) bytes = ALIGNMENT;
    if (!arena->newest || arena->newest->bytes - arena->used < bytes) {
        pp_block *block = block_for(arena, bytes);
        if (!block) return NULL;
        block->older = arena->newest;
        block->used_of_older = arena->used;
        arena->newest = block;
        arena->used = 0;
    }
    void *place = payload(arena->newest) + arena->used;
    arena->used += bytes;
    return place;
}

void *pp_arena_take_zero(pp_arena *arena, size_t count, size_t size)
{
    void *place = pp_arena_take(arena, count, size);
    if (place) memset(place, 0, count * size);
    return place;
}

char *pp_arena_text(pp_arena *arena, const char *text, size_t length)
{
    char *copy = pp_arena_take(arena, length + 1, 1);
    if (!copy) return NULL;
    if (length) memcpy(copy, text, length);
    copy[length] = '\0';
    return copy;
}

pp_mark pp_arena_mark(const pp_arena *arena) { return (pp_mark){arena->newest, arena->used}; }

void pp_arena_release(pp_arena *arena, pp_mark mark)
{
    while (arena->newest != mark.block) {
        pp_block *block = arena->newest;
        arena->newest = block->older;
        arena->used = block->used_of_older;
        block->older = arena->spare;
        arena->spare = block;
    }
    arena->used = mark.used;
}

void pp_arena_hand_over(pp_arena *from, pp_arena *to)
{
    pp_block **end = &from->spare; /* the most recently used stay in front */
    while (*end) end = &(*end)->older;
    *end = to->spare;
    to->spare = from->spare;
    from->spare = NULL;
}

void pp_arena_join(pp_arena *from, pp_arena *to)
{
    if (!from->newest) return;
    pp_block *oldest = from->newest;
    while (oldest->older) oldest = oldest->older;
    if (to->newest) {
        oldest->older = to->newest->older;
        oldest->used_of_older = to->newest->used_of_older;
        to->newest->older = from->newest;
        to->newest->used_of_older = from->used;
    } else {
        to->newest = from->newest;
        to->used = from->used;
    }
    from->newest = NULL;
    from->used = 0;
}

/* What a large block has been touched of and does not hold now; the block stays. */
static void trim_end(pp_block *block, size_t used)
{
    uintptr_t first = (uintptr_t)payload(block) + used,
              end = (uintptr_t)payload(block) + block->bytes;
    first = (first + HUGE_PAGE_BYTES - 1) / HUGE_PAGE_BYTES * HUGE_PAGE_BYTES;
    end = end / HUGE_PAGE_BYTES * HUGE_PAGE_BYTES;
    if (first < end) madvise((void *)first, end - first, MADV_DONTNEED);
}

void pp_arena_trim(pp_arena *arena)
{
    if (arena->newest && arena->newest->bytes > BLOCK_BYTES) trim_end(arena->newest, arena->used);
    while (arena->spare) {
        pp_block *block = arena->spare;
        arena->spare = block->older;
        free(block->allocated);
    }
}

void pp_arena_free(pp_arena *arena)
{
    pp_arena_release(arena, (pp_mark){NULL, 0});
    pp_arena_trim(arena);
}

void pp_memory_free(pp_memory *memory)
{
    pp_arena_free(&memory->keep);
    pp_arena_free(&memory->scratch);
}
