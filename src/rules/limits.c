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

/* ---- words ---- */

static const char *part_words(const pp_job *job)
{
    return job->rules.part == PP_BAFFLE ? "baffle"
           : job->rules.tubesheet       ? "tubesheet"
                                        : "tube-plate";
}
static const char *fit_words(pp_fit fit) { return fit == PP_FIT_CLOSE ? "close" : "standard"; }
static const char *table_words(pp_table table)
{
    return table == PP_TABLE_METRIC ? "metric" : "inch";
}

static const char *job_source(pp_resolving *r, long line)
{
    return line ? pp_text_kept(&r->memory->keep, "job file, line %ld", line) : "given";
}

/* "tema-style, tube-plate, standard fit, inch table, tube 1 in; SOURCE (how sure)" */
static const char *table_source(pp_resolving *r, const pp_rule_table *table, const char *row,
                                char sure)
{
    pp_arena *keep = &r->memory->keep;
    if (!r->rules.file.built_in) /* whatever it says of itself */
        return pp_text_kept(keep, "from the file %s, its sources not checked%s%s",
                            r->rules.file.name, row ? "; tube " : "", row ? row : "");
    const char *fit = table->fit == PP_RULE_ANY    ? ""
                      : table->fit == PP_FIT_CLOSE ? ", close fit"
                                                   : ", standard fit";
    const char *which = table->table == PP_RULE_ANY          ? ""
                        : table->table == (int)PP_TABLE_INCH ? ", inch table"
                                                             : ", metric table";
    return pp_text_kept(keep, "%s, %s%s%s%s%s; %s (%s)", r->rules.file.name, part_words(r->job),
                        fit, which, row ? ", tube " : "", row ? row : "",
                        table->source ? table->source : "source not said",
                        pp_rule_sure_words(sure));
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
    found->ligament_nominal = found->drift_allowance = NAN;
    found->drift_allowance_source = "";
}

/* ---- one limit ---- */

static pp_status set(pp_resolving *r, pp_limit *limit, double value, const char *source)
{
    if (!source) return pp_fail_memory(r->error);
    limit->value = value;
    limit->source = source;
    return PP_OK;
}

/* The job's own value if it gives one, else the rule's (NaN: none). */
static pp_status choose(pp_resolving *r, pp_limit *limit, const pp_job_limit *given, double value,
                        const char *source)
{
    if (pp_given(given->value)) return set(r, limit, given->value, job_source(r, given->line));
    return pp_given(value) ? set(r, limit, value, source) : PP_OK;
}

/* A limit that only the job gives. */
pp_status pp_limit_from_job(pp_resolving *r, pp_limit *limit, const char *section, const char *key,
                            double value)
{
    if (!pp_given(value)) return PP_OK;
    return set(r, limit, value, job_source(r, pp_job_key_line(r->job, section, key)));
}

/* ---- holes ---- */

#define GIVE_HOLE_LIMITS                                                                           \
    "give [rules] hole_nominal, hole_under, hole_over and hole_over_limit in the job"

/* Find the tube's row. */
static pp_status find_hole_row(pp_resolving *r, const pp_rule_table **table)
{
    const pp_job *job = r->job;
    double tube = job->holes.tube_diameter;
    const char *set_name = r->rules.file.name;
    pp_arena *keep = &r->memory->keep;
    *table = pp_hole_rules_table(&r->rules, PP_RULE_HOLES, job->rules.part, job->rules.fit,
                                 job->rules.table);
    if (!*table)
        return pp_refuse_limit_kept(
            r, "rules", "set",
            pp_text_kept(keep, "%s has no hole sizes for part = %s, fit = %s, table = %s; %s",
                         set_name, part_words(job), fit_words(job->rules.fit),
                         table_words(job->rules.table), GIVE_HOLE_LIMITS));
    if (pp_hole_rules_need_span(*table) && !pp_given(job->rules.unsupported_span))
        return pp_refuse_limit(
            r, "rules", "part",
            "the hole size of a baffle depends on its tubes' longest unsupported span; "
            "give [rules] unsupported_span");
    r->hole_row = pp_hole_rules_row(*table, tube, job->rules.unsupported_span);
    if (!r->hole_row)
        return pp_refuse_limit_kept(
            r, "holes", "tube_diameter",
            pp_text_kept(keep,
                         "%s has no row for a tube of %.6g mm (%.6g in) in the %s table, %s fit; "
                         "%s, or correct [holes] tube_diameter",
                         set_name, tube, tube / pp_unit_mm(PP_INCH), table_words(job->rules.table),
                         fit_words(job->rules.fit), GIVE_HOLE_LIMITS));
    return PP_OK;
}

static size_t count_given(const pp_job_limit *const *limits, size_t count)
{
    size_t given = 0;
    for (size_t i = 0; i < count; i++) given += pp_given(limits[i]->value);
    return given;
}

static pp_status set_hole_limits(pp_resolving *r, const pp_rule_table *table)
{
    const pp_job *job = r->job;
    const pp_rule_row *row = r->hole_row;
    pp_limits *l = &r->found;
    double nominal = NAN, under = NAN, over = NAN, over_limit = NAN;
    const char *size = "", *tolerance = "", *outer = "";
    if (row) {
        nominal = pp_given(row->value[PP_RULE_HOLE])
                      ? row->value[PP_RULE_HOLE]
                      : job->holes.tube_diameter + row->value[PP_RULE_CLEARANCE];
        under = row->value[PP_RULE_UNDER];
        over = row->value[PP_RULE_OVER];
        over_limit = row->value[PP_RULE_OVER_LIMIT];
        size = table_source(r, table, row->tube, row->sure);
        tolerance = outer = table_source(r, table, row->tube,
                                         row->sure_tolerance ? row->sure_tolerance : row->sure);
    }
    PP_TRY(choose(r, &l->hole_nominal, &job->rules.hole_nominal, nominal, size));
    PP_TRY(choose(r, &l->hole_under, &job->rules.hole_under, under, tolerance));
    PP_TRY(choose(r, &l->hole_over, &job->rules.hole_over, over, tolerance));
    if (row && isnan(over_limit)) { /* the set lets no hole be larger than hole_over */
        over_limit = l->hole_over.value;
        outer =
            pp_text_kept(&r->memory->keep, "%s: as hole_over, no remainder", r->rules.file.name);
    }
    PP_TRY(choose(r, &l->hole_over_limit, &job->rules.hole_over_limit, over_limit, outer));
    if (l->hole_over_limit.value < l->hole_over.value)
        return pp_refuse_limit(
            r, "rules", pp_given(job->rules.hole_over.value) ? "hole_over" : "hole_over_limit",
            "hole_over_limit is below hole_over, one from the job and one from the rule "
            "set; give both");
    l->diameter_lower = l->hole_nominal.value - l->hole_under.value;
    l->diameter_upper = l->hole_nominal.value + l->hole_over.value;
    l->diameter_upper_limit = l->hole_nominal.value + l->hole_over_limit.value;
    return PP_OK;
}

static const char *first_given(const pp_job_limit *const *limits, size_t count)
{
    static const char *const keys[] = {"hole_nominal", "hole_under", "hole_over",
                                       "hole_over_limit"};
    size_t i = 0;
    while (i + 1 < count && !pp_given(limits[i]->value)) i++;
    return keys[i];
}

/* Without a tube there is no row of the set: what the job does not give is not judged. */
static pp_status resolve_holes(pp_resolving *r)
{
    enum { HOLE_LIMITS = 4 };
    const pp_job *job = r->job;
    const pp_job_limit *outright[HOLE_LIMITS] = {&job->rules.hole_nominal, &job->rules.hole_under,
                                                 &job->rules.hole_over,
                                                 &job->rules.hole_over_limit};
    size_t given = count_given(outright, HOLE_LIMITS);
    bool tube = pp_given(job->holes.tube_diameter);
    const pp_rule_table *table = NULL;
    if (!given && !tube) return PP_OK;
    if (!tube && !pp_given(outright[0]->value))
        return pp_refuse_limit(
            r, "rules", first_given(outright, HOLE_LIMITS),
            "the limits of the hole diameter count from hole_nominal, which is not "
            "there; give [rules] hole_nominal, or [holes] tube_diameter for the rule "
            "set's own limits");
    if (tube && given < HOLE_LIMITS) PP_TRY(find_hole_row(r, &table));
    return set_hole_limits(r, table);
}

/* ---- ligaments ---- */

static pp_status resolve_minimum(pp_resolving *r, const pp_rule_table *formula)
{
    const pp_job *job = r->job;
    pp_limit *minimum = &r->found.ligament_minimum;
    double tube = job->holes.tube_diameter;
    if (formula && pp_given(formula->minimum_share))
        return set(r, minimum, formula->minimum_share * r->found.ligament_nominal,
                   pp_text_kept(&r->memory->keep, "%s: %g %% of pitch less hole",
                                table_source(r, formula, NULL,
                                             formula->row_count ? formula->rows[0].sure : 0),
                                100 * formula->minimum_share));
    const pp_rule_table *table = pp_hole_rules_table(&r->rules, PP_RULE_LIGAMENTS, job->rules.part,
                                                     job->rules.fit, job->rules.table);
    const pp_rule_row *row =
        table ? pp_hole_rules_ligament(table, tube, r->hole_row, r->pitch) : NULL;
    if (!row)
        return pp_refuse_limit_kept(
            r, "holes", pp_job_key_line(job, "holes", "pitch") ? "pitch" : "tube_diameter",
            pp_text_kept(&r->memory->keep,
                         "%s has no row for tubes of %.6g mm (%.6g in) at a pitch of %.6g mm "
                         "(%.6g in) in its %s table of ligaments; give [rules] ligament_minimum in "
                         "the job, or correct [holes] pitch",
                         r->rules.file.name, tube, tube / pp_unit_mm(PP_INCH), r->pitch,
                         r->pitch / pp_unit_mm(PP_INCH), table_words(job->rules.table)));
    return set(r, minimum, row->value[PP_RULE_MINIMUM],
               table_source(r, table, row->tube, row->sure));
}

/* max(minimum, (pitch - hole) - (2 drift + allowance)), drift = factor * thickness / tube */
static pp_status resolve_standard(pp_resolving *r, const pp_rule_table *formula)
{
    const pp_job *job = r->job;
    pp_limits *l = &r->found;
    const pp_rule_row *row =
        formula ? pp_hole_rules_row(formula, job->holes.tube_diameter, NAN) : NULL;
    if (!row)
        return pp_refuse_limit_kept(
            r, "rules", "set",
            pp_text_kept(&r->memory->keep,
                         "%s has no ligament formula for this tube; give [rules] "
                         "ligament_standard in the job",
                         r->rules.file.name));
    if (!pp_given(job->plate.thickness))
        return pp_refuse_limit(
            r, "plate", "thickness",
            "the ligament formula needs the plate's thickness; give [plate] thickness, "
            "or [rules] ligament_standard");
    double drift = formula->drift_factor * job->plate.thickness / job->holes.tube_diameter;
    double standard = l->ligament_nominal - (2 * drift + row->value[PP_RULE_ALLOWANCE]);
    const char *source = table_source(r, formula, NULL, row->sure);
    if (standard >= l->ligament_minimum.value)
        return set(r, &l->ligament_standard, standard, source);
    return set(r, &l->ligament_standard, l->ligament_minimum.value,
               pp_text_kept(&r->memory->keep,
                            "ligament_minimum, as the formula gives less (%.4g mm): %s", standard,
                            source));
}

static pp_status check_ligament_order(pp_resolving *r)
{
    if (!(r->found.ligament_standard.value < r->found.ligament_minimum.value)) return PP_OK;
    return pp_refuse_limit(
        r, "rules", "ligament_standard",
        "ligament_standard is below the ligament_minimum of the rule set; give [rules] "
        "ligament_minimum too");
}

static pp_status resolve_drift_allowance(pp_resolving *r, const pp_rule_table *formula)
{
    const pp_job *job = r->job;
    if (!formula || !pp_given(job->plate.thickness) || !pp_given(job->holes.tube_diameter))
        return PP_OK;
    r->found.drift_allowance =
        formula->drift_factor * job->plate.thickness / job->holes.tube_diameter;
    r->found.drift_allowance_source =
        table_source(r, formula, NULL, formula->row_count ? formula->rows[0].sure : 0);
    return r->found.drift_allowance_source ? PP_OK : pp_fail_memory(r->error);
}

static pp_status resolve_ligaments(pp_resolving *r)
{
    const pp_job *job = r->job;
    pp_limits *l = &r->found;
    const pp_job_limit *standard = &job->rules.ligament_standard;
    const pp_job_limit *minimum = &job->rules.ligament_minimum;
    bool plate = job->rules.part == PP_TUBE_PLATE;
    bool tube = pp_given(job->holes.tube_diameter);
    const pp_rule_table *formula = pp_hole_rules_table(
        &r->rules, PP_RULE_LIGAMENT_FORMULA, job->rules.part, job->rules.fit, job->rules.table);

    PP_TRY(resolve_drift_allowance(r, formula));
    if (plate) l->ligament_nominal = r->pitch - l->hole_nominal.value;
    PP_TRY(choose(r, &l->ligament_standard, standard, NAN, ""));
    PP_TRY(choose(r, &l->ligament_minimum, minimum, NAN, ""));
    bool both = pp_given(standard->value) && pp_given(minimum->value);
    if (both || !pp_given(r->pitch)) return PP_OK; /* no pitch: not two holes, so no ligament */
    if (!plate || !tube) return PP_OK;             /* one alone holds for every ligament */
    if (l->ligament_nominal <= 0)
        return pp_refuse_limit(
            r, "holes", "pitch",
            "the pitch is not above the hole's size, which leaves no ligament; check "
            "[holes] pitch and tube_diameter");
    if (!pp_given(minimum->value)) PP_TRY(resolve_minimum(r, formula));
    if (!pp_given(standard->value)) PP_TRY(resolve_standard(r, formula));
    return check_ligament_order(r);
}

/* ---- all ---- */

static pp_status resolve_job_limits(pp_resolving *r)
{
    const pp_job *job = r->job;
    pp_limits *l = &r->found;
    long line = pp_job_key_line(job, "rules", "remainder_share");
    PP_TRY(set(r, &l->remainder_share, job->rules.remainder_share,
               line ? job_source(r, line) : "the usual 96 % rule"));
    PP_TRY(choose(r, &l->drift_limit, &job->rules.drift_limit, NAN, ""));
    for (size_t i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        if (!row->section) continue;
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

static pp_status resolve(const pp_job *job, double pitch, bool judged, const pp_limits *set,
                         pp_memory *memory, pp_limits *limits, pp_error *error)
{
    pp_limit *edges;
    pp_resolving r = {.job = job, .pitch = pitch, .memory = memory, .error = error};
    name_limits(&r.found);
    const pp_rule_place place = {*job->path ? job->path : NULL, job->rules.set_line,
                                 job->rules.set_place};
    PP_TRY(pp_hole_rules_read(job->rules.set, &place, memory, &r.rules, error));
    r.found.set = r.rules.file.name;
    r.found.note = r.rules.file.note;
    if (!r.rules.file.built_in && r.found.note) {
        r.found.note = pp_text_kept(&memory->keep, "The file says of itself: %s", r.found.note);
        if (!r.found.note) return pp_fail_memory(error);
    }
    r.found.rules_path = r.rules.file.built_in ? NULL : r.rules.file.ini.file;
    r.found.table = job->rules.table;
    PP_TRY(resolve_job_limits(&r));
    PP_TRY(step(&r, resolve_holes, judged));
    if (!judged && !pp_given(r.found.hole_nominal.value)) /* what the job says holds all the same */
        PP_TRY(choose(&r, &r.found.hole_nominal, &job->rules.hole_nominal, NAN, ""));
    PP_TRY(step(&r, resolve_ligaments, judged));
    PP_TRY(pp_resolve_flatness(&r, &edges));
    if (set) compare_with_set(&r, edges, set);
    PP_TRY(collect(&r));
    *limits = r.found;
    return PP_OK;
}

static pp_job without_limits(const pp_job *job)
{
    const pp_job_limit none = {.value = NAN};
    pp_job plain = *job;
    plain.rules.hole_nominal = plain.rules.hole_under = none;
    plain.rules.hole_over = plain.rules.hole_over_limit = none;
    plain.rules.ligament_standard = plain.rules.ligament_minimum = none;
    plain.rules.remainder_share = USUAL_REMAINDER;
    plain.survey.flatness_limit = NAN;
    plain.survey.straightedge_limit.count = 0;
    return plain;
}

/* What the rule sets give where the job's own limits are left out. A flatness rule that has no
 * value for the plate gives none. */
static pp_status resolve_set(const pp_job *job, double pitch, pp_memory *memory, pp_limits *set,
                             pp_error *error)
{
    pp_job plain = without_limits(job);
    pp_error refused = {0};
    pp_status status = resolve(&plain, pitch, false, NULL, memory, set, &refused);
    if (status != PP_EINPUT) {
        if (status != PP_OK) *error = refused;
        return status;
    }
    plain.plate.flatness_rule = NULL;
    return resolve(&plain, pitch, false, NULL, memory, set, error);
}

static pp_status resolve_beside_set(const pp_job *job, double pitch, bool judged, pp_memory *memory,
                                    pp_limits *limits, pp_error *error)
{
    bool any = false;
    for (size_t i = 0; i < LIMIT_ROWS; i++) any = any || given_by_hand(job, &limit_rows[i]);
    pp_limits set;
    PP_TRY(resolve(job, pitch, judged, NULL, memory, limits, error)); /* its own errors first */
    if (!any) return PP_OK;
    PP_TRY(resolve_set(job, pitch, memory, &set, error));
    return resolve(job, pitch, judged, &set, memory, limits, error);
}

pp_status pp_limits_resolve(const pp_job *job, double pitch, pp_memory *memory, pp_limits *limits,
                            pp_error *error)
{
    return resolve_beside_set(job, pitch, true, memory, limits, error);
}

pp_status pp_limits_resolve_unjudged(const pp_job *job, double pitch, pp_memory *memory,
                                     pp_limits *limits, pp_error *error)
{
    return resolve_beside_set(job, pitch, false, memory, limits, error);
}
