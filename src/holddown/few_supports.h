/* Few places of the foot on a fine mesh. A plate touches its table in few of thousands of contact
 * points: only those are solved for, and the others are looked at afterwards. mm, N. */
#ifndef PP_HOLDDOWN_FEW_SUPPORTS_H
#define PP_HOLDDOWN_FEW_SUPPORTS_H

#include "holddown/under_foot.h"

/* What pp_hold_press says of the places, on a plate of pp_hold_plate_lay. Begins with the supports
 * that touched at the survey, bear the plate as it lies or are near a place; then those that the
 * plate has sunk below join in with their neighbours, until there are none, at rest and under the
 * foot at each place. Contact being unique, the answers are those of all supports.
 *
 * given    visit   of a question of only_gap or only_close; deflection and contact are not read
 * memory   keep, scratch: workspace, given back but for the blocks
 * out      answers[visit->count]
 * errors   PP_EINPUT: it does not stand; PP_ENUMERIC: it does not settle; PP_ENOMEM
 * The same bits for any number of threads. */
pp_status pp_few_press(const pp_hold_plate *laid, const pp_hold_visit *visit, pp_memory *memory,
                       pp_hold_answer *answers, pp_error *error);

#endif
