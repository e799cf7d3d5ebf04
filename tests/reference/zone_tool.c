/* Reads point clouds from standard input ("count", then x y z each, in hexadecimal or decimal
 * floating point; any number of clouds) and writes one line each: flatness of the least-squares
 * and of the minimum-zone planes, the zone's normal, exact, and the witness rows from 0 with their
 * side. For tests/reference/zone_oracle.py. */
#include <stdio.h>
#include <stdlib.h>

#include "planes/plane.h"

static int answer(const pp_points *points)
{
    static const double up[3] = {0, 0, 1};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_least_squares ls;
    pp_minimum_zone mz;
    if (pp_plane_least_squares(points, up, 2, &memory, &ls, &error) != PP_OK ||
        pp_plane_minimum_zone(points, &ls, up, 2, &memory, &mz, &error) != PP_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 1;
    }
    pp_memory_free(&memory);
    printf("%a %a %a %a %a %d", ls.flatness, mz.flatness, mz.plane.normal[0], mz.plane.normal[1],
           mz.plane.normal[2], mz.exact);
    for (int k = 0; k < mz.witness_count; k++)
        printf(" %zu:%d", mz.witness[k].index, mz.witness[k].side);
    printf("\n");
    return 0;
}

int main(void)
{
    size_t count;
    while (scanf("%zu", &count) == 1) {
        double *x = malloc(3 * count * sizeof *x);
        if (!x) return 1;
        double *y = x + count, *z = y + count;
        for (size_t i = 0; i < count; i++)
            if (scanf("%lf %lf %lf", x + i, y + i, z + i) != 3) return 1;
        int failed = answer(&(pp_points){count, x, y, z});
        free(x);
        if (failed) return 1;
    }
    return 0;
}
