#include "support/check.h"
#include "support/random.h"
#include "support/scratch_file.h"

#include "input/lists/holelist.h"
#include "input/lists/spacing.h"

typedef struct lists { /* NULL: not given */
    const char *nominal, *measured, *ligaments, *checks, *datum;
} lists;

static const pp_face_name FACE_NAMES[] = {{"A", false}, {"Rear side", true}};

static pp_job make_job(void)
{
    pp_job job = {.path = "plate.ini"};
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 1000;
    job.holes.face_name_count = 2;
    job.holes.face_names = FACE_NAMES;
    return job;
}

static pp_status read_lists(pp_job job, const lists *given, pp_memory *memory, pp_hole_files *files,
                            pp_error *error)
{
    const char *const texts[5] = {given->nominal ? given->nominal : "A1,10,20\nA2,40,20\n",
                                  given->measured, given->ligaments, given->checks, given->datum};
    pp_job_file *named[5] = {&job.holes.nominal, &job.holes.measured, &job.holes.ligaments,
                             &job.holes.checks, &job.holes.datum_points};
    scratch_file file[5];
    for (int i = 0; i < 5; i++) {
        if (!texts[i]) continue;
        scratch_file_write(&file[i], texts[i], strlen(texts[i]));
        *named[i] = file[i].named;
    }
    pp_status status = pp_holelist_read(&job, 2, memory, files, error);
    for (int i = 0; i < 5; i++)
        if (texts[i]) scratch_file_remove(&file[i]);
    return status;
}

static void everything_given_is_read(void **state)
{
    (void)state;
    pp_job job = make_job();
    job.holes.length_unit = PP_INCH;
    lists given = {
        .nominal = "kind,diameter,id,X,y,under,over\ntube,0.75,A1,1,2,9,9\n"
                   ",,A2,2.385,-2,,\nother,0.5,V1,3,4,0,0.01\nOTHER,,V2,5,6,,\n",
        .measured = "hole,x,y,dia,face,round,order,disposition,reference,go,no_go,no_go_max\n"
                    "A1,1,2,0.75,,,,,,,,\nA2,2.385,-2,,exit,2,17,reamed,NCR 4,yes,No,\n"
                    "# second\n,3,4,0.5,rear side,,,,,1,,y\nV1,3,4,0.5,a,,,,,n,,\n",
        .ligaments = "hole_a,hole_b,ligament_mm,face\nA1,A2,6.25,\nA2,V1,0,Exit\n",
        .checks = "hole,characteristic,value,low,high,result\nA1,groove depth,0.4,0.3,0.5,\n"
                  "A1,burrs,,,,accepted\nA2,burrs,,,,Rejected\n",
        .datum = "name,nominal_x,nominal_y,x,y\nP1,0,0,0.1,0.2\nP2,10,0,10.1,0.3\n",
    };
    pp_memory memory = {0};
    pp_hole_files f;
    pp_error error = {0};
    assert_ok(read_lists(job, &given, &memory, &f, &error), &error);

    assert_int_equal(f.nominal.count, 4);
    assert_string_equal(f.nominal.name[1], "A2");
    assert_near(f.nominal.x[1], 2.385 * 25.4, 0);
    assert_near(f.nominal.y[3], 6 * 25.4, 0);
    assert_int_equal(f.nominal.kind[0], PP_TUBE_HOLE);
    assert_int_equal(f.nominal.kind[3], PP_OTHER_HOLE);
    assert_true(isnan(f.nominal.diameter[0]) && isnan(f.nominal.under[0])); /* of a tube hole */
    assert_near(f.nominal.diameter[2], 12.7, 0);
    assert_near(f.nominal.over[2], 0.254, 0);
    assert_near(f.nominal.under[2], 0, 0);
    assert_true(isnan(f.nominal.diameter[3]));

    const pp_readings *m = &f.measured;
    assert_true(f.measured_given);
    assert_int_equal(m->count, 4);
    assert_string_equal(m->name[2], "");
    assert_string_equal(m->name[3], "V1");
    assert_near(m->diameter[0], 0.75 * 25.4, 0);
    assert_true(isnan(m->diameter[1]));
    assert_int_equal(m->face[0], PP_ENTRY);
    assert_int_equal(m->face[1], PP_EXIT);
    assert_int_equal(m->face[2], PP_EXIT);
    assert_int_equal(m->face[3], PP_ENTRY);
    assert_int_equal(m->round[0], 1);
    assert_int_equal(m->round[1], 2);
    assert_true(isnan(m->order[0]));
    assert_near(m->order[1], 17, 0);
    assert_string_equal(m->disposition[1], "reamed");
    assert_string_equal(m->reference[1], "NCR 4");
    assert_string_equal(m->reference[0], "");
    assert_int_equal(m->go[0], -1);
    assert_int_equal(m->go[1], 1);
    assert_int_equal(m->no_go[1], 0);
    assert_int_equal(m->go[2], 1);
    assert_int_equal(m->go[3], 0);
    assert_int_equal(m->no_go_max[2], 1);
    assert_int_equal(m->line[1], 3);
    assert_int_equal(m->line[2], 5);

    assert_int_equal(f.ligament_count, 2);
    assert_near(f.ligaments[0].ligament, 6.25, 0);
    assert_int_equal(f.ligaments[1].face, PP_EXIT);
    assert_int_equal(f.ligaments[1].line, 3);
    assert_int_equal(f.check_count, 3);
    assert_near(f.checks[0].value, 0.4, 0); /* as written */
    assert_int_equal(f.checks[0].result, -1);
    assert_int_equal(f.checks[1].result, 1);
    assert_int_equal(f.checks[2].result, 0);
    assert_true(isnan(f.checks[1].value));
    assert_int_equal(f.datum_count, 2);
    assert_string_equal(f.datum[1].name, "P2");
    assert_near(f.datum[1].y, 0.3 * 25.4, 0);
    pp_memory_free(&memory);
}

static void what_is_not_given_is_absent(void **state)
{
    (void)state;
    lists given = {.measured = "x,y,d,hole\n10,20,5,\n40,20,5,\n"};
    pp_memory memory = {0};
    pp_hole_files f;
    pp_error error = {0};
    assert_ok(read_lists(make_job(), &given, &memory, &f, &error), &error);
    assert_null(f.nominal.diameter);
    assert_int_equal(f.nominal.kind[1], PP_TUBE_HOLE);
    assert_null(f.measured.name); /* a column of empty names is no names */
    assert_null(f.measured.order);
    assert_null(f.measured.disposition);
    assert_null(f.measured.go);
    assert_int_equal(f.measured.face[1], PP_ENTRY);
    assert_int_equal(f.measured.round[1], 1);
    assert_int_equal(f.ligament_count + f.check_count + f.datum_count, 0);

    lists named = {.measured = "A1,10,20,5\nA2,40,20,5\n"};
    assert_ok(read_lists(make_job(), &named, &memory, &f, &error), &error);
    assert_string_equal(f.measured.name[1], "A2");
    assert_near(f.measured.diameter[1], 5, 0);

    lists gauged = {.measured = "hole,x,y,go,no_go\nA1,10,20,yes,no\n"};
    assert_ok(read_lists(make_job(), &gauged, &memory, &f, &error), &error);
    assert_true(isnan(f.measured.diameter[0]));

    lists places = {.measured = "hole,x,y\nA1,10,20\n"}; /* where the holes are, not how wide */
    assert_ok(read_lists(make_job(), &places, &memory, &f, &error), &error);
    assert_near(f.measured.x[0], 10, 0);
    assert_true(!f.measured.diameter || isnan(f.measured.diameter[0]));

    lists none = {0};
    assert_ok(read_lists(make_job(), &none, &memory, &f, &error), &error);
    assert_false(f.measured_given);
    pp_memory_free(&memory);
}

#define OTHER_WORDS                                                                                \
    "; what other words mean can be said in the job file: X-Ist:x under measured_columns, "        \
    "columns "                                                                                     \
    "of [survey] and so on"

static void expect(lists given, const char *want)
{
    char got[PP_ERROR_TEXT_MAX + 64] = "read";
    pp_memory memory = {0};
    pp_hole_files files = {.check_count = 4711};
    pp_error error = {0};
    pp_status status = read_lists(make_job(), &given, &memory, &files, &error);
    if (status != PP_OK) {
        snprintf(got, sizeof got, "%ld:%ld: %s", error.line, error.column, error.message);
        assert_int_equal(status, PP_EINPUT);
        assert_int_equal(files.check_count, 4711);
    }
    if (strcmp(got, want) != 0) fail_msg("got:  %s\nwant: %s", got, want);
    pp_memory_free(&memory);
}

static void wrong_nominal_lists_are_refused(void **state)
{
    (void)state;
    expect((lists){.nominal = "hole,x,y\n# A1,1,2\n"},
           "0:0: the nominal hole list has no rows (lines that begin with # are comments); add "
           "the rows or leave the file out of the job");
    expect((lists){.nominal = "hole,x,y\nA1,10,20\nA2,40,20\n\nA1,70,20\n"},
           "5:1: hole A1 stands on line 2 already; every nominal hole needs its own name");
    expect((lists){.nominal = "hole,x,y\nA1,10,20\nA2,40,20\n\nA3,10.0007,20.0007\n"},
           "5:2: hole A3 has the centre of hole A1 on line 2 (within 0.001 mm); remove one of "
           "them");
    expect((lists){.nominal = "hole,x,y\nA1,10,20\nA2,40,20\nA3,10.0008,20.0007\n"}, "read");
    expect((lists){.nominal = "hole,x,y\n,10,20\n"},
           "2:1: the cell in column hole is empty; every row needs a text there");
    expect((lists){.nominal = "hole,x,y\nA1,10,20\nA2,800,600.1\n"},
           "3:2: the point at x = 800 mm, y = 600.1 mm on the plate lies far beyond its outline "
           "(diameter 1000 mm); is the unit wrong? write length_unit in the job file or the unit "
           "in the header");
    expect((lists){.nominal = "hole,x,y,kind\nA1,10,20,vent\n"},
           "2:4: 'vent' in column kind is not known; write tube or other");
    expect((lists){.nominal = "hole,x,y,kind,d\nA1,10,20,tube,0\nV1,40,20,other,0\n"},
           "3:5: the diameter is not above zero; correct the cell");
    expect((lists){.nominal = "hole,x,y,kind,under\nV1,40,20,other,-0.1\n"},
           "2:5: the allowance under the diameter is negative; write it as a positive length");
}

static void wrong_readings_are_refused(void **state)
{
    (void)state;
    expect((lists){.measured = "hole,x,y,diameter\n"},
           "0:0: the measured hole list has no rows; add them or leave the file out of the job");
    expect((lists){.measured = "hole,x,y,diameter\nA1,10,20,5\nA2,40,20,-5\n"},
           "3:4: the diameter is not above zero; correct the cell");
    expect((lists){.measured = "hole,x,y,diameter,go\nA1,10,20,5,\nA2,40,20,0,yes\n"},
           "3:4: the diameter is not above zero; correct the cell");
    expect((lists){.measured = "hole,x,y,diameter,go\nA1,10,20,,yes\nA2,40,20,,\n"},
           "3:4: neither a diameter nor a gauge result (go, no_go); every row needs one");
    expect((lists){.measured = "hole,x,y,go\nA1,10,20,yes\nA2,40,20,\n"},
           "3:4: neither a diameter nor a gauge result (go, no_go); every row needs one");
    expect((lists){.measured = "hole,x,y,d,face\nA1,10,20,5,front\n"},
           "2:5: 'front' in column face is not known; write entry, exit, A or Rear side, or "
           "explain the word with face_names in [holes]");
    expect((lists){.measured = "hole,x,y,d,round\nA1,10,20,5,-1\n"},
           "2:5: '-1' in column round is not a whole number from 1; correct the cell");
    expect((lists){.measured = "hole,x,y,d,no-go\nA1,10,20,5,maybe\n"},
           "2:5: 'maybe' in column no_go is not known; write yes, no, y, n, 1 or 0");
    expect((lists){.measured = "10,20,5\n"},
           "1:0: 3 columns without a header, but the measured hole list without a header is "
           "hole, x, y and diameter; add a header row with the names of the columns");
}

static void wrong_other_lists_are_refused(void **state)
{
    (void)state;
    expect((lists){.ligaments = "A1,A2,5\nA1,A1,5\n"},
           "2:2: hole_a and hole_b are the same hole; a ligament lies between two");
    expect((lists){.ligaments = "A1,A2,5\nA1,A3,-0.1\n"},
           "2:3: the ligament is negative; correct the cell (0 where the holes meet)");
    expect((lists){.ligaments = "hole_a,hole_b\nA1,A2\n"},
           "1:0: the ligament list has no column ligament (its header: hole_a, hole_b); it needs "
           "hole_a, hole_b and ligament" OTHER_WORDS);
    expect((lists){.checks = "hole,characteristic,value,result\nA1,burrs,,\n"},
           "2:4: neither a value nor a result; a check needs one of them");
    expect((lists){.checks = "hole,characteristic,value,low,high\nA1,depth,0.4,0.5,0.3\n"},
           "2:4: low is above high; exchange them");
    expect((lists){.checks = "A1,burrs,1\n"},
           "1:0: the list of checks has no column hole and characteristic (its header: A1, burrs, "
           "1); it needs hole and characteristic" OTHER_WORDS);
    expect((lists){.datum = "name,nominal_x,nominal_y,x\nP1,0,0,1\n"},
           "1:0: the list of datum points has no column y (its header: name, nominal_x, "
           "nominal_y, x); it needs nominal_x, nominal_y, x and y" OTHER_WORDS);
}

static void lists_of_places_are_read(void **state)
{
    (void)state;
    static const char TEXT[] = "x;y;z\n1,5;2;0,25\n-3;4;0\n";
    scratch_file file;
    pp_job job = make_job();
    pp_memory memory = {0};
    pp_place_list places;
    pp_error error = {0};
    scratch_file_write(&file, TEXT, strlen(TEXT));
    job.support.file = file.named;
    assert_ok(pp_places_read(&job, &job.support.file, &memory, &places, &error), &error);
    assert_int_equal(places.count, 2);
    assert_near(places.x[0], 1.5, 0);
    assert_near(places.z[0], 0.25, 0);
    scratch_file_remove(&file);
    scratch_file_write(&file, "1,2\n3,4\n5,6\n", 12);
    job.survey.three_points = file.named;
    job.survey.length_unit = PP_INCH;
    assert_ok(pp_places_read(&job, &job.survey.three_points, &memory, &places, &error), &error);
    assert_int_equal(places.count, 3);
    assert_near(places.y[2], 6 * 25.4, 0);
    assert_near(places.z[2], 0, 0);
    scratch_file_remove(&file);
    pp_memory_free(&memory);
}

/* Against every pair: points on a lattice of about a micrometre, so that many are just too close
 * or just not, over cells and their corners. */
static void coinciding_centres_are_the_first_pair(void **state)
{
    (void)state;
    enum { COUNT = 60 };
    test_random random = {77};
    int found = 0;
    for (int trial = 0; trial < 2000; trial++) {
        double x[COUNT], y[COUNT], size = trial % 2 ? 0.02 : 0.2, away = trial % 3 ? 0 : -1234.5;
        for (int i = 0; i < COUNT; i++) {
            x[i] = away + random_between(&random, -size, size);
            y[i] = away + random_between(&random, -size, size);
        }
        pp_spacing_pair want = {0}, got;
        for (size_t i = 1; i < COUNT && !want.found; i++)
            for (size_t k = 0; k < i && !want.found; k++) {
                double dx = x[i] - x[k], dy = y[i] - y[k];
                if (dx * dx + dy * dy <= 1e-6) want = (pp_spacing_pair){true, k, i};
            }
        pp_arena arena = {0};
        pp_error error = {0};
        assert_ok(pp_spacing_find_close(x, y, COUNT, &arena, &got, &error), &error);
        assert_int_equal(got.found, want.found);
        assert_int_equal(got.first, want.first);
        assert_int_equal(got.second, want.second);
        found += want.found;
        pp_arena_free(&arena);
    }
    assert_in_range(found, 500, 1900); /* both outcomes are tried */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_given_is_read),
        cmocka_unit_test(what_is_not_given_is_absent),
        cmocka_unit_test(wrong_nominal_lists_are_refused),
        cmocka_unit_test(wrong_readings_are_refused),
        cmocka_unit_test(wrong_other_lists_are_refused),
        cmocka_unit_test(lists_of_places_are_read),
        cmocka_unit_test(coinciding_centres_are_the_first_pair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
