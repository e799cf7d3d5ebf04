/* Matching, alignment and measures on small patterns worked out by hand. */
#include "holes/alignment.h"
#include "support/seven_holes.h"

#define JOB_PLATE(diameter) "[plate]\noutline = disc\ndiameter = " diameter "\nthickness = 40\n"

static const pp_bore *bore_of(const holes_run *run, const char *name, pp_face face)
{
    uint32_t bore = run->measures.bore_of[face][named(run, name)];
    assert_int_not_equal(bore, PP_NONE);
    return &run->measures.bores[bore];
}

static double ligament_of(const holes_run *run, const char *a, const char *b, pp_face face)
{
    for (size_t i = 0; i < run->measures.ligament_count; i++) {
        const pp_ligament *l = &run->measures.ligaments[i];
        if (l->a == named(run, a) && l->b == named(run, b) && l->face == face) return l->value;
    }
    return NAN;
}

/* --- rigid motion ----------------------------------------------------------------------------- */

/* Umeyama, IEEE TPAMI 13 (1991) 376-380: (0,0), (1,0), (0,2) onto (0,0), (-1,0), (0,2). The matrix
 * of products has a negative determinant: without the guard a reflection would come out. Rotation
 * as published; shift and sum of squares of the fit without scale computed independently. */
static void a_motion_is_the_published_one_and_no_reflection(void **state)
{
    (void)state;
    const double a[3][2] = {{0, 0}, {1, 0}, {0, 2}}, b[3][2] = {{0, 0}, {-1, 0}, {0, 2}};
    pp_fit_sums sums = {.ax0 = a[1][0], .ay0 = a[1][1], .bx0 = b[2][0], .by0 = b[2][1]};
    for (int i = 0; i < 3; i++)
        pp_fit_add(&sums, (pp_measured_point){a[i][0], a[i][1]},
                   (pp_nominal_point){b[i][0], b[i][1]});
    pp_pose pose;
    assert_true(pp_fit_pose(&sums, &pose));
    assert_near(pose.c, 3 / sqrt(13), 1e-15);
    assert_near(pose.s, -2 / sqrt(13), 1e-15);
    assert_near(pose.dx, -0.98048356, 1e-8);
    assert_near(pose.dy, 0.29686654, 1e-8);
    double squares = 0;
    for (int i = 0; i < 3; i++) {
        pp_plate_point at = pp_pose_apply(pose, (pp_measured_point){a[i][0], a[i][1]});
        pp_offset off = pp_offset_from((pp_nominal_point){b[i][0], b[i][1]}, at);
        squares += off.dx * off.dx + off.dy * off.dy;
    }
    assert_near(squares, 1.8592649660480145, 1e-14);
}

/* A known motion comes back, far from the origin too. */
static void a_motion_comes_back_far_from_the_origin(void **state)
{
    (void)state;
    double c = cos(2.385), s = sin(2.385);
    pp_fit_sums sums = {.ax0 = 1e6 + 3, .ay0 = -2e6, .bx0 = 5, .by0 = 7};
    for (int i = 0; i < 40; i++) {
        double x = 1e6 + 31.7 * i, y = -2e6 + 17.3 * i * i - 400 * i;
        pp_nominal_point to = {c * (x - 1e6) - s * (y + 2e6), s * (x - 1e6) + c * (y + 2e6)};
        pp_fit_add(&sums, (pp_measured_point){x, y}, to);
    }
    pp_pose pose;
    assert_true(pp_fit_pose(&sums, &pose));
    assert_near(pp_pose_angle_deg(pose), 2.385 * 57.29577951308232, 1e-11);
    pp_plate_point origin = pp_pose_apply(pose, (pp_measured_point){1e6, -2e6});
    assert_near(origin.x, 0, 1e-8);
    assert_near(origin.y, 0, 1e-8);
}

static void one_place_determines_no_motion(void **state)
{
    (void)state;
    pp_fit_sums sums = {0};
    pp_pose pose;
    assert_false(pp_fit_pose(&sums, &pose));
    pp_fit_add(&sums, (pp_measured_point){3, 4}, (pp_nominal_point){1, 2});
    assert_false(pp_fit_pose(&sums, &pose));
    pp_fit_add(&sums, (pp_measured_point){3, 4},
               (pp_nominal_point){9, 9}); /* measured twice in one place */
    assert_false(pp_fit_pose(&sums, &pose));
}

/* --- readings --------------------------------------------------------------------------------- */

/* Repeat readings: mean centre, smallest and largest diameter; the latest round of each face. */
static void readings_of_a_hole_become_one(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN,
                                  "hole,x,y,diameter,face,round\n"
                                  "C,0.03,0.01,25.72,entry,2\nC,9,9,26.9,entry,1\n"
                                  "C,0.05,-0.02,25.69,entry,2\nC,0.2,0.1,25.74,exit,1\n"
                                  "E,32.1,0,25.7,entry,1\n",
                                  NULL});
    const pp_bore *c = bore_of(&run, "C", PP_ENTRY);
    assert_int_equal(c->readings, 2);
    assert_int_equal(c->round, 2);
    assert_int_equal(c->row, 1);
    assert_near(c->at.x, 0.04, 1e-15);
    assert_near(c->at.y, -0.005, 1e-15);
    assert_near(c->diameter_min, 25.69, 0);
    assert_near(c->diameter_max, 25.72, 0);
    assert_near(c->diameter_mean, 25.705, 1e-14);
    assert_near(c->position, 2 * hypot(0.04, 0.005), 1e-15);
    assert_int_equal(run.measures.history_count, 1);
    assert_near(run.measures.history[0].at.x, 9, 0);
    assert_int_equal(run.measures.history[0].round, 1);
    assert_near(run.measures.drift[named(&run, "C")], hypot(0.16, 0.105), 1e-15);
    assert_true(isnan(run.measures.drift[named(&run, "E")]));
    /* largest readings: 32.06 (from x), less half of 25.72 and 25.7 */
    assert_near(ligament_of(&run, "C", "E", PP_ENTRY), hypot(32.06, 0.005) - 12.86 - 12.85, 1e-13);
    assert_int_equal(run.measures.measured, 2);
    assert_int_equal(run.measures.unmeasured_count, 5);
    assert_int_equal(run.measures.pairs_measured, 1);
    assert_int_equal(run.measures.pairs_unmeasured, 11); /* 6 spokes and 6 around, less one */
    pp_memory_free(&run.memory);
}

/* A warm plate is brought to 20 C: coordinates, diameters and direct ligaments shrink alike. */
static void a_warm_plate_is_brought_to_twenty_degrees(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "temperature = 45 C\nexpansion = 16e-6\n"
                                      "ligaments = more.csv\n" RULES,
                                  SEVEN, "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.71\n",
                                  "hole_a,hole_b,ligament\nW,C,6.25\n"});
    double scale = 1 - 16e-6 * 25;
    assert_near(bore_of(&run, "E", PP_ENTRY)->at.x, 32 * scale, 1e-14);
    assert_near(bore_of(&run, "E", PP_ENTRY)->diameter_max, 25.71 * scale, 1e-14);
    assert_near(ligament_of(&run, "C", "E", PP_ENTRY), (32 - 12.85 - 12.855) * scale, 1e-13);
    assert_near(ligament_of(&run, "C", "W", PP_ENTRY), 6.25 * scale, 1e-14);
    pp_memory_free(&run.memory);
}

/* Direct measurements replace the computed value of their pair and face, the smallest of several;
 * a pair with only a direct value counts as measured. */
static void direct_ligaments_replace_those_computed(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "ligaments = more.csv\n" RULES, SEVEN,
                                  "hole,x,y,diameter,face\nC,0,0,25.7,entry\nE,32,0,25.7,entry\n"
                                  "C,0,0,25.7,exit\nE,32,0,25.7,exit\n",
                                  "hole_a,hole_b,ligament,face\nE,C,6.11,entry\nC,E,6.05,\n"
                                  "NE,C,6.2,exit\n"});
    assert_near(ligament_of(&run, "C", "E", PP_ENTRY), 6.05, 0);
    assert_near(ligament_of(&run, "C", "E", PP_EXIT), 6.3, 1e-13);
    assert_near(ligament_of(&run, "C", "NE", PP_EXIT), 6.2, 0);
    assert_int_equal(run.measures.pairs_measured, 2);
    assert_near(bore_of(&run, "C", PP_ENTRY)->smallest_ligament, 6.05, 0);
    assert_near(bore_of(&run, "C", PP_EXIT)->smallest_ligament, 6.2, 0);
    pp_memory_free(&run.memory);
}

/* --- matching --------------------------------------------------------------------------------- */

static const char *const NO_NAMES =
    "x,y,diameter\n0.1,0.05,25.7\n32.2,-0.1,25.7\n16,27.6,25.7\n-16.1,27.7,25.7\n"
    "-32,0.1,25.7\n-16,-27.7,25.7\n0.6,-0.4,25.7\n50,50,25.7\n";

/* Row 7 claims C too, from farther away; SE is nobody's; row 8 lies half a pitch off everything. */
static void holes_without_names_are_the_nearest(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN, NO_NAMES, NULL});
    const pp_measures *m = &run.measures;
    assert_int_equal(m->measured, 6);
    assert_int_equal(m->unmeasured_count, 1);
    assert_string_equal(m->nominal->name[m->unmeasured[0]], "SE");
    assert_int_equal(m->extra_count, 2);
    assert_string_equal(m->extra[0], "row 7");
    assert_string_equal(m->extra[1], "row 8");
    assert_int_equal(m->doubly_claimed_count, 1);
    assert_int_equal(m->doubly_claimed[0], named(&run, "C"));
    assert_near(bore_of(&run, "C", PP_ENTRY)->at.x, 0.1, 0);
    assert_string_equal(pp_bore_name(m, m->bore_count - 1), "row 8");
    /* the loser overlaps the winner: a misdrilled pair */
    assert_int_equal(run.judgement.misdrilled_count, 1);
    assert_int_equal(run.judgement.verdict, PP_DOES_NOT_CONFORM);
    pp_memory_free(&run.memory);
}

static void unknown_names_are_extra_holes(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN,
                                  "hole,x,y,diameter,face\nC,0,0,25.7,entry\nX9,70,0,25.7,exit\n"
                                  "X2,70,40,25.7,entry\nX9,70.2,0,25.7,entry\n"
                                  "X9,70.4,0,25.7,entry\n",
                                  NULL});
    const pp_measures *m = &run.measures;
    assert_int_equal(m->extra_count, 2); /* each name once, in row order */
    assert_string_equal(m->extra[0], "X9");
    assert_string_equal(m->extra[1], "X2");
    assert_int_equal(m->bore_count - m->extra_first, 3); /* X9 entry, X9 exit, X2 */
    assert_near(m->bores[m->extra_first].at.x, 70.3, 1e-13);
    assert_int_equal(run.judgement.section[PP_EXTRA_HOLE].failed, 2);
    assert_int_equal(m->hole_of_row[1], PP_NONE);
    pp_memory_free(&run.memory);
}

/* best-fit without names: match as measured, fit, match again. Turned by 0.4 degrees and shifted,
 * every hole is still nearest to its own. */
static void a_best_fit_needs_no_names(void **state)
{
    (void)state;
    double angle = 0.4 / 57.29577951308232, c = cos(angle), s = sin(angle);
    const double n[7][2] = {{0, 0},   {32, 0},           {16, 27.712813}, {-16, 27.712813},
                            {-32, 0}, {-16, -27.712813}, {16, -27.712813}};
    char text[1024] = "x,y,diameter\n";
    for (int i = 0; i < 7; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%.9f,%.9f,25.7\n",
                 c * n[i][0] - s * n[i][1] + 1.7, s * n[i][0] + c * n[i][1] - 2.3);
    holes_run run;
    run_texts(&run, (holes_texts){JOB "align = best-fit\n" RULES, SEVEN, text, NULL});
    assert_near(run.measures.alignment.angle_deg, -0.4, 1e-8);
    assert_near(run.measures.alignment.rms, 0, 1e-8);
    assert_int_equal(run.measures.measured, 7);
    pp_memory_free(&run.memory);
}

/* --- alignments ------------------------------------------------------------------------------- */

/* two-holes: C on its nominal centre, E in its nominal direction; a stretched pattern stays so. */
static void two_holes_align_and_stretch_nothing(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "align = two-holes\ndatum_holes = C, E\n" RULES, SEVEN,
                                  "hole,x,y,diameter\nC,100,50,25.7\nE,100,82.5,25.7\n"
                                  "W,100,18,25.7\n",
                                  NULL});
    const pp_alignment *a = &run.measures.alignment;
    assert_near(a->angle_deg, -90, 1e-13);
    assert_near(bore_of(&run, "C", PP_ENTRY)->position, 0, 1e-13);
    assert_near(bore_of(&run, "E", PP_ENTRY)->at.x, 32.5, 1e-13);
    assert_near(bore_of(&run, "E", PP_ENTRY)->at.y, 0, 1e-13);
    assert_near(a->rms, sqrt(0.5 * 0.5 / 3), 1e-13);
    pp_memory_free(&run.memory);
}

static void datum_points_place_the_plate(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "align = datum-points\ndatum_points = more.csv\n" RULES,
                                  SEVEN, "hole,x,y,diameter\nC,10,20,25.7\nE,10,52,25.7\n",
                                  "name,nominal_x,nominal_y,x,y\nP,90,0,10,110\nQ,-90,0,10,-70\n"});
    assert_near(run.measures.alignment.angle_deg, -90, 1e-13);
    assert_near(bore_of(&run, "E", PP_ENTRY)->at.x, 32, 1e-12);
    assert_near(run.measures.alignment.reference_x, 0, 1e-13);
    pp_memory_free(&run.memory);
}

/* The exit face measured with the plate turned about y, and aligned on its own. */
static void an_exit_face_is_turned_and_aligned_on_its_own(void **state)
{
    (void)state;
    holes_run run;
    const char *measured = "hole,x,y,diameter,face\nC,0,0,25.7,entry\nE,32,0,25.7,entry\n"
                           "NE,16,27.712813,25.7,entry\nC,-0.2,0,25.7,exit\nE,-32.2,0,25.7,exit\n"
                           "NE,-16.2,27.712813,25.7,exit\n";
    run_texts(&run, (holes_texts){JOB "exit_view = turned-about-y\n" RULES, SEVEN, measured, NULL});
    assert_near(bore_of(&run, "E", PP_EXIT)->at.x, 32.2, 1e-13);
    assert_near(run.measures.drift[named(&run, "E")], 0.2, 1e-13);
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){JOB "exit_view = turned-about-y\nexit_align = best-fit\n" RULES,
                                  SEVEN, measured, NULL});
    assert_near(run.measures.drift[named(&run, "E")], 0, 1e-13); /* the lean is hidden */
    assert_true(run.measures.alignment.exit_own);
    assert_near(run.measures.alignment.exit_dx, -0.2, 1e-13);
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){JOB "exit_view = turned-about-x\n" RULES, SEVEN,
                                  "hole,x,y,diameter,face\nC,0,0,25.7,entry\nC,0,0,25.7,exit\n"
                                  "NE,16,-27.8,25.7,exit\n",
                                  NULL});
    assert_near(bore_of(&run, "NE", PP_EXIT)->at.y, 27.8, 1e-13);
    pp_memory_free(&run.memory);
}

/* Composite position: the pattern is shifted by 0.3 as a whole and true to itself within 0.02. */
static void a_shifted_pattern_is_true_to_itself(void **state)
{
    (void)state;
    holes_run run;
    run_texts(
        &run,
        (holes_texts){JOB_HEAD JOB_HOLES "position_limit = 0.1\npattern_limit = 0.7\n" RULES, SEVEN,
                      "hole,x,y,diameter\nC,0.3,0,25.7\nE,32.31,0,25.7\nW,-31.71,0,25.7\n", NULL});
    assert_near(bore_of(&run, "E", PP_ENTRY)->position, 0.62, 1e-13);
    uint32_t e = run.measures.bore_of[PP_ENTRY][named(&run, "E")];
    assert_near(run.measures.position_within[e], 0.02, 1e-12);
    assert_near(run.measures.pattern_dx, -0.3, 1e-13);
    assert_near(run.judgement.position_fold.largest, 0.02, 1e-12);
    assert_near(run.judgement.pattern_fold.largest, 0.62, 1e-13);
    assert_int_equal(run.judgement.section[PP_POSITION].failed, 0);
    assert_int_equal(run.judgement.section[PP_PATTERN_POSITION].failed, 0);
    pp_memory_free(&run.memory);
}

/* --- pitch, labels, edges --------------------------------------------------------------------- */

/* Nearest neighbours: 31.9 three times, 32.0 twice: the larger group counts, by its median. */
static void the_pitch_is_that_of_the_larger_group(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run,
              (holes_texts){JOB_HEAD "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\n",
                            "hole,x,y\nA,0,0\nB,31.9,0\nC,63.805,0\nD,0,60\nE,32,60\n",
                            "hole,x,y,diameter\nA,0,0,25\n", NULL});
    assert_true(run.measures.pitch_found);
    assert_near(run.measures.pitch, 31.9, 1e-12);
    pp_memory_free(&run.memory);
}

static void labels_and_distances_to_the_edge_are_found(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN,
                                  "hole,x,y,diameter\nE,32.5,0.1,25.7\nNW,-16,27.7,25.6\n", NULL});
    uint32_t e = named(&run, "E"), nw = named(&run, "NW"), sw = named(&run, "SW");
    assert_int_equal(run.measures.row_label[e], 2);
    assert_int_equal(run.measures.row_label[nw], 3);
    assert_int_equal(run.measures.row_label[sw], 1);
    assert_int_equal(run.measures.column_label[e], 5); /* x = -32, -16, 0, 16, 32 */
    assert_int_equal(run.measures.column_label[nw], 2);
    assert_near(run.measures.edge[run.measures.bore_of[PP_ENTRY][e]],
                100 - hypot(32.5, 0.1) - 12.85, 1e-13);
    pp_memory_free(&run.memory);
}

/* --- unknown frame ---------------------------------------------------------------------------- */

/* A lopsided field: 8 rows of 9, one corner cut away. Its centroid (67.3, 49.5) lies nearest to the
 * web at (68, 52.376). */
enum { FIELD = 72 };
static int lopsided(double n[FIELD][2])
{
    int count = 0;
    for (int row = 0; row < 8; row++)
        for (int column = 0; column < 9; column++) {
            if (row == 7 && column > 4) continue;
            n[count][0] = 32 * column + 16 * (row % 2) - 60;
            n[count++][1] = 27.712813 * row - 40;
        }
    return count;
}

/* `stray`: a hole too many, in the web nearest to the middle of the field. */
static void check_unknown_frame(double angle_deg, int turned_over, double x0, double y0, bool stray)
{
    double n[FIELD][2], angle = angle_deg / 57.29577951308232, c = cos(angle), s = sin(angle);
    int count = lopsided(n);
    char nominal[4096] = "hole,x,y\n", measured[4096] = "x,y,diameter\n";
    for (int i = 0; i < count; i++) {
        double x = c * n[i][0] - s * n[i][1] + x0, y = s * n[i][0] + c * n[i][1] + y0;
        snprintf(nominal + strlen(nominal), sizeof nominal - strlen(nominal), "H%d,%.6f,%.6f\n", i,
                 n[i][0], n[i][1]);
        snprintf(measured + strlen(measured), sizeof measured - strlen(measured),
                 "%.9f,%.9f,25.7\n", turned_over ? -x : x, y);
    }
    if (stray) {
        double x = c * 68 - s * 52.376043 + x0, y = s * 68 + c * 52.376043 + y0;
        snprintf(measured + strlen(measured), sizeof measured - strlen(measured),
                 "%.9f,%.9f,25.7\n", turned_over ? -x : x, y);
    }
    holes_run run;
    run_texts(&run, (holes_texts){JOB_PLATE("600") JOB_HOLES
                                  "position_limit = 0.3\nalign = best-fit\nmatch = pattern\n" RULES,
                                  nominal, measured, NULL});
    assert_int_equal(run.measures.measured, count);
    assert_int_equal(run.measures.extra_count, stray);
    assert_int_equal(run.measures.alignment.turned_over, turned_over);
    assert_int_equal(run.measures.alignment.symmetries, 1);
    assert_near(run.measures.alignment.rms, 0, 1e-6);
    for (int i = 0; i < count; i++) assert_int_equal(run.measures.hole_of_row[i], i);
    pp_memory_free(&run.memory);
}

static void a_frame_that_nobody_knows_is_found(void **state)
{
    (void)state;
    check_unknown_frame(0, 0, 0, 0, false);
    check_unknown_frame(137.3, 0, 512.7, -90.1, false);
    check_unknown_frame(-61.2, 1, -33.3, 1200.4, false);
    check_unknown_frame(180, 1, 5, 5, false);
    check_unknown_frame(137.3, 0, 512.7, -90.1, true);
    check_unknown_frame(-61.2, 1, -33.3, 1200.4, true);
}

/* Seven holes look the same in 12 poses: the choice is open, and said so. */
static void a_symmetric_pattern_leaves_its_frame_open(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "align = best-fit\nmatch = pattern\n" RULES, SEVEN,
                                  "x,y,diameter\n500,0,25.7\n532,0,25.7\n516,27.712813,25.7\n"
                                  "484,27.712813,25.7\n468,0,25.7\n484,-27.712813,25.7\n"
                                  "516,-27.712813,25.7\n",
                                  NULL});
    assert_int_equal(run.measures.alignment.symmetries, 12);
    assert_int_equal(run.measures.alignment.turned_over, 0);
    assert_int_equal(run.measures.hole_of_row[1], named(&run, "E"));
    pp_memory_free(&run.memory);
}

/* --- refusals --------------------------------------------------------------------------------- */

static void check_refused(holes_texts texts, const char *message)
{
    holes_run run;
    pp_error error = {0};
    assert_int_equal(holes_run_texts(&run, texts, 1, &error), PP_EINPUT);
    if (!strstr(error.message, message)) {
        print_error("got: %s\nwant: %s\n", error.message, message);
        fail();
    }
    pp_memory_free(&run.memory);
}

static void what_cannot_be_aligned_is_refused(void **state)
{
    (void)state;
    const char *one = "hole,x,y,diameter\nC,0,0,25.7\n";
    check_refused((holes_texts){JOB "align = best-fit\n" RULES, SEVEN, one, NULL},
                  "at least 2 tube holes");
    check_refused(
        (holes_texts){JOB "align = two-holes\ndatum_holes = C, E\n" RULES, SEVEN, one, NULL},
        "datum hole E has no reading");
    check_refused(
        (holes_texts){JOB "align = two-holes\ndatum_holes = C, Q\n" RULES, SEVEN, one, NULL},
        "datum hole Q is not in the nominal list");
    check_refused(
        (holes_texts){JOB "align = two-holes\ndatum_holes = C, E\n" RULES, SEVEN, NO_NAMES, NULL},
        "needs hole names");
    check_refused((holes_texts){JOB "match = pattern\n" RULES, SEVEN, NO_NAMES, NULL},
                  "match = pattern is for an unknown frame");
    check_refused((holes_texts){JOB "ligaments = more.csv\n" RULES, SEVEN, one,
                                "hole_a,hole_b,ligament\nE,W,6.3\n"},
                  "E and W are no neighbours");
    check_refused((holes_texts){JOB "ligaments = more.csv\n" RULES, SEVEN, one,
                                "hole_a,hole_b,ligament\nE,Q,6.3\n"},
                  "hole Q is not in the nominal list");
    /* inches read as millimetres the wrong way round: 25.4 times too far */
    check_refused((holes_texts){JOB RULES, SEVEN, "hole,x,y,diameter\nE,812.8,0,25.7\n", NULL},
                  "beyond the plate");
}

/* The order of the rows changes nothing but row numbers; nor does the number of threads. */
static void neither_order_nor_threads_change_a_thing(void **state)
{
    (void)state;
    holes_run a, b;
    pp_error error = {0};
    char path[512];
    snprintf(path, sizeof path, "%s/data/reference/jobs/inch_repeats/job.ini", PP_SOURCE_DIR);
    a = b = (holes_run){0};
    assert_ok(pp_job_read(path, &a.memory, &a.job, &error), &error);
    assert_ok(pp_holelist_read(&a.job, 1, &a.memory, &a.files, &error), &error);
    b.job = a.job;
    b.files = a.files;
    size_t count = a.files.measured.count;
    const char **name = malloc(count * sizeof *name);
    double *x = malloc(3 * count * sizeof *x), *y = x + count, *d = y + count;
    for (size_t i = 0; i < count; i++) { /* backwards */
        size_t j = count - 1 - i;
        name[i] = a.files.measured.name[j];
        x[i] = a.files.measured.x[j];
        y[i] = a.files.measured.y[j];
        d[i] = a.files.measured.diameter[j];
    }
    b.files.measured.name = name;
    b.files.measured.x = x;
    b.files.measured.y = y;
    b.files.measured.diameter = d;
    assert_ok(holes_run_judge(&a, 1, &error), &error);
    assert_ok(holes_run_judge(&b, 3, &error), &error);
    assert_memory_equal(&a.measures.alignment.rms, &b.measures.alignment.rms, sizeof(double));
    assert_memory_equal(&a.judgement.diameter_fold.mean, &b.judgement.diameter_fold.mean,
                        sizeof(double));
    assert_memory_equal(&a.judgement.ligament_fold.mean, &b.judgement.ligament_fold.mean,
                        sizeof(double));
    for (size_t i = 0; i < a.measures.bore_count; i++) {
        assert_memory_equal(&a.measures.bores[i].at.x, &b.measures.bores[i].at.x, sizeof(double));
        assert_memory_equal(&a.measures.bores[i].smallest_ligament,
                            &b.measures.bores[i].smallest_ligament, sizeof(double));
    }
    free(name);
    free(x);
    pp_memory_free(&a.memory);
    pp_memory_free(&b.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_motion_is_the_published_one_and_no_reflection),
        cmocka_unit_test(a_motion_comes_back_far_from_the_origin),
        cmocka_unit_test(one_place_determines_no_motion),
        cmocka_unit_test(readings_of_a_hole_become_one),
        cmocka_unit_test(a_warm_plate_is_brought_to_twenty_degrees),
        cmocka_unit_test(direct_ligaments_replace_those_computed),
        cmocka_unit_test(holes_without_names_are_the_nearest),
        cmocka_unit_test(unknown_names_are_extra_holes),
        cmocka_unit_test(a_best_fit_needs_no_names),
        cmocka_unit_test(two_holes_align_and_stretch_nothing),
        cmocka_unit_test(datum_points_place_the_plate),
        cmocka_unit_test(an_exit_face_is_turned_and_aligned_on_its_own),
        cmocka_unit_test(a_shifted_pattern_is_true_to_itself),
        cmocka_unit_test(the_pitch_is_that_of_the_larger_group),
        cmocka_unit_test(labels_and_distances_to_the_edge_are_found),
        cmocka_unit_test(a_frame_that_nobody_knows_is_found),
        cmocka_unit_test(a_symmetric_pattern_leaves_its_frame_open),
        cmocka_unit_test(what_cannot_be_aligned_is_refused),
        cmocka_unit_test(neither_order_nor_threads_change_a_thing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
