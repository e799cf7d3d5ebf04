/* The limits of holes and ligaments: from the job, or the tube's row of the rule set. */
#include "base/text.h"
#include "rules/resolving.h"

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

static size_t count_given(const pp_job_limit *limits, size_t count)
{
    size_t given = 0;
    for (size_t i = 0; i < count; i++) given += pp_given(limits[i].value);
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
    PP_TRY(pp_limit_choose(r, &l->hole_nominal, &job->rules.hole_nominal, nominal, size));
    PP_TRY(pp_limit_choose(r, &l->hole_under, &job->rules.hole_under, under, tolerance));
    PP_TRY(pp_limit_choose(r, &l->hole_over, &job->rules.hole_over, over, tolerance));
    if (row && isnan(over_limit)) { /* the set lets no hole be larger than hole_over */
        over_limit = l->hole_over.value;
        outer =
            pp_text_kept(&r->memory->keep, "%s: as hole_over, no remainder", r->rules.file.name);
    }
    PP_TRY(pp_limit_choose(r, &l->hole_over_limit, &job->rules.hole_over_limit, over_limit, outer));
    if (l->hole_over_limit.value < l->hole_over.value)
        return pp_refuse_limit(
            r, "rules",
            pp_given(pp_limit_given(r, &job->rules.hole_over).value) ? "hole_over"
                                                                     : "hole_over_limit",
            "hole_over_limit is below hole_over, one from the job and one from the rule "
            "set; give both");
    l->diameter_lower = l->hole_nominal.value - l->hole_under.value;
    l->diameter_upper = l->hole_nominal.value + l->hole_over.value;
    l->diameter_upper_limit = l->hole_nominal.value + l->hole_over_limit.value;
    return PP_OK;
}

static const char *first_given(const pp_job_limit *limits, size_t count)
{
    static const char *const keys[] = {"hole_nominal", "hole_under", "hole_over",
                                       "hole_over_limit"};
    size_t i = 0;
    while (i + 1 < count && !pp_given(limits[i].value)) i++;
    return keys[i];
}

/* Without a tube there is no row of the set: what the job does not give is not judged. */
pp_status pp_resolve_holes(pp_resolving *r)
{
    enum { HOLE_LIMITS = 4 };
    const pp_job *job = r->job;
    const pp_job_limit outright[HOLE_LIMITS] = {
        pp_limit_given(r, &job->rules.hole_nominal), pp_limit_given(r, &job->rules.hole_under),
        pp_limit_given(r, &job->rules.hole_over), pp_limit_given(r, &job->rules.hole_over_limit)};
    size_t given = count_given(outright, HOLE_LIMITS);
    bool tube = pp_given(job->holes.tube_diameter);
    const pp_rule_table *table = NULL;
    if (!given && !tube) return PP_OK;
    if (!tube && !pp_given(outright[0].value))
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
        return pp_limit_set(
            r, minimum, formula->minimum_share * r->found.ligament_nominal,
            pp_text_kept(
                &r->memory->keep, "%s: %g %% of pitch less hole",
                table_source(r, formula, NULL, formula->row_count ? formula->rows[0].sure : 0),
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
    return pp_limit_set(r, minimum, row->value[PP_RULE_MINIMUM],
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
        return pp_limit_set(r, &l->ligament_standard, standard, source);
    return pp_limit_set(r, &l->ligament_standard, l->ligament_minimum.value,
                        pp_text_kept(&r->memory->keep,
                                     "ligament_minimum, as the formula gives less (%.4g mm): %s",
                                     standard, source));
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

pp_status pp_resolve_ligaments(pp_resolving *r)
{
    const pp_job *job = r->job;
    pp_limits *l = &r->found;
    pp_job_limit standard = pp_limit_given(r, &job->rules.ligament_standard);
    pp_job_limit minimum = pp_limit_given(r, &job->rules.ligament_minimum);
    bool plate = job->rules.part == PP_TUBE_PLATE;
    bool tube = pp_given(job->holes.tube_diameter);
    const pp_rule_table *formula = pp_hole_rules_table(
        &r->rules, PP_RULE_LIGAMENT_FORMULA, job->rules.part, job->rules.fit, job->rules.table);

    PP_TRY(resolve_drift_allowance(r, formula));
    if (plate) l->ligament_nominal = l->metal_nominal;
    PP_TRY(pp_limit_choose(r, &l->ligament_standard, &standard, NAN, ""));
    PP_TRY(pp_limit_choose(r, &l->ligament_minimum, &minimum, NAN, ""));
    bool both = pp_given(standard.value) && pp_given(minimum.value);
    if (both || !pp_given(r->pitch)) return PP_OK; /* no pitch: not two holes, so no ligament */
    if (!plate || !tube) return PP_OK;             /* one alone holds for every ligament */
    if (l->ligament_nominal <= 0)
        return pp_refuse_limit(
            r, "holes", "pitch",
            "the pitch is not above the hole's size, which leaves no ligament; check "
            "[holes] pitch and tube_diameter");
    if (!pp_given(minimum.value)) PP_TRY(resolve_minimum(r, formula));
    if (!pp_given(standard.value)) PP_TRY(resolve_standard(r, formula));
    return check_ligament_order(r);
}
