/* What stands at the head of every report: what it is, and what it comes to. */
#include <string.h>

#include "answer/summary.h"

bool pp_is_holddown_study(const pp_results *results)
{
    return results->holddown && results->command && strcmp(results->command, "holddown") == 0;
}

static bool is_stack_study(const pp_results *results)
{
    return results->stack && !results->drilled;
}

bool pp_is_plan(const pp_results *results)
{
    return pp_is_holddown_study(results) || is_stack_study(results) || results->roughing;
}

const char *pp_plan_words(const pp_results *results)
{
    if (pp_is_holddown_study(results)) return "Hold-down study";
    if (is_stack_study(results)) return "Stack study";
    return results->roughing ? "Study of the roughing pass" : NULL;
}

static pp_verdict roughing_verdict(const pp_roughing *r)
{
    return r->sufficient == PP_ROUGHING_YES  ? PP_CONFORMS
           : r->sufficient == PP_ROUGHING_NO ? PP_DOES_NOT_CONFORM
                                             : PP_NOT_PROVEN;
}

pp_verdict pp_headline_verdict(const pp_results *results)
{
    if (results->roughing) return roughing_verdict(results->roughing);
    if (is_stack_study(results))
        return results->stack_judgement->ready ? PP_CONFORMS : PP_DOES_NOT_CONFORM;
    if (!pp_is_holddown_study(results)) return results->judgement->verdict;
    return results->holddown_judgement->ready ? PP_CONFORMS : PP_DOES_NOT_CONFORM;
}

static const char *roughing_words(const pp_roughing *r)
{
    return r->sufficient == PP_ROUGHING_YES  ? "roughing pass is enough"
           : r->sufficient == PP_ROUGHING_NO ? "roughing pass is not enough"
                                             : "roughing pass not proven enough";
}

const char *pp_headline_words(const pp_results *results)
{
    pp_verdict verdict = results->judgement->verdict;
    if (results->roughing) return roughing_words(results->roughing);
    if (is_stack_study(results))
        return results->stack_judgement->ready ? "stack ready" : "stack not ready";
    if (pp_is_holddown_study(results))
        return results->holddown_judgement->ready ? results->holddown->plan_given
                                                        ? "hold-down ready with the clamps given"
                                                        : "hold-down ready"
                                                  : "hold-down not ready";
    if (verdict == PP_CONFORMS && results->measures && results->job->holes.coverage == PP_SAMPLE)
        return "the holes measured conform";
    return pp_verdict_words(verdict);
}

bool pp_headline_caveat(pp_text *text, const pp_results *results)
{
    if (pp_is_plan(results) && !pp_is_holddown_study(results)) {
        pp_text_add(text, "A plan, not an acceptance.");
        return true;
    }
    if (!pp_is_holddown_study(results)) return false;
    pp_text_print(text, "A plan, not an acceptance. The plate as surveyed: %s.",
                  pp_verdict_words(results->judgement->verdict));
    return true;
}
