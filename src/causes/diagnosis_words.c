#include "causes/diagnosis_words.h"

#include <math.h>

#include "base/text.h"

static const double MM_PER_INCH = 25.4;
static const double PER_METRE = 1000, PER_FOOT = 12; /* from length per length */
static const double MICRO = 1e3;                     /* um in a mm */
static const double MICROINCH = 1e6 / 25.4;          /* in a mm */
static const double FAHRENHEIT = 1.8;                /* degF in a K */

/* --- numbers ------------------------------------------------------------------------------ */

static void length(pp_text *text, const pp_term_context *c, double mm)
{
    if (c->units == PP_INCH)
        pp_text_print(text, "%.4f in", mm / MM_PER_INCH);
    else
        pp_text_print(text, "%.3f mm", mm);
}

static void signed_length(pp_text *text, const pp_term_context *c, double mm)
{
    if (c->units == PP_INCH)
        pp_text_print(text, "%+.4f in", mm / MM_PER_INCH);
    else
        pp_text_print(text, "%+.3f mm", mm);
}

static void slope(pp_text *text, const pp_term_context *c, double value)
{
    if (c->units == PP_INCH)
        pp_text_print(text, "%.4f in/ft", value * PER_FOOT);
    else
        pp_text_print(text, "%.3f mm/m", value * PER_METRE);
}

static void tiny_length(pp_text *text, const pp_term_context *c, double mm)
{
    if (c->units == PP_INCH)
        pp_text_print(text, "%.1f uin", mm * MICROINCH);
    else
        pp_text_print(text, "%.2f um", mm * MICRO);
}

static const char *towards(double value, char axis)
{
    static const char *const way[2][2] = {{"towards -x", "towards +x"},
                                          {"towards -y", "towards +y"}};
    return way[axis == 'y'][value > 0];
}

static void at_the_farthest(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_add(text, ", ");
    length(text, c, t->worst_effect);
    pp_text_add(text, " at the farthest holes");
}

/* --- the pattern as a whole --------------------------------------------------------------- */

static void say_scale(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_add(text, t->value > 0 ? "The whole pattern is drilled too large by "
                                   : "The whole pattern is drilled too small by ");
    slope(text, c, fabs(t->value));
    at_the_farthest(text, t, c);
    double degree = c->units == PP_INCH ? FAHRENHEIT : 1;
    pp_text_print(
        text,
        ". If it is temperature, plate and machine scale differed by %.1f \u00b1 %.1f %s, the "
        "plate being the %s: check it, and measure at %s, or it may be the gauge's "
        "temperature; else calibrate the scales of both axes.",
        fabs(t->value) / c->expansion * degree, 2 * t->standard_error / c->expansion * degree,
        c->units == PP_INCH ? "degrees F" : "K", t->value > 0 ? "colder" : "warmer",
        c->units == PP_INCH ? "68 °F" : "20 °C");
}

static void say_scale_xy(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_add(text, "The scales of the axes differ: x runs ");
    slope(text, c, 2 * fabs(t->value));
    pp_text_print(text, " %s against y", t->value > 0 ? "long" : "short");
    at_the_farthest(text, t, c);
    pp_text_add(text, " (half of it in either axis): calibrate the axes against each other.");
}

static void say_squareness(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_add(text, "The axes are not square: the angle between +x and +y is ");
    slope(text, c, fabs(t->value));
    pp_text_print(text, " too %s", t->value > 0 ? "small" : "large");
    at_the_farthest(text, t, c);
    pp_text_add(text, ": check the squareness of the axes.");
}

static void say_bow(pp_text *text, const pp_term *t, const pp_term_context *c, char axis)
{
    pp_text_print(text, "Rows along %c are bowed: their ends lie ", axis);
    length(text, c, t->worst_effect);
    pp_text_print(text,
                  " %s of their middle: check the straightness of the %c guide, or of the plate's "
                  "edge if the plate moved along it.",
                  towards(t->value, axis == 'x' ? 'y' : 'x'), axis);
}

/* --- in the order of drilling ------------------------------------------------------------- */

static void say_lost_motion(pp_text *text, const pp_term *t, const pp_term_context *c, char axis)
{
    pp_text_print(text, "Lost motion (backlash) in %c: ", axis);
    length(text, c, fabs(t->value));
    pp_text_print(
        text,
        " between holes approached from the two sides%s: take up the play of the %c drive, "
        "or approach every hole from the same side.",
        t->value < 0 ? " (the axis runs past, as if compensated too much)" : "", axis);
}

static void say_drift(pp_text *text, const pp_term *t, const pp_term_context *c, char axis)
{
    pp_text_add(text, "The position of the holes wandered over the job by ");
    length(text, c, fabs(t->value));
    pp_text_print(text,
                  " %s, over %.0f holes: check the clamping of the plate and the "
                  "warming up of the machine.",
                  towards(t->value, axis), c->order_span);
}

static void say_growth(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_print(text, "The pattern %s while it was drilled: by ",
                  t->value > 0 ? "grew" : "shrank");
    slope(text, c, fabs(t->value));
    pp_text_add(text, " over the job, up to ");
    length(text, c, t->worst_effect);
    pp_text_print(text, " off at the farthest holes: the plate %s against the machine's scales.",
                  t->value > 0 ? "cooled" : "warmed");
}

/* --- spindle and tool --------------------------------------------------------------------- */

static void say_lean(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_add(text, "The holes lean: exits lie ");
    length(text, c, t->value);
    pp_text_add(text, " off their entries on average (");
    signed_length(text, c, c->lean_x);
    pp_text_add(text, " in x, ");
    signed_length(text, c, c->lean_y);
    pp_text_add(text, " in y");
    if (!isnan(c->thickness)) {
        pp_text_add(text, "; ");
        slope(text, c, t->value / c->thickness);
        pp_text_add(text, " of depth");
    }
    pp_text_add(text, "): check that the spindle stands square to the plate.");
}

static void say_wear(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    pp_text_print(text, "Tool wear: holes get %s by ", t->value > 0 ? "larger" : "smaller");
    tiny_length(text, c, fabs(t->value));
    pp_text_add(text, " each, ");
    length(text, c, t->worst_effect);
    pp_text_print(text, " over the %.0f holes of the longest tool life: change the tool sooner.",
                  c->longest_run);
}

static void say_tool_change(pp_text *text, const pp_term *t, const pp_term_context *c)
{
    (void)t;
    pp_text_print(text, "The diameter steps %zu time%s along the job, by ", c->tool_changes,
                  c->tool_changes == 1 ? "" : "s");
    signed_length(text, c, c->largest_step);
    pp_text_add(text, " at most: tool changes; check the size of each new tool before it drills.");
}

const char *pp_term_sentence(const pp_term *term, const pp_term_context *context, pp_arena *arena)
{
    pp_text text = {0};
    switch (term->kind) {
    case PP_TERM_SCALE:
        say_scale(&text, term, context);
        break;
    case PP_TERM_SCALE_XY:
        say_scale_xy(&text, term, context);
        break;
    case PP_TERM_SQUARENESS:
        say_squareness(&text, term, context);
        break;
    case PP_TERM_BOW_X:
        say_bow(&text, term, context, 'x');
        break;
    case PP_TERM_BOW_Y:
        say_bow(&text, term, context, 'y');
        break;
    case PP_TERM_LOST_MOTION_X:
        say_lost_motion(&text, term, context, 'x');
        break;
    case PP_TERM_LOST_MOTION_Y:
        say_lost_motion(&text, term, context, 'y');
        break;
    case PP_TERM_DRIFT_X:
        say_drift(&text, term, context, 'x');
        break;
    case PP_TERM_DRIFT_Y:
        say_drift(&text, term, context, 'y');
        break;
    case PP_TERM_GROWTH:
        say_growth(&text, term, context);
        break;
    case PP_TERM_LEAN:
        say_lean(&text, term, context);
        break;
    case PP_TERM_WEAR:
        say_wear(&text, term, context);
        break;
    default:
        say_tool_change(&text, term, context);
        break;
    }
    if (term->partner) pp_text_print(&text, " It cannot be told from: %s.", term->partner);
    const char *sentence = text.failed ? NULL : pp_arena_text(arena, text.data, text.length);
    pp_text_free(&text);
    return sentence;
}
