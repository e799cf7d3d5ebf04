/* The smooth surface against noise-free truth and an independent program (numpy and scipy):
 * data/reference/holddown/fit. */
#include "support/check.h"

#include "flatness/surface.h"
#include "linalg/linalg.h"
#include "support/surveys.h"

#define FOLDER PP_SOURCE_DIR "/data/reference/holddown/fit/"

static test_points read_points(const char *path, pp_memory *memory)
{
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    char line[200];
    test_points p = test_points_take(memory, 2000);
    p.count = 0;
    while (fgets(line, sizeof line, file)) {
        double x, y, z;
        if (sscanf(line, "%lf,%lf,%lf", &x, &y, &z) != 3) continue;
        p.x[p.count] = x, p.y[p.count] = y, p.z[p.count++] = z;
    }
    fclose(file);
    return p;
}

static void errors_are_those_of_the_independent_program(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    test_points points = read_points(FOLDER "survey.csv", &memory);
    test_points truth = read_points(FOLDER "truth.csv", &memory);
    assert_int_equal(points.count, 300);
    assert_int_equal(truth.count, 651);
    pp_survey survey = test_survey(&points);
    pp_job job = test_rectangle_job(3000, 2000);
    job.plate.centre_x = 1500, job.plate.centre_y = 1000;

    /* rms, largest: expected.json, its oracle. noise, df: the same criterion minimised in dense
     * arithmetic (numpy; log10 mu in steps of 0.004; df the exact trace), on 24 x 20 cells. */
    static const struct {
        size_t cells;
        double uncertainty, rms, largest, noise, df;
    } cases[] = {
        {24, 0.4, 0.0837, 0.3199, 0.20237, 64.52},
        {32, 0.4, 0.0837, 0.3188, 0.20237, 64.9},
        {24, NAN, 0.0830, 0.3188, 0.20313, 63.61},
        {32, NAN, 0.0831, 0.3188, 0.20313, 64.0},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        pp_mesh mesh;
        pp_surface surface;
        pp_surface_options options = {.uncertainty = cases[c].uncertainty, .threads = 2};
        assert_ok(pp_mesh_make(pp_job_outline(&job), cases[c].cells, &memory, &mesh, &error),
                  &error);
        assert_ok(pp_surface_fit(&survey, &mesh, &options, &memory, &surface, &error), &error);
        double squares = 0, largest = 0;
        for (size_t k = 0; k < truth.count; k++) {
            double e = pp_surface_height(&surface, truth.x[k], truth.y[k]) - truth.z[k];
            squares += e * e;
            largest = fmax(largest, fabs(e));
        }
        double rms = sqrt(squares / (double)truth.count);
        /* where the criterion is flat, a hundredth of a decade in mu moves rms by 0.0004 */
        assert_near(rms, cases[c].rms, 0.0015);
        assert_near(largest, cases[c].largest, 0.005);
        assert_near(surface.noise, cases[c].noise, 0.0003);
        assert_near(surface.degrees_of_freedom, cases[c].df, 0.4);
        double sigma = isnan(cases[c].uncertainty) ? surface.noise : 0.2;
        assert_near(surface.standard_error_smoother, sigma * sqrt(cases[c].df / 300), 0.0004);
        assert_false(surface.noisier_than_stated);
        assert_int_equal(surface.outlier_count, 0);
        /* bounds that any sound smoother should keep */
        assert_true(rms <= 0.126 && largest <= 0.638);
    }
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(errors_are_those_of_the_independent_program),
    };
    pp_blas_single_thread();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
