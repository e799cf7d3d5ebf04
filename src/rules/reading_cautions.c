/* Cautions about how the files were read. */
#include <string.h>

#include "rules/saying.h"

/* Lines that begin with # and would be rows without it: rows taken out, or names taken for
 * comments.
 */
static void caution_commented(pp_speaker *s, const pp_table_reading *reading)
{
    if (!reading || !reading->commented_count) return;
    size_t count = reading->commented_count;
    pp_text_print(&s->text, "%zu line%s of %s that begin%s with # would otherwise be %s (", count,
                  count == 1 ? "" : "s", reading->what, count == 1 ? "s" : "",
                  count == 1 ? "a row" : "rows");
    for (size_t i = 0; i < count && i < PP_COMMENTED_MAX; i++)
        pp_text_print(&s->text, "%s%s", i ? ", " : "", reading->commented[i]);
    if (count > PP_COMMENTED_MAX)
        pp_text_print(&s->text, " and %zu more", count - PP_COMMENTED_MAX);
    pp_text_print(&s->text, "): %s not read.", count == 1 ? "it was" : "they were");
    pp_say_end(s);
}

/* Each reason once, however many sections it holds back. */
void pp_caution_reservations(pp_speaker *s)
{
    const pp_judgement *out = s->j->out;
    for (size_t i = 0; i < out->reservation_count; i++) {
        bool said = false;
        for (size_t k = 0; k < i; k++)
            said = said || strcmp(out->reservations[k].why, out->reservations[i].why) == 0;
        if (said) continue;
        pp_text_print(&s->text, "%s; at best not proven: ", out->reservations[i].why);
        const char *joint = "";
        for (size_t k = i; k < out->reservation_count; k++) {
            if (strcmp(out->reservations[k].why, out->reservations[i].why) != 0) continue;
            int which = (int)out->reservations[k].which;
            pp_text_print(&s->text, "%s%s", joint,
                          which < PP_CHARACTERISTICS
                              ? pp_characteristic_people((pp_characteristic)which)
                              : "the whole");
            joint = ", ";
        }
        pp_text_add(&s->text, ".");
        s->text.data[0] =
            (char)(s->text.data[0] >= 'a' && s->text.data[0] <= 'z' ? s->text.data[0] - 'a' + 'A'
                                                                    : s->text.data[0]);
        pp_say_end(s);
    }
}

void pp_caution_reading(pp_speaker *s)
{
    const pp_hole_files *files = s->j->files;
    if (s->j->flatness) caution_commented(s, s->j->flatness->reading);
    if (!files) return;
    for (size_t i = 0; i < files->measured.remark_count; i++)
        pp_say_plain(s, files->measured.remarks[i]);
    caution_commented(s, files->nominal.reading);
    caution_commented(s, files->measured.reading);
    caution_commented(s, files->ligaments_reading);
    caution_commented(s, files->checks_reading);
}
