/* What a search may change: the orientations of each layer and the places it may take. */
#ifndef PP_STACK_CHOICES_H
#define PP_STACK_CHOICES_H

#include "stack/shapes.h"

enum { PP_STACK_ALL_MOST = 400 }; /* so many arrangements are all tried */

typedef struct pp_stack_choices {
    size_t layers;
    bool order; /* may change */
    pp_stack_way listed[PP_LAYERS_MAX];
    size_t fixed[PP_LAYERS_MAX]; /* by place: the layer that must lie there, SIZE_MAX: any free */
    size_t count[PP_LAYERS_MAX]; /* by layer: its orientations */
    size_t first[PP_LAYERS_MAX]; /* of them in `way` */
    size_t total;
    const pp_stack_way *way; /* [total], by layer */
} pp_stack_choices;

/* The order listed, and which of order, faces and turns may change. */
typedef struct pp_stack_freedom {
    size_t layer_count;
    const pp_layer *layers; /* their `place`, `face` and `turns` */
    const size_t *listed;   /* [layer_count] layers, bottom first */
    bool order, faces, turns;
} pp_stack_freedom;

/* What that leaves free. Arrays in `arena`. PP_ENOMEM. */
pp_status pp_stack_choices_make(const pp_stack_freedom *freedom, pp_arena *arena,
                                pp_stack_choices *choices, pp_error *error);

/* How many arrangements are allowed; more than PP_STACK_ALL_MOST counts as that and one. */
size_t pp_stack_choices_count(const pp_stack_choices *choices);

/* Every arrangement, the listed order first: way[count * layers]. */
void pp_stack_choices_list(const pp_stack_choices *choices, pp_stack_way *way);

/* Whether `layer` may lie at `place`. */
bool pp_stack_may_lie(const pp_stack_choices *choices, size_t layer, size_t place);

/* Whether two arrangements a[layers] and b[layers] have every layer at the same place, face and
 * turn. */
bool pp_stack_same_ways(const pp_stack_way *a, const pp_stack_way *b, size_t layers);

#endif
