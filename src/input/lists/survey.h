/* The surface survey: probe or CMM points as read, in millimetre, in the survey's own axes. */
#ifndef PP_INPUT_LISTS_SURVEY_H
#define PP_INPUT_LISTS_SURVEY_H

#include <stddef.h>

#include "base/reading.h"
#include "input/job/job.h"

/* How the survey's own frame lies in the plate frame: axes permuted by `up`, then turned by the
 * survey angle about z, then shifted. */
typedef struct pp_survey_frame {
    pp_axis up;
    double cosine, sine; /* of survey_angle; exact for multiples of 90 degrees */
    double origin_x, origin_y;
} pp_survey_frame;

typedef struct pp_survey {
    size_t count;            /* point i stands on data row i + 1, or row[i] */
    const size_t *row;       /* [count] data rows; NULL: none is excluded */
    const double *x, *y, *z; /* mm, survey's own frame */
    pp_survey_frame frame;
    const char *file; /* as named in the job */
    const pp_table_reading *reading;
} pp_survey;

/* Data row, from 1, of point i. */
static inline size_t pp_survey_row(const pp_survey *survey, size_t i)
{
    return survey->row ? survey->row[i] : i + 1;
}

/* The frame that the job describes, for a survey turned by `angle_deg` (the job's own:
 * survey.angle_deg; a layer of a stack has its own). */
pp_survey_frame pp_survey_frame_of(const pp_job *job, double angle_deg);

/* Read the survey named by `file` in the units of job->survey, without the rows that
 * job->survey.exclude names of its own file. Refuses what the contract refuses:
 * fewer than 3 points, all in one line, points far beyond the outline, cells that are no numbers.
 * errors   PP_EINPUT with file, line and column: one of these; PP_EIO: it cannot be read;
 *          PP_ENOMEM */
pp_status pp_survey_read(const pp_job *job, const pp_job_file *file, int threads, pp_memory *memory,
                         pp_survey *survey, pp_error *error);

/* The same of a survey that is turned by another angle than the job's: a layer of a stack.
 * errors   PP_EINPUT, PP_EIO as pp_survey_read; PP_ENOMEM */
pp_status pp_survey_read_turned(const pp_job *job, const pp_job_file *file, double angle_deg,
                                int threads, pp_memory *memory, pp_survey *survey, pp_error *error);

/* Survey axes -> plate axes. */
static inline void pp_survey_to_plate(const pp_survey_frame *f, double sx, double sy, double sz,
                                      double *x, double *y, double *z)
{
    double px = sx, py = sy, pz = sz;
    switch (f->up) {
    case PP_UP_Z:
        break;
    case PP_UP_X:
        px = sy, py = sz, pz = sx;
        break;
    case PP_UP_Y:
        px = sz, py = sx, pz = sy;
        break;
    case PP_UP_MINUS_Z:
        px = sx, py = -sy, pz = -sz;
        break;
    case PP_UP_MINUS_X:
        px = sy, py = -sz, pz = -sx;
        break;
    case PP_UP_MINUS_Y:
        px = sz, py = -sx, pz = -sy;
        break;
    }
    *x = f->cosine * px - f->sine * py + f->origin_x;
    *y = f->sine * px + f->cosine * py + f->origin_y;
    *z = pz;
}

#endif
