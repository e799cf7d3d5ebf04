#include "report/holdmaps/map_words.h"

enum { WAYS = 8, RINGS = 5 };
static const double GAP = 2, RING = 11;

static bool overlap(const pp_label_box *a, const pp_label_box *b)
{
    return a->left < b->right && b->left < a->right && a->top < b->bottom && b->top < a->bottom;
}

static bool is_free(const pp_map_words *l, const pp_label_box *box)
{
    if (box->left < l->frame.left || box->right > l->frame.right || box->top < l->frame.top ||
        box->bottom > l->frame.bottom)
        return false;
    for (size_t k = 0; k < l->count; k++)
        if (overlap(box, &l->taken[k])) return false;
    return true;
}

void pp_map_words_take(pp_map_words *l, pp_label_box box)
{
    if (l->count < l->room) l->taken[l->count++] = box;
}

bool pp_map_words_here(pp_map_words *l, pp_label_box box)
{
    if (l->count == l->room || !is_free(l, &box)) return false;
    pp_map_words_take(l, box);
    return true;
}

bool pp_map_words_place(pp_map_words *l, double x, double y, double radius, double width,
                        double height, pp_label_box *box, bool *away)
{
    static const int across[WAYS] = {1, -1, 0, 0, 1, 1, -1, -1};
    static const int down[WAYS] = {0, 0, -1, 1, -1, 1, -1, 1};
    for (int ring = 0; ring < RINGS; ring++)
        for (int w = 0; w < WAYS; w++) {
            double off = radius + GAP + ring * RING;
            double cx = x + across[w] * (off + width / 2);
            double cy = y + down[w] * (off + height / 2);
            *box = (pp_label_box){cx - width / 2, cy - height / 2, cx + width / 2, cy + height / 2};
            if (!pp_map_words_here(l, *box)) continue;
            *away = ring > 0;
            return true;
        }
    return false;
}
