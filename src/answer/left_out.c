#include "answer/left_out.h"

#include <string.h>

#include "answer/summary.h"
#include "input/lists/sizes.h"

enum { PARTS_MOST = 8 };

static const char NO_LIMIT[] = "no limit is given";

typedef struct listing {
    pp_left_out *list;
    size_t count;
} listing;

static void leave_out(listing *l, const char *what, const char *why, bool part)
{
    if (why) l->list[l->count++] = (pp_left_out){.what = what, .why = why, .part = part};
}

static bool ran(const pp_results *r, const char *command)
{
    return strcmp(r->command, command) == 0;
}

/* Why a part is missing that a run of another part does not look at; NULL: every part was asked
 * for. */
static const char *why_not_asked(const pp_results *r)
{
    static const struct {
        const char *command, *why;
    } RUNS[] = {{"flatness", "this run was of the flatness only"},
                {"holes", "this run was of the holes only"},
                {"holddown", "this run was a hold-down study only"},
                {"stack", "this run was of the stack only"},
                {"roughing", "this run was of the roughing pass only"}};
    for (size_t i = 0; i < sizeof RUNS / sizeof *RUNS; i++)
        if (ran(r, RUNS[i].command)) return RUNS[i].why;
    return NULL;
}

static bool names_holes(const pp_job *job)
{
    return job->holes.nominal.path || job->holes.measured.path || job->holes.ligaments.path ||
           job->holes.checks.path;
}

static const char *why_no_holes(const pp_results *r)
{
    const pp_job *job = r->job;
    if (r->measures || r->drilled || r->roughing || !names_holes(job)) return NULL;
    if (!job->holes.nominal.path) return "no nominal list is given";
    if (!job->holes.measured.path && !job->holes.ligaments.path && !job->holes.checks.path)
        return "no measured list is given";
    return why_not_asked(r);
}

/* Checks or ligaments alone: nobody measured the holes. */
static const char *why_no_measured(const pp_results *r)
{
    return r->measures && !r->job->holes.measured.path ? "no measured list is given" : NULL;
}

static bool has_places_only(const pp_results *r)
{
    return r->measures && r->job->holes.measured.path && !pp_has_sizes(r->measures->readings);
}

/* No limit is given, or there was nothing to hold against it. */
static const char *why_not_judged(const pp_results *r, const char *name, bool *part)
{
    static const char *const OF_SIZES[] = {"diameter", "ligament", "edge", "other ligament"};
    *part = false;
    for (size_t i = 0; has_places_only(r) && i < sizeof OF_SIZES / sizeof *OF_SIZES; i++)
        *part = *part || strcmp(name, OF_SIZES[i]) == 0;
    return *part ? "no diameters were measured" : NO_LIMIT;
}

static const char *why_no_flatness(const pp_results *r)
{
    return r->flatness || !r->job->survey.file.path ? NULL : why_not_asked(r);
}

/* A foot or a gap limit in the job asks for the study. */
static const char *why_no_holddown(const pp_results *r, const char *lacks, pp_memory *memory)
{
    const pp_job *job = r->job;
    if (r->stack || r->drilled || r->roughing) return NULL; /* [holddown] is the stack's */
    if (r->holddown || (!pp_given(job->foot.force) && !pp_given(job->holddown.gap_limit)))
        return NULL;
    if (lacks) return pp_text_kept(&memory->keep, "%s is not given", lacks);
    return why_not_asked(r);
}

static const char *why_no_stack(const pp_results *r)
{
    if (r->stack || r->drilled || r->job->layer_count == 0) return NULL;
    const char *why = why_not_asked(r);
    return why ? why : "plateproof stack judges it";
}

static const char *why_no_roughing(const pp_results *r)
{
    if (r->roughing || !r->job->roughing.measured.path) return NULL;
    const char *why = why_not_asked(r);
    return why ? why : "plateproof roughing judges it";
}

pp_status pp_left_out_find(const pp_results *results, const char *holddown_lacks, pp_memory *memory,
                           size_t *count, const pp_left_out **list, pp_error *error)
{
    const pp_judgement *j = results->judgement;
    listing l = {0};
    PP_TAKE(l.list, &memory->keep, PARTS_MOST + j->not_judged_count);
    leave_out(&l, "flatness", why_no_flatness(results), true);
    leave_out(&l, "holes", why_no_holes(results), true);
    leave_out(&l, "measured holes", why_no_measured(results), true);
    leave_out(&l, "hold-down", why_no_holddown(results, holddown_lacks, memory), true);
    leave_out(&l, "stack", why_no_stack(results), true);
    leave_out(&l, "roughing pass", why_no_roughing(results), true);
    for (size_t i = 0; i < j->not_judged_count; i++) {
        bool part;
        const char *why = why_not_judged(results, j->not_judged[i], &part);
        leave_out(&l, j->not_judged[i], why, part);
    }
    *count = l.count;
    *list = l.list;
    return PP_OK;
}

bool pp_is_whole(const pp_results *results)
{
    for (size_t i = 0; i < results->left_out_count; i++)
        if (results->left_out[i].part) return false;
    return true;
}

void pp_left_out_words(pp_text *text, const pp_results *results)
{
    const char *joint = "Left out: ";
    for (size_t i = 0; i < results->left_out_count; i++) {
        if (!results->left_out[i].part) continue;
        pp_text_print(text, "%s%s (%s)", joint, results->left_out[i].what,
                      results->left_out[i].why);
        joint = "; ";
    }
    if (*joint == ';') pp_text_add(text, ".");
}

void pp_not_judged_words(pp_text *text, const pp_results *results)
{
    for (size_t i = 0; i < results->left_out_count; i++) {
        const pp_left_out *l = &results->left_out[i];
        pp_text_print(text, "%s%s", i ? ", " : "", pp_characteristic_said(l->what));
        if (l->part) pp_text_print(text, " (%s)", l->why);
    }
    if (results->left_out_count == 0) pp_text_add(text, "nothing");
}

static bool misses(const pp_results *results, const char *part)
{
    for (size_t i = 0; i < results->left_out_count; i++)
        if (results->left_out[i].part && strcmp(results->left_out[i].what, part) == 0) return true;
    return false;
}

const char *pp_paper_title(const pp_results *results)
{
    const char *plan = pp_plan_words(results);
    if (plan) return plan;
    if (results->drilled) return "Stack as drilled: no certificate of the plate";
    if (misses(results, "holes")) return "Flatness only: no certificate of the plate";
    if (misses(results, "flatness")) return "Holes only: no certificate of the plate";
    if (misses(results, "measured holes")) return "Gauges only: no certificate of the plate";
    if (misses(results, "diameter")) return "Hole places only: no certificate of the plate";
    return results->judgement->verdict == PP_CONFORMS ? "Dimensional inspection certificate"
                                                      : "Inspection report";
}
