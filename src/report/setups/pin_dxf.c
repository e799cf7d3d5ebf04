#include "report/setups/pin_dxf.h"

#include <math.h>

#include "answer/plateview.h"
#include "base/constants.h"

static const double MARK_RADIUS = 5;  /* mm, of a pin whose diameter is not given */
static const double LETTER_SHARE = 1; /* height of the numbers, of the pin's radius */

static void word(pp_text *out, int code, const char *value)
{
    pp_text_print(out, "%3d\n", code);
    pp_text_add(out, value);
    pp_text_add(out, "\n");
}

static void number(pp_text *out, int code, double value)
{
    pp_text_print(out, "%3d\n", code);
    pp_text_add_number(out, value);
    pp_text_add(out, "\n");
}

static void begin(pp_text *out, const char *entity, const char *layer, double x, double y)
{
    word(out, 0, entity);
    word(out, 8, layer);
    number(out, 10, x);
    number(out, 20, y);
    number(out, 30, 0);
}

static void circle(pp_text *out, const char *layer, double x, double y, double radius)
{
    begin(out, "CIRCLE", layer, x, y);
    number(out, 40, radius);
}

static void line(pp_text *out, const char *layer, double x, double y, double to_x, double to_y)
{
    begin(out, "LINE", layer, x, y);
    number(out, 11, to_x);
    number(out, 21, to_y);
    number(out, 31, 0);
}

static void edges(pp_text *out, const pp_outline_spec *shape)
{
    for (size_t k = 0; k < pp_outline_edge_count(shape); k++) {
        pp_edge e = pp_outline_edge(shape, k);
        if (!(e.radius > 0)) {
            line(out, "PLATE", e.x0, e.y0, e.x1, e.y1);
        } else if (fabs(e.sweep) >= PP_TURN) {
            circle(out, "PLATE", e.centre_x, e.centre_y, e.radius);
        } else { /* angles in degrees, anticlockwise */
            begin(out, "ARC", "PLATE", e.centre_x, e.centre_y);
            number(out, 40, e.radius);
            number(out, 50, e.from * PP_DEGREES);
            number(out, 51, (e.from + e.sweep) * PP_DEGREES);
        }
    }
}

static void plate(pp_text *out, const pp_job *job)
{
    pp_outline_spec shape = pp_job_outline(job);
    if (pp_outline_is_cut_out(&shape)) {
        edges(out, &shape);
        return;
    }
    double x = job->plate.centre_x, y = job->plate.centre_y;
    double w = job->plate.width / 2, h = job->plate.height / 2;
    if (job->plate.outline == PP_OUTLINE_DISC) {
        circle(out, "PLATE", x, y, job->plate.diameter / 2);
    } else if (job->plate.outline == PP_OUTLINE_RECTANGLE) {
        line(out, "PLATE", x - w, y - h, x + w, y - h);
        line(out, "PLATE", x + w, y - h, x + w, y + h);
        line(out, "PLATE", x + w, y + h, x - w, y + h);
        line(out, "PLATE", x - w, y + h, x - w, y - h);
    }
}

static void pins(pp_text *out, const pp_results *r)
{
    double given = r->job->support.pin_diameter / 2;
    double radius = given > 0 ? given : MARK_RADIUS;
    for (size_t i = 0; i < r->holddown->pin_count; i++) {
        const pp_fixture_pin *p = &r->holddown->fixture[i];
        circle(out, "PINS", p->x, p->y, radius);
        begin(out, "TEXT", "NUMBERS", p->x + radius, p->y + radius);
        number(out, 40, LETTER_SHARE * radius);
        pp_text_print(out, "  1\n%zu\n", p->number);
    }
}

static void header(pp_text *out)
{
    word(out, 999, "millimetres");
    word(out, 0, "SECTION");
    word(out, 2, "HEADER");
    word(out, 9, "$ACADVER");
    word(out, 1, "AC1009");
    word(out, 0, "ENDSEC");
}

static void layers(pp_text *out)
{
    static const struct {
        const char *name, *colour;
    } list[] = {{"PLATE", "7"}, {"HOLES", "8"}, {"PINS", "1"}, {"NUMBERS", "5"}};
    enum { COUNT = sizeof list / sizeof *list };
    word(out, 0, "SECTION");
    word(out, 2, "TABLES");
    word(out, 0, "TABLE");
    word(out, 2, "LAYER");
    pp_text_print(out, " 70\n%d\n", COUNT);
    for (int i = 0; i < COUNT; i++) {
        word(out, 0, "LAYER");
        word(out, 2, list[i].name);
        word(out, 70, "0");
        word(out, 62, list[i].colour);
        word(out, 6, "CONTINUOUS");
    }
    word(out, 0, "ENDTAB");
    word(out, 0, "ENDSEC");
}

pp_status pp_pin_dxf_write(const pp_results *results, pp_memory *memory, pp_text *out,
                           pp_error *error)
{
    const pp_nominal *n = &results->files->nominal;
    pp_plate_view view;
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    header(out);
    layers(out);
    word(out, 0, "SECTION");
    word(out, 2, "ENTITIES");
    plate(out, results->job);
    for (size_t i = 0; i < n->count; i++) circle(out, "HOLES", n->x[i], n->y[i], view.radius[i]);
    pins(out, results);
    word(out, 0, "ENDSEC");
    word(out, 0, "EOF");
    return out->failed ? pp_fail_memory(error) : PP_OK;
}
