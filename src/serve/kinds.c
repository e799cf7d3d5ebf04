#include "serve/kinds.h"

#include <string.h>

#include "base/text.h"

const pp_run_kind pp_kind_report = {"report", "-report", "report.html", false};
const pp_run_kind pp_kind_live = {"live", "-live", "report.html", false};
const pp_run_kind pp_kind_compared = {"compared", "-compared", "comparison.html", true};
const pp_run_kind pp_kind_correction = {"correction", "-correction", "correction.html", true};
const pp_run_kind pp_kind_history = {"history", "-history", "history.html", true};

const pp_run_kind *pp_kind_find(const char *name)
{
    static const pp_run_kind *const KINDS[] = {&pp_kind_report, &pp_kind_live, &pp_kind_compared,
                                               &pp_kind_correction, &pp_kind_history};
    if (!name) return &pp_kind_report;
    for (size_t i = 0; i < sizeof KINDS / sizeof *KINDS; i++)
        if (strcmp(KINDS[i]->name, name) == 0) return KINDS[i];
    return NULL;
}

char *pp_kind_folder(const pp_run_kind *kind, const char *subject, pp_arena *arena)
{
    const char *slash = strrchr(subject, '/');
    const char *dot = strrchr(slash ? slash : subject, '.');
    int length = (int)(dot ? (size_t)(dot - subject) : strlen(subject));
    return pp_text_kept(arena, "%.*s%s", length, subject, kind->ending);
}
