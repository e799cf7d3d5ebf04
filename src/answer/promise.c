#include "answer/promise.h"

#include "answer/for_people.h"
#include "answer/results.h"

void pp_promise_words(pp_text *text, const pp_results *results)
{
    const pp_job *job = results->job;
    const pp_promise_kept *p = results->promise;
    if (!job->holes.commanded.path || !results->measures) return;
    if (!p) {
        pp_text_add(text, "Drilled to a commanded list without a promise beside it.");
        return;
    }
    pp_text_add(text, "Drilled to a corrected list: rms of the errors ");
    pp_people_length(text, job->units, p->rms);
    pp_text_add(text, ", promised ");
    pp_people_length(text, job->units, p->median);
    pp_text_add(text, " and at most ");
    pp_people_against(text, job->units, p->high, p->rms);
    pp_text_add(text, p->kept ? ": the promise was kept."
                              : ": the promise was NOT kept; did the machine, the set-up or the "
                                "temperature change, or was it drilled to another list?");
}
