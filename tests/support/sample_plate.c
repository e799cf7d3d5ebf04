/* Survey, flatness and hold-down of the sample answer. */
#include "base/constants.h"
#include "support/sample_draft.h"

static double height_at(const draft *d, double x, double y)
{
    return (d->conforming ? 1.0 : 2.1) * (x * x + 0.6 * y * y) / (d->radius * d->radius);
}

static void make_survey(pp_sample *s, draft *d)
{
    double *x, *y, *z;
    size_t count = (size_t)SURVEY_SIDE * SURVEY_SIDE;
    TAKE(x, count);
    TAKE(y, count);
    TAKE(z, count);
    for (size_t i = 0; i < count; i++) {
        x[i] = d->radius * 0.7 * ((double)(i % SURVEY_SIDE) / (SURVEY_SIDE - 1) * 2 - 1);
        y[i] = d->radius * 0.7 * ((double)(i / SURVEY_SIDE) / (SURVEY_SIDE - 1) * 2 - 1);
        z[i] = 412.5 + height_at(d, x[i], y[i]) + 0.004 * sample_normal(d);
    }
    s->survey = (pp_survey){
        .count = count, .x = x, .y = y, .z = z, .frame = {.cosine = 1}, .file = "survey.csv"};
}

static void make_map(pp_sample *s, const draft *d)
{
    double *height, *deviation, *gap;
    TAKE(height, MAP_COLUMNS * MAP_ROWS);
    TAKE(deviation, MAP_COLUMNS * MAP_ROWS);
    TAKE(gap, MAP_COLUMNS * MAP_ROWS);
    pp_map *map = &s->flatness.map;
    *map = (pp_map){.columns = MAP_COLUMNS,
                    .rows = MAP_ROWS,
                    .x0 = -d->radius,
                    .y0 = -d->radius,
                    .dx = 2 * d->radius / (MAP_COLUMNS - 1),
                    .dy = 2 * d->radius / (MAP_ROWS - 1),
                    .height = height,
                    .deviation = deviation};
    s->results.gap_map = gap;
    for (size_t i = 0; i < (size_t)MAP_COLUMNS * MAP_ROWS; i++) {
        double x = map->x0 + map->dx * (double)(i % MAP_COLUMNS);
        double y = map->y0 + map->dy * (double)(i / MAP_COLUMNS);
        bool inside = hypot(x, y) <= d->radius * (1 + 1e-12);
        double z = height_at(d, x, y);
        height[i] = inside ? 412.5 + z : NAN;
        deviation[i] = inside ? z - 0.42 : NAN;
        gap[i] = inside ? z : NAN;
    }
}

void sample_make_flatness(pp_sample *s, draft *d)
{
    make_survey(s, d);
    pp_flatness *f = &s->flatness;
    pp_straightedge *straightedge;
    pp_area *areas;
    TAKE(straightedge, 2);
    TAKE(areas, 2);
    double r = d->radius;
    f->points = s->survey.count;
    f->least_squares = (pp_least_squares){.plane = {{0.013, -0.021, 412.9137}, {0, 0, 1}},
                                          .flatness = d->conforming ? 0.7431 : 1.6137,
                                          .peak = d->conforming ? 0.4017 : 0.9018,
                                          .valley = d->conforming ? 0.3414 : 0.7119,
                                          .rms = 0.3321,
                                          .highest = 8,
                                          .lowest = 40};
    f->least_squares_slope = (pp_slope_form){true, 1.25e-5, -3.5e-6, 412.9137};
    f->minimum_zone = (pp_minimum_zone){.plane = {{0, 0, 413.1}, {0, 0, 1}},
                                        .flatness = d->conforming ? 0.7188 : 1.5000312,
                                        .witness_count = 4,
                                        .witness = {{8, 1}, {72, 1}, {80, 1}, {40, -1}},
                                        .exact = 1};
    f->minimum_zone_slope = (pp_slope_form){true, 1.1e-5, -2.9e-6, 413.1};
    f->surface_valid = true;
    f->surface = (pp_surface){.rms = 0.0039,
                              .noise = 0.0042,
                              .degrees_of_freedom = 11.7,
                              .standard_error = 0.0016,
                              .smoothing = 3.1,
                              .unseen_share = 0.183,
                              .unseen_x = r,
                              .pitch = 0.16 * r};
    straightedge[0] = (pp_straightedge){
        1000, fmin(1000, 2 * r), d->conforming ? 0.41 : 1.2314, 0.0007, false, 12.5, -40.25, 31.5};
    straightedge[1] = (pp_straightedge){2000, fmin(2000, 2 * r), 1.9021, 0.0011, true, 0, 0, 120};
    f->straightedge_count = 2;
    f->straightedge = straightedge;
    areas[0] = (pp_area){PP_AREA_HIGH, 0.183 * r * r, 0.9018, 0.7 * r, 0.7 * r,
                         0.4 * r,      0.3 * r,       r,      r,       d->tubes / 8};
    areas[1] = (pp_area){PP_AREA_LOW, 0.05 * r * r, 0.7119,  0.1 * r, 0,
                         -0.2 * r,    -0.2 * r,     0.2 * r, 0.2 * r, d->tubes / 10};
    f->area_count = 2;
    f->areas = areas;
    make_map(s, d);
}

/* All clamps on, then the first lifted for the hole beneath it. */
static void make_setups(pp_sample *s, size_t count, const uint32_t *blocked, pp_setup_list *list)
{
    static const pp_setup_action actions[] = {PP_STEP_TIGHTEN, PP_STEP_TIGHTEN, PP_STEP_DRILL,
                                              PP_STEP_LIFT,    PP_STEP_DRILL,   PP_STEP_PUT_BACK,
                                              PP_STEP_RELEASE, PP_STEP_RELEASE};
    static const uint32_t setup[] = {0, 0, 0, 1, 1, 1, 1, 1},
                          clamp[] = {1, 0, PP_NONE, 0, PP_NONE, 0, 0, 1};
    enum { STEPS = sizeof actions / sizeof *actions };
    pp_drill_setup *setups;
    pp_setup_step *steps;
    uint32_t *holes, *tighten;
    size_t n = 0;
    TAKE(setups, 2);
    TAKE(steps, STEPS);
    TAKE(holes, count);
    TAKE(tighten, 2);
    tighten[0] = 1, tighten[1] = 0;
    for (uint32_t i = 0; i < count; i++)
        if (i != blocked[0]) holes[n++] = i;
    setups[0] = (pp_drill_setup){.hole_count = n,
                                 .holes = holes,
                                 .worst_gap = 0.28,
                                 .worst_hole = holes[0],
                                 .largest_support_force = NAN,
                                 .travel = 640,
                                 .travel_by_rows = 576,
                                 .sweeps = 4};
    setups[1] = (pp_drill_setup){.lifted_count = 1,
                                 .lifted = tighten + 1,
                                 .hole_count = 1,
                                 .holes = blocked,
                                 .worst_gap = 0.11,
                                 .worst_hole = blocked[0],
                                 .largest_support_force = NAN,
                                 .sweeps = 1};
    for (size_t i = 0; i < STEPS; i++) steps[i] = (pp_setup_step){actions[i], setup[i], clamp[i]};
    *list = (pp_setup_list){2, setups, tighten, STEPS, steps};
}

void sample_make_holddown(pp_sample *s, draft *d)
{
    static const pp_verdict held[] = {PP_CONFORMS, PP_CONFORMS};
    pp_holddown *h = &s->holddown;
    pp_holddown_judgement *j = &s->holddown_judgement;
    pp_hold *holes;
    pp_hold_gap *gaps;
    uint8_t *class_;
    bool *uncertain;
    TAKE(holes, d->count);
    TAKE(gaps, d->count);
    TAKE(class_, d->count);
    TAKE(uncertain, d->count);
    for (size_t i = 0; i < d->count; i++) {
        double gap = height_at(d, d->x[i], d->y[i]);
        double under = fmax(0, gap - 0.62);
        holes[i] = (pp_hold){.gap = gap,
                             .gap_under_foot = under,
                             .force_to_close = gap <= 0.3  ? 0
                                               : gap > 1.7 ? NAN
                                                           : 9700 * (gap - 0.3),
                             .tilt = 1.31 * gap,
                             .shift = 0.0249 * gap,
                             .held_gap_under_foot = 1.07 * under,
                             .spring_back = 0.0182 * gap};
        gaps[i] = (pp_hold_gap){0.1 * gap, 0.1 * gap};
        class_[i] = gap <= 0.3 ? PP_SEATED : under <= 0.3 ? PP_SEATS_UNDER_FOOT : PP_NEEDS_HOLDDOWN;
        uncertain[i] = fabs(gap - 0.3) < 0.05;
        pp_hold_count(&j->counts, class_[i]);
        j->counts.uncertain += uncertain[i];
        h->largest_gap = fmax(h->largest_gap, gap);
        h->largest_gap_under_foot = fmax(h->largest_gap_under_foot, under);
        h->largest_force_to_close = fmax(h->largest_force_to_close, holes[i].force_to_close);
    }
    pp_area *areas;
    pp_clamp *plan;
    uint32_t *blocks;
    pp_shim *shims;
    TAKE(areas, 1);
    TAKE(plan, 2);
    TAKE(blocks, 1);
    TAKE(shims, 1);
    areas[0] = (pp_area){.side = PP_AREA_GAP,
                         .area = 0.4 * d->radius * d->radius,
                         .peak = 2.04,
                         .x = d->radius,
                         .xmin = 0.4 * d->radius,
                         .xmax = d->radius,
                         .ymin = -100,
                         .ymax = 100,
                         .holes = 5};
    blocks[0] = 1;
    plan[0] = (pp_clamp){.x = 0.9 * d->radius, .force = 7500, .block_count = 1, .blocks = blocks};
    plan[1] = (pp_clamp){.x = -0.9 * d->radius, .force = 8000};
    shims[0] = (pp_shim){.x = d->radius,
                         .pin = -1,
                         .hole = PP_NONE,
                         .gap = 2.04,
                         .thickness = 2.0,
                         .piece_count = 2,
                         .pieces = {1, 1}};
    h->support = PP_SUPPORT_TABLE;
    h->plate_weight = 9.80665 * 7850e-9 * 38 * PP_PI * d->radius * d->radius;
    h->touch_gap = 0.02;
    h->gap_limit = 0.3;
    h->foot_force = 6000;
    h->count = d->count;
    h->holes = holes;
    h->largest_support_force = 8123.4;
    h->flattening_stress = 21.7;
    h->largest_tilt = 2.67;
    h->largest_shift = 0.0507;
    h->largest_spring_back = 0.0371;
    h->contact_points = 853;
    h->touching = 37;
    h->area_count = 1;
    h->areas = areas;
    h->plan_found = true;
    h->clamp_count = 2;
    make_setups(s, d->count, blocks, &h->setups);
    j->setups = held;
    h->plan = plan;
    h->plan_worst_gap = 0.287;
    h->shim_count = 1;
    h->shims = shims;
    h->with_shims = gaps;
    h->with_shims_worst_gap = 0.21;
    double *after;
    TAKE(after, d->count);
    for (size_t i = 0; i < d->count; i++) after[i] = 0.28 * cos(0.001 * d->x[i]);
    h->gap_after = after;
    h->turned_over.valid = h->turned_over.about_x = true;
    h->turned_over.gaps = gaps;
    h->turned_over.worst_gap = 0.12;
    j->class_ = class_;
    j->uncertain = uncertain;
    j->ready = j->counts.needs_holddown == 0;
    j->clamping_advised = j->plan_found = j->turn_over = true;
    j->with_shims = (pp_hold_counts){.seated = d->count};
    j->turned = (pp_hold_counts){.seated = d->count - 1, .seats_under_foot = 1};
    s->holddown_words.advice = "Two clamps bring every hole within the gap limit.";
}
