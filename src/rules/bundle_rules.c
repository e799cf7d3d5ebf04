#include "rules/bundle_rules.h"

#include "rules/decide.h"

double pp_bundle_stress(const pp_bundle *bundle, size_t tube)
{
    const pp_bundle_tube *t = &bundle->tube[tube];
    if (!t->bends || !bundle->bending) return NAN;
    return t->went_in ? t->going_in.stress : PP_GOING_IN_ALLOWANCE * t->bent.stress;
}

double pp_bundle_push(const pp_bundle *bundle, size_t tube)
{
    const pp_bundle_tube *t = &bundle->tube[tube];
    if (!t->bends || !bundle->bending) return NAN;
    return pp_bundle_push_of(bundle, t->went_in ? t->going_in.forces
                                                : PP_GOING_IN_ALLOWANCE * t->bent.forces);
}

/* Does a tube that is not straight bend through? */
static pp_tube_judgement judge_bending(const pp_bundle *b, size_t tube)
{
    const pp_set *set = b->set;
    const pp_bundle_tube *t = &b->tube[tube];
    if (pp_less_than(t->smallest, b->largest_diameter))
        return (pp_tube_judgement){.class_ = PP_PASS_NOT, .why = PP_WHY_SMALL_HOLE};
    if (!b->bending) return (pp_tube_judgement){.class_ = PP_PASS_NOT, .why = PP_WHY_NOT_STRAIGHT};
    if (!t->bends) return (pp_tube_judgement){.class_ = PP_PASS_BENDING}; /* less than asked for */
    if (pp_given(set->tube.yield_strength) &&
        pp_more_than(pp_bundle_stress(b, tube), set->stress_share * set->tube.yield_strength))
        return (pp_tube_judgement){.class_ = PP_PASS_NOT, .why = PP_WHY_STRESS};
    if (pp_given(set->push_limit) && pp_more_than(pp_bundle_push(b, tube), set->push_limit))
        return (pp_tube_judgement){.class_ = PP_PASS_NOT, .why = PP_WHY_PUSH};
    return (pp_tube_judgement){.class_ = PP_PASS_BENDING};
}

static pp_tube_judgement judge_tube(const pp_bundle *b, size_t tube, double guard)
{
    const pp_set *set = b->set;
    const pp_bundle_tube *t = &b->tube[tube];
    pp_tube_judgement j = {0};
    if (b->mates.incomplete[tube])
        return (pp_tube_judgement){PP_PASS_NOT, PP_WHY_NO_HOLE, PP_DOES_NOT_CONFORM};
    if (!t->enough) {
        j.verdict = b->mates.doubly[tube] ? PP_DOES_NOT_CONFORM : PP_NOT_JUDGED;
        return j;
    }
    bool straight = pp_at_least(t->margin, set->clearance_minimum);
    j = straight ? (pp_tube_judgement){.class_ = PP_PASS_STRAIGHT} : judge_bending(b, tube);
    pp_verdict verdict =
        pp_decide_lower(t->margin, set->clearance_minimum, guard > 0 ? guard * t->u : 0);
    if (set->accept == PP_ACCEPT_BENDING && verdict != PP_CONFORMS && !straight &&
        j.class_ == PP_PASS_BENDING)
        verdict = PP_CONFORMS;
    /* straight, though not surely: where bending is accepted it may take the little that is left,
     * but that was not computed for a tube that passes straight */
    j.verdict = (uint8_t)(b->mates.doubly[tube] ? PP_DOES_NOT_CONFORM : verdict);
    return j;
}

static void count(const pp_tube_judgement *j, pp_bundle_judgement *out)
{
    switch ((pp_pass_class)j->class_) {
    case PP_PASS_NOT_JUDGED:
        out->not_judged++;
        break;
    case PP_PASS_STRAIGHT:
        out->straight++;
        break;
    case PP_PASS_BENDING:
        out->bending++;
        break;
    case PP_PASS_NOT:
        out->not_passing++;
        break;
    }
    out->conform += j->verdict == PP_CONFORMS;
    out->not_proven += j->verdict == PP_NOT_PROVEN;
    out->not_conform += j->verdict == PP_DOES_NOT_CONFORM;
    out->verdict = pp_worse(out->verdict, (pp_verdict)j->verdict);
}

static void find_largest(const pp_bundle *b, pp_bundle_judgement *out)
{
    out->largest_stress_tube = out->largest_push_tube = PP_NONE;
    for (size_t k = 0; k < b->mates.tubes.count; k++) {
        double stress = pp_bundle_stress(b, k), push = pp_bundle_push(b, k);
        if (isnan(stress)) continue;
        const pp_bent *bent = b->tube[k].went_in ? &b->tube[k].going_in : &b->tube[k].bent;
        if (out->largest_stress_tube == PP_NONE || stress > out->largest_stress) {
            out->largest_stress = stress;
            out->largest_stress_tube = (uint32_t)k;
        }
        if (out->largest_push_tube == PP_NONE || push > out->largest_push) {
            out->largest_push = push;
            out->largest_push_tube = (uint32_t)k;
        }
        out->largest_contact = fmax(out->largest_contact, bent->contact);
    }
}

static size_t count_wrong_holes(const pp_mates *m)
{
    size_t wrong = m->doubled_count;
    for (size_t i = 0; i < m->stray_count; i++) wrong += m->stray[i].nominal_list;
    return wrong;
}

pp_status pp_bundle_judge(const pp_bundle *bundle, pp_memory *memory,
                          pp_bundle_judgement *judgement, pp_error *error)
{
    const pp_set *set = bundle->set;
    size_t tubes = bundle->mates.tubes.count;
    pp_bundle_judgement out = {.verdict = PP_NOT_JUDGED,
                               .guard = set->decision == PP_GUARDED ? PP_GUARD : 0};
    PP_TAKE(out.tube, &memory->keep, tubes);
    for (size_t k = 0; k < tubes; k++) {
        out.tube[k] = judge_tube(bundle, k, out.guard);
        count(&out.tube[k], &out);
        out.set_out_straight += bundle->tube[k].enough && !bundle->mates.incomplete[k] &&
                                pp_at_least(bundle->tube[k].margin_set_out, set->clearance_minimum);
    }
    /* of a tube that could not be judged nobody knows whether it goes through */
    if (out.not_judged && out.verdict == PP_CONFORMS) out.verdict = PP_NOT_PROVEN;
    out.wrong_holes = count_wrong_holes(&bundle->mates);
    if (out.wrong_holes) out.verdict = PP_DOES_NOT_CONFORM;
    find_largest(bundle, &out);
    PP_TRY(pp_bundle_words(bundle, memory, &out, error));
    *judgement = out;
    return PP_OK;
}

const char *pp_pass_class_words(pp_pass_class class_)
{
    static const char *const words[] = {
        [PP_PASS_NOT_JUDGED] = "not judged",
        [PP_PASS_STRAIGHT] = "passes straight",
        [PP_PASS_BENDING] = "passes by bending",
        [PP_PASS_NOT] = "does not pass",
    };
    return words[class_];
}

const char *pp_pass_why_words(pp_pass_why why)
{
    static const char *const words[] = {
        [PP_WHY_NO_HOLE] = "no hole",
        [PP_WHY_SMALL_HOLE] = "hole smaller than the tube",
        [PP_WHY_STRESS] = "stress",
        [PP_WHY_PUSH] = "push",
        [PP_WHY_NOT_STRAIGHT] = "not straight",
    };
    return why == PP_WHY_NONE ? NULL : words[why];
}
