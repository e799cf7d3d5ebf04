/* Seven holes of a triangular pattern, worked out by hand, and how a test asks what was judged of
 * them. */
#ifndef PP_TESTS_SEVEN_HOLES_H
#define PP_TESTS_SEVEN_HOLES_H

#include "support/check.h"
#include "support/holes_run.h"

#define SEVEN                                                                                      \
    "hole,x,y\nC,0,0\nE,32,0\nNE,16,27.712813\nNW,-16,27.712813\nW,-32,0\nSW,-16,-27.712813\n"     \
    "SE,16,-27.712813\n"
#define JOB_HEAD "[plate]\noutline = disc\ndiameter = 200\nthickness = 40\n"
#define JOB_HOLES "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\npitch = 32\n"
#define JOB JOB_HEAD JOB_HOLES "position_limit = 0.3\n"
#define SIZES "hole_nominal = 25.7\nhole_under = 0.1\nhole_over = 0.05\nhole_over_limit = 0.25\n"
#define WEBS "ligament_standard = 5.4\nligament_minimum = 3\n"
#define RULES "[rules]\n" SIZES WEBS
#define UNCERTAIN                                                                                  \
    "uncertainty_position = 0.02\nuncertainty_diameter = 0.01\nuncertainty_ligament = 0.04\n"
#define ALL_GOOD                                                                                   \
    "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\nNE,16,27.71,25.7\nNW,-16,27.71,25.7\n"            \
    "W,-32,0,25.7\nSW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n"

static inline void run_texts(holes_run *run, holes_texts texts)
{
    pp_error error = {0};
    assert_ok(holes_run_texts(run, texts, 2, &error), &error);
}

static inline uint32_t named(const holes_run *run, const char *name)
{
    for (size_t i = 0; i < run->files.nominal.count; i++)
        if (strcmp(run->files.nominal.name[i], name) == 0) return (uint32_t)i;
    fail_msg("no hole %s", name);
    return 0;
}

static inline const pp_finding *finding(const holes_run *run, pp_characteristic which,
                                        const char *hole)
{
    const pp_judgement *j = &run->judgement;
    for (size_t i = j->first[which]; i < j->first[which + 1]; i++)
        if (j->findings[i].subject == named(run, hole)) return &j->findings[i];
    fail_msg("no finding of %s", hole);
    return NULL;
}

static inline bool cautioned(const holes_run *run, const char *words)
{
    for (size_t i = 0; i < run->judgement.caution_count; i++)
        if (strstr(run->judgement.cautions[i], words)) return true;
    return false;
}

static inline pp_verdict section(const holes_run *run, pp_characteristic which)
{
    return run->judgement.section[which].verdict;
}

#endif
