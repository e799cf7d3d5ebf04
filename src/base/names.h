/* Finding names fast: a hash table over an array of texts, built once, then only read.
 *
 * Method: open addressing with linear probing, at most half full; each slot holds the first eight
 * bytes of its name, so that short names are told apart without leaving the table. Names compare
 * byte by byte. The table refers to the texts given, which must outlive it. Reading it from several
 * threads is safe.
 */
#ifndef PP_BASE_NAMES_H
#define PP_BASE_NAMES_H

#include <stddef.h>
#include <stdint.h>

#include "base/memory.h"

#define PP_NAME_NONE UINT32_MAX /* no such index */

typedef struct pp_name_slot {
    uint32_t check; /* bits of the hash: a name is compared only where they agree */
    uint32_t index; /* PP_NAME_NONE: free */
} pp_name_slot;

typedef struct pp_names {
    const char *const *names;
    size_t count;
    pp_name_slot *slots;
    size_t mask; /* slots less one */
    /* The first name met twice: names[repeat] equals names[repeat_of], repeat_of < repeat, and
     * `repeat` is the lowest such index. PP_NAME_NONE: all differ. */
    uint32_t repeat, repeat_of;
} pp_names;

/* Build the table of names[count], count < 2^32 - 1, in `arena`. Of equal names the first is the
 * one found; a repeated name is no error here. PP_ENOMEM. */
pp_status pp_names_build(const char *const *names, size_t count, pp_arena *arena, pp_names *table,
                         pp_error *error);

/* Index of `name`, PP_NAME_NONE if it is not there. */
uint32_t pp_names_find(const pp_names *table, const char *name);

/* index[i] of each of names[count]; several times as fast as one by one for large tables, because
 * the memory of the next ones is fetched ahead. */
void pp_names_find_many(const pp_names *table, const char *const *names, size_t count,
                        uint32_t *index);

#endif
