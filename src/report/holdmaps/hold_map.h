/* The maps of the hold-down study: what each shows at every hole, in which classes, and as a smooth
 * field between the holes. Classes are steps of a colour scale, one of them at the limit; which
 * holes fail is said by the rules and drawn as such. mm, N. */
#ifndef PP_REPORT_HOLDMAPS_HOLD_MAP_H
#define PP_REPORT_HOLDMAPS_HOLD_MAP_H

#include "answer/plateview.h"
#include "base/isobands.h"

typedef enum pp_hold_map_kind {
    PP_MAP_UNDER_FOOT,
    PP_MAP_FORCE,
    PP_MAP_AFTER_PLAN,
    PP_MAP_SHIMS,
    PP_MAP_TURNED,
    PP_HOLD_MAPS /* how many */
} pp_hold_map_kind;

enum { PP_MAP_CLASSES_MAX = 6 };

typedef struct pp_hold_map {
    pp_hold_map_kind kind;
    const char *title;   /* what it shows */
    const char *caption; /* how to read it, in a sentence */
    bool force;          /* values are N, else mm */
    size_t class_count;
    double from[PP_MAP_CLASSES_MAX];     /* where each class begins; the first at -INFINITY */
    unsigned colour[PP_MAP_CLASSES_MAX]; /* 0xrrggbb */
    size_t holes[PP_MAP_CLASSES_MAX];
    pp_raster raster;
    const double *value; /* [hole] */
    const bool *fails;   /* [hole] */
    size_t failing;      /* how many */
    size_t clamp_count;  /* drawn on it */
    const pp_clamp *clamps;
} pp_hold_map;

/* Whether the study has what the map shows. */
bool pp_hold_map_due(const pp_results *results, pp_hold_map_kind kind);

/* Make a map that is due. memory->keep; errors: PP_ENOMEM */
pp_status pp_hold_map_make(const pp_results *results, pp_hold_map_kind kind, pp_memory *memory,
                           pp_hold_map *map, pp_error *error);

#endif
