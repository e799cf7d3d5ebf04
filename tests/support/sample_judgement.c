/* Findings and verdicts of the sample answer, judged apart from the stage that is tested. */
#include "support/sample_draft.h"

static uint8_t verdict_of(double value, double u, double lower, double upper)
{
    double inside = INFINITY;
    if (!isnan(lower)) inside = fmin(inside, value - lower);
    if (!isnan(upper)) inside = fmin(inside, upper - value);
    return inside >= GUARD * u - 1e-6   ? PP_CONFORMS
           : inside < -GUARD * u - 1e-6 ? PP_DOES_NOT_CONFORM
                                        : PP_NOT_PROVEN;
}

/* Findings stand by characteristic: those of `which` start here. */
static void begin(pp_sample *s, pp_characteristic which)
{
    for (int c = (int)which; c <= PP_CHARACTERISTICS; c++)
        s->judgement.first[c] = s->judgement.count;
}

/* Appends the finding and folds it into its section. */
static const pp_finding *add_finding(pp_sample *s, draft *d, pp_finding finding)
{
    pp_judgement *j = &s->judgement;
    pp_section *section = &j->section[finding.characteristic];
    section->judged += finding.verdict != PP_NOT_JUDGED;
    section->not_proven += finding.verdict == PP_NOT_PROVEN;
    section->failed += finding.verdict == PP_DOES_NOT_CONFORM;
    if (finding.verdict > section->verdict) section->verdict = finding.verdict;
    if (finding.verdict >= PP_NOT_PROVEN) d->exceptions[j->exception_count++] = (uint32_t)j->count;
    d->findings[j->count] = finding;
    for (int c = finding.characteristic + 1; c <= PP_CHARACTERISTICS; c++)
        j->first[c] = j->count + 1;
    return &d->findings[j->count++];
}

/* What else the finding added last has, of those that are not by index: there is one of each. */
static void add_rest(pp_sample *s, draft *d, double u, uint32_t other)
{
    pp_judgement *j = &s->judgement;
    j->rest_first[d->findings[j->count - 1].characteristic] = d->rest_count;
    d->rest[d->rest_count++] = (pp_finding_rest){(float)u, other};
}

static pp_finding of_bore(pp_characteristic which, const pp_bore *b, double value)
{
    return (pp_finding){
        .characteristic = (uint8_t)which, .face = b->face, .subject = b->hole, .value = value};
}

static void judge_positions(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    double sum = 0, u = 2 * U_CENTRE;
    begin(s, PP_POSITION);
    j->position_fold.largest = NAN;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        pp_finding finding = of_bore(PP_POSITION, b, b->position);
        if (!d->plugged[b->hole]) {
            finding.class_ = b->position > POSITION_LIMIT ? PP_CLASS_OUT : PP_CLASS_IN;
            finding.verdict = verdict_of(b->position, u, NAN, POSITION_LIMIT) & 15;
        }
        add_finding(s, d, finding);
        if (d->plugged[b->hole] || d->kind[b->hole] == PP_OTHER_HOLE) continue;
        sum += b->position;
        if (b->position <= j->position_fold.largest) continue;
        j->position_fold.largest = b->position;
        j->position_fold.largest_hole = b->hole;
        j->position_fold.largest_face = b->face;
    }
    j->position_fold.mean = sum / (double)m->extra_first;
    j->position_fold.not_proven = j->section[PP_POSITION].not_proven;
    j->position_fold.out = j->section[PP_POSITION].failed;
}

static pp_class class_of_diameter(double value, bool other)
{
    double lower = other ? 16 : LOWER, inner = other ? 16.2 : UPPER;
    return value < lower                           ? PP_CLASS_UNDER
           : value <= inner                        ? PP_CLASS_IN
           : value <= (other ? 16.2 : UPPER_LIMIT) ? PP_CLASS_REMAINDER
                                                   : PP_CLASS_OUT;
}

static void judge_diameters(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    pp_count_rule *rule = &j->diameter_fold.rule;
    double sum = 0;
    begin(s, PP_DIAMETER);
    j->diameter_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        bool other = d->kind[b->hole] == PP_OTHER_HOLE;
        double value = b->diameter_max;
        pp_finding finding = of_bore(PP_DIAMETER, b, value);
        if (!d->plugged[b->hole]) {
            finding.class_ = (uint8_t)class_of_diameter(value, other);
            finding.verdict =
                verdict_of(value, U_DIAMETER, other ? 16 : LOWER, other ? 16.2 : UPPER_LIMIT) & 15;
        }
        add_finding(s, d, finding);
        if (d->plugged[b->hole] || other) continue;
        sum += value;
        rule->denominator++;
        rule->in += finding.class_ == PP_CLASS_IN;
        rule->remainder += finding.class_ == PP_CLASS_REMAINDER;
        rule->out += finding.class_ == PP_CLASS_OUT;
        rule->under += finding.class_ == PP_CLASS_UNDER;
        j->diameter_fold.smallest = fmin(j->diameter_fold.smallest, value);
        j->diameter_fold.largest = fmax(j->diameter_fold.largest, value);
    }
    j->diameter_fold.mean = sum / (double)rule->denominator;
    rule->remainder_allowed = (size_t)(0.04 * (double)d->tubes + 1e-9);
    j->diameter_fold.assurance =
        (pp_assurance){.probability_valid = true, .probability = 0.1234, .confidence = 0.95};
}

static void judge_ligaments(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    pp_count_rule *rule = &j->ligament_fold.rule;
    double sum = 0;
    begin(s, PP_LIGAMENT);
    j->ligament_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->ligament_count; i++) {
        const pp_ligament *l = &m->ligaments[i];
        pp_class class_ = l->value >= LIGAMENT_STANDARD  ? PP_CLASS_IN
                          : l->value >= LIGAMENT_MINIMUM ? PP_CLASS_REMAINDER
                                                         : PP_CLASS_OUT;
        add_finding(s, d,
                    (pp_finding){.characteristic = PP_LIGAMENT,
                                 .face = l->face,
                                 .class_ = (uint8_t)class_,
                                 .verdict = verdict_of(l->value, l->u, LIGAMENT_MINIMUM, NAN) & 15,
                                 .subject = l->a,
                                 .value = l->value});
        rule->denominator++;
        rule->in += class_ == PP_CLASS_IN;
        rule->remainder += class_ == PP_CLASS_REMAINDER;
        rule->out += class_ == PP_CLASS_OUT;
        sum += l->value;
        if (l->value >= j->ligament_fold.smallest) continue;
        j->ligament_fold.smallest = l->value;
        j->ligament_fold.smallest_a = l->a;
        j->ligament_fold.smallest_b = l->b;
        j->ligament_fold.smallest_face = l->face;
    }
    j->ligament_fold.mean = sum / (double)m->ligament_count;
    rule->remainder_allowed = (size_t)(0.04 * (double)m->pair_count + 1e-9);
}

static void judge_edges(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    begin(s, PP_EDGE);
    j->edge_fold.smallest = INFINITY;
    for (size_t i = 0; i < m->extra_first; i++) {
        const pp_bore *b = &m->bores[i];
        pp_finding finding = of_bore(PP_EDGE, b, m->edge[i]);
        bool judged = d->kind[b->hole] == PP_TUBE_HOLE && !d->plugged[b->hole];
        if (judged) {
            finding.class_ = PP_CLASS_IN;
            finding.verdict = verdict_of(m->edge[i], 0.0051, EDGE_MINIMUM, NAN) & 15;
        }
        add_finding(s, d, finding);
        if (!judged || m->edge[i] >= j->edge_fold.smallest) continue;
        j->edge_fold.smallest = m->edge[i];
        j->edge_fold.smallest_hole = b->hole;
    }
    begin(s, PP_DRIFT);
    j->drift_fold.largest = NAN;
    for (size_t i = 0; i < d->tubes; i++) {
        if (isnan(m->drift[i]) || m->drift[i] <= j->drift_fold.largest) continue;
        j->drift_fold.largest = m->drift[i];
        j->drift_fold.largest_hole = (uint32_t)i;
    }
}

static void judge_plate(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    pp_section *straightedge;
    TAKE(straightedge, 2);
    double u = 0.0141, value = s->flatness.minimum_zone.flatness;
    double gap = s->flatness.straightedge[0].gap;
    begin(s, PP_FLATNESS);
    add_finding(s, d,
                (pp_finding){.characteristic = PP_FLATNESS,
                             .class_ = value > 1.5 ? PP_CLASS_OUT : PP_CLASS_IN,
                             .verdict = verdict_of(value, u, NAN, 1.5) & 15,
                             .value = value});
    add_rest(s, d, u, PP_NONE);
    begin(s, PP_STRAIGHTEDGE);
    const pp_finding *finding =
        add_finding(s, d,
                    (pp_finding){.characteristic = PP_STRAIGHTEDGE,
                                 .class_ = gap > 1.2 ? PP_CLASS_OUT : PP_CLASS_IN,
                                 .verdict = verdict_of(gap, u, NAN, 1.2) & 15,
                                 .value = gap});
    add_rest(s, d, u, PP_NONE);
    straightedge[0] = (pp_section){.verdict = finding->verdict, .judged = 1};
    j->straightedge_count = 2;
    j->straightedge = straightedge;
}

static void judge_strays(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    begin(s, PP_EXTRA_HOLE);
    if (d->conforming) return;
    uint32_t *plugged;
    pp_finding finding = {.characteristic = PP_EXTRA_HOLE,
                          .class_ = PP_CLASS_OUT,
                          .verdict = PP_DOES_NOT_CONFORM,
                          .subject = (uint32_t)m->extra_first,
                          .value = NAN};
    add_finding(s, d, finding);
    add_rest(s, d, NAN, PP_NONE);
    begin(s, PP_MISDRILLED);
    finding.characteristic = PP_MISDRILLED;
    finding.subject = m->close[0].a;
    finding.value = m->close[0].ligament;
    add_finding(s, d, finding);
    add_rest(s, d, NAN, m->close[0].b);
    TAKE(plugged, 1);
    j->misdrilled_count = j->misdrilled_pairs = j->plugged_count = 1;
    j->misdrilled = m->close;
    j->plugged = plugged;
}

static void judge_others(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    pp_other_verdict *others;
    TAKE(others, OTHERS);
    for (uint32_t k = 0; k < OTHERS; k++) {
        uint32_t hole = (uint32_t)d->tubes + k, bore = d->bore_of[PP_ENTRY][hole];
        others[k] = (pp_other_verdict){hole, d->bores[bore].position, d->bores[bore].diameter_mean,
                                       PP_CONFORMS};
    }
    j->others_count = OTHERS;
    j->others = others;
}

/* failing findings first, then the unproven ones */
static void sort_exceptions(pp_sample *s, draft *d)
{
    pp_judgement *j = &s->judgement;
    uint32_t *sorted;
    TAKE(sorted, j->exception_count + 1);
    size_t count = 0;
    for (int verdict = PP_DOES_NOT_CONFORM; verdict >= PP_NOT_PROVEN; verdict--)
        for (size_t i = 0; i < j->exception_count; i++)
            if (d->findings[d->exceptions[i]].verdict == verdict)
                sorted[count++] = d->exceptions[i];
    j->exceptions = sorted;
}

void sample_make_judgement(pp_sample *s, draft *d)
{
    static const char *const judged[] = {"flatness", "straightedge", "position",
                                         "diameter", "ligament",     "edge"};
    static const char *const not_judged[] = {"drift"};
    static const char *const cautions[] = {
        "Exit face read on some holes only: drift seen on these alone.",
        "Instrument GAUGE: calibration was due 2026-10-01, before the inspection date 2026-11-20.",
        "Flatness is as laid, at the surveyed points."};
    pp_judgement *j = &s->judgement;
    const pp_measures *m = &s->measures;
    j->job = &s->job;
    j->limits = &s->limits;
    j->measures = m;
    j->files = &s->files;
    TAKE(d->findings, 3 * m->bore_count + m->ligament_count + 8);
    TAKE(d->rest, 4);
    TAKE(d->exceptions, 3 * m->bore_count + m->ligament_count + 8);
    judge_plate(s, d);
    judge_positions(s, d);
    judge_diameters(s, d);
    judge_ligaments(s, d);
    judge_edges(s, d);
    judge_strays(s, d);
    judge_others(s, d);
    sort_exceptions(s, d);
    j->findings = d->findings;
    j->rest = d->rest;
    j->judged_count = 6;
    j->judged = judged;
    j->not_judged_count = 1;
    j->not_judged = not_judged;
    j->caution_count = 3;
    j->cautions = cautions;
    j->decision_rule = "guarded (ISO 14253-1): conforms or not only where proven beyond a guard "
                       "band of 1.645 standard uncertainties";
    j->basis = sample_name(s, "%u of %u holes, entry face; exit face in part",
                           (unsigned)m->measured, (unsigned)d->tubes);
    for (int c = 0; c < PP_CHARACTERISTICS; c++)
        if (j->section[c].verdict > j->verdict) j->verdict = j->section[c].verdict;
}
