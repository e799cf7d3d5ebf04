/* Words beside marks, none over another or over a mark. Picture units, y downwards. */
#ifndef PP_REPORT_HOLDMAPS_MAP_WORDS_H
#define PP_REPORT_HOLDMAPS_MAP_WORDS_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pp_label_box {
    double left, top, right, bottom;
} pp_label_box;

typedef struct pp_map_words {
    size_t count, room;
    pp_label_box *taken; /* [room] marks and words so far */
    pp_label_box frame;  /* that words must stay within */
} pp_map_words;

/* Something that no word may cover. */
void pp_map_words_take(pp_map_words *labels, pp_label_box box);

/* A free place for a word of that size beside a mark of `radius` about (x, y): right, left, above,
 * below, at the corners, then the same farther out. False where all are taken; else the place is
 * taken, and *away says that a line should lead there. */
bool pp_map_words_place(pp_map_words *labels, double x, double y, double radius, double width,
                        double height, pp_label_box *box, bool *away);

/* Just here, or not at all. */
bool pp_map_words_here(pp_map_words *labels, pp_label_box box);

#endif
