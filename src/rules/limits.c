#include "rules/limits.h"

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "base/text.h"
#include "rules/hole_rules.h"
#include "rules/resolving.h"

static const double USUAL_REMAINDER = 0.04; /* the 96 % rule */

double pp_limits_drilled(const pp_limits *limits, const pp_job *job)
{
    double nominal = limits->hole_nominal.value;
    return pp_given(nominal) ? nominal : job->holes.tube_diameter;
}

static const char *job_source(pp_resolving *r, long line)
{
    return line ? pp_text_kept(&r->memory->keep, "job file, line %ld", line) : "given";
}

pp_status pp_refuse_limit(pp_resolving *r, const char *section, const char *key, const char *what)
{
    return pp_fail_at(r->error, PP_EINPUT, *r->job->path ? r->job->path : NULL,
                      pp_job_key_line(r->job, section, key), 0, "%s", what);
}

pp_status pp_refuse_limit_kept(pp_resolving *r, const char *section, const char *key,
                               const char *what)
{
    return what ? pp_refuse_limit(r, section, key, what) : pp_fail_memory(r->error);
}

/* ---- the limits there are ---- */

typedef struct limit_row {
    const char *name, *words;
    size_t at; /* in pp_limits; ONE_EACH: one for each straightedge */
    pp_quantity quantity;
    bool of_plate;
    /* of limits that only the job gives: the section of the key, which is the name, and the value's
     * place in pp_job; NULL: a rule set may give it too */
    const char *section;
    size_t given_at;
} limit_row;

#define AT(member) offsetof(pp_limits, member)
#define BY_JOB(section, member) #section, offsetof(pp_job, member)
#define ONE_EACH SIZE_MAX

/* In the order of every list. */
static const limit_row limit_rows[] = {
    {"hole_nominal", "hole, nominal diameter", AT(hole_nominal), PP_LENGTH, false, NULL, 0},
    {"hole_under", "hole, below nominal", AT(hole_under), PP_LENGTH, false, NULL, 0},
    {"hole_over", "hole, above nominal", AT(hole_over), PP_LENGTH, false, NULL, 0},
    {"hole_over_limit", "hole, above nominal, the remainder", AT(hole_over_limit), PP_LENGTH, false,
     NULL, 0},
    {"ligament_standard", "ligament, standard", AT(ligament_standard), PP_LENGTH, false, NULL, 0},
    {"ligament_minimum", "ligament, minimum permissible", AT(ligament_minimum), PP_LENGTH, false,
     NULL, 0},
    {"drift_limit", "drill drift, entry to exit", AT(drift_limit), PP_LENGTH, false, NULL, 0},
    {"position_limit", "position, diametral zone", AT(position_limit), PP_LENGTH, false,
     BY_JOB(holes, holes.position_limit)},
    {"pattern_limit", "pattern position, diametral zone", AT(pattern_limit), PP_LENGTH, false,
     BY_JOB(holes, holes.pattern_limit)},
    {"edge_ligament_minimum", "ligament to the plate edge", AT(edge_minimum), PP_LENGTH, false,
     BY_JOB(holes, holes.edge_ligament_minimum)},
    {"other_ligament_minimum", "ligament to other holes", AT(other_minimum), PP_LENGTH, false,
     BY_JOB(holes, holes.other_ligament_minimum)},
    {"pitch_error_limit", "pitch error, either way", AT(pitch_error_limit), PP_LENGTH, false,
     BY_JOB(holes, holes.pitch_error_limit)},
    {"remainder_share", "remainder, share of the holes", AT(remainder_share), PP_SHARE, false, NULL,
     0},
    {"flatness_limit", "flatness", AT(flatness_limit), PP_LENGTH, true,
     BY_JOB(survey, survey.flatness_limit)},
    {"parallelism_limit", "parallelism", AT(parallelism_limit), PP_LENGTH, true,
     BY_JOB(survey, survey.parallelism_limit)},
    {"straightedge_limit", "deviation under a straightedge", ONE_EACH, PP_LENGTH, true, NULL, 0},
};
enum { LIMIT_ROWS = sizeof limit_rows / sizeof *limit_rows };

static pp_limit absent(const limit_row *row)
{
    return (pp_limit){.value = NAN,
                      .name = row->name,
                      .words = row->words,
                      .source = "",
                      .quantity = row->quantity,
                      .of_set = NAN,
                      .of_plate = row->of_plate};
}

pp_limit pp_limit_absent(const char *name)
{
    for (size_t i = 0; i < LIMIT_ROWS; i++)
        if (strcmp(limit_rows[i].name, name) == 0) return absent(&limit_rows[i]);
    return absent(&(limit_row){.name = name, .words = name, .quantity = PP_LENGTH});
}

static pp_limit *limit_at(pp_limits *limits, const limit_row *row)
{
    return (pp_limit *)((char *)limits + row->at);
}

static void name_limits(pp_limits *found)
{
    for (size_t i = 0; i < LIMIT_ROWS; i++)
        if (limit_rows[i].at != ONE_EACH) *limit_at(found, &limit_rows[i]) = absent(&limit_rows[i]);
    found->diameter_lower = found->diameter_upper = found->diameter_upper_limit = NAN;
    found->metal_nominal = found->ligament_nominal = found->drift_allowance = NAN;
    found->drift_allowance_source = "";
}

/* ---- one limit ---- */

pp_status pp_limit_set(pp_resolving *r, pp_limit *limit, double value, const char *source)
{
    if (!source) return pp_fail_memory(r->error);
    limit->value = value;
    limit->source = source;
    return PP_OK;
}

pp_job_limit pp_limit_given(const pp_resolving *r, const pp_job_limit *of_job)
{
    const pp_job_limit none = {.value = NAN};
    return r->set_alone ? none : *of_job;
}

/* The job's own value if it gives one, else the rule's (NaN: none). */
pp_status pp_limit_choose(pp_resolving *r, pp_limit *limit, const pp_job_limit *of_job,
                          double value, const char *source)
{
    pp_job_limit given = pp_limit_given(r, of_job);
    if (pp_given(given.value))
        return pp_limit_set(r, limit, given.value, job_source(r, given.line));
    return pp_given(value) ? pp_limit_set(r, limit, value, source) : PP_OK;
}

/* A limit that only the job gives. */
pp_status pp_limit_from_job(pp_resolving *r, pp_limit *limit, const char *section, const char *key,
                            double value)
{
    if (!pp_given(value)) return PP_OK;
    return pp_limit_set(r, limit, value, job_source(r, pp_job_key_line(r->job, section, key)));
}

/* ---- all ---- */

static pp_status resolve_job_limits(pp_resolving *r)
{
    const pp_job *job = r->job;
    pp_limits *l = &r->found;
    long line = r->set_alone ? 0 : pp_job_key_line(job, "rules", "remainder_share");
    PP_TRY(pp_limit_set(r, &l->remainder_share,
                        r->set_alone ? USUAL_REMAINDER : job->rules.remainder_share,
                        line ? job_source(r, line) : "the usual 96 % rule"));
    PP_TRY(pp_limit_choose(r, &l->drift_limit, &job->rules.drift_limit, NAN, ""));
    for (size_t i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        if (!row->section) continue;
        if (r->set_alone && row->at == AT(flatness_limit)) continue; /* a flatness rule's */
        double given = *(const double *)((const char *)job + row->given_at);
        PP_TRY(pp_limit_from_job(r, limit_at(l, row), row->section, row->name, given));
    }
    return PP_OK;
}

/* Where the job gives this limit although a rule set may; 0: it does not. */
static long given_by_hand(const pp_job *job, const limit_row *row)
{
    if (row->at == AT(drift_limit)) return 0; /* a set has an allowance for it, no limit */
    if (!row->section && row->at != ONE_EACH) return pp_job_key_line(job, "rules", row->name);
    if (!row->of_plate || !job->plate.flatness_rule) return 0;
    return pp_job_key_line(job, "survey", row->name);
}

static void hold_beside_set(pp_limit *limit, const pp_limit *of_set)
{
    limit->of_set = of_set->value;
    limit->set_source = of_set->source;
    limit->by_hand = !(of_set->value == limit->value);
}

/* Limits that the job gives, beside those of the set alone. */
static void compare_with_set(pp_resolving *r, pp_limit *edges, const pp_limits *set)
{
    for (size_t i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        if (!given_by_hand(r->job, row)) continue;
        if (row->at == ONE_EACH)
            for (size_t k = 0; k < set->straightedge_count; k++)
                hold_beside_set(&edges[k], &set->straightedge[k]);
        else
            hold_beside_set(limit_at(&r->found, row),
                            (const pp_limit *)((const char *)set + row->at));
    }
}

/* Every limit that has a value, for lists. */
static pp_status collect(pp_resolving *r)
{
    pp_limits *l = &r->found;
    pp_error *error = r->error;
    pp_limit *all;
    PP_TAKE(all, &r->memory->keep, LIMIT_ROWS + l->straightedge_count);
    l->count = 0;
    for (size_t i = 0; i < LIMIT_ROWS; i++) {
        bool one_each = limit_rows[i].at == ONE_EACH;
        const pp_limit *of = one_each ? l->straightedge : limit_at(l, &limit_rows[i]);
        size_t count = one_each ? l->straightedge_count : 1;
        for (size_t k = 0; k < count; k++)
            if (pp_given(of[k].value)) all[l->count++] = of[k];
    }
    l->all = all;
    return PP_OK;
}

/* Do a step; where no hole is judged, what it can't find is left out. */
static pp_status step(pp_resolving *r, pp_status (*resolve)(pp_resolving *), bool judged)
{
    pp_resolving before = *r;
    pp_error ignored;
    if (judged) return resolve(r);
    r->error = &ignored;
    pp_status status = resolve(r);
    if (status == PP_EINPUT) *r = before;
    r->error = before.error;
    if (status == PP_OK || status == PP_EINPUT) return PP_OK;
    return pp_fail(r->error, status, "%s", ignored.message);
}

/* What is asked for: all limits, with the job's beside those of the set alone. */
typedef struct question {
    double pitch;
    bool judged;                      /* else what can't be found of the holes is left out */
    bool set_alone, no_flatness_rule; /* as in pp_resolving */
    const char **no_ligaments;        /* NULL, or why the ligaments' limits could not be found */
} question;

/* The ligaments' limits, or why there are none. */
static pp_status ligaments_or_why(pp_resolving *r, const char **why)
{
    pp_error refused = {0}, *error = r->error;
    r->error = &refused;
    pp_status status = pp_resolve_ligaments(r);
    r->error = error;
    if (status == PP_OK) return PP_OK;
    if (status != PP_EINPUT) return pp_fail(error, status, "%s", refused.message);
    r->found.ligament_standard = pp_limit_absent(r->found.ligament_standard.name);
    r->found.ligament_minimum = pp_limit_absent(r->found.ligament_minimum.name);
    *why = pp_text_kept(&r->memory->keep, "%s", refused.message);
    return *why ? PP_OK : pp_fail_memory(error);
}

static pp_status name_set(pp_resolving *r)
{
    const pp_job *job = r->job;
    const pp_rule_place place = {*job->path ? job->path : NULL, job->rules.set_line,
                                 job->rules.set_place};
    PP_TRY(pp_hole_rules_read(job->rules.set, &place, r->memory, &r->rules, r->error));
    r->found.set = r->rules.file.name;
    r->found.note = r->rules.file.note;
    if (!r->rules.file.built_in && r->found.note) {
        r->found.note =
            pp_text_kept(&r->memory->keep, "The file says of itself: %s", r->found.note);
        if (!r->found.note) return pp_fail_memory(r->error);
    }
    r->found.rules_path = r->rules.file.built_in ? NULL : r->rules.file.ini.file;
    r->found.table = job->rules.table;
    return PP_OK;
}

static pp_status resolve(const pp_job *job, const question *q, const pp_limits *set,
                         pp_memory *memory, pp_limits *limits, pp_error *error)
{
    pp_limit *edges;
    pp_resolving r = {.job = job,
                      .pitch = q->pitch,
                      .set_alone = q->set_alone,
                      .no_flatness_rule = q->no_flatness_rule,
                      .memory = memory,
                      .error = error};
    name_limits(&r.found);
    PP_TRY(name_set(&r));
    PP_TRY(resolve_job_limits(&r));
    PP_TRY(step(&r, pp_resolve_holes, q->judged));
    if (!q->judged && !pp_given(r.found.hole_nominal.value)) /* the job's hold all the same */
        PP_TRY(pp_limit_choose(&r, &r.found.hole_nominal, &job->rules.hole_nominal, NAN, ""));
    r.found.metal_nominal = q->pitch - r.found.hole_nominal.value;
    if (q->no_ligaments)
        PP_TRY(ligaments_or_why(&r, q->no_ligaments));
    else
        PP_TRY(step(&r, pp_resolve_ligaments, q->judged));
    PP_TRY(pp_resolve_flatness(&r, &edges));
    if (set) compare_with_set(&r, edges, set);
    PP_TRY(collect(&r));
    *limits = r.found;
    return PP_OK;
}

/* What the rule sets give where the job's own limits are left out. A flatness rule that has no
 * value for the plate gives none. */
static pp_status resolve_set(const pp_job *job, double pitch, pp_memory *memory, pp_limits *set,
                             pp_error *error)
{
    question q = {.pitch = pitch, .set_alone = true};
    pp_error refused = {0};
    pp_status status = resolve(job, &q, NULL, memory, set, &refused);
    if (status != PP_EINPUT) {
        if (status != PP_OK) *error = refused;
        return status;
    }
    q.no_flatness_rule = true;
    return resolve(job, &q, NULL, memory, set, error);
}

static pp_status resolve_beside_set(const pp_job *job, const question *q, pp_memory *memory,
                                    pp_limits *limits, pp_error *error)
{
    bool any = false;
    for (size_t i = 0; i < LIMIT_ROWS; i++) any = any || given_by_hand(job, &limit_rows[i]);
    pp_limits set;
    PP_TRY(resolve(job, q, NULL, memory, limits, error)); /* its own errors first */
    if (!any) return PP_OK;
    PP_TRY(resolve_set(job, q->pitch, memory, &set, error));
    return resolve(job, q, &set, memory, limits, error);
}

pp_status pp_limits_resolve(const pp_job *job, double pitch, pp_memory *memory, pp_limits *limits,
                            pp_error *error)
{
    const question q = {.pitch = pitch, .judged = true};
    return resolve_beside_set(job, &q, memory, limits, error);
}

pp_status pp_limits_resolve_unjudged(const pp_job *job, double pitch, pp_memory *memory,
                                     pp_limits *limits, pp_error *error)
{
    const question q = {.pitch = pitch};
    return resolve_beside_set(job, &q, memory, limits, error);
}

pp_status pp_limits_resolve_or_say(const pp_job *job, double pitch, pp_memory *memory,
                                   pp_limits *limits, const char **no_ligaments, pp_error *error)
{
    *no_ligaments = NULL;
    const question q = {.pitch = pitch, .judged = true, .no_ligaments = no_ligaments};
    return resolve_beside_set(job, &q, memory, limits, error);
}
