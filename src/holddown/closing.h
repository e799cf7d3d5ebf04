/* The search for the force that closes a gap: which force to try next. It knows no plate; whoever
 * asks solves the contact at each force. mm, N. */
#ifndef PP_HOLDDOWN_CLOSING_H
#define PP_HOLDDOWN_CLOSING_H

#include <stdbool.h>

#include "holddown/contact.h"

#define PP_CLOSING_BOUND 1e7    /* N: where no cap is given; no foot presses so hard */
#define PP_CLOSING_STEP 4.0     /* times a force that leaves the gap open, upwards at once */
#define PP_CLOSING_WEIGHTS 10.0 /* weights of what lies there that its own does not stand up to */

enum { PP_CLOSING_MOST = 80 }; /* forces tried for one gap; 3 to 6 are usual */

typedef struct pp_closing {
    double low, high; /* forces: open, closed; high INFINITY: none known */
    double cap;       /* no force beyond it is tried */
    double step;      /* as PP_CLOSING_STEP; INFINITY: to the cap at once */
    double steady;    /* N: from here on a gap that rises is given up */
    double force;     /* to try next; in the end the answer, NaN where none closes the gap */
    bool far;         /* some line led nowhere below the cap */
    double risen;     /* by how much it was open where it last rose; NaN: it did not */
    int tried;
} pp_closing;

/* Newton's method on a piecewise linear function of the force, within its bracket: while
 * pp_closing_open(c, gap at c->force less its target), go on by the line there,
 * pp_closing_next(c, over, line of that difference). Both say whether c->force has to be tried.
 *
 * Upwards it goes by steps: contact at one force has nothing in common with that at a hundred times
 * it, and the way from the one to the other is a long search. Where the line leads upwards at two
 * forces one step apart, and the gap has not come down between them, the foot's ring stands on what
 * it touches and bends the plate up in its middle: a harder foot bends it more. Only weight could
 * still let go of what is touched, and `steady` is a force beyond which it has none to set against
 * the foot. Such a gap is given up. */
bool pp_closing_open(pp_closing *c, double over);
bool pp_closing_next(pp_closing *c, double over, const pp_contact_straight *line);

#endif
