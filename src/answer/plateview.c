#include "answer/plateview.h"

#include <math.h>

/* Radius drawn where neither limits nor job give a diameter: a share of the pitch. */
static const double RADIUS_OF_PITCH = 0.35;
static const double RADIUS_WITHOUT_PITCH = 8; /* mm */

const char *pp_hole_state_words(pp_hole_state state)
{
    switch (state) {
    case PP_HOLE_NOT_MEASURED:
        return "not measured";
    case PP_HOLE_CONFORMS:
        return "conforms";
    case PP_HOLE_REMAINDER:
        return "in the remainder";
    case PP_HOLE_NOT_PROVEN:
        return "not proven";
    case PP_HOLE_FAILS:
        return "does not conform";
    case PP_HOLE_PLUGGED:
        return "plugged";
    case PP_HOLE_NOT_JUDGED:
        return "not judged";
    case PP_HOLE_STATES:
        break;
    }
    return "";
}

static double tube_radius(const pp_results *results)
{
    double nominal = results->limits->hole_nominal.value;
    if (pp_given(nominal)) return nominal / 2;
    if (pp_given(results->job->holes.tube_diameter)) return results->job->holes.tube_diameter / 2;
    if (results->measures && pp_given(results->measures->pitch))
        return results->measures->pitch * RADIUS_OF_PITCH;
    return RADIUS_WITHOUT_PITCH;
}

static const uint8_t RANK[PP_HOLE_STATES] = {
    [PP_HOLE_NOT_MEASURED] = 0, [PP_HOLE_NOT_JUDGED] = 1, [PP_HOLE_CONFORMS] = 2,
    [PP_HOLE_REMAINDER] = 3,    [PP_HOLE_NOT_PROVEN] = 4, [PP_HOLE_FAILS] = 5,
    [PP_HOLE_PLUGGED] = 6};

/* The worse of what a hole shows already and what one more finding says of it. */
static void worsen(uint8_t *state, pp_hole_state seen)
{
    if (RANK[seen] > RANK[*state]) *state = (uint8_t)seen;
}

static pp_hole_state seen_in(const pp_finding *f)
{
    switch ((pp_verdict)f->verdict) {
    case PP_DOES_NOT_CONFORM:
        return PP_HOLE_FAILS;
    case PP_NOT_PROVEN:
        return PP_HOLE_NOT_PROVEN;
    case PP_CONFORMS:
        return f->class_ == PP_CLASS_REMAINDER ? PP_HOLE_REMAINDER : PP_HOLE_CONFORMS;
    case PP_NOT_JUDGED:
        break;
    }
    return PP_HOLE_NOT_JUDGED;
}

static void mark_hole(uint8_t *state, size_t count, uint32_t hole, pp_hole_state seen)
{
    if (hole < count) worsen(&state[hole], seen);
}

static void mark_findings(const pp_results *results, size_t count, uint8_t *state)
{
    const pp_judgement *j = results->judgement;
    const pp_measures *m = results->measures;
    for (size_t b = 0; b < m->bore_count; b++)
        mark_hole(state, count, m->bores[b].hole, PP_HOLE_NOT_JUDGED);
    for (size_t i = 0; i < j->count; i++) {
        const pp_finding *f = &j->findings[i];
        pp_hole_state seen = seen_in(f);
        switch (pp_characteristic_of(f->characteristic)->subject) {
        case PP_OF_HOLE:
        case PP_OF_FACE:
            mark_hole(state, count, f->subject, seen);
            break;
        case PP_OF_TWO_HOLES:
            mark_hole(state, count, f->subject, seen);
            mark_hole(state, count, pp_finding_other(j, f), seen);
            break;
        case PP_OF_TWO_BORES:
            mark_hole(state, count, m->bores[f->subject].hole, seen);
            mark_hole(state, count, m->bores[pp_finding_other(j, f)].hole, seen);
            break;
        case PP_OF_CHECK:
            mark_hole(state, count, pp_finding_other(j, f), seen);
            break;
        case PP_OF_PLATE:
        case PP_OF_STRAIGHTEDGE:
        case PP_OF_BORE:
            break;
        }
    }
    for (size_t i = 0; i < count; i++)
        if (m->plugged[i]) state[i] = PP_HOLE_PLUGGED;
}

static void find_bounds(const pp_results *results, const pp_nominal *nominal, pp_plate_view *view)
{
    const pp_job *job = results->job;
    pp_outline_spec outline = pp_job_outline(job);
    if (outline.kind != PP_OUTLINE_NONE) {
        pp_box box = pp_outline_box(&outline);
        view->xmin = box.x0, view->xmax = box.x1;
        view->ymin = box.y0, view->ymax = box.y1;
        return;
    }
    for (size_t i = 0; nominal && i < nominal->count; i++) {
        double r = view->radius[i] * 2, x = nominal->x[i], y = nominal->y[i];
        if (i == 0 || x - r < view->xmin) view->xmin = x - r;
        if (i == 0 || x + r > view->xmax) view->xmax = x + r;
        if (i == 0 || y - r < view->ymin) view->ymin = y - r;
        if (i == 0 || y + r > view->ymax) view->ymax = y + r;
    }
}

/* Which of two holes of one place to show: what fails before all else, then by rank, then the
 * first. */
static bool shows_before(const uint8_t *state, uint32_t a, uint32_t b)
{
    bool a_fails = state[a] == PP_HOLE_FAILS, b_fails = state[b] == PP_HOLE_FAILS;
    return a_fails != b_fails ? a_fails : RANK[state[a]] > RANK[state[b]];
}

enum { PLACES = 200 }; /* along the longer side: PLACES * PLACES = PP_VIEW_DRAWN_MAX */

/* The place in a row of them; what lies outside goes into the first or last. */
static size_t place_of(double offset, double longer)
{
    double place = offset / longer * PLACES;
    if (!(place > 0)) return 0;
    return place < PLACES - 1 ? (size_t)place : PLACES - 1;
}

static pp_status choose_drawn(const pp_nominal *nominal, pp_memory *memory, pp_plate_view *view,
                              pp_error *error)
{
    uint32_t *drawn;
    size_t count = view->count < PP_VIEW_DRAWN_MAX ? view->count : PP_VIEW_DRAWN_MAX;
    PP_TAKE(drawn, &memory->keep, count);
    view->drawn = drawn;
    view->drawn_count = count;
    for (uint32_t i = 0; i < count; i++) drawn[i] = i;
    if (view->count <= PP_VIEW_DRAWN_MAX) return PP_OK;

    pp_mark mark = pp_arena_mark(&memory->scratch);
    double longer = fmax(view->xmax - view->xmin, view->ymax - view->ymin);
    uint32_t *shown; /* [place] */
    PP_TAKE(shown, &memory->scratch, PLACES * PLACES);
    for (size_t i = 0; i < PLACES * PLACES; i++) shown[i] = PP_NONE;
    for (uint32_t i = 0; i < view->count; i++) {
        size_t column = place_of(nominal->x[i] - view->xmin, longer);
        size_t row = place_of(nominal->y[i] - view->ymin, longer);
        uint32_t *place = &shown[row * PLACES + column];
        if (*place == PP_NONE || shows_before(view->state, i, *place)) *place = i;
    }
    view->place = longer / PLACES;
    view->drawn_count = 0;
    for (size_t i = 0; i < PLACES * PLACES; i++)
        if (shown[i] != PP_NONE) drawn[view->drawn_count++] = shown[i];
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

pp_status pp_plate_view_make(const pp_results *results, pp_memory *memory, pp_plate_view *view,
                             pp_error *error)
{
    const pp_nominal *nominal = results->files ? &results->files->nominal : NULL;
    size_t count = nominal ? nominal->count : 0;
    uint8_t *state;
    double *radius, tube = tube_radius(results);
    PP_TAKE_ZERO(state, &memory->keep, count);
    PP_TAKE(radius, &memory->keep, count);
    for (size_t i = 0; i < count; i++) {
        bool own = nominal->kind[i] == PP_OTHER_HOLE && nominal->diameter &&
                   pp_given(nominal->diameter[i]);
        radius[i] = own ? nominal->diameter[i] / 2 : tube;
    }
    if (results->measures) mark_findings(results, count, state);
    *view = (pp_plate_view){.count = count, .state = state, .radius = radius};
    for (size_t i = 0; i < count; i++) view->counts[state[i]]++;
    find_bounds(results, nominal, view);
    return choose_drawn(nominal, memory, view, error);
}
