/* The library from outside: a plane through probe points, and the ligaments of three holes. */
#include <plateproof/plateproof.h>
#include <stdio.h>

int main(void)
{
    const double x[] = {0, 900, 900, 0, 450}, y[] = {0, 0, 600, 600, 300};
    const double z[] = {0.12, 0.31, 0.05, 0.22, 0.71};
    const pp_drilled_hole holes[] = {{0, 0, 0.02, -0.01, 25.71},
                                     {32, 0, 32.01, 0.03, 25.69},
                                     {16, 27.7128, 15.97, 27.70, 25.74}};
    const pp_ligament_rule rule = {.standard = 5.4, .minimum = 3.05, .remainder_share = 0.04};
    pp_error error;
    pp_plane_fit fit;
    pp_ligament_count count;

    if (pp_fit_planes(5, x, y, z, &fit, &error) != PP_OK ||
        pp_judge_ligaments(3, holes, &rule, &count, &error) != PP_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 1;
    }
    printf("plateproof %s\n", pp_version());
    printf("flatness %.4f mm by least squares, %.4f mm minimum zone\n", fit.flatness,
           fit.zone_flatness);
    printf("%zu ligaments, smallest %.4f mm: %s\n", count.pairs, count.smallest,
           count.outcome == PP_OUTCOME_CONFORMS ? "conforms" : "does not conform");
    return 0;
}
