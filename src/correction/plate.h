/* One drilled plate as a correction sees it: its error field, measured less commanded, and what its
 * own diagnosis says of the static terms. */
#ifndef PP_CORRECTION_PLATE_H
#define PP_CORRECTION_PLATE_H

#include "causes/diagnosis.h"
#include "history/holes.h"

/* The terms a list of holes can carry. */
typedef enum pp_static_term {
    PP_STATIC_SCALE,
    PP_STATIC_SCALE_XY,
    PP_STATIC_SQUARENESS,
    PP_STATIC_BOW_X,
    PP_STATIC_BOW_Y,
    PP_STATIC_TERMS
} pp_static_term;
extern const char *const pp_static_names[PP_STATIC_TERMS]; /* as the diagnosis calls them */
/* Length per length, rad, or mm at the farthest hole. */
static inline bool pp_static_is_bow(int term) { return term >= PP_STATIC_BOW_X; }

enum { PP_CORRECTION_HOLES_MIN = 60 };

typedef struct pp_drilled_term {
    double value, standard_error; /* NaN: not tested */
    pp_term_state state;
} pp_drilled_term;

/* Arrays [count], in the order of the report's holes; the fields are without shift and turn (least
 * squares over the good holes). */
typedef struct pp_drilled_plate {
    pp_kept_report report;
    pp_report_holes holes;
    size_t count, good_count;
    bool *good;                                        /* not misdrilled */
    double *ex, *ey;                                   /* mm */
    double *ax[PP_STATIC_TERMS], *ay[PP_STATIC_TERMS]; /* of a term of one */
    double *rx, *ry; /* without its terms and those of the drilling order */
    double radius;   /* of the farthest hole from the centroid */
    pp_drilled_term term[PP_STATIC_TERMS];
    double lost_motion[2];   /* mm, along x and y; NaN: not found */
    double mean_square, rms; /* of the good holes' errors: mean of ex^2 + ey^2, and its root */
    /* the static terms again, by plain least squares over the good holes (not tested: NaN), with
     * what the scatter of single holes alone does to them: these and the rest add up to the mean
     * square, which those of the diagnosis do not */
    double plain[PP_STATIC_TERMS], plain_error[PP_STATIC_TERMS];
    double rest, rest_variance; /* the mean square without the plain terms; of the mean itself */
} pp_drilled_plate;

/* Read the report in `folder` and diagnose it. limit: diametral, of the position; NaN: none.
 * errors   PP_EINPUT: no plate's holes, no machine, too few holes; as of a report */
pp_status pp_drilled_plate_read(const char *folder, double limit, int threads, pp_memory *memory,
                                pp_drilled_plate *plate, pp_error *error);

/* The same of a report and holes that are there already; they must outlive the plate.
 * errors   PP_EINPUT: no machine, or too few holes; PP_ENUMERIC: the field cannot be fitted;
 *          PP_ENOMEM */
pp_status pp_drilled_plate_make(const pp_kept_report *report, const pp_report_holes *holes,
                                double limit, int threads, pp_memory *memory,
                                pp_drilled_plate *plate, pp_error *error);

/* The fields of the static terms at x[count], y[count] (mm), about the centroid; *radius. Raw: with
 * the shift and turn they have.
 * errors   PP_ENOMEM */
pp_status pp_static_fields(const double *x, const double *y, size_t count, pp_arena *arena,
                           double *ax[PP_STATIC_TERMS], double *ay[PP_STATIC_TERMS], double *radius,
                           pp_error *error);

#endif
