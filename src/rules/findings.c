#include "base/parallel.h"
#include "rules/making.h"

/* Is there anything about it that a list of exceptions might want? */
static bool is_unsure(const pp_made *f)
{
    return f->verdict >= PP_NOT_PROVEN || (f->verdict == PP_CONFORMS && f->proven_standard != 1);
}

static void note(const pp_made *f, double *largest_u, size_t *unsure)
{
    if (f->verdict == PP_NOT_JUDGED) return;
    if ((double)f->u > *largest_u) *largest_u = (double)f->u;
    *unsure += is_unsure(f);
}

static pp_finding finding_of(const pp_made *made)
{
    return (pp_finding){.value = made->value,
                        .subject = made->subject,
                        .characteristic = made->characteristic,
                        .face = made->face,
                        .class_ = made->class_,
                        .verdict = made->verdict,
                        .proven_standard = made->proven_standard};
}

/* Where the rest of the next findings goes; NULL: they are by index. */
static pp_finding_rest *rest_of(const pp_finding_maker *m, int which)
{
    const pp_judgement *out = m->j->out;
    if (pp_characteristic_of(which)->by_index) return NULL;
    return m->j->rest + out->rest_first[which] + (m->next - out->first[which]);
}

void pp_findings_add(pp_finding_maker *m, pp_made finding)
{
    uint8_t which = finding.characteristic;
    if (m->fill) {
        pp_finding_rest *rest = rest_of(m, which);
        m->j->findings[m->next] = finding_of(&finding);
        if (rest) *rest = (pp_finding_rest){finding.u, finding.other};
        note(&finding, &m->j->largest_u[which], &m->j->unsure[which]);
    }
    m->next++;
}

static pp_status block_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    pp_finding_block *b = context;
    size_t end = pp_part_begin(b->count, PP_BLOCK_PARTS, part + 1);
    for (size_t i = pp_part_begin(b->count, PP_BLOCK_PARTS, part); i < end; i++) {
        pp_made made;
        b->make(b, i, &made);
        b->findings[i] = finding_of(&made);
        if (b->rest) b->rest[i] = (pp_finding_rest){made.u, made.other};
        note(&made, &b->largest_u[part], &b->unsure[part]);
    }
    return PP_OK;
}

pp_status pp_findings_add_block(pp_finding_maker *m, pp_finding_block b, pp_error *error)
{
    if (m->fill) {
        b.j = m->j;
        b.findings = m->j->findings + m->next;
        b.rest = rest_of(m, (int)b.which);
        PP_TRY(pp_parallel(m->j->threads, PP_BLOCK_PARTS, block_part, &b, error));
        for (size_t p = 0; p < PP_BLOCK_PARTS; p++) {
            m->j->largest_u[b.which] = fmax(m->j->largest_u[b.which], b.largest_u[p]);
            m->j->unsure[b.which] += b.unsure[p];
        }
    }
    m->next += b.count;
    return PP_OK;
}

pp_made pp_finding_blank(pp_characteristic which, uint32_t subject)
{
    return (pp_made){.value = NAN,
                     .u = NAN,
                     .subject = subject,
                     .other = PP_NONE,
                     .characteristic = (uint8_t)which};
}

/* A value with one limit only. */
static pp_made one_sided(pp_characteristic which, uint32_t subject, double value, double u,
                         pp_verdict verdict, bool inside)
{
    pp_made f = pp_finding_blank(which, subject);
    f.value = value;
    f.u = (float)u;
    f.verdict = (unsigned)verdict & 0xFu;
    if (verdict != PP_NOT_JUDGED) f.class_ = inside ? PP_CLASS_IN : PP_CLASS_OUT;
    return f;
}

pp_made pp_finding_upper_side(const pp_judging *j, pp_characteristic which, uint32_t subject,
                              double value, double u, double limit)
{
    pp_verdict verdict = pp_decide_upper(value, limit, pp_guard_of(j, u));
    return one_sided(which, subject, value, u, verdict, pp_at_most(value, limit));
}

pp_made pp_finding_between(const pp_judging *j, pp_characteristic which, uint32_t subject,
                           double value, double u, double low, double high, double limit)
{
    if (j->guard == 0) return pp_finding_upper_side(j, which, subject, value, u, limit);
    pp_verdict verdict = pp_decide_between(low, high, limit);
    return one_sided(which, subject, value, u, verdict, pp_at_most(value, limit));
}

pp_made pp_finding_lower_side(const pp_judging *j, pp_characteristic which, uint32_t subject,
                              double value, double u, double limit)
{
    pp_verdict verdict = pp_decide_lower(value, limit, pp_guard_of(j, u));
    return one_sided(which, subject, value, u, verdict, pp_at_least(value, limit));
}

pp_status pp_find_all(pp_judging *j, pp_error *error)
{
    pp_finding_maker m = {.j = j};
    size_t rest = 0;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        j->out->first[which] = m.next;
        j->out->rest_first[which] = rest;
        PP_TRY(pp_characteristic_of(which)->find(&m, (pp_characteristic)which, error));
        if (!pp_characteristic_of(which)->by_index) rest += m.next - j->out->first[which];
    }
    j->out->first[PP_CHARACTERISTICS] = j->out->count = m.next;
    PP_TAKE(j->findings, &j->memory->keep, m.next);
    PP_TAKE(j->rest, &j->memory->keep, rest);
    m = (pp_finding_maker){.j = j, .fill = true};
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        PP_TRY(pp_characteristic_of(which)->find(&m, (pp_characteristic)which, error));
    j->out->findings = j->findings;
    j->out->rest = j->rest;
    return PP_OK;
}
