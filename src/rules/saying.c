#include "rules/saying.h"

void pp_say_end(pp_speaker *s)
{
    if (s->text.failed || s->count == PP_CAUTIONS_MOST) {
        s->failed = s->failed || s->text.failed;
        return;
    }
    const char *sentence = pp_arena_text(&s->j->memory->keep, s->text.data, s->text.length);
    if (sentence)
        s->list[s->count++] = sentence;
    else
        s->failed = true;
    s->text.length = 0;
}

void pp_say_plain(pp_speaker *s, const char *sentence)
{
    pp_text_add(&s->text, sentence);
    pp_say_end(s);
}

void pp_say_holes(pp_speaker *s, const uint32_t *holes, size_t count)
{
    const char *const *name = s->j->measures->nominal->name;
    for (size_t i = 0; i < count && i < PP_NAMES_MOST; i++) {
        if (i > 0) pp_text_add(&s->text, ", ");
        pp_text_add(&s->text, name[holes[i]]);
    }
    if (count > PP_NAMES_MOST) pp_text_print(&s->text, " and %zu more", count - PP_NAMES_MOST);
}

void pp_say_length(pp_speaker *s, double mm)
{
    pp_length_unit unit = s->j->job->units;
    pp_text_print(&s->text, "%g %s", mm / pp_unit_mm(unit), pp_unit_name(unit));
}

void pp_say_estimate(pp_speaker *s, double mm)
{
    pp_length_unit unit = s->j->job->units;
    pp_text_print(&s->text, "%.2g %s", mm / pp_unit_mm(unit), pp_unit_name(unit));
}
