/* Where to put the plates, for a few tubes: two convex programmes in the lines of the tubes and the
 * moves of the plates together, the turn linearised about given moves.
 *
 *     best:   the largest radius that passes straight through every tube's holes at once
 *     least:  the smallest moves for which a given radius passes
 *
 * For every disc  |a + b s - c - J q| <= r - radius,  and for every plate |(dx, dy)| <= play,
 * |angle| <= play_angle. Each tube's line has four unknowns of its own, so that the step's matrix
 * is block-arrow: a 4 x 4 block a tube, a border of three unknowns a plate and the radius. */
#ifndef PP_BUNDLE_POSE_PROGRAM_H
#define PP_BUNDLE_POSE_PROGRAM_H

#include "base/memory.h"
#include "bundle/discs.h"

typedef struct pp_pose_problem {
    const pp_discs *discs;
    const pp_play *play;
    size_t plates;
    const uint32_t *tube; /* the tubes of the programme */
    size_t count;
    const pp_move *at;    /* [plates]: turns are linearised here */
    const pp_move *start; /* [plates]: where the search begins, inside the play; may be `at` */
    bool roughly;         /* good enough to see which tubes are missing */
} pp_pose_problem;

typedef struct pp_pose_answer {
    pp_move move[PP_PLATES_MAX];
    double radius;  /* best: reached by the linearised programme */
    double reached; /* best: with the bends taken off */
    double bound;   /* best: no moves reach more, turns linearised at `at` */
    double
        turning; /* best: the part of it that is left because the turns are not yet those of `at` */
    double bend[PP_PLATES_MAX]; /* best: what the multipliers say of it, for the next programme */
    double *share; /* best: [discs of the tubes, one tube after the other]; memory of the caller */
} pp_pose_answer;

/* bend: [plates], mm: how the radius bends with each plate's turn, at most its rim: the programme
 *       takes bend * turn^2 / 2 off. With the rim what it reckons to be left is reached surely.
 * errors: PP_ENUMERIC the programme did not end, PP_ENOMEM. `answer` is untouched then. */
pp_status pp_pose_best(const pp_pose_problem *problem, const double *bend, pp_arena *scratch,
                       pp_pose_answer *answer, pp_error *error);

/* problem->start must pass `radius` with something to spare. Sets answer->move only.
 * errors   PP_ENUMERIC: the programme did not end; PP_ENOMEM */
pp_status pp_pose_least(const pp_pose_problem *problem, double radius, pp_arena *scratch,
                        pp_pose_answer *answer, pp_error *error);

#endif
