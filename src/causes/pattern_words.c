#include "causes/pattern_words.h"

#include <math.h>

static const double MM_PER_INCH = 25.4;

const char *pp_cause_pattern_name(pp_error_pattern_kind kind)
{
    static const char *const names[PP_PATTERN_KINDS] = {
        "step",  "blocks",  "half plate", "oscillation", "alternate holes",
        "setup", "session", "spindle"};
    return names[kind];
}

void pp_words_length(pp_text *text, pp_length_unit units, double mm)
{
    if (units == PP_INCH)
        pp_text_print(text, "%.4f in", mm / MM_PER_INCH);
    else
        pp_text_print(text, "%.3f mm", mm);
}

static void place(pp_text *text, pp_length_unit units, double mm)
{
    if (units == PP_INCH)
        pp_text_print(text, "%.2f in", mm / MM_PER_INCH);
    else
        pp_text_print(text, "%.1f mm", mm);
}

static void half_words(pp_text *text, pp_length_unit units, char axis, double split)
{
    pp_text_print(text, "one side of the plate against the other, parted at %c = ", axis);
    place(text, units, split);
}

static void swing_words(pp_text *text, double periods)
{
    pp_text_print(text,
                  periods < 1 ? "a slow bend over the job" : "a swing of %.1f times over the job",
                  periods);
}

static const char *const EVERY_SECOND = "every second hole against the others";

void pp_component_words(pp_text *text, const pp_error_field *f, pp_length_unit units,
                        const pp_component *c)
{
    switch (c->family) {
    case PP_FAMILY_STEP:
        pp_text_print(text, "a step at hole %zu of the order", c->first + 1);
        break;
    case PP_FAMILY_HALF_PLATE:
        half_words(text, units, c->axis ? 'y' : 'x',
                   c->split + (c->axis ? f->centre_y : f->centre_x));
        break;
    case PP_FAMILY_OSCILLATION:
        swing_words(text, c->periods);
        break;
    default:
        pp_text_add(text, EVERY_SECOND);
        break;
    }
}

void pp_pattern_words(pp_text *text, const pp_error_pattern *p, pp_length_unit units)
{
    const pp_error_pattern_part *part = p->part_count ? &p->parts[0] : NULL;
    if (part && p->kind == PP_PATTERN_STEP)
        pp_text_print(text, "a step at hole %u of the order", part->place);
    else if (p->kind == PP_PATTERN_BLOCKS)
        pp_text_print(text, "set-ups that begin at %zu places of the order", p->part_count);
    else if (part && p->kind == PP_PATTERN_HALF_PLATE)
        half_words(text, units, part->axis, part->split);
    else if (part && p->kind == PP_PATTERN_OSCILLATION)
        swing_words(text, part->periods);
    else
        pp_text_add(text, p->kind == PP_PATTERN_ALTERNATE ? EVERY_SECOND : p->name);
}

/* "+0.061 ± 0.012 mm" */
static void with_error(pp_text *text, pp_length_unit units, double value, double error)
{
    if (units == PP_INCH)
        pp_text_print(text, "%+.4f \u00b1 %.4f in", value / MM_PER_INCH, 2 * error / MM_PER_INCH);
    else
        pp_text_print(text, "%+.3f \u00b1 %.3f mm", value, 2 * error);
}

static void shift(pp_text *text, pp_length_unit units, const pp_error_pattern_part *p)
{
    with_error(text, units, p->estimate[0], p->standard_error[0]);
    pp_text_add(text, " in x and ");
    with_error(text, units, p->estimate[1], p->standard_error[1]);
    pp_text_add(text, " in y");
}

static void say_step(pp_text *text, const pp_error_pattern *p, pp_length_unit units,
                     const pp_nominal *nominal)
{
    const pp_error_pattern_part *part = &p->parts[0];
    pp_text_print(text, "From hole %u of the order (%s) on, the holes lie ", part->place,
                  nominal->name[part->hole]);
    shift(text, units, part);
    pp_text_add(text, " off those before: the plate moved or was clamped anew, a reference was set "
                      "again, or the machine stood still there; see what the record of the job "
                      "says about that hole.");
}

static void say_blocks(pp_text *text, const pp_error_pattern *p, pp_length_unit units,
                       const pp_nominal *nominal)
{
    pp_text_print(text, "The position of the holes changed %zu times in the order, at ",
                  p->part_count);
    for (size_t k = 0; k < p->part_count; k++)
        pp_text_print(text, "%shole %u (%s)",
                      k == 0                   ? ""
                      : k + 1 == p->part_count ? " and "
                                               : ", ",
                      p->parts[k].place, nominal->name[p->parts[k].hole]);
    pp_text_add(text, ", by up to ");
    pp_words_length(text, units, p->worst_effect);
    pp_text_add(text, ": set-ups or clampings. Give them in a column setup of the measured list, "
                      "and each is told.");
}

static void say_half(pp_text *text, const pp_error_pattern *p, pp_length_unit units)
{
    const pp_error_pattern_part *part = &p->parts[0];
    pp_text_print(text, "Holes %s %c = ", part->axis == 'x' ? "to the right of" : "above",
                  part->axis);
    place(text, units, part->split);
    pp_text_add(text, " lie ");
    shift(text, units, part);
    pp_text_add(text, " off the others: the two sides come from two set-ups or two drilling heads, "
                      "or the plate was turned or joined there.");
}

static void say_alternate(pp_text *text, const pp_error_pattern *p, pp_length_unit units)
{
    pp_text_add(text, "Every second hole of the order lies ");
    shift(text, units, &p->parts[0]);
    pp_text_add(text, " off the holes between: do two heads or two tools take turns? A column "
                      "spindle of the measured list would tell.");
}

static void say_oscillation(pp_text *text, const pp_error_pattern *p, pp_length_unit units,
                            size_t holes)
{
    const pp_error_pattern_part *part = &p->parts[0];
    if (part->periods < 1) {
        pp_text_add(text, "The position bends slowly over the job, by up to ");
        pp_words_length(text, units, p->worst_effect);
        pp_text_add(text, " off its middle: look for what changed slowly, and back: coolant, "
                          "heating, air.");
        return;
    }
    pp_text_add(text, "The position swings by up to ");
    pp_words_length(text, units, p->worst_effect);
    pp_text_print(text,
                  ", %.1f times over the job, one swing in about %.0f holes: look for what comes "
                  "and goes in that time: coolant, heating, air, shifts.",
                  part->periods, (double)holes / part->periods);
}

static void say_label(pp_text *text, const pp_error_pattern *p, pp_length_unit units)
{
    static const char *const thing[] = {"Set-up", "Measuring session", "Spindle"};
    for (size_t k = 0; k < p->part_count; k++) {
        const pp_error_pattern_part *part = &p->parts[k];
        if (part->estimates == 0) continue;
        pp_text_print(text, "%s%s %s lies ", text->length ? " " : "",
                      thing[p->kind - PP_PATTERN_SETUP], part->label);
        shift(text, units, part);
        if (part->estimates > 2) {
            pp_text_add(text, ", turned by ");
            with_error(text, units, part->estimate[2], part->standard_error[2]);
            pp_text_add(text, " at the farthest hole,");
        }
        pp_text_print(text, " off %s.", part->reference);
    }
    if (p->kind == PP_PATTERN_SESSION)
        pp_text_add(text, " That is the measuring, not the drilling, if the plate was not touched "
                          "in between.");
    else
        pp_text_add(text, p->kind == PP_PATTERN_SETUP
                              ? " Set the reference again after each clamping."
                              : " Set the spindles to each other.");
}

void pp_pattern_sentence(pp_text *text, const pp_error_pattern *p, pp_length_unit units,
                         const pp_nominal *nominal, size_t holes)
{
    switch (p->kind) {
    case PP_PATTERN_STEP:
        say_step(text, p, units, nominal);
        break;
    case PP_PATTERN_BLOCKS:
        say_blocks(text, p, units, nominal);
        break;
    case PP_PATTERN_HALF_PLATE:
        say_half(text, p, units);
        break;
    case PP_PATTERN_OSCILLATION:
        say_oscillation(text, p, units, holes);
        break;
    case PP_PATTERN_ALTERNATE:
        say_alternate(text, p, units);
        break;
    default:
        say_label(text, p, units);
        break;
    }
}
