/* One finding in a line: where it is, and what is wrong. */
#include "answer/for_people.h"
#include "answer/summary.h"

static const char *bore_name(const pp_results *results, uint32_t bore)
{
    return bore < results->measures->bore_count ? pp_bore_name(results->measures, bore) : "?";
}

static const char *hole_name(const pp_results *results, uint32_t hole)
{
    const pp_nominal *nominal = results->measures->nominal;
    return hole < nominal->count ? nominal->name[hole] : "?";
}

void pp_finding_subject(pp_text *text, const pp_results *results, const pp_finding *f)
{
    switch (pp_characteristic_of(f->characteristic)->subject) {
    case PP_OF_PLATE:
        pp_text_add(text, "the plate");
        return;
    case PP_OF_STRAIGHTEDGE:
        pp_text_add(text, "straightedge ");
        pp_people_size(text, results->job->units,
                       results->flatness->straightedge[f->subject].length);
        return;
    case PP_OF_BORE:
        pp_text_add(text, bore_name(results, f->subject));
        break;
    case PP_OF_TWO_BORES:
        pp_text_print(text, "%s \u2013 ", bore_name(results, f->subject));
        pp_text_add(text, bore_name(results, pp_finding_other(results->judgement, f)));
        break;
    case PP_OF_CHECK:
        pp_text_add(text, hole_name(results, pp_finding_other(results->judgement, f)));
        return;
    case PP_OF_TWO_HOLES:
        pp_text_print(text, "%s \u2013 ", hole_name(results, f->subject));
        pp_text_add(text, hole_name(results, pp_finding_other(results->judgement, f)));
        break;
    case PP_OF_HOLE:
        pp_text_add(text, hole_name(results, f->subject));
        return;
    case PP_OF_FACE:
        pp_text_add(text, hole_name(results, f->subject));
        break;
    }
    pp_text_print(text, ", %s", pp_face_words(f->face));
}

static void add_distance(pp_text *text, const pp_results *results, double value, double limit,
                         const char *side)
{
    pp_length_unit units = results->job->units;
    pp_text_print(text, ", %s ", side);
    pp_people_limit_beside(text, units, limit, value);
    double apart = value > limit ? value - limit : limit - value;
    pp_text_add(text, " by ");
    pp_people_number(text, units, apart, pp_people_decimals(units, value, limit));
    pp_text_print(text, " %s", pp_people_unit(units));
}

/* What a plug gauge said, where it and not a reading decides; NULL where a reading does. */
static const char *gauge_fault(const pp_results *results, const pp_finding *f)
{
    const pp_measures *m = results->measures;
    if (f->characteristic != PP_DIAMETER || f->subject >= m->nominal->count) return NULL;
    uint32_t at = m->bore_of[f->face][f->subject];
    if (at == PP_NONE) return NULL;
    const pp_bore *bore = &m->bores[at];
    if (bore->go == 0) return "the go gauge does not enter";
    if (bore->no_go_max == 1) return "the no-go gauge of the outer limit enters";
    if (bore->no_go == 1 && f->class_ == PP_CLASS_REMAINDER)
        return "the no-go gauge enters: in the remainder, of which there are too many";
    if (!bore->gauged) return NULL;
    if (bore->no_go == 1) return "the no-go gauge enters; the outer limit was not tried";
    return bore->go < 0 ? "not tried with the go gauge" : "not tried with the no-go gauge";
}

static void add_check_fault(pp_text *text, const pp_check_row *row)
{
    pp_check_fault fault = pp_check_fault_of(row);
    if (fault == PP_CHECK_BELOW)
        pp_text_print(text, "%s %g, below %g", row->characteristic, row->value, row->low);
    else if (fault == PP_CHECK_ABOVE)
        pp_text_print(text, "%s %g, above %g", row->characteristic, row->value, row->high);
    else
        pp_text_print(text, "%s rejected", row->characteristic);
}

/* Of itself it may be: listed because the share of the remainder is broken or not proven. */
static void add_share_fault(pp_text *text, const pp_results *results, const pp_finding *f)
{
    const pp_judgement *j = results->judgement;
    bool upper = pp_characteristic_of(f->characteristic)->upper, open = f->proven_standard == 0;
    pp_verdict share = pp_count_rule_of(j, f->characteristic)->share;
    double standard = pp_finding_standard(j, f);
    pp_people_against(text, results->job->units, f->value, standard);
    pp_text_add(text, open ? ", not proven within " : upper ? ", above " : ", below ");
    pp_people_limit_beside(text, results->job->units, standard, f->value);
    pp_text_print(text, ": %sin the remainder, of which there %s too many", open ? "perhaps " : "",
                  share == PP_DOES_NOT_CONFORM ? "are" : "may be");
}

void pp_finding_fault(pp_text *text, const pp_results *results, const pp_finding *f)
{
    const pp_judgement *j = results->judgement;
    const char *gauge = gauge_fault(results, f);
    if (gauge) {
        pp_text_print(text, "diameter: %s", gauge);
        return;
    }
    const pp_characteristic_row *row = pp_characteristic_of(f->characteristic);
    if (row->subject == PP_OF_CHECK) {
        add_check_fault(text, &results->files->checks[f->subject]);
        return;
    }
    if (row->wrong) {
        pp_text_add(text, row->wrong);
        return;
    }
    bool place = f->characteristic == PP_POSITION || f->characteristic == PP_PATTERN_POSITION;
    if (!place) pp_text_print(text, "%s ", row->said ? row->said : row->name);
    if (f->verdict == PP_CONFORMS) {
        add_share_fault(text, results, f);
        return;
    }
    double lower = pp_finding_lower(j, f), upper = pp_finding_upper(j, f);
    bool outside = f->class_ == PP_CLASS_OUT || f->class_ == PP_CLASS_UNDER;
    bool below = outside && (f->class_ == PP_CLASS_UNDER || !pp_given(upper));
    bool above = outside && !below;
    if (f->characteristic == PP_PATTERN_POSITION) pp_text_add(text, "pattern ");
    if (place)
        pp_people_out_of_place(text, results->job->units, f->value, upper);
    else
        pp_people_against(text, results->job->units, f->value, below ? lower : upper);
    if (below)
        add_distance(text, results, f->value, lower, "below");
    else if (above)
        add_distance(text, results, f->value, upper, "above");
    else if (f->verdict == PP_NOT_PROVEN)
        pp_text_add(text, ", too close to its limit for the measurement uncertainty");
}
