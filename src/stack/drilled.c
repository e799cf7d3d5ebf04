#include "stack/drilled.h"

#include <math.h>
#include <string.h>

#include "base/stats.h"

static const double CHECKS_P = 0.05; /* one-sided, of the bounds on wander */
enum { CHECK_HOLES_LEAST = 3 };

typedef struct reckoning {
    const pp_drilled_spec *spec;
    const pp_nominal *nominal;
    const pp_measures *const *measures;
    pp_memory *memory;
    pp_drilled d;
    double from, to; /* heights of the line's ends */
} reckoning;

/* Layers -------------------------------------------------------------------------------- */

static pp_status stack_heights(reckoning *r, pp_error *error)
{
    size_t n = r->spec->layer_count;
    double *low, *high, height = 0;
    PP_TAKE(low, &r->memory->keep, n);
    PP_TAKE(high, &r->memory->keep, n);
    for (size_t k = 0; k < n; k++) {
        const pp_layer *layer = &r->spec->layers[r->spec->order[k]];
        if (!(layer->thickness > 0))
            return pp_fail_at(error, PP_EINPUT, r->spec->job_file, layer->line, 0,
                              "the thickness of layer %s is not given, and the height of its holes "
                              "hangs on it; give thickness there or under [plate]",
                              layer->name);
        low[k] = height;
        height += layer->thickness;
        high[k] = height;
    }
    r->d.low = low;
    r->d.high = high;
    return PP_OK;
}

static pp_status sort_layers(reckoning *r, pp_error *error)
{
    size_t n = r->spec->layer_count;
    pp_layer_how *how;
    const pp_measures **kept;
    PP_TAKE(how, &r->memory->keep, n);
    PP_TAKE(kept, &r->memory->keep, n);
    r->d.layer_count = n;
    r->d.layer = r->spec->order;
    r->d.bottom = SIZE_MAX;
    for (size_t k = 0; k < n; k++) {
        kept[k] = r->measures[k];
        if (!kept[k]) continue;
        if (r->d.bottom == SIZE_MAX) r->d.bottom = k;
        r->d.top = k;
        r->d.measured_count++;
    }
    for (size_t k = 0; k < n; k++)
        how[k] = kept[k]                           ? PP_LAYER_MEASURED
                 : k > r->d.bottom && k < r->d.top ? PP_LAYER_BETWEEN
                                                   : PP_LAYER_BEYOND;
    r->d.how = how;
    r->d.measures = kept;
    r->d.bottom_face = r->measures[r->d.bottom]->faces[PP_EXIT] ? PP_EXIT : PP_ENTRY;
    r->d.top_face = r->measures[r->d.top]->faces[PP_ENTRY] ? PP_ENTRY : PP_EXIT;
    r->from = r->d.bottom_face == PP_EXIT ? r->d.low[r->d.bottom] : r->d.high[r->d.bottom];
    r->to = r->d.top_face == PP_ENTRY ? r->d.high[r->d.top] : r->d.low[r->d.top];
    return PP_OK;
}

static double height_of(const reckoning *r, size_t place, int face)
{
    return face == PP_ENTRY ? r->d.high[place] : r->d.low[place];
}

static double lambda_of(const reckoning *r, size_t place, int face)
{
    return (height_of(r, place, face) - r->from) / (r->to - r->from);
}

/* The line ------------------------------------------------------------------------------ */

static const pp_bore *bore_of(const pp_measures *m, size_t hole, int face)
{
    uint32_t at = m->bore_of[face][hole];
    return at == PP_NONE ? NULL : &m->bores[at];
}

/* Off nominal, of both ends; false where the hole is missing in one of the lists. */
static bool ends_of(const reckoning *r, size_t hole, double low[2], double high[2])
{
    const pp_bore *b = bore_of(r->measures[r->d.bottom], hole, r->d.bottom_face);
    const pp_bore *t = bore_of(r->measures[r->d.top], hole, r->d.top_face);
    if (!b || !t) return false;
    low[0] = b->at.x - r->nominal->x[hole], low[1] = b->at.y - r->nominal->y[hole];
    high[0] = t->at.x - r->nominal->x[hole], high[1] = t->at.y - r->nominal->y[hole];
    return true;
}

static double square(double x) { return x * x; }

static double reading_variance(const reckoning *r)
{
    double u = r->spec->position;
    return pp_given(u) ? square(0.5 * u) : 0;
}

/* What both lists have in common does not average out: scale and temperature, with the distance. */
static double common_variance(const reckoning *r, double x, double y)
{
    const pp_alignment *a = &r->measures[r->d.bottom]->alignment;
    double distance = hypot(x - a->reference_x, y - a->reference_y);
    double metre = r->spec->per_metre;
    double kelvin = r->spec->temperature, sum = 0;
    if (pp_given(metre)) sum += square(metre * distance / 2000);
    if (pp_given(kelvin)) sum += square(r->spec->expansion * distance * kelvin / 2);
    return sum;
}

/* Standard uncertainty of one coordinate of a hole between the readings; NaN: nothing tells how far
 * holes leave the straight line, or how good the readings are. */
static double between_u(const reckoning *r, double lambda, double x, double y)
{
    double bulge = 4 * lambda * (1 - lambda);
    if (!pp_given(r->spec->position)) return NAN;
    return sqrt((square(1 - lambda) + square(lambda)) * reading_variance(r) +
                common_variance(r, x, y) + square(bulge * r->d.wander));
}

/* Wander -------------------------------------------------------------------------------- */

typedef struct offsets { /* of a measured layer from the line: sums over its holes */
    double n, x, y, xx, yy, xy;
} offsets;

static offsets add_up(const reckoning *r, size_t place, int face, double lambda)
{
    offsets o = {0};
    for (size_t hole = 0; hole < r->nominal->count; hole++) {
        const pp_bore *b = bore_of(r->measures[place], hole, face);
        double low[2], high[2];
        if (!b || r->nominal->kind[hole] != PP_TUBE_HOLE || !ends_of(r, hole, low, high)) continue;
        double x = b->at.x - r->nominal->x[hole] - ((1 - lambda) * low[0] + lambda * high[0]);
        double y = b->at.y - r->nominal->y[hole] - ((1 - lambda) * low[1] + lambda * high[1]);
        o.n += 1, o.x += x, o.y += y, o.xx += x * x, o.yy += y * y, o.xy += x * y;
    }
    return o;
}

/* Hotelling's T2 of the mean offset being nought. */
static double slip_p(const offsets *o)
{
    double n = o->n, mx = o->x / n, my = o->y / n;
    double sxx = (o->xx - n * mx * mx) / (n - 1), syy = (o->yy - n * my * my) / (n - 1);
    double sxy = (o->xy - n * mx * my) / (n - 1), det = sxx * syy - sxy * sxy;
    if (!(det > 0)) return NAN;
    double t2 = n * (syy * mx * mx - 2 * sxy * mx * my + sxx * my * my) / det;
    return pp_fisher_upper((n - 2) / (2 * (n - 1)) * t2, 2, n - 2);
}

static pp_drilled_check check_of(const reckoning *r, size_t place, int face, double lambda,
                                 const offsets *o)
{
    double freedom = 2 * o->n, mean = (o->xx + o->yy) / freedom;
    pp_drilled_check c = {.place = place,
                          .face = (uint8_t)face,
                          .holes = (size_t)o->n,
                          .slip_x = o->x / o->n,
                          .slip_y = o->y / o->n,
                          .slip_p = slip_p(o),
                          .squares = o->xx + o->yy,
                          .bulge = 4 * lambda * (1 - lambda)};
    c.own = reading_variance(r) * (1 + square(1 - lambda) + square(lambda));
    double upper = c.squares / pp_chi2_quantile(CHECKS_P, 1 - CHECKS_P, freedom);
    c.wander = sqrt(fmax(mean - c.own, 0)) / c.bulge;
    c.wander_upper = sqrt(fmax(upper - c.own, 0)) / c.bulge;
    return c;
}

static pp_status check_layers(reckoning *r, pp_error *error)
{
    pp_drilled_check *checks;
    PP_TAKE(checks, &r->memory->keep, 2 * r->d.layer_count);
    for (size_t k = r->d.bottom; k <= r->d.top; k++)
        for (int face = PP_EXIT; face >= PP_ENTRY; face--) {
            if (!r->measures[k] || !r->measures[k]->faces[face]) continue;
            double lambda = lambda_of(r, k, face);
            if (!(lambda > 0 && lambda < 1)) continue;
            offsets o = add_up(r, k, face, lambda);
            if (o.n < CHECK_HOLES_LEAST) continue;
            checks[r->d.check_count++] = check_of(r, k, face, lambda, &o);
        }
    r->d.checks = checks;
    return PP_OK;
}

/* The larger of what is stated and what measured layers show. */
static void choose_wander(reckoning *r)
{
    double stated = r->spec->wander / 2;
    r->d.wander = NAN;
    if (pp_given(stated)) {
        r->d.wander = stated;
        r->d.wander_source = PP_WANDER_JOB;
    }
    for (size_t i = 0; i < r->d.check_count; i++) {
        const pp_drilled_check *c = &r->d.checks[i];
        double freedom = 2 * (double)c->holes, expected = c->own + square(c->bulge * stated);
        if (pp_given(stated) &&
            c->squares > pp_chi2_quantile(1 - CHECKS_P, CHECKS_P, freedom) * expected)
            r->d.wanders_more = true;
        if (pp_given(r->d.wander) && c->wander_upper <= r->d.wander) continue;
        r->d.wander = c->wander_upper;
        r->d.wander_source = PP_WANDER_LAYERS;
        r->d.wander_layer = c->place;
    }
}

/* Rows ---------------------------------------------------------------------------------- */

static pp_drilled_row row_at(const reckoning *r, size_t hole, size_t place, int face, double dx,
                             double dy, double u)
{
    return (pp_drilled_row){.hole = (uint32_t)hole,
                            .place = (uint32_t)place,
                            .face = (uint8_t)face,
                            .x = r->nominal->x[hole] + dx,
                            .y = r->nominal->y[hole] + dy,
                            .dx = dx,
                            .dy = dy,
                            .position = 2 * hypot(dx, dy),
                            .u = 2 * u};
}

static void add_rows(reckoning *r, size_t hole, size_t place, bool known, const double low[2],
                     const double high[2], pp_drilled_row *rows)
{
    const pp_measures *m = r->measures[place];
    for (int face = PP_EXIT; face >= PP_ENTRY; face--) {
        const pp_bore *b = m ? bore_of(m, hole, face) : NULL;
        if (b) {
            pp_bore_error e = pp_bore_error_of(m, m->bore_of[face][hole]);
            rows[r->d.count++] = row_at(r, hole, place, face, b->at.x - r->nominal->x[hole],
                                        b->at.y - r->nominal->y[hole], e.u_centre);
            rows[r->d.count - 1].position = b->position;
            rows[r->d.count - 1].u = e.position.u;
        } else if (r->d.how[place] == PP_LAYER_BETWEEN && known) {
            double lambda = lambda_of(r, place, face);
            double dx = (1 - lambda) * low[0] + lambda * high[0];
            double dy = (1 - lambda) * low[1] + lambda * high[1];
            rows[r->d.count++] =
                row_at(r, hole, place, face, dx, dy,
                       between_u(r, lambda, r->nominal->x[hole], r->nominal->y[hole]));
        }
    }
}

static pp_status list_rows(reckoning *r, pp_error *error)
{
    pp_drilled_row *rows;
    PP_TAKE(rows, &r->memory->keep, 2 * r->d.layer_count * r->nominal->count);
    for (size_t hole = 0; hole < r->nominal->count; hole++) {
        double low[2] = {0}, high[2] = {0};
        bool known = r->to > r->from && ends_of(r, hole, low, high);
        r->d.lost += !known;
        for (size_t k = 0; k < r->d.layer_count; k++) add_rows(r, hole, k, known, low, high, rows);
    }
    r->d.rows = rows;
    return PP_OK;
}

pp_drilled_spec pp_drilled_spec_of(const pp_job *job)
{
    return (pp_drilled_spec){.layer_count = job->layer_count,
                             .layers = job->layers,
                             .order = job->stack.order,
                             .wander = job->stack.uncertainty_wander,
                             .position = job->holes.uncertainty_position,
                             .per_metre = job->holes.uncertainty_per_metre,
                             .temperature = job->holes.uncertainty_temperature,
                             .expansion = job->holes.expansion,
                             .job_file = job->path};
}

pp_status pp_drilled_reckon(const pp_drilled_spec *spec, const pp_nominal *nominal,
                            const pp_measures *const *measures, pp_memory *memory,
                            pp_drilled *drilled, pp_error *error)
{
    reckoning r = {.spec = spec, .nominal = nominal, .measures = measures, .memory = memory};
    PP_TRY(stack_heights(&r, error));
    PP_TRY(sort_layers(&r, error));
    PP_TRY(check_layers(&r, error));
    choose_wander(&r);
    PP_TRY(list_rows(&r, error));
    *drilled = r.d;
    return PP_OK;
}
