#include "report/bundle/bundle_tables.h"

#include <math.h>
#include <string.h>

static const double DEGREES = 57.29577951308232;

typedef struct table {
    const char *name, *header;
} table;

static const table TABLES[] = {
    [PP_BUNDLE_TUBES] = {"bundle_tubes.csv",
                         "tube,plates,margin_set_out,margin,u,class,why,decides_plate,decides_hole,"
                         "decides_edge,stress,stress_worst,push,push_worst,contact,verdict\n"},
    [PP_BUNDLE_PLATES] = {"bundle_plates.csv",
                          "plate,role,front,thickness,holes,expected,missing,dx,dy,angle_deg,moved,"
                          "decides\n"},
    [PP_BUNDLE_FORCES] = {"bundle_forces.csv", "tube,plate,edge,fx,fy,moment\n"},
    [PP_BUNDLE_MATES] = {"bundle_mates.csv", "kind,tube,plate,hole\n"},
};

const char *pp_bundle_table_name(pp_bundle_table which) { return TABLES[which].name; }

bool pp_bundle_table_is_due(const pp_bundle_results *results, pp_bundle_table which)
{
    const pp_mates *m = &results->bundle->mates;
    if (which == PP_BUNDLE_FORCES) return results->bundle->force_count > 0;
    if (which == PP_BUNDLE_MATES) return m->missing_count + m->stray_count + m->doubled_count > 0;
    return true;
}

/* ---- cells ---- */

/* Quoted where RFC 4180 asks for it; what a spreadsheet would run as a formula gets an apostrophe.
 */
static void put_text(pp_text *t, const char *cell)
{
    bool formula = cell && cell[0] && strchr("=+-@\t\r", cell[0]);
    if (!cell) return;
    if (!formula && !strpbrk(cell, ",\"\r\n")) {
        pp_text_add(t, cell);
        return;
    }
    pp_text_add(t, formula ? "\"'" : "\"");
    for (const char *c = cell; *c; c++) {
        if (*c == '"') pp_text_add(t, "\"");
        pp_text_add_bytes(t, c, 1);
    }
    pp_text_add(t, "\"");
}

static void put_real(pp_text *t, double value)
{
    pp_text_add(t, ",");
    if (isfinite(value)) pp_text_add_number(t, value);
}

static const char *edge_name(const pp_bundle *s, uint32_t tube, size_t disc)
{
    const pp_discs *d = &s->mates.discs;
    bool rear = disc > d->first[tube] && d->plate[disc - 1] == d->plate[disc];
    return rear ? "rear" : "front";
}

/* ---- rows ---- */

static void add_tube(pp_text *t, const pp_bundle_results *r, size_t k)
{
    const pp_bundle *s = r->bundle;
    const pp_bundle_tube *tube = &s->tube[k];
    const pp_tube_judgement *j = &r->judgement->tube[k];
    bool bent = tube->bends && s->bending, in = bent && tube->went_in;
    put_text(t, s->mates.tubes.name[k]);
    pp_text_print(t, ",%zu", tube->plates);
    put_real(t, tube->margin_set_out);
    put_real(t, tube->margin);
    put_real(t, tube->u);
    pp_text_print(t, ",%s,", pp_pass_class_words((pp_pass_class)j->class_));
    put_text(t, pp_pass_why_words((pp_pass_why)j->why));
    pp_text_add(t, ",");
    if (tube->decisive_count) {
        const pp_mates *m = &s->mates;
        size_t disc = tube->decisive[0].disc;
        put_text(t, s->set->plates[m->discs.plate[disc]].name);
        pp_text_add(t, ",");
        put_text(t, m->hole_name[m->hole[disc]]);
        pp_text_print(t, ",%s", edge_name(s, (uint32_t)k, disc));
    } else {
        pp_text_add(t, ",,");
    }
    put_real(t, bent ? tube->bent.stress : NAN);
    put_real(t, in ? tube->going_in.stress : NAN);
    put_real(t, bent ? pp_bundle_push_of(s, tube->bent.forces) : NAN);
    put_real(t, in ? pp_bundle_push_of(s, tube->going_in.forces) : NAN);
    put_real(t, bent ? tube->bent.contact : NAN);
    pp_text_print(t, ",%s\n", pp_verdict_words((pp_verdict)j->verdict));
}

static void add_tubes(pp_text *t, const pp_bundle_results *r)
{
    for (size_t k = 0; k < r->bundle->mates.tubes.count; k++) add_tube(t, r, k);
}

static void add_plates(pp_text *t, const pp_bundle_results *r)
{
    const pp_bundle *s = r->bundle;
    for (size_t p = 0; p < s->set->plate_count; p++) {
        const pp_set_plate *plate = &s->set->plates[p];
        const pp_plate_mates *m = &s->mates.plate[p];
        const pp_move *move = &s->move[p];
        put_text(t, plate->name);
        pp_text_print(t, ",%s", pp_plate_role_name(plate->role));
        put_real(t, plate->front);
        put_real(t, plate->thickness);
        pp_text_print(t, ",%zu,%zu,%zu", m->holes, m->expected, m->missing);
        put_real(t, move->dx);
        put_real(t, move->dy);
        put_real(t, move->angle * DEGREES);
        put_real(t, pp_bundle_moved(s, p));
        put_real(t, s->placed_given ? pp_bundle_plate_share(s, p) : NAN);
        pp_text_add(t, "\n");
    }
}

static void add_forces(pp_text *t, const pp_bundle_results *r)
{
    const pp_bundle *s = r->bundle;
    const pp_discs *d = &s->mates.discs;
    for (size_t k = 0; k < d->tubes; k++) {
        const pp_bundle_tube *tube = &s->tube[k];
        for (size_t i = 0; tube->force_first != SIZE_MAX && i < 2 * tube->plates; i++) {
            const pp_edge_force *f = &s->force[tube->force_first + i];
            if (!f->touches) continue;
            put_text(t, s->mates.tubes.name[k]);
            pp_text_add(t, ",");
            put_text(t, s->set->plates[d->plate[d->first[k] + i]].name);
            pp_text_print(t, ",%s", i % 2 ? "rear" : "front");
            put_real(t, f->fx);
            put_real(t, f->fy);
            put_real(t, f->moment);
            pp_text_add(t, "\n");
        }
    }
}

static void add_mate(pp_text *t, const pp_bundle_results *r, const char *kind, const char *tube,
                     uint32_t plate, const char *hole)
{
    pp_text_print(t, "%s,", kind);
    put_text(t, tube);
    pp_text_add(t, ",");
    put_text(t, r->set->plates[plate].name);
    pp_text_add(t, ",");
    put_text(t, hole);
    pp_text_add(t, "\n");
}

static void add_mates(pp_text *t, const pp_bundle_results *r)
{
    const pp_mates *m = &r->bundle->mates;
    for (size_t i = 0; i < m->missing_count; i++)
        add_mate(t, r, "missing", m->tubes.name[m->missing[i].tube], m->missing[i].plate, NULL);
    for (size_t i = 0; i < m->stray_count; i++)
        add_mate(t, r, "stray", NULL, m->stray[i].plate, m->stray[i].hole);
    for (size_t i = 0; i < m->doubled_count; i++)
        for (size_t k = 0; k < m->doubled[i].count; k++)
            add_mate(t, r, "doubly used", m->tubes.name[m->doubled[i].tube], m->doubled[i].plate,
                     m->doubled[i].hole[k]);
}

pp_status pp_bundle_table_write(const pp_bundle_results *results, pp_bundle_table which,
                                pp_text *text, pp_error *error)
{
    pp_text_add(text, TABLES[which].header);
    switch (which) {
    case PP_BUNDLE_TUBES:
        add_tubes(text, results);
        break;
    case PP_BUNDLE_PLATES:
        add_plates(text, results);
        break;
    case PP_BUNDLE_FORCES:
        add_forces(text, results);
        break;
    case PP_BUNDLE_MATES:
        add_mates(text, results);
        break;
    case PP_BUNDLE_TABLES:
        break;
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}
