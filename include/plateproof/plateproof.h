/* plateproof as a library: planes through points, ligaments of drilled holes, whole jobs.
 *
 * Lengths in mm. Every function returns PP_OK or a negative pp_status and then leaves its outputs
 * as they were; the last argument (may be NULL) takes the message. Nothing is printed, no global
 * state is kept: calls from several threads are independent. Arrays belong to the caller and are
 * only read.
 */
#ifndef PLATEPROOF_PLATEPROOF_H
#define PLATEPROOF_PLATEPROOF_H

#include <stddef.h>

#include "plateproof/error.h"
#include "plateproof/version.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Verdicts of ISO 14253-1, worst last. */
typedef enum pp_outcome {
    PP_OUTCOME_NOT_JUDGED,
    PP_OUTCOME_CONFORMS,
    PP_OUTCOME_NOT_PROVEN,
    PP_OUTCOME_DOES_NOT_CONFORM
} pp_outcome;

typedef struct pp_plane_fit {
    double normal[3], point[3]; /* least-squares plane (ISO 12781-1 LSPL): unit normal, centroid */
    double flatness;            /* peak + valley (FLTt), mm */
    double peak, valley;        /* largest perpendicular deviation above, below; both >= 0, mm */
    double rms;                 /* root mean square deviation (FLTq), mm */
    double zone_normal[3], zone_point[3]; /* mid-plane of the minimum zone (MZPL) */
    double zone_flatness;                 /* its width, mm */
    int zone_exact; /* 1: proven by its contact points; 0: the search was given up */
} pp_plane_fit;

/* Least-squares plane and minimum zone of `count` points.
 *
 * given   count      at least 3, not all in one line
 *         x, y, z    [count] mm, any frame, finite
 * returns *fit; the normals have z >= 0 (of a vertical plane the largest component is positive)
 * errors  PP_EINPUT: too few points, all in one line, not finite; PP_ENOMEM
 * method  orthogonal distances; QR and SVD of centred data; Chebyshev exchange for the zone
 *         (docs/theory/planes.md) */
pp_status pp_fit_planes(size_t count, const double *x, const double *y, const double *z,
                        pp_plane_fit *fit, pp_error *error);

/* A tube hole as drawn and as measured on one face. */
typedef struct pp_drilled_hole {
    double nominal_x, nominal_y; /* mm */
    double x, y;                 /* measured centre, mm */
    double diameter;             /* measured, mm, above 0 */
} pp_drilled_hole;

typedef struct pp_ligament_rule {
    double pitch;           /* mm; 0: found from the nominal pattern */
    double standard;        /* most ligaments must reach it, mm */
    double minimum;         /* all must reach it, mm; above 0 */
    double remainder_share; /* at most this share may lie between: 0.04 */
} pp_ligament_rule;

typedef struct pp_ligament_count {
    size_t pairs;                        /* neighbours: nominal centres within 1.25 pitches */
    size_t standard, in_remainder, thin; /* add up to `pairs` */
    size_t remainder_allowed;
    double smallest, mean;         /* mm; NaN without pairs */
    size_t smallest_a, smallest_b; /* indices of the two holes, a before b */
    pp_outcome outcome;
} pp_ligament_count;

/* Judge the metal left between neighbouring holes, limits inclusive (1e-6 mm), measurement
 * uncertainty not taken into account (simple acceptance).
 *
 * errors  PP_EINPUT: two nominal centres within 1 um, a diameter not above 0, not finite, a share
 *         outside 0..1; PP_ENOMEM */
pp_status pp_judge_ligaments(size_t count, const pp_drilled_hole *holes,
                             const pp_ligament_rule *rule, pp_ligament_count *result,
                             pp_error *error);

/* Everything `plateproof inspect` does.
 *
 * given   job_path  a job file
 *         folder    of the report, written whole or not at all; NULL: none is written
 *         threads   1..256; the results are the same for any number
 * returns *outcome; *json, if json is not NULL: results.json as text, the caller's to give to
 *         pp_release
 * errors  PP_EINPUT: the job or a file it names is wrong, with file, line and column; PP_ENOTHING:
 *         nothing to compute; PP_EIO: a file cannot be read, or the report not be written;
 *         PP_ENUMERIC: a stage did not settle; PP_ENOMEM */
pp_status pp_inspect_job(const char *job_path, const char *folder, int threads, pp_outcome *outcome,
                         char **json, pp_error *error);

/* Free what pp_inspect_job gave; NULL is fine. */
void pp_release(char *json);

#ifdef __cplusplus
}
#endif
#endif
