#include "holes/half_ligaments.h"

/* Lower what the bores of `hole` leave towards `neighbour`. */
static void look_towards(const pp_ligament_question *q, uint32_t hole, uint32_t neighbour,
                         pp_half_ligament *of)
{
    const pp_nominal *nominal = &q->files->nominal;
    double x = nominal->x[neighbour] - nominal->x[hole];
    double y = nominal->y[neighbour] - nominal->y[hole], apart = hypot(x, y);
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        uint32_t b = q->gathered->bore_of[face][hole];
        if (b == PP_NONE) continue;
        const pp_bore *read = &q->gathered->bores[b];
        pp_offset off = pp_offset_from(pp_nominal_at(nominal, hole), read->at);
        double towards = (off.dx * x + off.dy * y) / apart;
        double left = 0.5 * (apart - read->diameter_max) - towards;
        double place = q->uncertainty.position / 2;
        double size = read->gauged ? 0 : q->uncertainty.diameter / 4;
        if (isnan(of[b].value) || left < of[b].value)
            of[b] = (pp_half_ligament){left, sqrt(place * place + size * size)};
    }
}

pp_status pp_half_ligaments_take(const pp_ligament_question *question, pp_memory *memory,
                                 pp_half_ligaments *halves, pp_error *error)
{
    const pp_neighbours *n = question->neighbours;
    size_t holes = question->files->nominal.count, bores = question->gathered->bore_count, most = 0;
    pp_half_ligament *of;
    uint32_t *neighbours;
    PP_TAKE(of, &memory->keep, bores);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE_ZERO(neighbours, &memory->scratch, holes);
    for (size_t b = 0; b < bores; b++) of[b] = (pp_half_ligament){NAN, NAN};
    for (uint32_t a = 0; a < holes; a++)
        for (size_t pair = n->start[a]; pair < n->start[a + 1]; pair++) {
            uint32_t b = n->b[pair];
            look_towards(question, a, b, of);
            look_towards(question, b, a, of);
            neighbours[a]++, neighbours[b]++;
        }
    for (size_t h = 0; h < holes; h++) most = neighbours[h] > most ? neighbours[h] : most;
    pp_arena_release(&memory->scratch, mark);
    *halves = (pp_half_ligaments){of, most};
    return PP_OK;
}
