#include <math.h>
#include <string.h>

#include "base/foreign.h"
#include "base/number.h"
#include "report/correction/correction_report.h"

static const double PPM = 1e6;

size_t pp_machine_settings(const pp_correction *c,
                           pp_machine_setting settings[PP_MACHINE_SETTINGS_MAX])
{
    static const char *const LONG_X = "the x axis travels too far: make it shorter by this";
    static const char *const SHORT_X = "the x axis falls short: make it longer by this";
    static const char *const LONG_Y = "the y axis travels too far: make it shorter by this";
    static const char *const SHORT_Y = "the y axis falls short: make it longer by this";
    size_t n = 0;
    double common = c->terms[PP_STATIC_SCALE].applied, xy = c->terms[PP_STATIC_SCALE_XY].applied;
    double square = c->terms[PP_STATIC_SQUARENESS].applied, x = common + xy, y = common - xy;
    if (x != 0)
        settings[n++] =
            (pp_machine_setting){"scale of x axis", "ppm", x > 0 ? LONG_X : SHORT_X, PPM * x};
    if (y != 0)
        settings[n++] =
            (pp_machine_setting){"scale of y axis", "ppm", y > 0 ? LONG_Y : SHORT_Y, PPM * y};
    if (square != 0)
        settings[n++] = (pp_machine_setting){
            "squareness", "urad",
            square > 0 ? "the angle between +x and +y is short of 90 degrees by this"
                       : "the angle between +x and +y is beyond 90 degrees by this",
            PPM * square};
    for (int axis = 0; axis < 2; axis++)
        if (!isnan(c->lost_motion[axis]))
            settings[n++] = (pp_machine_setting){
                axis ? "lost motion (backlash) of y axis" : "lost motion (backlash) of x axis",
                "mm",
                "approach every hole from one side, or set the backlash by this; the list cannot "
                "carry it",
                c->lost_motion[axis]};
    return n;
}

static void add_name(pp_text *text, const char *name)
{
    pp_text_add_foreign_bytes(text, name, strlen(name));
}

static void say_range(pp_text *text, const char *name, const pp_range3 *before,
                      const pp_range3 *after, double scale, const char *unit, const char *format)
{
    if (isnan(before->median)) return;
    pp_text_print(text, "  %-14s ", name);
    pp_text_print(text, format, scale * before->median);
    pp_text_add(text, " to ");
    pp_text_print(text, format, scale * after->median);
    pp_text_print(text, " %s, at most ", unit);
    pp_text_print(text, format, scale * after->high);
    pp_text_add(text, "\n");
}

static void say_terms(const pp_correction *c, pp_text *text)
{
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        const pp_learned_term *t = &c->terms[k];
        double scale = pp_static_is_bow(k) ? 1 : PPM;
        const char *unit = pp_static_is_bow(k) ? "mm" : k == PP_STATIC_SQUARENESS ? "urad" : "ppm";
        pp_text_print(text, "  %-14s ", pp_static_names[k]);
        if (isnan(t->mean))
            pp_text_print(text, "%s\n", pp_correction_state_words(t->state));
        else
            pp_text_print(text, "%9.3g %-4s %s\n", scale * t->mean, unit,
                          pp_correction_state_words(t->state));
    }
}

static void say_settings(const pp_correction *c, pp_text *text)
{
    pp_machine_setting settings[PP_MACHINE_SETTINGS_MAX];
    size_t count = pp_machine_settings(c, settings);
    if (!count) return;
    pp_text_add(text, "Set the machine, or drill to the list; never both:\n");
    for (size_t i = 0; i < count; i++)
        pp_text_print(text, "  %-22s %.3g %s: %s\n", settings[i].setting, settings[i].value,
                      settings[i].unit, settings[i].text);
}

pp_status pp_correction_words(const pp_correction *c, const pp_correct_options *options,
                              pp_text *text, pp_error *error)
{
    (void)options;
    add_name(text, c->machine);
    pp_text_print(text, ", %zu plate%s: %s\n", c->plate_count, c->plate_count == 1 ? "" : "s",
                  c->correct ? "correct" : "do not correct");
    for (size_t i = 0; i < c->why_count; i++) pp_text_print(text, "  %s\n", c->why[i]);
    say_terms(c, text);
    if (c->plate_count >= 3)
        pp_text_print(text, "  %-14s %s\n", "smooth field",
                      c->field_used ? "corrected" : "not corrected");
    if (c->correct) {
        say_settings(c, text);
        pp_text_print(text, "Shift: at most %.3f mm (hole ", c->largest);
        add_name(text, c->next->name[c->largest_hole]);
        pp_text_print(text, "), distances of neighbours change by at most %.3f mm\n",
                      c->neighbour_change);
        if (c->factor < 1)
            pp_text_print(text, "  all shifts scaled by %.2f, to the cap of %.3f mm\n", c->factor,
                          c->cap);
    }
    if (c->correct && c->promised) {
        pp_text_add(text, "Promise for the next plate (19 of 20):\n");
        say_range(text, "rms", &c->promise.rms_before, &c->promise.rms_after, 1, "mm", "%.4f");
        say_range(text, "holes outside", &c->promise.out_before, &c->promise.out_after, 100, "%",
                  "%.2g");
        pp_text_print(text, "  better than without: %.0f of 100\n",
                      100 * c->promise.probability_better);
    } else if (c->correct) {
        pp_text_print(text, "If the machine does the same again: rms %.4f to %.4f mm\n", c->rms_now,
                      c->rms_then);
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

static void add_number(pp_text *text, double value, char behind)
{
    char digits[PP_NUMBER_TEXT_MAX];
    pp_text_add_bytes(text, digits, pp_number_write_fixed(digits, value, 6));
    pp_text_add_bytes(text, &behind, 1);
}

/* As the nominal list has it, quoted where a comma or a quotation mark needs it. */
static void add_csv_name(pp_text *text, const char *name)
{
    bool plain = !strpbrk(name, ",\"\r\n");
    if (!plain) pp_text_add(text, "\"");
    for (const char *c = name; *c; c++) {
        if (*c == '"') pp_text_add(text, "\"");
        pp_text_add_bytes(text, c, 1);
    }
    pp_text_add(text, plain ? "," : "\",");
}

pp_status pp_correction_csv(const pp_correction *c, pp_text *text, pp_error *error)
{
    pp_text_add(text, "hole,x,y,kind,nominal_x,nominal_y,shift_x,shift_y\n");
    for (size_t i = 0; i < c->next->count; i++) {
        add_csv_name(text, c->next->name[i]);
        add_number(text, c->next->x[i] + c->shift_x[i], ',');
        add_number(text, c->next->y[i] + c->shift_y[i], ',');
        pp_text_add(text, c->next->kind[i] == PP_TUBE_HOLE ? "tube," : "other,");
        add_number(text, c->next->x[i], ',');
        add_number(text, c->next->y[i], ',');
        add_number(text, c->shift_x[i], ',');
        add_number(text, c->shift_y[i], '\n');
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
