#include "answer/clamp_words.h"

#include <math.h>

#include "answer/for_people.h"

typedef struct told {
    size_t clamps, stops, blocked;
    double least, most; /* of the clamps, N */
    double sum;         /* of all, N */
} told;

static told tell(size_t count, const pp_clamp *clamps)
{
    told t = {.least = INFINITY};
    for (size_t k = 0; k < count; k++) {
        t.sum += clamps[k].force;
        t.blocked += clamps[k].block_count;
        t.stops += clamps[k].edge_stop;
        if (clamps[k].edge_stop) continue;
        t.clamps++;
        t.least = fmin(t.least, clamps[k].force);
        t.most = fmax(t.most, clamps[k].force);
    }
    return t;
}

static void add_number(pp_text *text, size_t count, const char *what)
{
    pp_text_print(text, "%zu %s%s", count, what, count == 1 ? "" : "s");
}

static void add_stops(pp_text *text, const told *t)
{
    if (t->clamps && t->stops) pp_text_add(text, " and ");
    if (t->stops) add_number(text, t->stops, "edge stop");
}

void pp_clamps_number_say(pp_text *text, size_t count, const pp_clamp *clamps)
{
    told t = tell(count, clamps);
    if (t.clamps || !t.stops) add_number(text, t.clamps, "clamp");
    add_stops(text, &t);
}

void pp_clamps_force_say(pp_text *text, pp_length_unit units, size_t count, const pp_clamp *clamps)
{
    told t = tell(count, clamps);
    if (t.clamps) {
        add_number(text, t.clamps, "clamp");
        pp_text_add(text, " of ");
        pp_people_force(text, units, t.least);
        if (t.most > t.least) pp_text_add(text, " to "), pp_people_force(text, units, t.most);
    }
    add_stops(text, &t);
}

void pp_clamps_say(pp_text *text, pp_length_unit units, size_t count, const pp_clamp *clamps)
{
    told t = tell(count, clamps);
    pp_clamps_force_say(text, units, count, clamps);
    if (count > 1)
        pp_text_add(text, ", "), pp_people_force(text, units, t.sum), pp_text_add(text, " in all");
    pp_text_add(text, t.blocked ? ", over " : ", over no hole");
    if (t.blocked) add_number(text, t.blocked, "hole");
}

void pp_clamps_order_say(pp_text *text, const pp_setup_list *setups, size_t clamp_count)
{
    if (clamp_count == 1) {
        pp_text_add(text, "Release the clamp evenly, in small steps.");
        return;
    }
    pp_text_add(text, "Tighten clamps in the order ");
    for (size_t k = 0; k < clamp_count; k++)
        pp_text_print(text, "%s%u", k ? ", " : "", setups->tighten[k] + 1);
    pp_text_add(text, "; release them the other way round, evenly, in small steps.");
}
