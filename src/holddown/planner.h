/* The inside of the clamp planner: what clamps.c (one clamp after the other) and even_clamps.c
 * (sets of equal clamps) share. */
#ifndef PP_HOLDDOWN_PLANNER_H
#define PP_HOLDDOWN_PLANNER_H

#include "holddown/candidates.h"
#include "holddown/clamp_scale.h"
#include "holddown/clamps.h"

enum { PP_PLAN_CLAMPS_MAX = 16, PP_PLAN_SUSPECTS = 8 };

typedef struct pp_chosen {
    size_t candidate;
    double force, full_force; /* trimmed, and before it was */
} pp_chosen;

typedef struct pp_planner {
    const pp_hold_plate *plate;
    const pp_plan_request *request;
    pp_hold_question question;
    double most; /* force of one clamp, N */
    pp_memory *memory;
    pp_candidates candidates;
    const pp_contact_base *rest; /* of the plate without clamps */
    bool anew; /* states are settled from there, as the set-ups are, and not from the last */
    pp_hold_state with, without; /* all clamps on; all but the one a hole stands under */
    size_t count;
    pp_chosen clamps[PP_PLAN_CLAMPS_MAX];
    size_t watched_count;
    uint32_t *watched; /* holes that steer the plan */
    bool *is_watched;  /* [holes] */
    double *gap;       /* [holes] under the foot with the clamps, for the holes asked last */
    double *checked;   /* [holes] the same when all were asked last */
    pp_chosen checked_at[PP_PLAN_CLAMPS_MAX]; /* the clamps then */
    size_t checked_count;
    pp_hold_answer *answers;
    uint32_t *subset, *all; /* [holes] */
    size_t suspect_count;
    uint32_t suspects[PP_PLAN_SUSPECTS]; /* holes farthest from passing when last asked */
    size_t pressed; /* holes asked, also where some told that the others need not be pressed */
} pp_planner;

/* Base columns of every candidate, about the contact of planner->with, which pp_planner_settle has
 * made. */
typedef struct pp_clamp_influence {
    double *d, *motion, *work;
    double *g;      /* [supports] of one hole */
    double *useful; /* force worth applying at each candidate, N */
    double *alone;  /* force that would close the gap at its own place */
    double *score;
} pp_clamp_influence;

/* How far a hole is from passing; on pins a hole that sags without clamps is not theirs to mend. */
double pp_planner_excess(const pp_planner *p, uint32_t hole, double gap);
double pp_planner_total_excess(const pp_planner *p, size_t count, const uint32_t *holes);

/* planner->with: the plate at rest with all clamps, about a base of its own, for whoever asks more
 * than gaps of it.
 * errors   PP_EINPUT: supports that cannot carry the plate; PP_ENUMERIC: it does not settle;
 *          PP_ENOMEM */
pp_status pp_planner_settle(pp_planner *p, const pp_contact_base *start, pp_error *error);
/* Gap under the foot of these holes with all clamps on; of a hole under a pad, with that clamp
 * moved away.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_planner_settle; PP_ENOMEM */
pp_status pp_planner_evaluate(pp_planner *p, size_t count, const uint32_t *holes, pp_error *error);
/* Whether all of them pass. Where not, `gap` may be of the last time for all but the suspects.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_planner_settle; PP_ENOMEM */
pp_status pp_planner_passes(pp_planner *p, size_t count, const uint32_t *holes, bool *pass,
                            pp_error *error);

/* What each candidate's clamp does to the plate in the present state of contact; lives in the
 * planner's memory until the next call. errors: PP_ENOMEM */
pp_status pp_planner_influence(const pp_planner *p, pp_clamp_influence *f, pp_error *error);
/* Down movement of a probe per newton at candidate q, nothing changing contact; g[supports] of the
 * probe. */
double pp_planner_drop(const pp_planner *p, const pp_clamp_influence *f, const pp_probe *probe,
                       const double *g, size_t q);
bool pp_planner_blocks(const pp_candidates *c, size_t q, uint32_t hole);
/* Holes under a clamp have to pass with it moved away: watch them too. */
void pp_planner_watch_blocked(pp_planner *p, size_t candidate);

/* The best set of `count` clamps of one and the same force that brings the watched holes within the
 * limit: *found, and the planner's clamps are then that set.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_planner_settle; PP_ENOMEM */
pp_status pp_even_clamps(pp_planner *p, size_t count, bool *found, pp_error *error);

/* Every hole, clamps on, and what the supports then carry: *pass, and into *made the worst gap, the
 * largest support force and whether that is what fails.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_planner_settle; PP_ENOMEM */
pp_status pp_planner_check_all(pp_planner *p, bool *pass, pp_plan *made, pp_error *error);

/* It holds in 19 of 20 of the redraws it was tried on, or was tried on none. */
bool pp_plan_is_robust(const pp_plan *plan);
/* The plan as it stands on the request's redraws, on the holes that p->gap has as the worst: into
 * *made redraws, holds and redraw_worst.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_hold_plate_lay and pp_planner_settle, of a redraw;
 *          PP_ENOMEM */
pp_status pp_planner_try_redraws(pp_planner *p, pp_plan *made, pp_error *error);
/* Try the plan on the request's redraws, and raise the forces until it holds in 19 of 20, by half
 * at most; what does not help is taken back.
 * errors   as pp_planner_try_redraws */
pp_status pp_planner_make_robust(pp_planner *p, pp_plan *made, pp_error *error);

#endif
