#include "base/names.h"

#include <stdbool.h>
#include <string.h>

enum {
    BATCH = 16, /* names whose memory is fetched ahead together */
    PIECE_BYTES = 8,
    SLOTS_MIN = 16
};

typedef struct key {
    uint64_t hash;
    uint32_t check; /* the bits of it that do not choose the slot */
} key;

__extension__ typedef unsigned __int128 wide;

/* Multiply and fold the halves: every bit of both ends up everywhere. */
static uint64_t mix(uint64_t a, uint64_t b)
{
    wide product = (wide)a * b;
    return (uint64_t)product ^ (uint64_t)(product >> 64);
}

static key make_key(const char *name)
{
    static const uint64_t ODD = 0x9E3779B97F4A7C15u; /* 2^64 / golden ratio */
    static const uint64_t OTHER = 0xD6E8FEB86659FD93u;
    size_t length = strlen(name);
    uint64_t hash = ODD ^ length;
    for (size_t at = 0; at == 0 || at < length; at += PIECE_BYTES) {
        uint64_t piece = 0;
        size_t left = length - at;
        memcpy(&piece, name + at, left < PIECE_BYTES ? left : PIECE_BYTES);
        hash = mix(hash ^ piece, OTHER);
    }
    return (key){.hash = hash, .check = (uint32_t)(hash >> 32)};
}

/* The slot that holds the name, or the free one where it would go. */
static pp_name_slot *locate(const pp_names *table, const key *k, const char *name)
{
    for (size_t at = k->hash & table->mask;; at = (at + 1) & table->mask) {
        pp_name_slot *slot = &table->slots[at];
        if (slot->index == PP_NAME_NONE) return slot;
        if (slot->check == k->check && strcmp(table->names[slot->index], name) == 0) return slot;
    }
}

/* Make the keys of a batch and start fetching their slots. */
static size_t prepare(const pp_names *table, const char *const *names, size_t count,
                      key keys[BATCH])
{
    size_t batch = count < BATCH ? count : BATCH;
    for (size_t i = 0; i < batch; i++) {
        keys[i] = make_key(names[i]);
        __builtin_prefetch(&table->slots[keys[i].hash & table->mask]);
    }
    return batch;
}

pp_status pp_names_build(const char *const *names, size_t count, pp_arena *arena, pp_names *table,
                         pp_error *error)
{
    if (count >= PP_NAME_NONE)
        return pp_fail(error, PP_EINPUT, "more than 4294967294 names; split the list");
    size_t size = SLOTS_MIN;
    while (size < 2 * count) size *= 2;
    pp_names t = {.names = names, .count = count, .mask = size - 1};
    t.repeat = t.repeat_of = PP_NAME_NONE;
    PP_TAKE(t.slots, arena, size);
    memset(t.slots, 0xFF, size * sizeof t.slots[0]); /* all free */

    key keys[BATCH];
    for (size_t done = 0, batch; done < count; done += batch) {
        batch = prepare(&t, names + done, count - done, keys);
        for (size_t i = 0; i < batch; i++) {
            uint32_t index = (uint32_t)(done + i);
            pp_name_slot *slot = locate(&t, &keys[i], names[index]);
            if (slot->index == PP_NAME_NONE) {
                *slot = (pp_name_slot){keys[i].check, index};
            } else if (t.repeat == PP_NAME_NONE) {
                t.repeat = index;
                t.repeat_of = slot->index;
            }
        }
    }
    *table = t;
    return PP_OK;
}

uint32_t pp_names_find(const pp_names *table, const char *name)
{
    key k = make_key(name);
    return locate(table, &k, name)->index;
}

/* Start fetching the names that the keys will be compared with: pointers, then texts. */
static void prepare_names(const pp_names *table, const key keys[BATCH], size_t batch)
{
    uint32_t index[BATCH];
    for (size_t i = 0; i < batch; i++) {
        index[i] = table->slots[keys[i].hash & table->mask].index;
        if (index[i] != PP_NAME_NONE) __builtin_prefetch(&table->names[index[i]]);
    }
    for (size_t i = 0; i < batch; i++)
        if (index[i] != PP_NAME_NONE) __builtin_prefetch(table->names[index[i]]);
}

void pp_names_find_many(const pp_names *table, const char *const *names, size_t count,
                        uint32_t *index)
{
    key keys[BATCH];
    for (size_t done = 0, batch; done < count; done += batch) {
        batch = prepare(table, names + done, count - done, keys);
        prepare_names(table, keys, batch);
        for (size_t i = 0; i < batch; i++)
            index[done + i] = locate(table, &keys[i], names[done + i])->index;
    }
}
