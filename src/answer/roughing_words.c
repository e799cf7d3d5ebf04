#include "answer/roughing_words.h"

#include "answer/for_people.h"

enum { NOTES_MAX = 8 };
static const double BELIEVED = 0.05; /* as it is judged */

/* "8 h", "45 min", "20 s" */
static void say_time(pp_text *t, double seconds)
{
    const double minute = 60, hour = 3600;
    double unit = seconds >= hour ? hour : seconds >= minute ? minute : 1;
    pp_text_add_fixed(t, seconds / unit, seconds >= hour && seconds < 10 * hour ? 1 : 0);
    pp_text_add(t, unit == hour ? " h" : unit == minute ? " min" : " s");
}

/* "about 2", "less than 1 in 100 plates", as a number of holes */
static void say_expected(pp_text *t, double holes)
{
    pp_text_add(t, "about ");
    pp_text_add_fixed(t, holes, holes < 0.95 ? 2 : holes < 9.5 ? 1 : 0);
}

static void say_yes(const pp_roughing *r, pp_text *t)
{
    pp_text_print(t,
                  "The roughing pass is enough: with %zu of %zu holes measured the whole plate "
                  "conforms with a probability of ",
                  r->measured, r->holes);
    pp_text_add_fixed(t, 100 * r->probability, r->probability > 0.999 ? 2 : 1);
    pp_text_add(t, " %. ");
    if (!pp_given(r->time_saved)) return;
    pp_text_add(t, "Leaving out the finishing pass saves ");
    say_time(t, r->time_saved);
    pp_text_add(t, ".");
}

static void say_no(const pp_roughing *r, pp_text *t)
{
    pp_text_add(t, "The roughing pass is not enough: ");
    if (r->undersize)
        pp_text_print(t, "%zu of the %zu holes measured %s undersize", r->undersize, r->measured,
                      r->undersize == 1 ? "is" : "are");
    else if (r->oversize)
        pp_text_print(t, "%zu of the %zu holes measured %s oversize, which no second pass mends",
                      r->oversize, r->measured, r->oversize == 1 ? "is" : "are");
    else
        pp_text_print(t,
                      "%zu holes lie between the two upper limits, and %zu of the plate's %zu may",
                      r->in_remainder, r->remainder_allowed, r->holes);
    pp_text_add(t, r->oversize ? "." : ". Make the finishing pass.");
}

static void say_not_proven(const pp_roughing *r, pp_text *t)
{
    pp_text_add(t, "It is not proven that the roughing pass is enough: ");
    if (!(r->normal_p >= BELIEVED) || r->trend_p < BELIEVED) {
        pp_text_add(t, r->trend_p < BELIEVED
                           ? "the diameters change with the drilling order, so that the holes "
                             "measured say little of those drilled later"
                           : "the diameters measured do not look like one normal spread, so that "
                             "nothing can be said of the holes not measured");
        pp_text_add(t, ". Measure more holes, or make the finishing pass.");
        return;
    }
    pp_text_add(t, "of the holes not measured ");
    say_expected(t, r->expected_undersize);
    pp_text_add(t, " are expected undersize and ");
    say_expected(t, r->expected_oversize);
    pp_text_print(t, " oversize of %zu. ", r->holes);
    if (r->undersize_alone && pp_given(r->seconds_finishing)) {
        double few = r->expected_undersize * r->seconds_finishing;
        pp_text_add(t, "Undersize alone stands in the way: measure all and finish those, which "
                       "saves ");
        say_time(t, r->time_finishing - few);
        pp_text_add(t, " of ");
        say_time(t, r->time_finishing);
        pp_text_add(t, " (measuring not counted).");
    } else {
        pp_text_add(t, "Measure more holes, or make the finishing pass.");
    }
}

pp_status pp_roughing_say(const pp_job *job, const pp_roughing *r, pp_memory *memory,
                          pp_roughing_words *words, pp_error *error)
{
    (void)job;
    pp_text t = {0};
    const char **notes;
    size_t count = 0;
    PP_TAKE(notes, &memory->keep, NOTES_MAX);
    if (r->sufficient == PP_ROUGHING_YES)
        say_yes(r, &t);
    else if (r->sufficient == PP_ROUGHING_NO)
        say_no(r, &t);
    else
        say_not_proven(r, &t);
    const char *advice = t.failed ? NULL : pp_arena_text(&memory->keep, t.data, t.length);
    pp_text_free(&t);
    if (!advice) return pp_fail_memory(error);
    notes[count++] =
        "This holds for holes drawn at random from the whole plate (plateproof sample); "
        "the first hundred drilled, or those at the rim, say nothing of the others.";
    if (r->sufficient == PP_ROUGHING_NOT_PROVEN && r->tolerance_inside)
        notes[count++] =
            "The tolerance interval lies within the limits, which speaks for nearly all "
            "holes; the rule that no hole may be undersize asks for every one.";
    if (pp_given(r->normal_p))
        notes[count++] = "The probability takes the diameters for one normal spread; drill wear, a "
                         "regrind or holes beside open gaps break that.";
    notes[count++] = "Positions are judged on the holes measured only; a second pass that follows "
                     "the first does not mend them.";
    *words = (pp_roughing_words){.advice = advice, .note_count = count, .notes = notes};
    return PP_OK;
}
