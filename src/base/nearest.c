#include "base/nearest.h"

#include <string.h>

enum { LONGEST = 63 };

static char fold(char c)
{
    if (c >= 'A' && c <= 'Z') return (char)(c - 'A' + 'a');
    return c == '-' || c == ' ' ? '_' : c;
}

static size_t smaller(size_t a, size_t b) { return a < b ? a : b; }

size_t pp_nearest_distance(const char *a, const char *b)
{
    /* d[i][j]: from the first i letters of a to the first j of b; three rows are enough */
    size_t before[LONGEST + 1], last[LONGEST + 1], row[LONGEST + 1];
    size_t m = smaller(strlen(a), LONGEST), n = smaller(strlen(b), LONGEST);
    for (size_t j = 0; j <= n; j++) last[j] = before[j] = j;
    for (size_t i = 1; i <= m; i++) {
        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            char p = fold(a[i - 1]), q = fold(b[j - 1]);
            row[j] = smaller(smaller(last[j], row[j - 1]) + 1, last[j - 1] + (p != q));
            if (i > 1 && j > 1 && p == fold(b[j - 2]) && fold(a[i - 2]) == q)
                row[j] = smaller(row[j], before[j - 2] + 1);
        }
        memcpy(before, last, sizeof before);
        memcpy(last, row, (n + 1) * sizeof *row);
    }
    return last[n];
}

size_t pp_nearest_find(const char *word, size_t count, const char *const *words)
{
    size_t best = count, least = 0;
    for (size_t i = 0; i < count; i++) {
        size_t distance = pp_nearest_distance(word, words[i]);
        if (best < count && distance >= least) continue;
        best = i;
        least = distance;
    }
    return best;
}
