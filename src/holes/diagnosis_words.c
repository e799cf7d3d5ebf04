#include "holes/diagnosis_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { SENTENCE_MAX = 640 };
static const double PER_METRE = 1000;
static const double MICROMETRE = 1000; /* in a mm */

static const char *towards(double value, char axis)
{
    static const char *const way[2][2] = {{"towards -x", "towards +x"},
                                          {"towards -y", "towards +y"}};
    return way[axis == 'y'][value > 0];
}

static int say_pattern(char *text, size_t size, const pp_term *t)
{
    switch (t->kind) {
    case PP_TERM_SCALE:
        return snprintf(text, size,
                        "The whole pattern is drilled %s by %.3f mm per metre, %.3f mm at the "
                        "farthest holes: check the temperature of plate and machine, then both "
                        "axes' scales.",
                        t->value > 0 ? "too large" : "too small", fabs(t->value) * PER_METRE,
                        t->worst_effect);
    case PP_TERM_SCALE_XY:
        return snprintf(text, size,
                        "The scales of x and y differ: x runs %.3f mm per metre %s against y, "
                        "%.3f mm at the farthest holes: calibrate the axes against each other.",
                        2 * fabs(t->value) * PER_METRE, t->value > 0 ? "long" : "short",
                        t->worst_effect);
    case PP_TERM_SQUARENESS:
        return snprintf(text, size,
                        "The axes are not square: the angle between +x and +y is %.3f mm per metre "
                        "too %s, %.3f mm at the farthest holes: check the squareness of x and y.",
                        fabs(t->value) * PER_METRE, t->value > 0 ? "small" : "large",
                        t->worst_effect);
    case PP_TERM_BOW_X:
    case PP_TERM_BOW_Y: {
        char axis = t->kind == PP_TERM_BOW_X ? 'x' : 'y', across = axis == 'x' ? 'y' : 'x';
        return snprintf(text, size,
                        "Rows along %c are bowed: their ends lie %.3f mm %s of the middle: check "
                        "the straightness of the %c guide, and of the plate's edge if the plate "
                        "moved along it.",
                        axis, t->worst_effect, towards(t->value, across), axis);
    }
    default:
        return -1;
    }
}

static int say_in_time(char *text, size_t size, const pp_term *t, const pp_term_context *c)
{
    switch (t->kind) {
    case PP_TERM_LOST_MOTION_X:
    case PP_TERM_LOST_MOTION_Y: {
        char axis = t->kind == PP_TERM_LOST_MOTION_X ? 'x' : 'y';
        return snprintf(text, size,
                        "Lost motion in %c: %.3f mm between holes approached from the two sides%s: "
                        "take up the play of the %c drive, or approach every hole from one side.",
                        axis, fabs(t->value),
                        t->value < 0 ? " (the axis runs past, as if overcompensated)" : "", axis);
    }
    case PP_TERM_DRIFT_X:
    case PP_TERM_DRIFT_Y: {
        char axis = t->kind == PP_TERM_DRIFT_X ? 'x' : 'y';
        return snprintf(text, size,
                        "The holes drifted %.3f mm %s over the %.0f holes of the job: check the "
                        "clamping of the plate and the warming up of the machine.",
                        fabs(t->value), towards(t->value, axis), c->order_span);
    }
    case PP_TERM_GROWTH:
        return snprintf(
            text, size,
            "The pattern %s while it was drilled: %.3f mm per metre over the job, "
            "%.3f mm at the farthest holes: plate or machine %s on the way.",
            t->value > 0 ? "grew" : "shrank", fabs(t->value) * PER_METRE, t->worst_effect,
            t->value > 0 ? "cooled or the scales warmed" : "warmed or the scales cooled");
    default:
        return -1;
    }
}

static int say_tool(char *text, size_t size, const pp_term *t, const pp_term_context *c)
{
    switch (t->kind) {
    case PP_TERM_LEAN: {
        int length = snprintf(text, size,
                              "The holes lean: exits lie %.3f mm off their entries on average "
                              "(%+.3f mm in x, %+.3f mm in y)",
                              t->value, c->lean_x, c->lean_y);
        if (!isnan(c->thickness) && length > 0 && (size_t)length < size)
            length += snprintf(text + length, size - (size_t)length, ", %.2f mm per metre of depth",
                               t->value / c->thickness * PER_METRE);
        if (length > 0 && (size_t)length < size)
            length += snprintf(text + length, size - (size_t)length,
                               ": check that the spindle stands square to the plate.");
        return length;
    }
    case PP_TERM_WEAR:
        return snprintf(
            text, size,
            "Holes get %s along the job by %.2f um each, %.3f mm over the %.0f holes of "
            "the longest tool life: change or regrind the tool sooner.",
            t->value > 0 ? "larger" : "smaller", fabs(t->value) * MICROMETRE, t->worst_effect,
            c->longest_run);
    case PP_TERM_TOOL_CHANGE:
        return snprintf(text, size,
                        "The diameter steps %zu time%s along the job, by %+.3f mm at most: tool "
                        "changes; check the setting of each new tool.",
                        c->tool_changes, c->tool_changes == 1 ? "" : "s", c->largest_step);
    default:
        return -1;
    }
}

const char *pp_term_sentence(const pp_term *term, const pp_term_context *context, pp_arena *arena)
{
    char text[SENTENCE_MAX];
    int length = say_pattern(text, sizeof text, term);
    if (length < 0) length = say_in_time(text, sizeof text, term, context);
    if (length < 0) length = say_tool(text, sizeof text, term, context);
    if (length < 0) return "";
    if (term->partner && (size_t)length < sizeof text)
        snprintf(text + length, sizeof text - (size_t)length, " It cannot be told from: %s.",
                 term->partner);
    return pp_arena_text(arena, text, strlen(text));
}

const char *pp_temperature_sentence(double difference, double standard_error, pp_arena *arena)
{
    char text[SENTENCE_MAX];
    snprintf(
        text, sizeof text,
        "If the common scale is temperature, the plate was %.1f +- %.1f K %s than the machine's "
        "scale at drilling, against what the measurement took as its temperature: measure at "
        "20 C, or it may be the gauge's own.",
        fabs(difference), 2 * standard_error, difference > 0 ? "colder" : "warmer");
    return pp_arena_text(arena, text, strlen(text));
}
