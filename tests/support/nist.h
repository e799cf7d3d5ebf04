/* The NIST practice pairs of data/reference/nist_planes: points, published fits, expected zones. */
#ifndef PP_TESTS_NIST_H
#define PP_TESTS_NIST_H

#include "support/points.h"

static inline FILE *nist_open(const char *name, const char *extension)
{
    char path[512];
    snprintf(path, sizeof path, PP_SOURCE_DIR "/data/reference/nist_planes/%s%s", name, extension);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    return file;
}

static inline point_set nist_points(const char *name)
{
    FILE *file = nist_open(name, ".ds");
    size_t count;
    assert_int_equal(fscanf(file, "%zu", &count), 1);
    point_set p = points_new(count);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(fscanf(file, "%lf %lf %lf", &p.x[i], &p.y[i], &p.z[i]), 3);
    fclose(file);
    return p;
}

static inline void nist_fit(const char *name, double fit[6])
{
    FILE *file = nist_open(name, ".fit");
    for (int k = 0; k < 6; k++) assert_int_equal(fscanf(file, "%lf", &fit[k]), 1);
    fclose(file);
}

typedef struct nist_expected {
    char name[16];
    size_t points;
    double ls_flatness, ls_max, ls_min, ls_rms, mz_flatness, mz_normal[3];
    char upper[64], lower[64];
} nist_expected;

/* Angle between directions, sense free: |a x b|. */
static inline double nist_angle(const double a[3], const double b[3])
{
    double c[3];
    cross_product(a, b, c);
    return sqrt(c[0] * c[0] + c[1] * c[1] + c[2] * c[2]);
}

/* A row of expected.csv. */
static inline nist_expected nist_row(const char *line)
{
    nist_expected e;
    assert_int_equal(sscanf(line, "%15[^,],%zu,%lf,%lf,%lf,%lf,%lf,%lf,%lf,%lf,%63[^,],%63[^\r\n]",
                            e.name, &e.points, &e.ls_flatness, &e.ls_max, &e.ls_min, &e.ls_rms,
                            &e.mz_flatness, &e.mz_normal[0], &e.mz_normal[1], &e.mz_normal[2],
                            e.upper, e.lower),
                     12);
    return e;
}

#endif
