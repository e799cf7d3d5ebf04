/* Is the plate as large as the job says? */
#ifndef PP_FLATNESS_SURVEY_SIZE_H
#define PP_FLATNESS_SURVEY_SIZE_H

#include "input/lists/survey.h"

/* Hold the survey (read from `path`) against the size of the outline.
 * errors  PP_EINPUT at the line of [plate] diameter, width or height: most points lie beyond it, or
 *         the survey spans less than a fiftieth of it one way, or an eighth both ways */
pp_status pp_survey_check_size(const pp_job *job, const pp_survey *survey, const char *path,
                               pp_error *error);

#endif
