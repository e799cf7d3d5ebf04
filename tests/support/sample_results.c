/* The sample answer: job, limits, diagnosis, inputs, and all of it put together. */
#include "support/sample_draft.h"

#include "support/check.h"

double sample_uniform(draft *d)
{
    d->random ^= d->random << 13, d->random ^= d->random >> 7, d->random ^= d->random << 17;
    return (double)(d->random >> 11) / 9007199254740992.0;
}

/* near enough to a normal deviate: the sum of twelve uniform ones */
double sample_normal(draft *d)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) sum += sample_uniform(d);
    return sum;
}

char *sample_name(pp_sample *s, const char *format, unsigned a, unsigned b)
{
    char name[64];
    int length = snprintf(name, sizeof name, format, a, b);
    char *copy = pp_arena_text(&s->memory.keep, name, (size_t)length);
    if (!copy) abort();
    return copy;
}

static void make_job(pp_sample *s, const pp_sample_options *o, const draft *d)
{
    pp_job *job = &s->job;
    memset(job, 0, sizeof *job);
    job->path = o->job_path ? o->job_path : "sample/plate.ini";
    job->name = "plate";
    job->title = o->hostile ? "<script>alert(1)</script> & \"title\"" : "Front tube plate, sample";
    job->customer = o->hostile ? "=cmd|'/c calc'!A1" : "Example Boilerworks";
    job->order = "PO-4711";
    job->item = "E-101";
    job->plate_id = "TP-12";
    job->plate_role = "front tube plate";
    job->serial = "0098";
    job->drawing = "D-2207";
    job->drawing_revision = "C";
    job->material = "carbon steel plate";
    job->heat_number = "H 61.402";
    job->procedure = "QP-17";
    job->inspector = "A. Sample";
    job->inspection_date = "2026-11-20";
    job->stage = "after drilling";
    job->report_number = "R-2026-118";
    job->report_revision = "1";
    job->supersedes = "R-2026-118 rev 0";
    job->date = "2026-11-21";
    job->units = o->inch ? PP_INCH : PP_MM;
    job->plate.outline = PP_OUTLINE_DISC;
    job->plate.diameter = 2 * d->radius;
    job->plate.thickness = 38;
    job->plate.thickness_variation = 0.6;
    job->plate.elastic_modulus = 206000;
    job->plate.poisson_ratio = 0.3;
    job->plate.density = 7850;
    job->plate.yield_strength = 260;
    job->survey.uncertainty = 0.02;
    job->survey.flatness_limit = 1.5;
    job->survey.area_threshold = 0.5;
    job->support.kind = PP_SUPPORT_TABLE;
    job->support.touch_gap = NAN;
    job->foot.force = 6000;
    job->foot.outer_diameter = 160;
    job->foot.inner_diameter = 90;
    job->foot.thrust = 2500;
    job->holddown.gap_limit = 0.3;
    job->holddown.force_cap = 200000;
    job->holddown.clamp_force_limit = 40000;
    job->holddown.clamp_pad = 80;
    job->holes.tube_diameter = TUBE;
    job->holes.pitch = PITCH;
    job->holes.entry_face_is = "tube side";
    job->holes.position_limit = POSITION_LIMIT;
    job->holes.temperature = 24;
    job->holes.expansion = 11.5e-6;
    job->holes.confidence = 0.95;
    job->holes.uncertainty_position = 2 * U_CENTRE;
    job->holes.uncertainty_diameter = 2 * U_DIAMETER;
    job->holes.uncertainty_per_metre = NAN;
    job->holes.uncertainty_temperature = NAN;
    job->holes.uncertainty_ligament = NAN;
    job->holes.edge_ligament_minimum = EDGE_MINIMUM;
    job->holes.other_ligament_minimum = NAN;
    job->rules.set = "tema-style";
    job->rules.decision = PP_GUARDED;
    job->rules.remainder_share = 0.04;
    pp_instrument *instruments;
    TAKE(instruments, 2);
    instruments[0] =
        (pp_instrument){"ARM", "portable coordinate arm", "S-553", "C-2026-091", "2027-03-01"};
    instruments[1] =
        (pp_instrument){"GAUGE", "three-point bore gauge", "S-12", "C-2025-007", "2026-10-01"};
    job->instrument_count = 2;
    job->instruments = instruments;
}

static pp_limit limit(double value, const char *name, const char *source)
{
    pp_limit made = pp_limit_absent(name);
    made.value = value;
    made.source = source;
    return made;
}

static void make_limits(pp_sample *s)
{
    pp_limits *l = &s->limits;
    pp_limit *all, *straightedge;
    TAKE(all, 16);
    TAKE(straightedge, 2);
    const char *table = "TEMA-style table, tube plate holes, standard fit (from memory)";
    l->set = "tema-style";
    l->table = PP_TABLE_INCH;
    l->note = "Tables recalled from memory; check them against the standard in force.";
    l->hole_nominal = limit(NOMINAL_SIZE, "hole_nominal", table);
    l->hole_under = limit(0.1016, "hole_under", table);
    l->hole_over = limit(0.0508, "hole_over", table);
    l->hole_over_limit = limit(0.254, "hole_over_limit", table);
    l->diameter_lower = LOWER;
    l->diameter_upper = UPPER;
    l->diameter_upper_limit = UPPER_LIMIT;
    l->ligament_standard = limit(LIGAMENT_STANDARD, "ligament_standard", table);
    l->ligament_minimum = limit(LIGAMENT_MINIMUM, "ligament_minimum", "job file, line 41");
    l->ligament_nominal = PITCH - NOMINAL_SIZE;
    l->drift_limit = limit(NAN, "drift_limit", NULL);
    l->drift_allowance = 0.0608;
    l->drift_allowance_source = "0.0016 in x thickness / tube diameter (from memory)";
    l->position_limit = limit(POSITION_LIMIT, "position_limit", "job file, line 33");
    l->pattern_limit = limit(NAN, "pattern_limit", NULL);
    l->edge_minimum = limit(EDGE_MINIMUM, "edge_ligament_minimum", "job file, line 34");
    l->other_minimum = limit(NAN, "other_ligament_minimum", NULL);
    l->remainder_share = limit(0.04, "remainder_share", "tema-style");
    l->flatness_limit = limit(1.5, "flatness_limit", "job file, line 20");
    l->parallelism_limit = limit(NAN, "parallelism_limit", NULL);
    straightedge[0] = limit(1.2, "straightedge_limit", "job file, line 23");
    straightedge[1] = limit(NAN, "straightedge_limit", NULL);
    l->straightedge_count = 2;
    l->straightedge = straightedge;
    const pp_limit given[] = {l->hole_nominal,    l->hole_under,        l->hole_over,
                              l->hole_over_limit, l->ligament_standard, l->ligament_minimum,
                              l->position_limit,  l->edge_minimum,      l->remainder_share,
                              l->flatness_limit,  straightedge[0]};
    memcpy(all, given, sizeof given);
    l->all = all;
    l->count = sizeof given / sizeof given[0];
}

/* What is said, a pattern without a cause, and means for its picture. */
static void make_patterns(pp_sample *s)
{
    pp_statement *says;
    pp_error_pattern *pattern;
    pp_error_pattern_part *part;
    pp_mean_error *means;
    TAKE(says, 3);
    TAKE(pattern, 1);
    TAKE(part, 1);
    TAKE(means, 4);
    says[0] = (pp_statement){PP_SAYS_CAUSE, s->diagnosis.terms[0].sentence};
    says[1] = (pp_statement){PP_SAYS_UNCLEAR, "Found, but not told apart: step or drift y."};
    says[2] = (pp_statement){PP_SAYS_INFORMATION, "The scatter is uneven."};
    *part = (pp_error_pattern_part){.place = 5,
                                    .hole = 2,
                                    .split = NAN,
                                    .periods = NAN,
                                    .estimates = 2,
                                    .estimate = {0.061, -0.004},
                                    .standard_error = {0.006, 0.007}};
    *pattern = (pp_error_pattern){.name = "step",
                                  .kind = PP_PATTERN_STEP,
                                  .state = PP_TERM_FOUND,
                                  .part_count = 1,
                                  .parts = part,
                                  .p = 2e-9,
                                  .p_adjusted = 3e-8,
                                  .worst_effect = 0.061,
                                  .matters = true,
                                  .unclear = "drift y",
                                  .sentence = says[1].text};
    for (int i = 0; i < 4; i++)
        means[i] = (pp_mean_error){100.0 * i, 50.0 * (i % 2), 0.01 * i, -0.02, 5};
    s->diagnosis.statement_count = 3, s->diagnosis.statements = says;
    s->diagnosis.pattern_count = 1, s->diagnosis.patterns = pattern;
    s->diagnosis.order_mean_count = s->diagnosis.cell_mean_count = 4;
    s->diagnosis.order_means = s->diagnosis.cell_means = means;
    s->diagnosis.left_cells = (pp_structure){0.0002, 3.1, 0.012, true};
    s->diagnosis.left_order = s->diagnosis.left_place = (pp_structure){0.4, 1.02, 0, false};
    s->diagnosis.uneven_p = 0.002, s->diagnosis.uneven_weighed = true;
    s->diagnosis.scatter_centre = 0.02, s->diagnosis.scatter_rim = 0.05;
    s->diagnosis.scatter_first = s->diagnosis.scatter_last = NAN;
}

static void make_diagnosis(pp_sample *s, draft *d)
{
    pp_term *terms;
    uint32_t *changes;
    TAKE(terms, 3);
    TAKE(changes, 2);
    terms[0] = (pp_term){.name = "scale common",
                         .state = PP_TERM_FOUND,
                         .value = 4.1e-5,
                         .standard_error = 5.2e-6,
                         .p = 3e-12,
                         .p_adjusted = 3e-11,
                         .share = 0.31,
                         .worst_effect = 0.041,
                         .is_cause = true,
                         .sentence = "The pattern is 41 parts per million too large, as if plate "
                                     "and scale differed by 3.6 K."};
    terms[1] = (pp_term){.name = "squareness",
                         .state = PP_TERM_NOT_FOUND,
                         .value = -2e-6,
                         .standard_error = 6e-6,
                         .p = 0.74,
                         .p_adjusted = 1,
                         .share = 0.001,
                         .worst_effect = 0.001};
    terms[2] = (pp_term){.name = "drift along y",
                         .state = PP_TERM_NOT_TESTED,
                         .value = NAN,
                         .standard_error = NAN,
                         .p = NAN,
                         .p_adjusted = NAN,
                         .share = NAN,
                         .worst_effect = NAN,
                         .partner = "scale x-y"};
    changes[0] = 1;
    changes[1] = 8;
    s->diagnosis = (pp_diagnosis){.valid = true,
                                  .holes = s->measures.measured,
                                  .order_known = true,
                                  .term_count = 3,
                                  .terms = terms,
                                  .scatter_x = 0.031,
                                  .scatter_y = 0.029,
                                  .autocorrelation = 0.07,
                                  .temperature_difference = 3.57,
                                  .temperature_standard_error = 0.45,
                                  .tool_change_count = 2,
                                  .tool_changes = changes,
                                  .rms_before = 0.057,
                                  .rms_after = 0.047};
    make_patterns(s);
    s->placement = (pp_placement){.valid = true,
                                  .zone = 0.2861,
                                  .lower_bound = 0.2861 - 1e-10,
                                  .angle_deg = 0.0021,
                                  .dx = -0.0213,
                                  .dy = 0.0087,
                                  .witness_count = 3,
                                  .witnesses = {1, 2, 3},
                                  .u = 0.01,
                                  .witnesses_suffice = true,
                                  .holes = s->measures.measured,
                                  .as_aligned = s->judgement.position_fold.largest,
                                  .saves = !d->conforming,
                                  .moved = 0.0244};
}

static void make_inputs(pp_sample *s)
{
    const char *roles[] = {"job", "survey", "nominal", "measured"};
    const char *written[] = {"plate.ini", "survey.csv", "nominal.csv", "measured.csv"};
    size_t rows[] = {0, s->survey.count, s->files.nominal.count, s->files.measured.count};
    for (size_t i = 0; i < 4; i++) {
        s->inputs[i] = (pp_input_file){.role = roles[i],
                                       .path = i ? written[i] : s->job.path,
                                       .written = written[i],
                                       .rows = rows[i],
                                       .instrument = i == 3 ? &s->job.instruments[0] : NULL};
        for (size_t k = 0; k < 64; k++)
            s->inputs[i].sha256[k] = "0123456789abcdef"[(5 * k + 7 * i) % 16];
    }
}

void pp_sample_make(pp_sample *s, const pp_sample_options *options)
{
    pp_sample_options o = options ? *options : (pp_sample_options){0};
    memset(s, 0, sizeof *s);
    draft d = {.rings = o.rings ? o.rings : 2, .random = 88172645463325252u};
    d.conforming = o.conforming;
    d.tubes = 1 + 3 * (size_t)d.rings * (d.rings + 1);
    d.count = d.tubes + OTHERS;
    d.radius = PITCH * d.rings + DISC_MARGIN;
    make_job(s, &o, &d);
    sample_make_nominal(s, &o, &d);
    sample_make_measures(s, &d);
    make_limits(s);
    sample_make_flatness(s, &d);
    sample_make_holddown(s, &d);
    sample_make_judgement(s, &d);
    make_diagnosis(s, &d);
    make_inputs(s);
    pp_error error = {0};
    assert_ok(pp_work_list_make(&s->judgement, &s->memory, &s->work, &error), &error);
    s->results = (pp_results){.job = &s->job,
                              .command = "inspect",
                              .date = s->job.date,
                              .input_count = 4,
                              .inputs = s->inputs,
                              .survey = &s->survey,
                              .flatness = &s->flatness,
                              .holddown = &s->holddown,
                              .holddown_judgement = &s->holddown_judgement,
                              .holddown_words = &s->holddown_words,
                              .files = &s->files,
                              .measures = &s->measures,
                              .diagnosis = &s->diagnosis,
                              .placement = &s->placement,
                              .limits = &s->limits,
                              .judgement = &s->judgement,
                              .work = &s->work};
}

void pp_sample_drop_holes(pp_sample *s)
{
    pp_judgement *j = &s->judgement;
    s->results.holddown = NULL;
    s->results.measures = NULL;
    s->results.files = NULL;
    s->results.diagnosis = NULL;
    s->results.placement = NULL;
    s->results.work = NULL;
    j->count = j->first[PP_POSITION];
    for (int c = PP_POSITION; c <= PP_CHARACTERISTICS; c++) j->first[c] = j->count;
    size_t kept = 0;
    while (kept < j->exception_count && j->exceptions[kept] < j->count) kept++;
    j->exception_count = kept;
    j->others_count = j->misdrilled_count = j->misdrilled_pairs = j->plugged_count = 0;
}

void pp_sample_free(pp_sample *s) { pp_memory_free(&s->memory); }
