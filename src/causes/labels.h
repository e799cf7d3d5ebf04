/* Labels the measured list gives its holes: the set-up they were drilled in, the session they were
 * measured in, the spindle that drilled them. Each label moves its holes as a whole. */
#ifndef PP_CAUSES_LABELS_H
#define PP_CAUSES_LABELS_H

#include "causes/error_field.h"

typedef enum pp_label_kind {
    PP_LABEL_SETUP,
    PP_LABEL_SESSION,
    PP_LABEL_SPINDLE,
    PP_LABEL_KINDS
} pp_label_kind;

enum {
    PP_LABEL_COLUMNS_MAX = 24, /* of all kinds together */
    PP_LABEL_HOLES_PER_COLUMN = 20,
    PP_LABEL_HOLES_MIN = 5,  /* fewer holes have no shift of their own */
    PP_LABEL_TURN_HOLES = 12 /* nor fewer a turn */
};

typedef struct pp_label_set {
    bool given;          /* the list has the column */
    const char *why_not; /* given, and yet no part of the model; NULL */
    size_t count;        /* different labels, in the order of their names */
    const char **name;   /* [count] */
    uint32_t *of_item;   /* [field count] */
    size_t *holes;       /* [count] */
} pp_label_set;

/* The labels of the field's holes, and the columns they add to it: for each label after the first a
 * shift in x, in y, and for set-ups and sessions of enough holes a turn.
 *
 * out   sets[PP_LABEL_KINDS]
 *       extra     columns, with room for PP_LABEL_COLUMNS_MAX; *extra_count of them are written
 * errors   PP_ENOMEM */
pp_status pp_labels_take(const pp_measures *measures, const pp_error_field *field, pp_arena *arena,
                         pp_label_set *sets, pp_extra_column *extra, int *extra_count,
                         pp_error *error);

#endif
