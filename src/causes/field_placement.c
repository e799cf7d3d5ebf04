#include "causes/field_placement.h"

#include <string.h>

#include "base/parallel.h"

enum { PARTS = 64 };

typedef struct sums {
    double count, x, y, vx, vy; /* of places and vectors */
    double cross, square;       /* place x vector and squared place, from the centre */
    double left;                /* squared vectors without shift and turn */
} sums;

typedef struct pass {
    const pp_vectors *vectors;
    void (*add)(const struct pass *p, size_t i, sums *s);
    pp_field_placement placement;
    double inverse[2]; /* of the units */
    sums part[PARTS];
} pass;

static void add_means(const pass *p, size_t i, sums *s)
{
    const pp_vectors *v = p->vectors;
    s->count++;
    s->x += v->field->x[i], s->y += v->field->y[i];
    s->vx += v->x[i], s->vy += v->y[i];
}

static void add_turn(const pass *p, size_t i, sums *s)
{
    const pp_vectors *v = p->vectors;
    double x = v->field->x[i] - p->placement.centre_x, y = v->field->y[i] - p->placement.centre_y;
    s->cross += x * (v->y[i] - p->placement.y) - y * (v->x[i] - p->placement.x);
    s->square += x * x + y * y;
}

static void add_left(const pass *p, size_t i, sums *s)
{
    const pp_vectors *v = p->vectors;
    const pp_field_placement *at = &p->placement;
    double x = v->x[i] - (at->x - at->turn * (v->field->y[i] - at->centre_y));
    double y = v->y[i] - (at->y + at->turn * (v->field->x[i] - at->centre_x));
    x *= p->inverse[0], y *= p->inverse[1];
    s->left += x * x + y * y;
}

static pp_status add_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    pass *p = context;
    const pp_vectors *v = p->vectors;
    sums s = {0};
    size_t end = pp_part_begin(v->field->count, PARTS, part + 1);
    for (size_t i = pp_part_begin(v->field->count, PARTS, part); i < end; i++)
        if (v->kept[i]) p->add(p, i, &s);
    p->part[part] = s;
    return PP_OK;
}

static pp_status add_all(pass *p, int threads, sums *total, pp_error *error)
{
    PP_TRY(pp_parallel(threads, PARTS, add_part, p, error));
    memset(total, 0, sizeof *total);
    for (size_t k = 0; k < PARTS; k++) {
        const sums *s = &p->part[k];
        total->count += s->count, total->x += s->x, total->y += s->y;
        total->vx += s->vx, total->vy += s->vy;
        total->cross += s->cross, total->square += s->square, total->left += s->left;
    }
    return PP_OK;
}

pp_status pp_field_place(const pp_vectors *vectors, int threads, pp_field_placement *placement,
                         pp_error *error)
{
    pass p = {.vectors = vectors, .add = add_means};
    sums s;
    PP_TRY(add_all(&p, threads, &s, error));
    if (s.count > 0) {
        p.placement = (pp_field_placement){.x = s.vx / s.count,
                                           .y = s.vy / s.count,
                                           .centre_x = s.x / s.count,
                                           .centre_y = s.y / s.count};
        p.add = add_turn;
        PP_TRY(add_all(&p, threads, &s, error));
        if (s.square > 0) p.placement.turn = s.cross / s.square;
    }
    *placement = p.placement;
    return PP_OK;
}

pp_status pp_field_squares_left(const pp_vectors *vectors, const pp_field_placement *placement,
                                const double unit[2], int threads, double *sum, pp_error *error)
{
    pass p = {.vectors = vectors,
              .add = add_left,
              .placement = *placement,
              .inverse = {1 / unit[0], 1 / unit[1]}};
    sums s;
    PP_TRY(add_all(&p, threads, &s, error));
    *sum = s.left;
    return PP_OK;
}
