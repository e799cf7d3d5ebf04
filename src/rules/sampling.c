#include "rules/sampling.h"

#include "rules/assurance.h"

enum { DRAWN = 1, READ = 2 };

static void mark(const pp_judging *j, uint8_t *hole)
{
    const pp_measures *m = j->measures;
    for (size_t i = 0; i < j->files->sample_count; i++) hole[j->files->sample[i]] |= DRAWN;
    for (size_t h = 0; h < m->nominal->count; h++)
        if (m->nominal->kind[h] == PP_TUBE_HOLE &&
            (m->bore_of[PP_ENTRY][h] != PP_NONE || m->bore_of[PP_EXIT][h] != PP_NONE))
            hole[h] |= READ;
}

/* Does the seed draw just these holes? */
static pp_status reproduce(const pp_judging *j, const uint8_t *hole, pp_sampling *s,
                           pp_error *error)
{
    double seed = j->job->holes.sample_seed;
    s->seeded = pp_given(seed);
    if (!s->seeded) return PP_OK;
    uint32_t *again;
    PP_TAKE(again, &j->memory->scratch, s->drawn);
    size_t count = pp_sample_draw((uint64_t)seed, j->measures->nominal, NULL, s->drawn, again);
    s->reproduced = count == s->drawn;
    for (size_t i = 0; i < count; i++) s->reproduced = s->reproduced && (hole[again[i]] & DRAWN);
    return PP_OK;
}

pp_status pp_sampling_find(const pp_judging *j, pp_sampling *sampling, pp_error *error)
{
    pp_sampling s = {.listed = j->files->sample_count > 0};
    if (s.listed) {
        size_t holes = j->measures->nominal->count;
        uint8_t *hole;
        PP_TAKE_ZERO(hole, &j->memory->scratch, holes);
        PP_TAKE(s.missing, &j->memory->scratch, holes);
        PP_TAKE(s.added, &j->memory->scratch, holes);
        mark(j, hole);
        for (size_t h = 0; h < holes; h++) {
            s.drawn += hole[h] & DRAWN;
            if (hole[h] == DRAWN) s.missing[s.not_measured++] = (uint32_t)h;
            if (hole[h] == READ) s.added[s.not_drawn++] = (uint32_t)h;
        }
        PP_TRY(reproduce(j, hole, &s, error));
    }
    *sampling = s;
    return PP_OK;
}
