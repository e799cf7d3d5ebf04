#include "input/job/job_checks.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/nearest.h"
#include "input/job/plausible.h"

/* An error at the line of a key. */
#if defined(__GNUC__)
__attribute__((format(printf, 5, 6)))
#endif
static pp_status
refuse(const pp_job *job, const char *section, const char *key, pp_error *error, const char *format,
       ...)
{
    char what[PP_ERROR_TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, section, key), 0, "%s",
                      what);
}

static bool has(const pp_job *job, const char *section, const char *key)
{
    return pp_job_key_line(job, section, key) > 0;
}

/* Keys that are read only under a choice made with another key. */
typedef struct dependent_key {
    const char *section, *key;
    bool (*used)(const pp_job *job);
    const char *condition; /* in the job file's words */
} dependent_key;

static bool is_disc(const pp_job *job) { return job->plate.outline == PP_OUTLINE_DISC; }
static bool is_cut(const pp_job *job)
{
    return job->plate.outline == PP_OUTLINE_SEGMENT ||
           job->plate.outline == PP_OUTLINE_DOUBLE_SEGMENT;
}
static bool has_cut_angle(const pp_job *job)
{
    return is_cut(job) || job->plate.cut_angle_deg == 90;
}
static bool is_annulus(const pp_job *job) { return job->plate.outline == PP_OUTLINE_ANNULUS; }
static bool is_polygon(const pp_job *job) { return job->plate.outline == PP_OUTLINE_POLYGON; }
static bool is_round(const pp_job *job) { return is_disc(job) || is_cut(job) || is_annulus(job); }
static bool is_rectangle(const pp_job *job) { return job->plate.outline == PP_OUTLINE_RECTANGLE; }
static bool is_on_pins(const pp_job *job) { return job->support.kind == PP_SUPPORT_PINS; }
static bool is_on_three(const pp_job *job) { return job->survey.laid == PP_LAID_ON_THREE_POINTS; }
static bool has_datum_points(const pp_job *job)
{
    return job->holes.align == PP_ALIGN_DATUM_POINTS;
}
static bool has_two_holes(const pp_job *job)
{
    return job->holes.align == PP_ALIGN_TWO_HOLES ||
           job->holes.exit_align == PP_EXIT_ALIGN_TWO_HOLES;
}
static bool is_level_or_zero(const pp_job *job)
{
    return job->support.seat == PP_SEAT_LEVEL || job->support.height == 0;
}
static bool has_straightedge(const pp_job *job) { return job->survey.straightedge.count > 0; }
static bool has_underside(const pp_job *job) { return job->survey.underside.path; }
static bool has_nominal(const pp_job *job) { return job->holes.nominal.path; }
static bool has_thickness(const pp_job *job) { return pp_given(job->plate.thickness); }
static bool has_survey(const pp_job *job) { return job->survey.file.path; }

static const dependent_key dependent_keys[] = {
    {"plate", "diameter", is_round, "outline = disc, segment, double-segment or annulus"},
    {"plate", "cut_height", is_cut, "outline = segment or double-segment"},
    {"plate", "cut_angle", has_cut_angle, "outline = segment or double-segment"},
    {"plate", "inner_diameter", is_annulus, "outline = annulus"},
    {"plate", "thickness_points", has_thickness, "a thickness"},
    {"plate", "outline_file", is_polygon, "outline = polygon"},
    {"plate", "width", is_rectangle, "outline = rectangle"},
    {"plate", "height", is_rectangle, "outline = rectangle"},
    {"survey", "underside", has_survey, "a survey file of the top"},
    {"survey", "exclude", has_survey, "a survey file"},
    {"survey", "straightedge_limit", has_straightedge, "straightedge lengths"},
    {"survey", "parallelism_limit", has_underside, "a survey of the underside"},
    {"survey", "three_points", is_on_three, "laid = on-three-points"},
    {"support", "file", is_on_pins, "kind = pins"},
    {"support", "support_height", is_level_or_zero, "seat = level"},
    {"holes", "commanded", has_nominal, "a nominal hole list"},
    {"holes", "datum_holes", has_two_holes, "align = two-holes or exit_align = two-holes"},
    {"holes", "datum_points", has_datum_points, "align = datum-points"},
};

static pp_status check_dependent(const pp_job *job, const dependent_key *d, pp_error *error)
{
    if (!has(job, d->section, d->key) || d->used(job)) return PP_OK;
    return refuse(job, d->section, d->key, error,
                  "[%s] %s needs %s, which is not there; give both or neither", d->section, d->key,
                  d->condition);
}

/* A cut must leave something, and cut something off. */
static pp_status check_cuts(const pp_job *job, pp_error *error)
{
    bool both = job->plate.outline == PP_OUTLINE_DOUBLE_SEGMENT;
    double most = both ? job->plate.diameter / 2 : job->plate.diameter;
    if (is_cut(job) && !pp_given(job->plate.cut_height))
        return refuse(job, "plate", "outline", error,
                      "the segment has no cut; give [plate] cut_height, from the rim to the cut");
    if (is_cut(job) && job->plate.cut_height >= most)
        return refuse(job, "plate", "cut_height", error,
                      "cutting %.9g mm %s a disc of diameter %.9g mm leaves nothing; cut_height is "
                      "measured from the rim to the cut, over what is cut off",
                      job->plate.cut_height, both ? "off either side of" : "off",
                      job->plate.diameter);
    if (is_annulus(job) && !pp_given(job->plate.inner_diameter))
        return refuse(job, "plate", "outline", error,
                      "the annulus has no opening; give [plate] inner_diameter");
    if (is_annulus(job) && job->plate.inner_diameter >= job->plate.diameter)
        return refuse(job, "plate", "inner_diameter", error,
                      "the opening of %.9g mm is as wide as the plate, %.9g mm; check both",
                      job->plate.inner_diameter, job->plate.diameter);
    return PP_OK;
}

static pp_status check_plate(const pp_job *job, pp_error *error)
{
    if (is_round(job) && !pp_given(job->plate.diameter))
        return refuse(job, "plate", "outline", error,
                      "the %s has no diameter; give [plate] diameter",
                      is_disc(job)      ? "disc"
                      : is_annulus(job) ? "annulus"
                                        : "disc that the segment is cut from");
    PP_TRY(check_cuts(job, error));
    if (is_polygon(job) && !job->plate.outline_file.path)
        return refuse(job, "plate", "outline", error,
                      "the polygon has no corners; give [plate] outline_file with their x, y");
    if (is_rectangle(job) && !pp_given(job->plate.width))
        return refuse(job, "plate", "outline", error,
                      "the rectangle has no width; give [plate] width, along x");
    if (is_rectangle(job) && !pp_given(job->plate.height))
        return refuse(job, "plate", "outline", error,
                      "the rectangle has no height; give [plate] height, along y");
    if (pp_given(job->plate.thickness) && pp_given(job->plate.thickness_variation) &&
        job->plate.thickness_variation >= job->plate.thickness)
        return refuse(job, "plate", "thickness_variation", error,
                      "thickness_variation is as large as the thickness; check both");
    return PP_OK;
}

/* The search for the largest gap takes time by plate over straightedge, and "1" was meant in m. */
static pp_status check_straightedges(const pp_job *job, pp_error *error)
{
    const double least = 10;
    for (size_t i = 0; i < job->survey.straightedge.count; i++)
        if (job->survey.straightedge.values[i] < least)
            return refuse(job, "survey", "straightedge", error,
                          "a straightedge of %.9g mm is shorter than %g mm; is its unit wrong?",
                          job->survey.straightedge.values[i], least);
    return PP_OK;
}

static pp_status check_survey(const pp_job *job, pp_error *error)
{
    PP_TRY(check_straightedges(job, error));
    size_t limits = job->survey.straightedge_limit.count;
    if (limits && limits != job->survey.straightedge.count)
        return refuse(job, "survey", "straightedge_limit", error,
                      "there are %zu straightedge limits for %zu lengths; give one per length, in "
                      "the same order",
                      limits, job->survey.straightedge.count);
    if (is_on_three(job) && !job->survey.three_points.path)
        return refuse(job, "survey", "laid", error,
                      "laid = on-three-points needs to know the points; give [survey] "
                      "three_points = FILE");
    return PP_OK;
}

static pp_status check_setup(const pp_job *job, pp_error *error)
{
    if (is_on_pins(job) && !job->support.file.path)
        return refuse(
            job, "support", "kind", error,
            "kind = pins needs to know where they are; give [support] file = FILE (to have the "
            "places chosen: kind = table, then plateproof pins JOB -o FILE)");
    double outer = job->foot.outer_diameter, inner = job->foot.inner_diameter;
    if (pp_given(outer) != pp_given(inner))
        return refuse(job, "foot", pp_given(outer) ? "outer_diameter" : "inner_diameter", error,
                      "the foot has one diameter only; give outer_diameter and inner_diameter, or "
                      "neither for a point load");
    if (inner >= outer)
        return refuse(job, "foot", "inner_diameter", error,
                      "the foot's inner_diameter is not below its outer_diameter; check both");
    return PP_OK;
}

static pp_status check_holes(const pp_job *job, pp_error *error)
{
    double steps = job->holes.pitch_steps;
    if (pp_given(steps) && steps != (double)(size_t)steps)
        return refuse(job, "holes", "pitch_steps", error,
                      "pitch_steps = %g: it is a number of whole steps; give 1, 2, 3 ...", steps);
    bool datum_holes = job->holes.datum_holes[0];
    if (job->holes.align == PP_ALIGN_TWO_HOLES && !datum_holes)
        return refuse(job, "holes", "align", error,
                      "align = two-holes needs to know which; give [holes] datum_holes = A, B");
    if (job->holes.exit_align == PP_EXIT_ALIGN_TWO_HOLES && !datum_holes)
        return refuse(job, "holes", "exit_align", error,
                      "exit_align = two-holes needs to know which; give [holes] datum_holes = A, "
                      "B");
    if (has_datum_points(job) && !job->holes.datum_points.path)
        return refuse(job, "holes", "align", error,
                      "align = datum-points needs to know them; give [holes] datum_points = FILE");
    if (pp_given(job->holes.tube_diameter) && job->holes.pitch <= job->holes.tube_diameter)
        return refuse(job, "holes", "pitch", error,
                      "the pitch is not above the tube_diameter; check both and their units");
    return PP_OK;
}

static pp_status check_limits(const pp_job *job, pp_error *error)
{
    if (job->rules.hole_over_limit.value < job->rules.hole_over.value)
        return refuse(job, "rules", "hole_over_limit", error,
                      "hole_over_limit is below hole_over; it holds for the few holes that may be "
                      "larger, so give the larger one");
    double half = job->rules.hole_nominal.value / 2;
    if (job->rules.hole_under.value > half)
        return refuse(job, "rules", "hole_under", error,
                      "hole_under is more than half of hole_nominal; give how much smaller a hole "
                      "may be, not its size");
    if (job->rules.hole_over.value > half)
        return refuse(job, "rules", "hole_over", error,
                      "hole_over is more than half of hole_nominal; give how much larger a hole "
                      "may be, not its size");
    if (job->rules.ligament_standard.value < job->rules.ligament_minimum.value)
        return refuse(job, "rules", "ligament_standard", error,
                      "ligament_standard is below ligament_minimum; the minimum holds for the few "
                      "that may be thinner, so give the smaller one");
    return PP_OK;
}

static pp_status check_instrument(const pp_job *job, const pp_job_file *file, pp_error *error)
{
    if (!file->instrument || pp_job_instrument(job, file->instrument)) return PP_OK;
    const char *nearest = "";
    size_t least = SIZE_MAX;
    for (size_t i = 0; i < job->instrument_count; i++) {
        size_t distance = pp_nearest_distance(file->instrument, job->instruments[i].name);
        if (distance < least) least = distance, nearest = job->instruments[i].name;
    }
    if (!*nearest)
        return pp_fail_at(error, PP_EINPUT, job->path, file->line, 0,
                          "the instrument @%s is not described; add a section [instrument %s]",
                          file->instrument, file->instrument);
    return pp_fail_at(error, PP_EINPUT, job->path, file->line, 0,
                      "the instrument @%s is not described; did you mean @%s? else add a section "
                      "[instrument %s]",
                      file->instrument, nearest, file->instrument);
}

static pp_status check_instruments(const pp_job *job, pp_error *error)
{
    const pp_job_file *files[] = {
        &job->survey.file,        &job->survey.underside,          &job->survey.three_points,
        &job->support.file,       &job->holddown.clamp_candidates, &job->holes.nominal,
        &job->holes.measured,     &job->holes.ligaments,           &job->holes.checks,
        &job->holes.datum_points, &job->roughing.measured,         &job->holes.commanded,
        &job->holes.sample_list,
    };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        PP_TRY(check_instrument(job, files[i], error));
    for (size_t i = 0; i < job->layer_count; i++) {
        const pp_layer *layer = &job->layers[i];
        PP_TRY(check_instrument(job, &layer->survey, error));
        PP_TRY(check_instrument(job, &layer->underside, error));
        PP_TRY(check_instrument(job, &layer->measured, error));
    }
    return PP_OK;
}

/* A number without a unit that no shop has; with its unit written it is taken, with a caution. */
static pp_status check_plausible(const pp_job *job, pp_error *error)
{
    pp_doubt doubts[PP_DOUBTS_MAX];
    size_t count = pp_job_doubts(job, doubts);
    for (size_t i = 0; i < count; i++) {
        const pp_doubt *d = &doubts[i];
        if (!pp_job_key_bare(job, d->section, d->key)) continue;
        bool force = strcmp(d->remedy, "kN") == 0;
        return refuse(job, d->section, d->key, error,
                      "%s has no unit here and is taken in %s, but %s; write the number with its "
                      "unit, such as %s",
                      d->key, force ? "N" : pp_unit_name(job->units), d->usual, d->remedy);
    }
    return PP_OK;
}

/* Written with its unit a size is taken as it is, but for what no plate is. */
static pp_status check_sizes(const pp_job *job, pp_error *error)
{
    static const double SIZE_LEAST = 1; /* mm */
    const struct {
        const char *key;
        double size;
    } sizes[] = {{"diameter", job->plate.diameter},
                 {"width", job->plate.width},
                 {"height", job->plate.height}};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        if (sizes[i].size < SIZE_LEAST)
            return refuse(job, "plate", sizes[i].key, error,
                          "[plate] %s = %g mm is less than any plate's, %g mm; correct it",
                          sizes[i].key, sizes[i].size, SIZE_LEAST);
    return PP_OK;
}

pp_status pp_job_note(const pp_job_noting *noting, pp_status status)
{
    pp_job_problems *found = noting->problems;
    if (status != PP_EINPUT || !found) return status;
    if (found->count == PP_PROBLEMS_MAX) {
        found->more = true;
        return status;
    }
    const pp_error *why = noting->error;
    const char *text = pp_arena_text(noting->keep, why->message, strlen(why->message));
    if (!text) return pp_fail_memory(noting->error);
    found->problem[found->count++] = (pp_problem){why->line, why->column, text};
    return PP_OK;
}

pp_status pp_job_check(const pp_job *job, const pp_job_noting *noting)
{
    static pp_status (*const CHECKS[])(const pp_job *job, pp_error *error) = {
        check_plate,  check_survey,    check_setup, check_holes,
        check_limits, check_plausible, check_sizes, check_instruments};
    for (size_t i = 0; i < sizeof dependent_keys / sizeof *dependent_keys; i++)
        PP_TRY(pp_job_note(noting, check_dependent(job, &dependent_keys[i], noting->error)));
    for (size_t i = 0; i < sizeof CHECKS / sizeof *CHECKS; i++)
        PP_TRY(pp_job_note(noting, CHECKS[i](job, noting->error)));
    return PP_OK;
}
