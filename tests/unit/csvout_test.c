#include "support/check.h"
#include "support/sample_results.h"

#include <stdlib.h>

#include "report/tables/csvout.h"

static char *line(const pp_text *text, size_t number, char out[1024])
{
    const char *at = text->data;
    for (size_t i = 0; i < number; i++) at = strchr(at, '\n') + 1;
    snprintf(out, 1024, "%.*s", (int)strcspn(at, "\n"), at);
    return out;
}

static size_t count_lines(const pp_text *text)
{
    size_t lines = 0;
    for (size_t i = 0; i < text->length; i++) lines += text->data[i] == '\n';
    return lines;
}

static pp_text table(const pp_sample *sample, pp_csv which, int threads)
{
    pp_text text = {0};
    pp_sink sink = pp_sink_text(&text);
    pp_error error = {0};
    assert_ok(pp_csv_write(&sample->results, which, threads, &sink, &error), &error);
    return text;
}

static void headers_are_the_documented_ones(void **state)
{
    (void)state;
    const char *headers[] = {
        ("hole,face,x,y,nominal_x,nominal_y,dx,dy,position,position_limit,position_class,"
         "diameter_min,diameter_max,diameter_class,smallest_ligament,u_position,position_bias,"
         "order,commanded_x,commanded_y,diameter_proof"),
        "hole_a,hole_b,face,ligament,class,proof",
        "hole_a,hole_b,face,pitch_error,u,limit,class",
        "side,area,peak,x,y,xmin,ymin,xmax,ymax,holes",
        "hole,x,y,gap,gap_under_foot,force_to_close,tilt,shift,class,uncertain,"
        "mesh_uncertainty,mesh_uncertainty_force,gap_after_plan,gap_turned",
        ("step,setup,action,clamp,x,y,force,holes,foot_force,worst_gap,worst_hole,"
         "largest_support_force,travel,verdict"),
        "hole,x,y,kind,diameter,under,over,order,setup",
        "pin,x,y,z,load_solid,load_drilled,pressure,metal,nearest_hole,verdict",
        "x,y,height,deviation,gap",
        ("hole,x,y,largest_gap,largest_gap_under_foot,interface,force_to_close,force_to_close_all,"
         "tilt,shift,class,uncertain"),
        "hole,interface,below,above,gap,gap_under_foot",
        "hole,layer,face,how,x,y,dx,dy,position,u_position,position_class",
        ("number,hole,row,column,x,y,todo,also,ream_to,ream_lower,ream_upper,face,dx,dy,position,"
         "direction_deg,fault,what_to_do,reference"),
    };
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    char got[1024];
    for (int which = 0; which < PP_CSV_COUNT; which++) {
        pp_text text = table(&sample, which, 1);
        assert_string_equal(line(&text, 0, got), headers[which]);
        assert_int_equal(count_lines(&text), 1 + pp_csv_rows(&sample.results, which));
        pp_text_free(&text);
    }
    pp_sample_free(&sample);
}

/* A sample of round numbers, so that the bytes can be written down. */
static void rows_hold_the_values(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    const pp_measures *m = &sample.measures;
    pp_bore bores[3] = {m->bores[1], m->bores[2], m->bores[m->extra_first]};
    bores[0].at.x = -32.125, bores[0].at.y = -55.5, bores[0].face = PP_EXIT;
    bores[0].diameter_min = 25.6875, bores[0].diameter_max = 25.75;
    bores[0].position = 0.25, bores[0].smallest_ligament = 6.375;
    pp_bore_error errors[3] = {m->bore_errors[1], m->bore_errors[2],
                               m->bore_errors[m->extra_first]};
    errors[0].position = (pp_distance_error){0.0625, 0.0078125};
    bores[2].at.x = 24.5, bores[2].at.y = 3;
    uint32_t extra_of[] = {0};
    sample.measures.bores = bores;
    sample.measures.bore_errors = errors;
    sample.measures.bore_count = 3;
    sample.measures.extra_first = 2;
    sample.measures.extra_of = extra_of;
    double nominal_x[21], nominal_y[21];
    memcpy(nominal_x, sample.files.nominal.x, sizeof nominal_x);
    memcpy(nominal_y, sample.files.nominal.y, sizeof nominal_y);
    nominal_x[bores[0].hole] = -32, nominal_y[bores[0].hole] = -55.5;
    sample.files.nominal.x = nominal_x;
    sample.files.nominal.y = nominal_y;
    pp_finding findings[4];
    memset(findings, 0, sizeof findings);
    findings[0] = (pp_finding){.characteristic = PP_POSITION, .verdict = PP_NOT_PROVEN};
    findings[1] = (pp_finding){.characteristic = PP_POSITION, .verdict = PP_NOT_JUDGED};
    findings[2] = (pp_finding){
        .characteristic = PP_DIAMETER, .class_ = PP_CLASS_REMAINDER, .verdict = PP_CONFORMS};
    findings[3] = (pp_finding){.characteristic = PP_DIAMETER, .class_ = PP_CLASS_NONE};
    sample.judgement.findings = findings;
    sample.judgement.count = 4;
    for (int c = 0; c <= PP_CHARACTERISTICS; c++)
        sample.judgement.first[c] = c <= PP_POSITION ? 0 : c <= PP_DIAMETER ? 2 : 4;
    pp_text text = table(&sample, PP_CSV_HOLES, 1);
    char got[1024];
    assert_string_equal(line(&text, 1, got),
                        "R001C001,exit,-32.125,-55.5,-32,-55.5,-0.125,0,0.25,0.3,not proven,"
                        "25.6875,25.75,in remainder,6.375,0.0625,0.0078125,,,,not proven");
    line(&text, 2, got);
    assert_non_null(strstr(got, ",0.3,,")); /* judged by nothing */
    line(&text, 3, got);
    /* 18 tube holes and 2 others on entry, 9 on exit, then the extra one */
    assert_string_equal(got, "row 30,entry,24.5,3,,,,,,,,25.69,25.69,,,,,,,,");
    pp_text_free(&text);
    text = table(&sample, PP_CSV_AREAS, 1);
    line(&text, 3, got);
    assert_memory_equal(got, "gap,", 4);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void names_never_run_as_formulas(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.hostile = true});
    pp_text text = table(&sample, PP_CSV_HOLDDOWN, 1);
    assert_non_null(strstr(text.data, "\n\"'=2+3\","));
    assert_non_null(strstr(text.data, "\n\"'-@hole\","));
    assert_non_null(strstr(text.data, "\n\"a,\"\"b\"\"\nc\","));
    assert_non_null(strstr(text.data, "\n<img src=x onerror=alert(1)>,"));
    const char starts[] = "=+-@\t\r";
    for (size_t i = 0; i < strlen(starts); i++) {
        const char *names[21];
        char name[8], want[16];
        memcpy(names, sample.files.nominal.name, sizeof names);
        snprintf(name, sizeof name, "%c1", starts[i]);
        snprintf(want, sizeof want, "\n\"'%s\",", name);
        names[0] = name;
        sample.files.nominal.name = names;
        pp_text one = table(&sample, PP_CSV_HOLDDOWN, 1);
        assert_non_null(strstr(one.data, want));
        pp_text_free(&one);
    }
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void bytes_do_not_depend_on_threads(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.rings = 60});
    for (int which = 0; which < PP_CSV_COUNT; which++) {
        pp_text one = table(&sample, which, 1), three = table(&sample, which, 3);
        assert_int_equal(one.length, three.length);
        assert_memory_equal(one.data, three.data, one.length);
        pp_text_free(&one);
        pp_text_free(&three);
    }
    pp_sample_free(&sample);
}

static void nothing_to_say_means_no_rows(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    sample.results.measures = NULL;
    sample.results.flatness = NULL;
    assert_int_equal(pp_csv_rows(&sample.results, PP_CSV_HOLES), 0);
    assert_int_equal(pp_csv_rows(&sample.results, PP_CSV_LIGAMENTS), 0);
    assert_int_equal(pp_csv_rows(&sample.results, PP_CSV_MAP), 0);
    assert_int_equal(pp_csv_rows(&sample.results, PP_CSV_AREAS), 1); /* the gap */
    sample.results.holddown = NULL;
    assert_int_equal(pp_csv_rows(&sample.results, PP_CSV_AREAS), 0);
    pp_sample_free(&sample);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(headers_are_the_documented_ones),
        cmocka_unit_test(rows_hold_the_values),
        cmocka_unit_test(names_never_run_as_formulas),
        cmocka_unit_test(bytes_do_not_depend_on_threads),
        cmocka_unit_test(nothing_to_say_means_no_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
