#include "flatness/survey_size.h"

#include <math.h>

/* A survey of a plate spans more than a fiftieth of it each way, more than an eighth in one of
 * them, and most of its points lie on it: else the size stated, or the survey's unit, is wrong
 * (inches read as millimetres span a 25th both ways, centimetres a tenth). Common practice, no
 * source. */
static const double SPAN_LEAST = 0.02, LONGER_SPAN_LEAST = 0.125;
/* Share of a side that a survey covers, where a slip of its unit is guessed */
static const double COVERS_LEAST = 0.8, COVERS_MOST = 1.05;

/* The plate along x or y, and what the survey has of it. */
typedef struct side {
    const char *key, *along;
    double length, centre;
    double low, high; /* of the points */
    size_t beyond;    /* points off the plate */
} side;

static void measure(const pp_survey *s, side sides[2])
{
    for (size_t i = 0; i < s->count; i++) {
        double at[3];
        pp_survey_to_plate(&s->frame, s->x[i], s->y[i], s->z[i], &at[0], &at[1], &at[2]);
        for (int k = 0; k < 2; k++) {
            sides[k].low = fmin(sides[k].low, at[k]);
            sides[k].high = fmax(sides[k].high, at[k]);
            sides[k].beyond += fabs(at[k] - sides[k].centre) > sides[k].length / 2;
        }
    }
}

static pp_status check_side(const pp_job *job, const pp_survey *s, const char *path,
                            const side *plate, pp_error *error)
{
    double spans = plate->high - plate->low;
    long line = pp_job_key_line(job, "plate", plate->key);
    if (2 * plate->beyond > s->count)
        return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                          "[plate] %s = %g mm, but %zu of %zu points of %s lie beyond it along %s; "
                          "correct the size, or the unit of the survey",
                          plate->key, plate->length, plate->beyond, s->count, path, plate->along);
    if (spans < SPAN_LEAST * plate->length)
        return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                          "[plate] %s = %g mm, but %s spans %g mm along %s only; correct the size, "
                          "or the unit of the survey",
                          plate->key, plate->length, path, spans, plate->along);
    return PP_OK;
}

/* What points too close together would be, were they so many times as far apart: "" if nothing. */
static const char *slip_of_unit(const side sides[2])
{
    static const struct {
        double times;
        const char *words;
    } slips[] = {{25.4, "; 25.4 times as far apart they would cover it: inches read as mm?"},
                 {10, "; 10 times as far apart they would cover it: centimetres read as mm?"}};
    for (size_t i = 0; i < sizeof slips / sizeof *slips; i++) {
        double widest = 0;
        for (int k = 0; k < 2; k++)
            widest =
                fmax(widest, slips[i].times * (sides[k].high - sides[k].low) / sides[k].length);
        if (widest > COVERS_LEAST && widest < COVERS_MOST) return slips[i].words;
    }
    return "";
}

static pp_status check_both(const pp_job *job, const char *path, const side sides[2],
                            pp_error *error)
{
    double spans[2] = {sides[0].high - sides[0].low, sides[1].high - sides[1].low};
    for (int k = 0; k < 2; k++)
        if (spans[k] >= LONGER_SPAN_LEAST * sides[k].length) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "plate", sides[0].key), 0,
                      "the plate is %g x %g mm, but the points of %s span %g x %g mm only; correct "
                      "the size, or the unit of the survey%s",
                      sides[0].length, sides[1].length, path, spans[0], spans[1],
                      slip_of_unit(sides));
}

pp_status pp_survey_check_size(const pp_job *job, const pp_survey *survey, const char *path,
                               pp_error *error)
{
    pp_outline_spec outline = pp_job_outline(job);
    if (outline.kind == PP_OUTLINE_NONE) return PP_OK;
    pp_box box = pp_outline_box(&outline);
    bool polygon = outline.kind == PP_OUTLINE_POLYGON,
         sides_given = outline.kind == PP_OUTLINE_RECTANGLE;
    const char *key = polygon ? "outline_file" : "diameter";
    side sides[2] = {{sides_given ? "width" : key, "x", box.x1 - box.x0, (box.x0 + box.x1) / 2,
                      INFINITY, -INFINITY, 0},
                     {sides_given ? "height" : key, "y", box.y1 - box.y0, (box.y0 + box.y1) / 2,
                      INFINITY, -INFINITY, 0}};
    measure(survey, sides);
    for (int k = 0; k < 2; k++) PP_TRY(check_side(job, survey, path, &sides[k], error));
    return check_both(job, path, sides, error);
}
