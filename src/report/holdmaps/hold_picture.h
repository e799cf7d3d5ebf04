/* A map of the hold-down study as a picture: bands with contour lines, holes as quiet dots and dark
 * ones where they fail, pins, clamps or shims by number, and on the first map the survey's points
 * that stand out, by row. No word stands over another. Below it the classes with their holes. */
#ifndef PP_REPORT_HOLDMAPS_HOLD_PICTURE_H
#define PP_REPORT_HOLDMAPS_HOLD_PICTURE_H

#include "report/holdmaps/hold_map.h"
#include "report/holdmaps/ink.h"

typedef struct pp_hold_picture {
    const pp_results *results;
    const pp_hold_map *map;
    double width, most_height; /* of the plate's part */
    double letter;             /* size of the writing */
} pp_hold_picture;

/* How high it becomes with its legend. */
double pp_hold_picture_height(const pp_hold_picture *picture, pp_memory *memory, pp_error *error);

/* Draw it with its upper left corner at (0, 0); memory->scratch only; PP_ENOMEM.
 * *unlabelled: marks that found no room for their number. */
pp_status pp_hold_picture_draw(const pp_hold_picture *picture, const pp_ink *ink, pp_memory *memory,
                               size_t *unlabelled, pp_error *error);

#endif
